package api

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/openapi"
	"wainscot/pricing/pricebook"
)

// How much compiled releases and editions may be held, counted in the bytes
// of the documents they were made from; compiled they take some 20 times that
// (measured on the demo workshop's).
const (
	maxReleaseBytes = 16 << 20
	maxEditionBytes = 16 << 20
)

// offer is what a workshop offers on a day: the latest release of its
// catalogue, and the price-book edition in force.
type offer struct {
	workshop store.Workshop
	day      string // YYYY-MM-DD
	number   int64  // of the release
	release  *bom.Release
	book     *pricebook.Compiled
}

// catalogueOffer reads what is offered, prices aside.
func (s *Server) catalogueOffer(c *gin.Context) (offer, error) {
	var o offer
	var entry store.ReleaseEntry
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		entry, err = latestRelease(tx)
		return err
	})
	if err != nil {
		return o, err
	}
	o.number = entry.Number
	o.release, err = s.release(c, entry)
	return o, err
}

// pricedOffer reads what is offered on a day (YYYY-MM-DD; "" is today where
// the workshop is).
func (s *Server) pricedOffer(c *gin.Context, day string) (offer, error) {
	var g ground
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		g, err = s.groundOn(tx, day)
		return err
	})
	if err != nil {
		return offer{}, err
	}
	o := offer{workshop: g.workshop, day: g.day, number: g.release.Number}
	if o.release, err = s.release(c, g.release); err != nil {
		return o, err
	}
	o.book, err = s.edition(c, o.release, g.edition)
	return o, err
}

// today is the date at a moment in a time zone.
func today(now time.Time, zone string) (string, error) {
	place, known := zones.Load(zone)
	if !known {
		loaded, err := time.LoadLocation(zone)
		if err != nil {
			return "", fmt.Errorf("the workshop's time zone: %w", err)
		}
		place, _ = zones.LoadOrStore(zone, loaded)
	}
	return now.In(place.(*time.Location)).Format(time.DateOnly), nil //nolint:errcheck,forcetypeassert // nothing else is in there
}

// zones are those asked for so far, by name: loading one reads a file. There
// are some six hundred in the world.
var zones sync.Map

// latestRelease and editionInForce read entries without their documents: what
// is compiled already is found by its hash.
func latestRelease(tx store.ReadTx) (store.ReleaseEntry, error) {
	list, err := tx.Releases(0, 1)
	if err != nil {
		return store.ReleaseEntry{}, err
	}
	if len(list) == 0 {
		return store.ReleaseEntry{}, nothingPublished("No catalogue has been published in this workshop.", "An owner publishes one first.")
	}
	return list[0], nil
}

func editionInForce(tx store.ReadTx, day string) (store.EditionEntry, error) {
	at, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return store.EditionEntry{}, fmt.Errorf("day: %w", err)
	}
	list, err := tx.Editions(at.AddDate(0, 0, 1).Format(time.DateOnly), 1)
	if err != nil {
		return store.EditionEntry{}, err
	}
	if len(list) == 0 {
		return store.EditionEntry{}, nothingPublished("No price-book is in force on "+day+".", "Name a later day, or have an owner add an edition.")
	}
	return list[0], nil
}

func nothingPublished(detail, remedy string) error {
	return &problem{code: openapi.ProblemCodeNothingPublished, detail: detail, remedy: remedy}
}

// release gives a release compiled.
func (s *Server) release(c *gin.Context, entry store.ReleaseEntry) (*bom.Release, error) {
	return s.releases.get(c.Request.Context(), entry.Hash, func() (*bom.Release, int, error) {
		var found store.Release
		err := s.readTx(c, func(tx store.ReadTx) (err error) {
			found, err = tx.Release(entry.Number)
			return err
		})
		if err != nil {
			return nil, 0, err
		}
		text, err := found.Document.Unpack()
		if err != nil {
			return nil, 0, err
		}
		read, _, faults := catalogue.DecodeJSON(text)
		if err := faults.Err(); err != nil {
			return nil, 0, fmt.Errorf("release %d: %w", entry.Number, err)
		}
		compiled, faults := bom.Compile(read)
		if err := faults.Err(); err != nil {
			return nil, 0, fmt.Errorf("release %d: %w", entry.Number, err)
		}
		if compiled.Hash() != entry.Hash {
			return nil, 0, fmt.Errorf("release %d is kept under %s and has the hash %s", entry.Number, entry.Hash, compiled.Hash())
		}
		return compiled, len(text), nil
	})
}

// edition gives an edition made ready to price a release from.
func (s *Server) edition(c *gin.Context, r *bom.Release, entry store.EditionEntry) (*pricebook.Compiled, error) {
	return s.editions.get(c.Request.Context(), r.Hash()+"/"+entry.Hash, func() (*pricebook.Compiled, int, error) {
		var found store.Edition
		err := s.readTx(c, func(tx store.ReadTx) (err error) {
			found, err = tx.Edition(entry.Code)
			return err
		})
		if err != nil {
			return nil, 0, err
		}
		text, err := found.Document.Unpack()
		if err != nil {
			return nil, 0, err
		}
		read, _, faults := pricebook.DecodeJSON(text)
		if err := faults.Err(); err != nil {
			return nil, 0, fmt.Errorf("edition %s: %w", entry.Code, err)
		}
		compiled, faults := pricebook.Compile(r.Catalogue(), read)
		if len(faults) > 0 {
			// Both documents are whole; they have come apart.
			return nil, 0, nothingPublished("The price-book in force does not fit the catalogue: "+faults[0].Error(),
				"An owner adds an edition that does.")
		}
		return compiled, len(text), nil
	})
}

// releaseOf is the release an answer was made from, as the contract has it.
func releaseOf(number int64, r *bom.Release) openapi.Release {
	return openapi.Release{Number: whole(int(number)), Hash: r.Hash(), Title: r.Catalogue().Title}
}

// PublishRelease keeps a compiled catalogue as a workshop's next release, without
// a proof: for what is known to be sound, as the demo is.
func PublishRelease(ctx context.Context, h store.Handle, r *bom.Release) (store.Release, error) {
	text, err := r.Catalogue().MarshalJSON()
	if err != nil {
		return store.Release{}, fmt.Errorf("writing the catalogue: %w", err)
	}
	document := store.Pack(text) // outside the transaction: others wait for it
	var kept store.Release
	err = h.Write(ctx, func(tx store.WriteTx) (err error) {
		kept, err = tx.PublishRelease(r.Hash(), document)
		return err
	})
	return kept, err
}

// AddEdition keeps a price-book edition, made ready against the release it is
// for, in a workshop. An edition in another currency than the workshop's is
// refused.
func AddEdition(ctx context.Context, h store.Handle, k *pricebook.Compiled) (store.Edition, error) {
	e := k.Edition()
	text, err := e.MarshalJSON()
	if err != nil {
		return store.Edition{}, fmt.Errorf("writing the edition: %w", err)
	}
	document := store.Pack(text)
	var kept store.Edition
	err = h.Write(ctx, func(tx store.WriteTx) error {
		workshop, err := tx.Workshop()
		if err != nil {
			return err
		}
		if workshop.Currency != e.Currency {
			return errors.New("the edition is in " + e.Currency + " and the workshop works in " + workshop.Currency)
		}
		kept, err = tx.AddEdition(store.NewEdition{
			Code: e.Code, InForceFrom: e.InForceFrom, Currency: e.Currency, Hash: k.Hash(), Document: document,
		})
		return err
	})
	return kept, err
}
