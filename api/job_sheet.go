package api

import (
	"fmt"

	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/pricing/job"
	"wainscot/pricing/quote"
)

// jobVan is what a job is built by: the van of the accepted revision, or of the
// last accepted variation, and the number of the release it was made with. A
// job of no quote has none, and the van is nil.
func jobVan(tx store.ReadTx, e store.JobEntry, content *job.Job) (van *quote.Van, release int64, err error) {
	if e.Quote == uuid.Nil {
		return nil, 0, nil
	}
	if content.Variation > 0 {
		kept, err := tx.Variation(e.ID, content.Variation)
		if err != nil {
			return nil, 0, err
		}
		text, err := kept.Document.Unpack()
		if err != nil {
			return nil, 0, err
		}
		v, err := job.DecodeVariation(text)
		if err != nil {
			return nil, 0, err
		}
		return &v.Van, v.Release.Number, nil
	}
	revision, err := tx.Revision(e.Quote, e.Revision)
	if err != nil {
		return nil, 0, err
	}
	text, err := revision.Document.Unpack()
	if err != nil {
		return nil, 0, err
	}
	d, err := quote.Decode(text)
	if err != nil {
		return nil, 0, err
	}
	if e.Place < 1 || e.Place > int64(len(d.Vans)) {
		return nil, 0, fmt.Errorf("job %d: quote %s has no van %d", e.Number, e.Quote, e.Place)
	}
	return &d.Vans[e.Place-1], d.Release.Number, nil
}
