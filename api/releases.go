package api

import (
	"errors"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/openapi"
	"wainscot/pricing/pricebook"
)

// listReleases gives a page of the published catalogues, the newest first.
func (s *Server) listReleases(c *gin.Context) error {
	limit, err := pageSize(c)
	if err != nil {
		return err
	}
	var before int64
	if text := c.Query("before"); text != "" {
		if before, err = strconv.ParseInt(text, 10, 64); err != nil {
			return brokenField("query/before", "not_allowed", "It is not the number of a release.", "Write it in digits.")
		}
	}
	var list []store.ReleaseEntry
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		list, err = tx.Releases(before, limit)
		return err
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.Releases{Releases: orNone(mapped(list, contractReleaseEntry))})
}

// getCatalogue gives a catalogue as it was published, byte for byte.
func (s *Server) getCatalogue(c *gin.Context) error {
	number, err := strconv.ParseInt(c.Param("number"), 10, 64)
	if err != nil {
		return notFound("release")
	}
	var found store.Release
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		found, err = tx.Release(number)
		return err
	})
	if errors.Is(err, store.ErrNotFound) {
		return notFound("release")
	}
	if err != nil {
		return err
	}
	return answerDocument(c, found.Document)
}

// publishRelease publishes a catalogue, or says whether it could be.
//
// A catalogue that the price-book edition in force does not fit any more is
// refused: from that moment on no quote could be made or changed, until
// somebody notices why. The way round is an edition that fits both, which may
// price more than a catalogue has. Editions that are not in force yet are
// nobody's trouble today.
func (s *Server) publishRelease(c *gin.Context) error {
	read, positions, faults := catalogue.DecodeJSON(sentDocument(c))
	if len(faults) > 0 {
		return documentRefused(c, "catalogue", faults)
	}
	release, err := s.compiledRelease(c, read)
	if errors.As(err, &faults) {
		return documentRefused(c, "catalogue", positions.Locate(faults))
	}
	if err != nil {
		return err
	}
	if err := s.fitsPrices(c, release); err != nil {
		return err
	}
	if c.Query("try") == "true" {
		return answer(c, http.StatusCreated, openapi.ReleaseEntry{Hash: release.Hash()})
	}
	text, err := release.Catalogue().MarshalJSON()
	if err != nil {
		return err
	}
	document := store.Pack(text) // outside the transaction: others wait for it
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		kept, err := tx.PublishRelease(release.Hash(), document)
		location := "/v1/releases/" + strconv.FormatInt(kept.Number, 10) + "/catalogue"
		return reply{status: http.StatusCreated, location: location, body: contractReleaseEntry(kept.ReleaseEntry)}, err
	})
}

// compiledRelease compiles a catalogue that was sent, as those that are kept
// are: one at a time, and held for whoever asks next. Its faults are the error.
func (s *Server) compiledRelease(c *gin.Context, read *catalogue.Catalogue) (*bom.Release, error) {
	return s.releases.get(c.Request.Context(), catalogue.Hash(read), func() (*bom.Release, int, error) {
		compiled, faults := bom.Compile(read)
		return compiled, len(sentDocument(c)), faults.Err()
	})
}

// fitsPrices refuses a release that the edition in force does not fit. A
// workshop without one publishes its first catalogue before its prices.
func (s *Server) fitsPrices(c *gin.Context, release *bom.Release) error {
	var entry store.EditionEntry
	err := s.readTx(c, func(tx store.ReadTx) error {
		day, err := dayOf(tx)
		if err == nil {
			entry, err = editionInForce(tx, day)
		}
		return err
	})
	if _, none := errors.AsType[*problem](err); none {
		return nil
	}
	if err != nil {
		return err
	}
	edition, err := s.editionText(c, entry)
	if err != nil {
		return err
	}
	if _, faults := pricebook.Compile(release.Catalogue(), edition); len(faults) > 0 {
		p := documentRefused(c, "catalogue", nil)
		p.detail = "The price-book edition " + entry.Code + ", which is in force, does not fit this catalogue: no quote could be made."
		p.remedy = "First add an edition that prices what both catalogues need, in force by today, or keep what it prices in the catalogue."
		for _, f := range faults {
			p.errors = append(p.errors, openapi.FieldError{
				Field: "edition " + entry.Code + "/" + clip(f.At), Code: f.Code, Reason: f.Reason, Remedy: f.Remedy,
			})
		}
		return p
	}
	return nil
}

func contractReleaseEntry(e store.ReleaseEntry) openapi.ReleaseEntry {
	return openapi.ReleaseEntry{
		Number: whole(int(e.Number)), Hash: e.Hash, PublishedAt: e.PublishedAt, PublishedBy: e.PublishedBy.String(),
	}
}
