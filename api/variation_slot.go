package api

import (
	"errors"
	"slices"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/bom/schedule"
	"wainscot/openapi"
	"wainscot/pricing/job"
)

// What a variation does to the days of its van: told before it is sent, booked
// with the yes where it is as it was told.

// onFloor is a job as it would be with a variation, as the floor plans it.
type onFloor struct {
	planned *planned
	today   string
	ready   []schedule.StageReady
}

func live(o *store.Slot) bool { return o.Version > 0 && o.State != store.SlotReleased }

// onFloor is the job with a variation, where its van has a slot and the
// variation changes the work that is planned in it; else nil.
func (s *Server) onFloor(c *gin.Context, a *agreedJob, v *job.Variation) (*onFloor, error) {
	if a.whole.State != job.Agreed && a.whole.State != job.InTheWorkshop {
		return nil, nil //nolint:nilnil // nothing is planned any more
	}
	offered := a.release.Catalogue()
	work := job.FloorWork(&v.Van.Sheet, offered)
	if sameText(work, job.FloorWork(&a.Van.Sheet, offered)) {
		return nil, nil //nolint:nilnil // the same work on the same days
	}
	var was store.Slot
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		was, err = tx.SlotIfAny(a.whole.ID)
		return err
	})
	if err != nil || !live(&was) {
		return nil, err
	}
	now := a.whole.Content.With(v, a.ground.today, offered.Stages)
	f := &onFloor{planned: &planned{work: work, sheet: &v.Van.Sheet, release: a.release, job: a.whole.JobEntry, content: &now}, today: a.ground.today}
	supplies, err := s.suppliesNow(c)
	if err != nil {
		return nil, err
	}
	ready, err := supplies.readyFor(f.planned)
	if err != nil {
		return nil, plannedProblem(err)
	}
	agreed, err := supplies.readyFor(&planned{sheet: &a.Van.Sheet, release: a.release, job: a.whole.JobEntry})
	if err != nil {
		return nil, plannedProblem(err)
	}
	f.ready = laterReady(ready, agreed)
	return f, s.onPlan(c, func(store.ReadTx, *schedule.Plan) error { return nil })
}

// laterReady are the stages whose parts come later than they would without the
// change. What was agreed has its days already, and somebody sees to its parts,
// also where the workshop counts none of them: no change is late for their sake.
func laterReady(ready, agreed []schedule.StageReady) (later []schedule.StageReady) {
	for _, r := range ready {
		if !slices.ContainsFunc(agreed, func(a schedule.StageReady) bool { return a.Stage == r.Stage && a.Day >= r.Day }) {
			later = append(later, r)
		}
	}
	return later
}

// lay lays what is left of it on the plan, nobody else moved, from the first day
// on which its slot has anything left to do. The plan is as it was after. No yes
// fails because no day can be found: that is told as a reason.
func (f *onFloor) lay(plan *schedule.Plan, slot schedule.Slot) (schedule.Earliest, error) {
	key := f.planned.job.ID.String()
	if was, had := plan.Take(key); had {
		defer plan.Book(key, was)
	}
	l, err := f.planned.left(slot, f.today, f.ready)
	if err != nil {
		return schedule.Earliest{}, err
	}
	found, err := l.earliest(plan, f.from(slot))
	switch {
	case errors.Is(err, schedule.ErrNothingToDo):
		return schedule.Earliest{Found: true, Slot: slot}, nil
	case errors.Is(err, calendar.ErrTooFar), errors.Is(err, calendar.ErrNoWork):
		return schedule.Earliest{WhyNot: []schedule.Reason{{Says: "By the workshop's calendar no day is worked as far as one can plan."}}}, nil
	}
	return found, err
}

// from is the first day that may be another's: of a van that is to come, the
// first of its slot.
func (f *onFloor) from(slot schedule.Slot) string {
	if f.planned.job.State != job.InTheWorkshop {
		return max(f.today, slot.From())
	}
	first := ""
	for _, h := range slot.Hours {
		if h.Day >= f.today && (first == "" || h.Day < first) {
			first = h.Day
		}
	}
	return max(f.today, first)
}

// proposeSlot tells what a variation that is worked out does to the days of its
// van.
func (s *Server) proposeSlot(c *gin.Context, a *agreedJob, v *job.Varied) error {
	f, err := s.onFloor(c, a, &v.Variation)
	if err != nil || f == nil {
		return err
	}
	return s.onPlan(c, func(tx store.ReadTx, plan *schedule.Plan) error {
		was, err := tx.SlotIfAny(a.whole.ID)
		if err != nil || !live(&was) {
			return err
		}
		laid, err := f.lay(plan, was.Days)
		if err == nil {
			v.OnFloor(job.SlotChangeOf(was.Days, laid))
		}
		return err
	})
}

// slotWithYes books the days of the van as they were told, where they are still
// there; where they are not, its slot stays and says that it has to be planned
// again. Nobody else is moved.
func (s *Server) slotWithYes(tx store.WriteTx, f *onFloor, v *job.Variation, on string) error {
	was, err := tx.SlotIfAny(f.planned.job.ID)
	if err != nil || !live(&was) {
		return err
	}
	var found schedule.Earliest
	err = s.onPlanToWrite(tx, func(plan *schedule.Plan) (err error) {
		found, err = f.lay(plan, was.Days)
		return err
	})
	if err != nil {
		return err
	}
	if v.Keeps(was.Days, found) {
		_, _, err = putLaid(tx, was.Job, &laid{was: was, days: found.Slot})
		return err
	}
	content := was.SlotContent
	content.Again = &store.SlotAgain{Since: on, Variation: v.Number, Says: v.Broken(was.Days, found)}
	_, err = tx.PutSlot(was.Job, was.Version, content)
	return err
}

func contractSlotAgain(a *store.SlotAgain) openapi.SlotAgain {
	if a == nil {
		return openapi.SlotAgain{}
	}
	return openapi.SlotAgain{Since: a.Since, Variation: whole(int(a.Variation)), Says: a.Says}
}

func contractSlotChange(c *job.SlotChange) openapi.VariationSlot {
	if c == nil {
		return openapi.VariationSlot{}
	}
	out := openapi.VariationSlot{Fits: c.Moved != nil, Was: openapi.Period{From: c.Was.From, Until: c.Was.Until}, WhyNot: append([]string{}, c.WhyNot...)}
	if out.Fits {
		out.Is, out.Moved = openapi.Period{From: c.Is.From, Until: c.Is.Until}, contractMove(*c.Moved)
	}
	return out
}
