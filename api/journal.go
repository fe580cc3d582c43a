package api

import (
	"encoding/hex"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/openapi"
)

const (
	defaultJournalPage = 25
	maxJournalPage     = 100
)

// listJournal gives a page of the journal, the oldest line first.
func (s *Server) listJournal(c *gin.Context) error {
	limit := defaultJournalPage
	if text := c.Query("limit"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 || n > maxJournalPage {
			return brokenField("query/limit", "not_allowed", "It is not a whole number from 1 to 100.", "Write it in digits.")
		}
		limit = n
	}
	var after int64
	if text := c.Query("after"); text != "" {
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil || n < 0 {
			return brokenField("query/after", "not_allowed", "It is not the number of a line.", "Write it in digits.")
		}
		after = n
	}
	var lines []store.JournalLine
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		lines, err = tx.Journal(after, limit)
		return err
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.Journal{Lines: mapped(lines, contractJournalLine)})
}

func contractJournalLine(l store.JournalLine) openapi.JournalLine {
	return openapi.JournalLine{
		Line: l.Seq, At: l.At, Person: l.Person.String(), Verb: l.Verb, Noun: l.Noun, Id: l.ID,
		Hash: hex.EncodeToString(l.Hash[:]),
	}
}
