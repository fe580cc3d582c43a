package api

import (
	"context"
	stdjson "encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/options"
	"wainscot/openapi"
	"wainscot/pricing"
	"wainscot/pricing/pricebook"
)

// proveDraft proves a catalogue without publishing it, so that what it has
// against it can be seen, mended and acknowledged first.
func (s *Server) proveDraft(c *gin.Context) error {
	d, err := s.sentDraft(c)
	if err != nil {
		return err
	}
	proof, err := s.provedDraft(c, d)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, contractProof(proof, Acknowledged(proof, d.basis.acknowledged), time.Time{}))
}

// getProof gives what a release was proved to be. One that was published
// without is proved now, at the prices in force; nothing of that is kept.
func (s *Server) getProof(c *gin.Context) error {
	number, err := strconv.ParseInt(c.Param("number"), 10, 64)
	if err != nil {
		return notFound("release")
	}
	var entry store.ReleaseEntry
	var kept store.ReleaseProof
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		if entry, err = releaseEntry(tx, number); err != nil {
			return err
		}
		kept, err = tx.ReleaseProof(number)
		if errors.Is(err, store.ErrNotFound) {
			return nil
		}
		return err
	})
	if err != nil {
		return notFoundIs(err, "release")
	}
	if kept.Release == 0 {
		return s.proveReleased(c, entry)
	}
	text, err := kept.Document.Unpack()
	if err != nil {
		return err
	}
	var proof bom.Proof
	if err := stdjson.Unmarshal(text, &proof); err != nil {
		return fmt.Errorf("proof of release %d: %w", number, err)
	}
	out := contractProof(&proof, kept.Acknowledged, kept.ProvedAt)
	out.Release, out.Kept, out.ProvedAt, out.ProvedBy = whole(int(number)), true, kept.ProvedAt, kept.ProvedBy.String()
	return answer(c, http.StatusOK, out)
}

func (s *Server) proveReleased(c *gin.Context, entry store.ReleaseEntry) error {
	release, err := s.release(c, entry)
	if err != nil {
		return err
	}
	b, err := s.proofBasis(c)
	if err != nil {
		return err
	}
	var on []pricing.OnDay
	if b.edition != nil {
		book, err := s.edition(c, release, *b.edition)
		if _, unfit := errors.AsType[*problem](err); err != nil && !unfit {
			return err
		}
		if err == nil {
			on = append(on, pricing.OnDay{Book: book, Day: b.day})
		}
	}
	proof, err := prove(c.Request.Context(), release, on)
	if err != nil {
		return err
	}
	out := contractProof(proof, nil, time.Time{})
	out.Release = whole(int(entry.Number))
	return answer(c, http.StatusOK, out)
}

// proofBasis is what the workshop has when something is proved to be published:
// it must still have it when that is kept.
type proofBasis struct {
	day     string // today, where the workshop is
	before  *store.ReleaseEntry
	edition *store.EditionEntry // in force
	// acknowledged with the release before.
	acknowledged []store.Acknowledgement
}

func (s *Server) proofBasis(c *gin.Context) (b proofBasis, err error) {
	err = s.readTx(c, func(tx store.ReadTx) error {
		b, err = readProofBasis(tx)
		return err
	})
	return b, err
}

func readProofBasis(tx store.ReadTx) (b proofBasis, err error) {
	if b.day, err = dayOf(tx); err != nil {
		return b, err
	}
	list, err := tx.Releases(0, 1)
	if err != nil {
		return b, err
	}
	if len(list) > 0 {
		b.before = &list[0]
		if b.acknowledged, err = tx.Acknowledgements(list[0].Number); err != nil {
			return b, err
		}
	}
	entry, err := editionInForce(tx, b.day)
	if _, none := errors.AsType[*problem](err); none {
		return b, nil
	}
	b.edition = &entry
	return b, err
}

