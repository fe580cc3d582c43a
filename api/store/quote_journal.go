package store

import (
	"bytes"
	"fmt"

	"github.com/google/uuid"
)

// What is kept of quotes, held against the journal.

// verifyQuotes holds the heads of quotes against the journal, and their
// revisions against it and the heads: of a draft the head's line speaks.
func (t ReadTx) verifyQuotes(last map[[2]string][]byte) error {
	type seen struct {
		revision int64
		sum      string
	}
	heads := map[uuid.UUID]seen{}
	err := everyRow(t, "id", func(r quoteRow) any { return r.ID }, func(page []quoteRow) error {
		for i := range page {
			row := &page[i]
			noun, id, content := row.journalled()
			if row.Journalled != journalledNow {
				van, err := of[quoteVanRow](t).where("quote = ?", row.ID).one()
				if err != nil {
					return err
				}
				content = row.journalledBefore(van)
			}
			if !bytes.Equal(content, last[[2]string{noun, id}]) {
				return fmt.Errorf("%w: %s %s is not what was written", ErrJournal, noun, id)
			}
			delete(last, [2]string{noun, id})
			heads[row.ID] = seen{row.Revision, row.DocumentSHA256}
		}
		return nil
	})
	if err != nil {
		return err
	}
	latest := 0
	err = everyRow(t, "quote, number", func(r revisionRow) any { return []any{r.Entry.Quote, r.Entry.Number} }, func(page []revisionRow) error {
		for i := range page {
			row := &page[i]
			noun, id, content := row.journalled()
			sum := row.Entry.DocumentSHA256
			if row.Entry.State == string(Draft) {
				sum = row.Entry.AskedSHA256
			}
			head := heads[row.Entry.Quote]
			isLatest := head.revision == row.Entry.Number
			switch {
			case !bytes.Equal(content, last[[2]string{noun, id}]), isLatest && head.sum != sum,
				!isLatest && row.Entry.State == string(Draft):
				return fmt.Errorf("%w: %s %s is not what was written", ErrJournal, noun, id)
			}
			if err := row.sealed(); err != nil {
				return fmt.Errorf("%w: %s %s: %w", ErrJournal, noun, id, err)
			}
			if isLatest {
				latest++
			}
			delete(last, [2]string{noun, id})
		}
		return nil
	})
	if err == nil && latest != len(heads) {
		err = fmt.Errorf("%w: %d of %d quotes have no latest revision", ErrJournal, len(heads)-latest, len(heads))
	}
	return err
}

// verifyAcceptances holds acceptances against the journal, and their evidence
// against them.
func (t ReadTx) verifyAcceptances(last map[[2]string][]byte) error {
	if err := verifyTable[acceptanceRow](t, "quote", last); err != nil {
		return err
	}
	return everyRow(t, "quote", func(r acceptanceRow) any { return r.Quote }, func(page []acceptanceRow) error {
		for i := range page {
			evidence, err := of[evidenceRow](t).where("quote = ?", page[i].Quote).order("place").all()
			if err == nil {
				err = page[i].holds(evidence)
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// everyRow goes through a table page by page, in the order of a key.
func everyRow[R any](t ReadTx, key string, keyOf func(R) any, look func([]R) error) error {
	var after any
	for {
		page := of[R](t).order(key)
		switch v := after.(type) {
		case nil:
		case []any:
			page = page.where("("+key+") > (?, ?)", v...)
		default:
			page = page.where(key+" > ?", after)
		}
		found, err := page.first(maxPage)
		if err != nil || len(found) == 0 {
			return err
		}
		if err := look(found); err != nil || len(found) < maxPage {
			return err
		}
		after = keyOf(found[len(found)-1])
	}
}
