package api

import (
	"encoding/json"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/schedule"
	"wainscot/openapi"
	"wainscot/pricing/job"
)

// slotTeller tells the earliest slot of one set of choices after another.
type slotTeller struct {
	s     *Server
	c     *gin.Context
	asked *inquiry
	// supplies as they are, read once.
	supplies *supplies
	// found are those told so far, by work and parts: most changes of an option
	// change neither.
	found map[string]openapi.Period
}

// of is the earliest slot of choices; no days where there is none.
func (t *slotTeller) of(choices bom.Choices) (openapi.Period, error) {
	r := t.asked.offer.release
	resolution, faults, err := bom.Resolve(r, t.asked.van, choices, t.asked.settle)
	if err != nil || len(faults) > 0 {
		return openapi.Period{}, engineProblem(err)
	}
	sheet := bom.Expand(r, resolution.Specification)
	p := &planned{sheet: &sheet, release: r, work: job.FloorWork(&sheet, r.Catalogue())}
	if p.work.Hours().IsZero() {
		return openapi.Period{}, nil
	}
	if t.supplies == nil {
		if t.supplies, err = t.s.suppliesNow(t.c); err != nil {
			return openapi.Period{}, err
		}
	}
	ready, err := t.supplies.readyFor(p)
	if err != nil {
		return openapi.Period{}, plannedProblem(err)
	}
	key, err := json.Marshal([]any{p.work, ready})
	if err != nil {
		return openapi.Period{}, err
	}
	if known, ok := t.found[string(key)]; ok {
		return known, nil
	}
	var days openapi.Period
	// One question at a time, so that who books need not wait for all of them.
	err = t.s.onPlan(t.c, func(tx store.ReadTx, plan *schedule.Plan) error {
		today, err := dayOf(tx)
		if err != nil {
			return err
		}
		earliest, err := plan.Earliest(p.work, today, ready)
		if earliest.Found {
			days = openapi.Period{From: earliest.Slot.From(), Until: earliest.Slot.Until()}
		}
		t.found[string(key)] = days
		return err
	})
	return days, plannedProblem(err)
}
