package api

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/bom/schedule"
	"wainscot/openapi"
	"wainscot/pricing/job"
)

// mostMoved is how many vans are moved, or proposed to be, for one that leaves
// its bay: those that come next.
const mostMoved = 12

// standstill is a van that waits for something and leaves its bay, with the
// vans that could come earlier for it.
type standstill struct {
	today    string
	build    *build
	planned  *planned
	outFrom  string
	workFrom string
	ready    []schedule.StageReady
	others   []movable
}

// movable is a van that could come on another day.
type movable struct {
	planned *planned
	version int64
	// firstDay is the one asked for; "" is the earliest, from a day on.
	firstDay, from string
	ready          []schedule.StageReady
}

// laid is where a van would be.
type laid struct {
	was    store.Slot
	days   schedule.Slot
	whyNot []schedule.Reason
}

func (l *laid) fits() bool { return len(l.days.Stays) > 0 }

// standstillAsked reads what is asked, and gathers what the plan has to know.
// propose says to look for others where none are named.
func (s *Server) standstillAsked(c *gin.Context, propose bool) (*standstill, error) {
	asked, err := decode[openapi.StandstillAsked](c)
	if err != nil {
		return nil, err
	}
	id, err := pathID(c, "job")
	if err != nil {
		return nil, err
	}
	b, err := s.buildOf(c, id)
	if err != nil {
		return nil, err
	}
	st := &standstill{today: b.today, build: b, planned: b.planned(), outFrom: asked.OutFrom, workFrom: asked.WorkFrom}
	if st.outFrom == "" {
		st.outFrom = st.today
	}
	if err := st.check(); err != nil {
		return nil, err
	}
	now, err := s.suppliesNow(c)
	if err != nil {
		return nil, err
	}
	if st.ready, err = now.readyFor(st.planned); err != nil {
		return nil, plannedProblem(err)
	}
	others := mapped(asked.Others, func(o openapi.StandstillOther) movable {
		return movable{version: o.Version, firstDay: o.FirstDay, planned: &planned{job: store.JobEntry{ID: askedID(o.Job)}}}
	})
	if propose && len(others) == 0 {
		if others, err = s.comeNext(c, st); err != nil {
			return nil, err
		}
	}
	for i := range others {
		if err := s.gather(c, st, now, &others[i], "/others/"+strconv.Itoa(i)); err != nil {
			return nil, err
		}
	}
	st.others = others
	return st, s.onPlan(c, func(store.ReadTx, *schedule.Plan) error { return nil })
}

func (st *standstill) check() error {
	if st.build.State != job.InTheWorkshop {
		return &problem{code: openapi.ProblemCodeStateConflict, detail: "The van is not in the workshop.", remedy: "Move the slot of a van that has not come."}
	}
	var faults document.Faults
	if st.outFrom < st.today {
		faults = append(faults, document.Fault{Code: "too_early", At: "out_from", Reason: "The day is over.", Remedy: "Name today or a later one."})
	}
	if st.workFrom < st.outFrom {
		faults = append(faults, document.Fault{Code: "contradiction", At: "work_from", Reason: "The work would go on before the van leaves its bay.", Remedy: "Name a day after it."})
	}
	if far, err := calendar.Add(st.today, schedule.MaxSearchDays); err != nil || max(st.workFrom, st.outFrom) > far {
		faults = append(faults, document.Fault{Code: "too_late", At: "work_from", Reason: "It lies more than two years ahead.", Remedy: "Name an earlier day."})
	}
	if len(faults) > 0 {
		return slotRefused(faults, "")
	}
	return nil
}

// comeNext are the vans that come next after it has left its bay.
func (s *Server) comeNext(c *gin.Context, st *standstill) ([]movable, error) {
	var list []movable
	err := s.readTx(c, func(tx store.ReadTx) error {
		far, err := calendar.Add(st.outFrom, slotDaysOn)
		if err != nil {
			return err
		}
		slots, err := tx.SlotsOn(st.outFrom, far)
		if err != nil {
			return err
		}
		slots = slices.DeleteFunc(slots, func(o store.Slot) bool { return o.Job == st.build.ID || o.Days.From() <= st.outFrom })
		slices.SortStableFunc(slots, func(a, b store.Slot) int { return strings.Compare(a.Days.From(), b.Days.From()) })
		for _, o := range slots[:min(len(slots), mostMoved)] {
			list = append(list, movable{version: o.Version, planned: &planned{job: store.JobEntry{ID: o.Job}}})
		}
		return nil
	})
	return list, err
}

