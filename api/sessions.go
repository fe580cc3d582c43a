package api

import (
	"errors"
	"log/slog"
	"time"

	"github.com/gin-gonic/gin"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
)

// renewSignIn gives a new token, and the next renewal token, for a renewal
// token.
func (s *Server) renewSignIn(c *gin.Context) error {
	asked, err := decode[openapi.Renewal](c)
	if err != nil {
		return err
	}
	if err := s.limitAddress(c); err != nil {
		return err
	}
	old, err := auth.ParseRenewal(asked.RenewalToken)
	if err != nil {
		return renewalRefused("The renewal token is not one of this server's.")
	}
	next, err := old.Next()
	if err != nil {
		return err
	}
	p, begun, err := s.store.RenewSignIn(c.Request.Context(), old, next)
	switch {
	case errors.Is(err, store.ErrUsedAgain):
		s.standings.forget()
		s.log.WarnContext(c, "a renewal token was used again: the sign-in has ended",
			slog.String("request_id", requestID(c)), slog.String("workshop", old.Workshop.String()), slog.String("sign_in", old.SignIn.String()))
		return renewalRefused("The renewal token was used before. Somebody else may have it, so the sign-in has ended.")
	case errors.Is(err, store.ErrShutOut):
		return renewalRefused("The sign-in has ended.")
	case err != nil:
		return err
	}
	return s.welcome(c, p, next, begun)
}

func renewalRefused(why string) *problem {
	return notSignedIn(why, `Bearer realm="wainscot", error="invalid_token"`)
}

// renewalEnds is until when a sign-in begun then and renewed now can be
// renewed.
func renewalEnds(begun, now time.Time) time.Time {
	idle, longest := now.Add(auth.SignInIdle), begun.Add(auth.SignInLongest)
	if longest.Before(idle) {
		return longest
	}
	return idle
}

// signOut ends the sign-in that the request's token belongs to.
func (s *Server) signOut(c *gin.Context) error {
	err := s.store.As(principal(c)).Write(c.Request.Context(), store.WriteTx.SignOut)
	s.standings.forget()
	if err != nil {
		return err
	}
	return nothing(c)
}

// signPersonOut ends all sign-ins of a person.
func (s *Server) signPersonOut(c *gin.Context) error {
	id, err := pathID(c, "person")
	if err != nil {
		return err
	}
	err = s.store.As(principal(c)).Write(c.Request.Context(), func(tx store.WriteTx) error { return tx.SignOutEverywhere(id) })
	s.standings.forget()
	if err != nil {
		return personProblem(err)
	}
	return nothing(c)
}
