package api

import (
	"errors"
	"fmt"
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/openapi"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
)

// listEditions gives a page of the price-book's editions, the latest first.
func (s *Server) listEditions(c *gin.Context) error {
	limit, err := pageSize(c)
	if err != nil {
		return err
	}
	var list []store.EditionEntry
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		list, err = tx.Editions(c.Query("before"), limit)
		return err
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.Editions{Editions: orNone(mapped(list, contractEditionEntry))})
}

// getPricebook gives an edition as it was added, byte for byte.
func (s *Server) getPricebook(c *gin.Context) error {
	var found store.Edition
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		found, err = tx.Edition(c.Param("code"))
		return err
	})
	if errors.Is(err, store.ErrNotFound) {
		return notFound("edition")
	}
	if err != nil {
		return err
	}
	return answerDocument(c, found.Document)
}

// addEdition adds an edition to the price-book, held against the latest
// release, or says whether it could be.
func (s *Server) addEdition(c *gin.Context) error {
	read, positions, faults := pricebook.DecodeJSON(sentDocument(c))
	if len(faults) > 0 {
		return documentRefused(sentDocument(c), "", "edition", faults)
	}
	offered, err := s.catalogueOffer(c)
	if err != nil {
		return err
	}
	compiled, faults := pricebook.Compile(offered.release.Catalogue(), read)
	if len(faults) > 0 {
		return documentRefused(sentDocument(c), "", "edition", positions.Locate(faults))
	}
	basis, err := s.provedPrices(c, offered.release, compiled)
	if err != nil {
		return err
	}
	edition := compiled.Edition()
	text, err := edition.MarshalJSON()
	if err != nil {
		return err
	}
	n := store.NewEdition{
		Code: edition.Code, InForceFrom: edition.InForceFrom, Currency: edition.Currency, Hash: compiled.Hash(), Document: store.Pack(text),
	}
	if c.Query("try") == "true" {
		err := s.readTx(c, func(tx store.ReadTx) error { return editionMay(tx, n) })
		if err != nil {
			return err
		}
		return answer(c, http.StatusCreated, openapi.EditionEntry{Code: n.Code, InForceFrom: n.InForceFrom, Currency: n.Currency, Hash: n.Hash})
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if err := editionMay(tx.ReadTx, n); err != nil {
			return reply{}, err
		}
		if err := basis.stands(tx.ReadTx); err != nil {
			return reply{}, err
		}
		kept, err := tx.AddEdition(n)
		return reply{status: http.StatusCreated, location: "/v1/editions/" + kept.Code + "/pricebook", body: contractEditionEntry(kept.EditionEntry)}, err
	})
}

// provedPrices refuses an edition with which something that the latest release
// allows would have no whole price, on the day from which it is asked for. One
// that another in force has overtaken already is asked for past days alone, and
// not proved.
func (s *Server) provedPrices(c *gin.Context, r *bom.Release, k *pricebook.Compiled) (proofBasis, error) {
	b, err := s.proofBasis(c)
	if err != nil || (b.edition != nil && k.Edition().InForceFrom < b.edition.InForceFrom) {
		return b, err
	}
	proof, err := prove(c.Request.Context(), r, pricedBy(k, max(b.day, k.Edition().InForceFrom)))
	if err != nil {
		return b, err
	}
	found := slices.DeleteFunc(proof.Faults(), func(f bom.Finding) bool { return !pricing.OfPrices(f.Code) })
	if len(found) == 0 {
		return b, nil
	}
	p := &problem{
		code:   openapi.ProblemCodeDocumentRefused,
		detail: "With this edition some of what the catalogue offers would have no whole price.",
		remedy: "Add what errors name to the edition; each has choices that show it.",
		errors: findingErrors(nil, "", found),
	}
	for i := range p.errors {
		p.errors[i].Field = "catalogue" + p.errors[i].Field
	}
	return b, p
}

// editionMay holds a new edition against the workshop and its other editions.
func editionMay(tx store.ReadTx, n store.NewEdition) error {
	workshop, err := tx.Workshop()
	if err != nil {
		return err
	}
	if n.Currency != workshop.Currency {
		return &problem{
			code: openapi.ProblemCodeDocumentRefused, detail: "The edition is not in the workshop's currency.", remedy: "Price it in " + workshop.Currency + ".",
			errors: []openapi.FieldError{{
				Field: "/currency", Code: "currency", Reason: "It is in " + n.Currency + ", and the workshop works in " + workshop.Currency + ".",
				Remedy: "Price it in " + workshop.Currency + ".",
			}},
		}
	}
	taken := func(field, what string) error {
		return &problem{
			code:   openapi.ProblemCodeStateConflict,
			detail: "There is an edition with this " + what + " already, and an edition never changes.",
			remedy: "Give the correction a code and a first day of its own.",
			errors: []openapi.FieldError{{Field: field, Code: "taken", Reason: "Another edition has it.", Remedy: "Choose another."}},
		}
	}
	switch _, err := tx.Edition(n.Code); {
	case err == nil:
		return taken("/edition", "code")
	case !errors.Is(err, store.ErrNotFound):
		return err
	}
	switch at, err := tx.EditionInForce(n.InForceFrom); {
	case err == nil && at.InForceFrom == n.InForceFrom:
		return taken("/in_force_from", "first day")
	case err != nil && !errors.Is(err, store.ErrNotFound):
		return err
	}
	return nil
}

// editionText reads an edition that is kept.
func (s *Server) editionText(c *gin.Context, entry store.EditionEntry) (*pricebook.Edition, error) {
	var found store.Edition
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		found, err = tx.Edition(entry.Code)
		return err
	})
	if err != nil {
		return nil, err
	}
	text, err := found.Document.Unpack()
	if err != nil {
		return nil, err
	}
	read, _, faults := pricebook.DecodeJSON(text)
	if err := faults.Err(); err != nil {
		return nil, fmt.Errorf("edition %s: %w", entry.Code, err)
	}
	return read, nil
}

func contractEditionEntry(e store.EditionEntry) openapi.EditionEntry {
	return openapi.EditionEntry{
		Code: e.Code, InForceFrom: e.InForceFrom, Currency: e.Currency, Hash: e.Hash, AddedAt: e.AddedAt, AddedBy: e.AddedBy.String(),
	}
}