// gather reads the work of a van that could come earlier, and from when on it
// can: with its parts, and once it is there.
func (s *Server) gather(c *gin.Context, st *standstill, now *supplies, m *movable, field string) error {
	b, err := s.buildOf(c, m.planned.job.ID)
	if p, ok := err.(*problem); ok && p.code == openapi.ProblemCodeNotFound { //nolint:errorlint // as it was made
		return unknownReference(field+"/job", "job")
	}
	if err != nil {
		return err
	}
	if b.ID == st.build.ID || b.State != job.Agreed {
		return &problem{code: openapi.ProblemCodeStateConflict, detail: "Job " + strconv.FormatInt(b.Number, 10) + " is not one whose van is still to come.", remedy: "Name vans that have not come."}
	}
	if m.firstDay != "" && m.firstDay < st.today {
		return slotRefused(document.Faults{{Code: "too_early", At: strings.TrimPrefix(field, "/") + "/first_day", Reason: "The day is over.", Remedy: "Name today or a later one."}}, "")
	}
	m.planned, m.from = b.planned(), st.outFrom
	if n := len(b.Content.Expected); n > 0 {
		m.from = max(m.from, b.Content.Expected[n-1].Day)
	}
	m.ready, err = now.readyFor(m.planned)
	return plannedProblem(err)
}

// lay lays all of them on the plan: first the van that waits, among the others
// as they are, then each of the others for itself. The plan is as it was after.
func (st *standstill) lay(tx store.ReadTx, plan *schedule.Plan) (own laid, others []laid, err error) {
	key := st.build.ID.String()
	if own.was, err = tx.SlotIfAny(st.build.ID); err != nil {
		return own, nil, err
	}
	days, had := plan.Take(key)
	if !had || days.From() >= st.outFrom {
		if had {
			plan.Book(key, days)
		}
		return own, nil, &problem{code: openapi.ProblemCodeStateConflict, detail: "The van has no slot that has begun.", remedy: "Book it a slot, or move the one it has."}
	}
	defer plan.Book(key, days)
	rest, err := st.planned.left(days, st.outFrom, st.ready)
	if err != nil {
		return own, nil, err
	}
	found, err := rest.parted(plan, st.workFrom)
	if err != nil || !found.Found {
		own.whyNot = found.WhyNot
		return own, nil, plannedProblem(err)
	}
	own.days = found.Slot
	plan.Book(key, own.days)
	for i := range st.others {
		one, undo, err := st.others[i].lay(tx, plan)
		defer undo()
		if err != nil {
			return own, nil, err
		}
		others = append(others, one)
	}
	return own, others, nil
}

// lay lays a van anew, and books it so; undo puts its slot back.
func (m *movable) lay(tx store.ReadTx, plan *schedule.Plan) (l laid, undo func(), err error) {
	key := m.planned.job.ID.String()
	undo = func() {}
	if l.was, err = tx.SlotIfAny(m.planned.job.ID); err != nil {
		return l, undo, err
	}
	days, had := plan.Take(key)
	if !had {
		return l, undo, &problem{code: openapi.ProblemCodeStateConflict, detail: "Job " + strconv.FormatInt(m.planned.job.Number, 10) + " has no slot.", remedy: "Book it one."}
	}
	undo = func() { plan.Book(key, days) }
	ask, from := plan.Earliest, m.from
	if m.firstDay != "" {
		ask, from = plan.On, m.firstDay
	}
	found, err := ask(m.planned.work, from, m.ready)
	if err != nil {
		return l, undo, plannedProblem(err)
	}
	if l.days, l.whyNot = found.Slot, found.WhyNot; found.Found && (m.firstDay != "" || found.Slot.Until() < days.Until()) {
		plan.Book(key, found.Slot)
	} else {
		l.days = schedule.Slot{} // it would not be done any earlier
		plan.Book(key, days)
	}
	return l, undo, nil
}

