package api

import (
	"errors"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/openapi"
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

// publishRelease publishes a catalogue that is proved, with its proof, or says
// whether it could be published.
func (s *Server) publishRelease(c *gin.Context) error {
	d, err := s.sentDraft(c)
	if err != nil {
		return err
	}
	proof, err := s.provedDraft(c, d)
	if err != nil {
		return err
	}
	if err := proofRefused(d, proof); err != nil {
		return err
	}
	if c.Query("try") == "true" {
		return answer(c, http.StatusCreated, openapi.ReleaseEntry{Hash: d.release.Hash()})
	}
	text, err := d.release.Catalogue().MarshalJSON()
	if err != nil {
		return err
	}
	document := store.Pack(text) // outside the transaction: others wait for it
	kept, err := ProofDocument(proof)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		if err := d.basis.stands(tx.ReadTx); err != nil {
			return reply{}, err
		}
		published, err := tx.PublishRelease(d.release.Hash(), document)
		if err != nil {
			return reply{}, err
		}
		err = tx.KeepProof(published.Number, kept, Acknowledged(proof, d.basis.acknowledged))
		location := "/v1/releases/" + strconv.FormatInt(published.Number, 10) + "/catalogue"
		return reply{status: http.StatusCreated, location: location, body: contractReleaseEntry(published.ReleaseEntry)}, err
	})
}

func contractReleaseEntry(e store.ReleaseEntry) openapi.ReleaseEntry {
	return openapi.ReleaseEntry{
		Number: whole(int(e.Number)), Hash: e.Hash, PublishedAt: e.PublishedAt, PublishedBy: e.PublishedBy.String(),
	}
}
