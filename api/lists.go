package api

import (
	"errors"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/openapi"
)

// What lists, references and reads have in common.

// Pages, as the contract has them.
const (
	defaultPage = 25
	maxPage     = 100
)

// pageSize is how many were asked for.
func pageSize(c *gin.Context) (int, error) {
	text := c.Query("limit")
	if text == "" {
		return defaultPage, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 || n > maxPage {
		return 0, brokenField("query/limit", "not_allowed", "It is not a whole number from 1 to 100.", "Write it in digits.")
	}
	return n, nil
}

// newestFirst reads a page of a list that runs from the newest, and where to go
// on, "" at the end. The question is the list and all that narrows it down: a
// cursor is good for no other.
func newestFirst[T any](s *Server, c *gin.Context, question string,
	list func(tx store.ReadTx, after *store.Place, limit int) ([]T, *store.Place, error),
) (page []T, next openapi.Cursor, err error) {
	limit, err := pageSize(c)
	if err != nil {
		return nil, "", err
	}
	after, err := s.placeAsked(c, question)
	if err != nil {
		return nil, "", err
	}
	var last *store.Place
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		page, last, err = list(tx, after, limit)
		return err
	})
	if err == nil && last != nil {
		next = s.writeCursor(principal(c), question, placeText(last))
	}
	return page, next, err
}

// placeText is a place as a cursor has it.
func placeText(p *store.Place) string {
	return strconv.FormatInt(p.CreatedAt.UnixMicro(), 10) + " " + p.ID.String()
}

// placeAsked is where a list that runs from the newest goes on; nil at the
// beginning.
func (s *Server) placeAsked(c *gin.Context, question string) (*store.Place, error) {
	cursor := c.Query("cursor")
	if cursor == "" {
		return nil, nil //nolint:nilnil // no place is the beginning
	}
	position, ok := s.readCursor(principal(c), question, cursor)
	micros, id, _ := strings.Cut(position, " ")
	at, atErr := strconv.ParseInt(micros, 10, 64)
	last, idErr := uuid.Parse(id)
	if !ok || atErr != nil || idErr != nil {
		return nil, strayCursor()
	}
	return &store.Place{CreatedAt: time.UnixMicro(at).UTC(), ID: last}, nil
}

func strayCursor() error {
	return brokenField("query/cursor", "not_allowed", "It is not a cursor of this server for this list.", "Begin again without one.")
}

// theOne reads the thing that the address names; what is its name in a sentence.
func theOne[T any](s *Server, c *gin.Context, what string, find func(store.ReadTx, uuid.UUID) (T, error)) (found T, err error) {
	id, err := pathID(c, what)
	if err != nil {
		return found, err
	}
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		found, err = find(tx, id)
		return err
	})
	return found, notFoundIs(err, what)
}

// readTx reads as the request's principal.
func (s *Server) readTx(c *gin.Context, fn func(tx store.ReadTx) error) error {
	return s.store.As(principal(c)).Read(c.Request.Context(), fn)
}

// dayOf is today where the workshop is.
func dayOf(tx store.ReadTx) (string, error) {
	w, err := tx.Workshop()
	if err != nil {
		return "", err
	}
	return today(tx.Now(), w.TimeZone)
}

// notFoundIs names what was not found.
func notFoundIs(err error, what string) error {
	if errors.Is(err, store.ErrNotFound) {
		return notFound(what)
	}
	return err
}

// pathVersion is the id in the address and the version in If-Match.
func pathVersion(c *gin.Context, what string) (uuid.UUID, int64, error) {
	id, err := pathID(c, what)
	if err != nil {
		return id, 0, err
	}
	version, err := ifMatch(c)
	return id, version, err
}

// pathID is the id in the address; what names the thing it is of.
func pathID(c *gin.Context, what string) (uuid.UUID, error) {
	id, err := uuid.Parse(c.Param("id"))
	if err != nil {
		return uuid.Nil, notFound(what)
	}
	return id, nil
}

// askedID is an id in a query or a body, whose form the contract has checked;
// the nil id for "".
func askedID(text string) uuid.UUID {
	id, err := uuid.Parse(text)
	if err != nil {
		return uuid.Nil
	}
	return id
}

// contractID is an id as the contract has it; "" for the nil id.
func contractID(id uuid.UUID) openapi.Id {
	if id == uuid.Nil {
		return ""
	}
	return id.String()
}

// together is all that is wrong with several fields: problems of one kind are
// one, with the fields of each.
func together(errs ...error) error {
	var first *problem
	for _, err := range errs {
		var p *problem
		switch {
		case err == nil:
		case !errors.As(err, &p):
			return err
		case first == nil:
			first = p
		case first.code == p.code:
			first.errors = append(first.errors, p.errors...)
		}
	}
	if first == nil {
		return nil // and not a nil *problem, which would be an error
	}
	return first
}

// unknownReference says that a field names something this workshop has not.
// Whether another has it makes no difference.
func unknownReference(field, what string) *problem {
	return &problem{
		code:   openapi.ProblemCodeUnknownReference,
		detail: "The request names a " + what + " that this workshop has not.",
		remedy: "Check the id.",
		errors: []openapi.FieldError{{
			Field: field, Code: "unknown", Reason: "There is no such " + what + " in this workshop.",
			Remedy: "Check the id; a list of what there is comes from the collection it is in.",
		}},
	}
}