// previewStandstill tells who would move.
func (s *Server) previewStandstill(c *gin.Context) error {
	st, err := s.standstillAsked(c, true)
	if err != nil {
		return err
	}
	out := openapi.StandstillPreview{WhyNot: []openapi.WhyNot{}, Others: []openapi.StandstillMove{}}
	err = s.onPlan(c, func(tx store.ReadTx, plan *schedule.Plan) error {
		own, others, err := st.lay(tx, plan)
		if err != nil {
			return err
		}
		out.WhyNot = mapped(own.whyNot, contractWhyNot)
		if out.Fits = own.fits(); out.Fits {
			out.Days, out.Moved = contractSlotDays(own.days), contractMove(schedule.Moved(own.was.Days, own.days))
		}
		for i := range others {
			o, m := &others[i], &st.others[i]
			if !o.fits() && m.firstDay == "" {
				continue
			}
			move := openapi.StandstillMove{Job: m.planned.job.ID.String(), Number: whole(int(m.planned.job.Number)), Version: o.was.Version,
				State: openapi.SlotState(o.was.State), Fits: o.fits(), WhyNot: []openapi.WhyNot{}}
			if o.fits() {
				move.FirstDay, move.Days, move.Moved = o.days.From(), contractSlotDays(o.days), contractMove(schedule.Moved(o.was.Days, o.days))
			} else {
				move.WhyNot = mapped(o.whyNot, contractWhyNot)
			}
			out.Others = append(out.Others, move)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, out)
}

// planStandstill moves all of them, or nobody.
func (s *Server) planStandstill(c *gin.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	st, err := s.standstillAsked(c, false)
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		if _, err := liveSlot(tx, st.build.ID, version); err != nil {
			return reply{}, err
		}
		if err := sameJob(tx, st.build.JobEntry); err != nil {
			return reply{}, err
		}
		for i := range st.others {
			if _, err := liveSlot(tx, st.others[i].planned.job.ID, st.others[i].version); err != nil {
				return reply{}, err
			}
			if err := jobMay(tx, st.others[i].planned.job.ID); err != nil {
				return reply{}, err
			}
		}
		var own laid
		var others []laid
		err := s.onPlanToWrite(tx, func(plan *schedule.Plan) (err error) {
			own, others, err = st.lay(tx.ReadTx, plan)
			return err
		})
		if err != nil {
			return reply{}, err
		}
		if !own.fits() {
			return reply{}, noSlot(own.whyNot)
		}
		for i := range others {
			if !others[i].fits() {
				return reply{}, noSlot(others[i].whyNot)
			}
		}
		kept, moved, err := putLaid(tx, st.build.ID, &own)
		if err != nil {
			return reply{}, err
		}
		out := openapi.StandstillPlanned{Slot: contractSlot(kept), Moved: contractMove(moved), Others: []openapi.SlotMoved{}}
		for i := range others {
			one, moved, err := putLaid(tx, st.others[i].planned.job.ID, &others[i])
			if err != nil {
				return reply{}, err
			}
			out.Others = append(out.Others, openapi.SlotMoved{Slot: contractSlot(one), Moved: contractMove(moved)})
		}
		return reply{status: http.StatusOK, version: kept.Version, body: out}, nil
	})
	return notFoundIs(err, "slot")
}

// sameJob: the board whose hours the rest was worked out from is still so.
func sameJob(tx store.WriteTx, was store.JobEntry) error {
	now, err := tx.JobEntry(was.ID)
	if err == nil && now.Version != was.Version {
		err = store.ErrStale
	}
	return err
}

// putLaid keeps a slot as it was laid; on another first day it is held.
func putLaid(tx store.WriteTx, id uuid.UUID, l *laid) (store.Slot, schedule.Move, error) {
	content := store.SlotContent{State: schedule.Held, Days: l.days}
	if l.was.State == schedule.Firm && l.was.Days.From() == l.days.From() {
		content.State, content.ConfirmedOn = l.was.State, l.was.ConfirmedOn
	}
	kept, err := tx.PutSlot(id, l.was.Version, content)
	return kept, schedule.Moved(l.was.Days, l.days), err
}