// stands refuses to keep what was proved on another ground: while it was,
// somebody published a release, or another edition came into force.
func (b *proofBasis) stands(tx store.ReadTx) error {
	now, err := readProofBasis(tx)
	if err != nil {
		return err
	}
	same := (b.before == nil) == (now.before == nil) && (b.edition == nil) == (now.edition == nil) &&
		(b.before == nil || b.before.Number == now.before.Number) && (b.edition == nil || b.edition.Hash == now.edition.Hash)
	if same {
		return nil
	}
	return &problem{
		code:   openapi.ProblemCodeStateConflict,
		detail: "While it was proved, another release was published or another edition came into force.",
		remedy: "Send it again, to be proved against what there is now.",
	}
}

// How much work proving may take here, all base vans together: what wainscot
// check gives to each. With it the demo's three are counted exactly.
const (
	proofWork      = bom.ProofWork
	proofCountWork = bom.ProofCountWork
)

// maxProofBytes is how much of proofs may be remembered, as JSON.
const maxProofBytes = 4 << 20

// proofs are remembered by what was proved: by all of this program's servers,
// because proving takes all of a processor and is done once at a time.
var proofs = newCompiled[*bom.Proof](maxProofBytes)

// prove proves a release at the prices of editions, beside whatever else is
// asked meanwhile. Nothing may be changed in what it gives. It ends with the
// request.
func prove(ctx context.Context, r *bom.Release, on []pricing.OnDay) (*bom.Proof, error) {
	key := r.Hash()
	for _, e := range on {
		key += "/" + e.Book.Hash() + "@" + e.Day
	}
	return proofs.get(ctx, key, func() (*bom.Proof, int, error) {
		vans := int64(max(len(r.Catalogue().BaseVans), 1))
		proof, err := pricing.Prove(r, on, bom.Proving{
			Work:      min(bom.ProofWork, proofWork/vans),
			CountWork: min(bom.ProofCountWork, proofCountWork/vans),
			Progress:  func(bom.ProofStep) bool { return ctx.Err() == nil },
		})
		if errors.Is(err, options.ErrStopped) {
			return nil, 0, &problem{
				code:   openapi.ProblemCodeTooHard,
				detail: "Proving it took longer than one request may.",
				remedy: "Publish it with wainscot import, which takes its time, or make the rules simpler.",
			}
		}
		if err != nil {
			return nil, 0, err
		}
		text, err := stdjson.Marshal(&proof)
		return &proof, len(text), err
	})
}

// Acknowledged are a proof's acknowledgements as they are kept: those that were
// made for the release before, and still say the same, with who made them and
// when.
func Acknowledged(p *bom.Proof, before []store.Acknowledgement) []store.Acknowledgement {
	list := make([]store.Acknowledgement, 0, len(p.Acknowledged))
	for _, a := range p.Acknowledged {
		kept := store.Acknowledgement{Warning: a.Warning, Reason: a.Reason}
		for _, b := range before {
			if b.Warning == a.Warning && b.Reason == a.Reason {
				kept.By, kept.At = b.By, b.At
			}
		}
		for i := range p.Findings {
			if p.Findings[i].Key == a.Warning {
				kept.Says = p.Findings[i].Says
			}
		}
		list = append(list, kept)
	}
	return list
}

// CarriedOver are the acknowledgements of an earlier release, to be taken over
// by a proof where they still apply.
func CarriedOver(before []store.Acknowledgement) []bom.Acknowledgement {
	return mapped(before, func(a store.Acknowledgement) bom.Acknowledgement {
		return bom.Acknowledgement{Warning: a.Warning, Reason: a.Reason}
	})
}

// ProofDocument is a proof as it is kept.
func ProofDocument(p *bom.Proof) (store.Packed, error) {
	text, err := stdjson.Marshal(p)
	if err != nil {
		return store.Packed{}, fmt.Errorf("writing the proof: %w", err)
	}
	return store.Pack(text), nil
}

// pricedBy is an edition that a draft is proved with.
func pricedBy(book *pricebook.Compiled, day string) []pricing.OnDay {
	if book == nil {
		return nil
	}
	return []pricing.OnDay{{Book: book, Day: day}}
}
