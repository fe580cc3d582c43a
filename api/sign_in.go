package api

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
)

// Checking a password takes memory and time on purpose, so the door is narrow:
// few are checked at once, a few more may wait, and none for long.
const (
	defaultSignInsAtOnce  = 2
	signInsWaitingForEach = 16
	signInTimeout         = 5 * time.Second
)

// signIn gives a token for a workshop's code, an e-mail address and a
// password. Whatever is wrong with the three, the answer is the same and takes
// as long.
func (s *Server) signIn(c *gin.Context) error {
	asked, err := decode[openapi.SignIn](c)
	if err != nil {
		return err
	}
	if err := s.limitAddress(c); err != nil {
		return err
	}
	// A hash that changes between looking and writing is looked at again: it may
	// have been made anew for another window of the same person.
	for range 2 {
		found, renewed, err := s.recognised(c, asked)
		if err != nil {
			return err
		}
		if err = s.begin(c, found, renewed); !errors.Is(err, store.ErrShutOut) {
			return err
		}
	}
	return signInRefused()
}

// recognised checks a password. renewed is its hash at today's cost, where what
// is stored was made at another.
func (s *Server) recognised(c *gin.Context, asked openapi.SignIn) (found store.SignIn, renewed string, err error) {
	var good bool
	err = s.atTheDoor(c, func(ctx context.Context) error {
		found, err = s.store.FindSignIn(ctx, asked.Workshop, asked.Email)
		if err != nil && !errors.Is(err, store.ErrNotFound) {
			return err
		}
		if good, err = s.passwords.Check(ctx, found.PasswordHash, asked.Password); good {
			renewed = s.renewedHash(ctx, found, asked.Password)
		}
		return err
	})
	if err == nil && !good {
		err = signInRefused()
	}
	return found, renewed, err
}

// renewedHash is the hash at today's cost of a password that was found good, ""
// where it is stored so already. A sign-in never fails for want of it: the next
// one tries again.
func (s *Server) renewedHash(ctx context.Context, found store.SignIn, password string) string {
	if !s.passwords.Outdated(found.PasswordHash) {
		return ""
	}
	hash, err := s.passwords.Hash(ctx, password)
	if err != nil {
		s.log.WarnContext(ctx, "a password's hash was not made anew",
			slog.String("workshop", found.Principal.Workshop.String()), slog.String("person", found.Principal.Person.String()), slog.Any("error", err))
		return ""
	}
	return hash
}

// begin opens a sign-in and answers with its first tokens. renewed takes the
// place of the hash that was found; "" leaves it. It is ErrShutOut when that is
// not the person's hash any more.
func (s *Server) begin(c *gin.Context, found store.SignIn, renewed string) error {
	id, err := uuid.NewV7()
	if err != nil {
		return fmt.Errorf("no randomness to be had: %w", err)
	}
	first, err := auth.NewRenewal(found.Principal.Workshop, id)
	if err != nil {
		return err
	}
	err = s.store.As(found.Principal).Write(c.Request.Context(), func(tx store.WriteTx) error {
		if err := tx.SignIn(first, found.PasswordHash); err != nil || renewed == "" {
			return err
		}
		return tx.RenewPasswordHash(found.PasswordHash, renewed)
	})
	if err != nil {
		return err
	}
	p := found.Principal
	p.SignIn = id
	return s.welcome(c, p, first, s.now())
}

// atTheDoor runs what checks or hashes a password: few at a time, a few more
// wait, and the rest are told to come again.
func (s *Server) atTheDoor(c *gin.Context, work func(context.Context) error) error {
	select {
	case s.signIns <- struct{}{}:
		defer func() { <-s.signIns }()
	default:
		return &problem{
			code:   openapi.ProblemCodeTooManyRequests,
			detail: "Too many people are signing in at this moment.",
			remedy: "Try again after the seconds in Retry-After.",
			retry:  time.Second,
		}
	}
	ctx, cancel := context.WithTimeout(c.Request.Context(), signInTimeout)
	defer cancel()
	return work(ctx)
}

// welcome answers with an access token for the principal, and the renewal of
// their sign-in, begun then.
func (s *Server) welcome(c *gin.Context, p auth.Principal, renewal auth.Renewal, begun time.Time) error {
	var workshop store.Workshop
	var person store.Person
	err := s.store.As(p).Read(c.Request.Context(), func(tx store.ReadTx) (err error) {
		if workshop, err = tx.Workshop(); err != nil {
			return err
		}
		person, err = tx.Person(p.Person)
		return err
	})
	if err != nil {
		return fmt.Errorf("reading who signed in: %w", err)
	}
	token, expires, err := s.tokens.Issue(p)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.SignedIn{
		Token:            token,
		ExpiresAt:        expires,
		RenewalToken:     renewal.Token(),
		RenewalExpiresAt: renewalEnds(begun, s.now()).UTC().Truncate(time.Second),
		Person:           contractPerson(person),
		Workshop:         openapi.Workshop{Code: workshop.Code, Name: workshop.Name},
	})
}

func signInRefused() *problem {
	return &problem{
		code:      openapi.ProblemCodeSignInRefused,
		detail:    "Workshop, e-mail address and password do not go together.",
		remedy:    "Check all three; an owner of the workshop can set a new password.",
		challenge: `Bearer realm="wainscot"`,
	}
}
