package api

import (
	"fmt"
	"slices"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/openapi"
	"wainscot/pricing/job"
	"wainscot/pricing/quote"
)

// agreed is what was agreed last of a job: what is built, and what it comes to.
type agreed struct {
	// Agreement has the van as it is now: its sheet, its price, the payments of
	// the whole job, the paper it was agreed on.
	job.Agreement
	// variation is the last that was accepted; nil where it is still the quote.
	variation *job.Variation
}

// agreedText is what was agreed of a job as it is kept. It is read in a
// transaction and understood after it.
type agreedText struct {
	job store.JobEntry
	// revision of the quote that was accepted, variation the last of the job's;
	// its number is 0 for none.
	revision  store.Revision
	variation store.Variation
}

// readAgreed reads what was agreed last of a job; nil of one that has no quote.
func readAgreed(tx store.ReadTx, e store.JobEntry, content *job.Job) (*agreedText, error) {
	if e.Quote == uuid.Nil {
		return nil, nil //nolint:nilnil // a return visit: nothing was agreed
	}
	t := &agreedText{job: e}
	var err error
	if t.revision, err = tx.Revision(e.Quote, e.Revision); err != nil || content.Variation == 0 {
		return t, err
	}
	t.variation, err = tx.Variation(e.ID, content.Variation)
	return t, err
}

// readAgreedPrice reads what a job without a quote is to be paid; nil of one of
// which nothing was agreed.
func readAgreedPrice(tx store.ReadTx, e store.JobEntry, content *job.Job) (*job.AgreedPrice, error) {
	if e.Quote != uuid.Nil || content.AgreedPrice == 0 {
		return nil, nil //nolint:nilnil // nothing was agreed
	}
	return tx.AgreedPrice(e.ID, content.AgreedPrice)
}

// accepted is the quote that was accepted, all its vans.
func (t *agreedText) accepted() (*quote.Document, error) { return documentOf(&t.revision) }

// now is what is agreed by it.
func (t *agreedText) now() (*agreed, error) {
	if t.variation.Number > 0 {
		v, err := frozenVariation(&t.variation)
		if err != nil {
			return nil, err
		}
		return &agreed{Agreement: v.Agreement(), variation: v}, nil
	}
	d, err := t.accepted()
	if err != nil {
		return nil, err
	}
	a, ok := job.AgreementIn(d, int(t.job.Place))
	if !ok {
		return nil, fmt.Errorf("job %d: quote %s has no van %d", t.job.Number, t.job.Quote, t.job.Place)
	}
	return &agreed{Agreement: a}, nil
}

// agreedJob is a job with what was agreed of it, and what a change of it is
// worked out from.
type agreedJob struct {
	whole store.WholeJob
	head  store.QuoteEntry
	kind  quote.CustomerKind
	text  *agreedText
	agreed
	release *bom.Release
	ground  ground
	// shed is what a variation that is looked at leaves over of what is on order;
	// nil where it changes nothing that is ordered.
	shed *shedding
}

// agreedJob reads a job and what was agreed of it. version is the one that was
// seen; 0 for any.
func (s *Server) agreedJob(c *gin.Context, id uuid.UUID, version int64) (*agreedJob, error) {
	var a agreedJob
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		if a.whole, err = tx.WholeJob(id); err != nil {
			return notFoundIs(err, "job")
		}
		if version > 0 && a.whole.Version != version {
			return store.ErrStale
		}
		if a.text, err = readAgreed(tx, a.whole.JobEntry, a.whole.Content); err != nil {
			return err
		}
		if a.text == nil {
			return &problem{code: openapi.ProblemCodeStateConflict, detail: "The job has no quote that could change.", remedy: "Record its hours and parts, and agree its price anew."}
		}
		if a.head, err = tx.Quote(a.whole.Quote); err != nil {
			return err
		}
		if a.kind, err = kindOf(tx, a.head.Customer); err != nil {
			return err
		}
		a.ground, err = s.groundOn(tx, "")
		return err
	})
	if err != nil {
		return nil, err
	}
	now, err := a.text.now()
	if err != nil {
		return nil, err
	}
	a.agreed = *now
	a.release, err = s.releaseByNumber(c, a.Release.Number)
	return &a, err
}

// cancellation is the right to cancel a change of what was agreed.
func (a *agreedJob) cancellation(place quote.Place, on string, request, only bool) quote.Cancellation {
	return quote.CancellationRight(a.ground.settings.CancellationRights, quote.Sale{
		Country: a.ground.settings.Country, Kind: a.kind, Place: place, On: on, Offered: only, ExpressRequest: request,
	})
}

// consent is a yes to a change, with the right to cancel it has. A yes at the
// counter is given on the premises, any other at a distance, unless somebody says
// where.
func (a *agreedJob) consent(on string, how quote.How, place quote.Place, request string) job.Consent {
	if place == "" {
		place = quote.AtDistance
		if how == quote.AtCounter {
			place = quote.OnPremises
		}
	}
	return job.Consent{On: on, How: how, Place: place, Cancellation: a.cancellation(place, on, request != "", false)}
}

// requested puts the customer's express request among what shows their yes: it
// is their words, and emptied with them.
func requested(evidence []store.Evidence, request string) []store.Evidence {
	if request == "" {
		return evidence
	}
	return append(slices.Clip(evidence), store.EvidenceOf("Express request: "+request, "", nil))
}

func frozenVariation(v *store.Variation) (*job.Variation, error) {
	text, err := v.Document.Unpack()
	if err != nil {
		return nil, err
	}
	return job.DecodeVariation(text)
}
