package api

import (
	"context"
	"errors"
	"net/http"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
)

// listPeople gives everybody, those who have left too.
func (s *Server) listPeople(c *gin.Context) error {
	var found []store.Person
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		found, err = tx.People()
		return err
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.People{People: mapped(found, contractPerson)})
}

// getPerson gives one of the people.
func (s *Server) getPerson(c *gin.Context) error {
	found, err := theOne(s, c, "person", store.ReadTx.Person)
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, found.Version, contractPerson(found))
}

// addPerson lets somebody in.
func (s *Server) addPerson(c *gin.Context) error {
	asked, err := decode[openapi.NewPerson](c)
	if err != nil {
		return err
	}
	hash, err := s.hashed(c, asked.Password)
	if err != nil {
		return err
	}
	n := store.NewPerson{Name: asked.Name, Email: asked.Email, Role: auth.Role(asked.Role), PasswordHash: hash}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		added, err := tx.AddPerson(n)
		return reply{status: http.StatusCreated, location: "/v1/people/" + added.ID.String(), version: added.Version, body: contractPerson(added)}, err
	})
	if errors.Is(err, store.ErrTaken) {
		return &problem{
			code: openapi.ProblemCodeStateConflict, detail: "Somebody of the workshop has this e-mail address already.", remedy: "Use another.",
			errors: []openapi.FieldError{{Field: "/email", Code: "taken", Reason: "It is somebody else's.", Remedy: "Use another."}},
		}
	}
	return err
}

// changePerson changes a name or a role.
func (s *Server) changePerson(c *gin.Context) error {
	asked, err := decode[openapi.PersonChange](c)
	if err != nil {
		return err
	}
	return s.writePerson(c, func(tx store.WriteTx, id uuid.UUID, version int64) (store.Person, error) {
		return tx.ChangePerson(id, version, store.PersonChange{Name: asked.Name, Role: auth.Role(asked.Role)})
	})
}

// personLeaves lets somebody go.
func (s *Server) personLeaves(c *gin.Context) error {
	return s.writePerson(c, store.WriteTx.PersonLeaves)
}

func (s *Server) writePerson(c *gin.Context, write func(store.WriteTx, uuid.UUID, int64) (store.Person, error)) error {
	id, version, err := pathVersion(c, "person")
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		now, err := write(tx, id, version)
		return reply{status: http.StatusOK, version: now.Version, body: contractPerson(now)}, err
	})
	s.standings.forget()
	return personProblem(err)
}

// setPassword sets a person's password: an owner anybody's, everybody their
// own, for which the one in use is asked: who finds a window open must not be
// able to take the person's place for good.
func (s *Server) setPassword(c *gin.Context) error {
	id, err := pathID(c, "person")
	if err != nil {
		return err
	}
	asked, err := decode[openapi.NewPassword](c)
	if err != nil {
		return err
	}
	p := principal(c)
	switch {
	case p.Person == id:
		err = s.knowsPassword(c, p, asked.CurrentPassword)
	case p.Role != auth.Owner:
		err = &problem{
			code:   openapi.ProblemCodeRoleNotAllowed,
			detail: "Only an owner sets other people's passwords.",
			remedy: "Set your own, or ask someone who is owner.",
		}
	}
	if err != nil {
		return err
	}
	hash, err := s.hashed(c, asked.Password)
	if err != nil {
		return err
	}
	err = s.store.As(p).Write(c.Request.Context(), func(tx store.WriteTx) error { return tx.SetPassword(id, hash) })
	s.standings.forget()
	if err != nil {
		return personProblem(err)
	}
	return nothing(c)
}

// knowsPassword checks the password in use.
func (s *Server) knowsPassword(c *gin.Context, p auth.Principal, password string) error {
	if err := s.limitAddress(c); err != nil { // guessing is as slow as at signing in
		return err
	}
	var hash string
	err := s.store.As(p).Read(c.Request.Context(), func(tx store.ReadTx) (err error) {
		hash, err = tx.PasswordHash(p.Person)
		return err
	})
	if err != nil {
		return err
	}
	var good bool
	err = s.atTheDoor(c, func(ctx context.Context) (err error) {
		good, err = s.passwords.Check(ctx, hash, password)
		return err
	})
	if err == nil && !good {
		return passwordRefused("/current_password", "It is not the one in use.", "Send the one you signed in with.")
	}
	return err
}

// hashed makes the hash to be stored of a new password.
func (s *Server) hashed(c *gin.Context, password string) (string, error) {
	var hash string
	err := s.atTheDoor(c, func(ctx context.Context) (err error) {
		hash, err = s.passwords.Hash(ctx, password)
		return err
	})
	if errors.Is(err, auth.ErrPassword) {
		return "", passwordRefused("/password", "It cannot be used: "+err.Error()+".", "Choose another.")
	}
	return hash, err
}

func passwordRefused(field, reason, remedy string) *problem {
	return &problem{
		code: openapi.ProblemCodePasswordRefused, detail: "The password was not accepted.", remedy: remedy,
		errors: []openapi.FieldError{{Field: field, Code: "not_accepted", Reason: reason, Remedy: remedy}},
	}
}

// personProblem says of a person what the store says of a thing.
func personProblem(err error) error {
	switch {
	case errors.Is(err, store.ErrNotFound):
		return notFound("person")
	case errors.Is(err, store.ErrLastOwner):
		return &problem{
			code:   openapi.ProblemCodeStateConflict,
			detail: "This is the workshop's only owner.",
			remedy: "Make somebody else an owner first.",
		}
	}
	return err
}

func contractPerson(p store.Person) openapi.Person {
	return openapi.Person{
		Id: p.ID.String(), Name: p.Name, Email: p.Email, Role: openapi.Role(p.Role), Version: p.Version, LeftAt: p.LeftAt,
	}
}
