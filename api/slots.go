package api

import (
	"errors"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/bom/schedule"
	"wainscot/openapi"
	"wainscot/pricing/job"
)

// planned is the work of a van as the floor plans it.
type planned struct {
	work  schedule.Work
	sheet *bom.Sheet
	// release the sheet was made with.
	release *bom.Release
	job     store.JobEntry // of a job; its id is nil for a van of a quote
	content *job.Job       // likewise; nil for a van of a quote
}

// jobPlanned is the work of the job that the address names.
func (s *Server) jobPlanned(c *gin.Context) (*planned, error) {
	id, err := pathID(c, "job")
	if err != nil {
		return nil, err
	}
	b, err := s.buildOf(c, id)
	if err != nil {
		return nil, err
	}
	return b.planned(), nil
}

func (b *build) planned() *planned {
	return &planned{sheet: b.sheet, release: b.release, work: job.FloorWork(b.sheet, b.catalogue), job: b.JobEntry, content: b.Content}
}

// quotePlanned is the work of a van of a quote, counted from 1.
func (s *Server) quotePlanned(c *gin.Context, q *shownQuote, place int) (*planned, error) {
	if place < 1 || place > len(q.document.Vans) {
		return nil, notFound("van of the quote")
	}
	release, err := s.releaseByNumber(c, q.document.Release.Number)
	if err != nil {
		return nil, err
	}
	p := &planned{sheet: &q.document.Vans[place-1].Sheet, release: release}
	p.work = job.FloorWork(p.sheet, release.Catalogue())
	return p, nil
}

// readyBy says from when on the stages of a van can begin because their parts
// are here: from what the jobs booked leave in stock and due, else as if it were
// ordered today.
func (s *Server) readyBy(c *gin.Context, p *planned) ([]schedule.StageReady, error) {
	n, err := s.suppliesNow(c)
	if err != nil {
		return nil, err
	}
	ready, err := n.readyFor(p)
	return ready, plannedProblem(err)
}

// getNetwork gives a job's stages with their float.
func (s *Server) getNetwork(c *gin.Context) error {
	p, err := s.jobPlanned(c)
	if err != nil {
		return err
	}
	var floor schedule.Floor
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		floor, err = wholeFloor(tx)
		return err
	})
	if err != nil {
		return err
	}
	n, faults := floor.Network(p.work)
	if err := faults.Err(); err != nil {
		return fmt.Errorf("the network of job %d: %w", p.job.Number, err)
	}
	return answer(c, http.StatusOK, contractNetwork(n))
}

// getEarliestSlot gives the first days a job fits.
func (s *Server) getEarliestSlot(c *gin.Context) error {
	p, err := s.jobPlanned(c)
	if err != nil {
		return err
	}
	return s.answerEarliest(c, p)
}

// getEarliestQuotedSlot gives the first days a van of a quote fits.
func (s *Server) getEarliestQuotedSlot(c *gin.Context) error {
	q, err := s.showAsked(c)
	if err != nil {
		return err
	}
	place, err := strconv.Atoi(c.Param("place"))
	if err != nil {
		return notFound("van of the quote")
	}
	p, err := s.quotePlanned(c, q, place)
	if err != nil {
		return err
	}
	return s.answerEarliest(c, p)
}

// answerEarliest works out the earliest slot of a van; one that its job has
// counts as free.
func (s *Server) answerEarliest(c *gin.Context, p *planned) error {
	w, err := s.wish(c, p, openapi.SlotWanted{From: c.Query("from")}, "query/from")
	if err != nil {
		return err
	}
	var found schedule.Earliest
	var days calendar.Calendar
	err = s.onPlan(c, func(_ store.ReadTx, plan *schedule.Plan) (err error) {
		days = plan.Floor().Calendar
		found, err = w.without(plan, func() (schedule.Earliest, error) { return plan.Earliest(p.work, w.from, w.ready) })
		return err
	})
	if err != nil {
		return plannedProblem(err)
	}
	return answer(c, http.StatusOK, contractEarliest(found, days))
}

// wish is a slot that is wanted, read and ready to be held against the plan.
type wish struct {
	planned *planned
	asked   openapi.SlotWanted
	today   string
	from    string // the first day that may be: the one asked for, never before today
	ready   []schedule.StageReady
	days    schedule.Slot // where a whole slot is wanted
}

// wish reads what is wanted; field is where its day stands.
func (s *Server) wish(c *gin.Context, p *planned, asked openapi.SlotWanted, field string) (*wish, error) {
	w := &wish{planned: p, asked: asked}
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		w.today, err = dayOf(tx)
		return err
	})
	if err != nil {
		return nil, err
	}
	w.from = w.today
	if day := asked.From + asked.FirstDay; day != "" {
		if err := checkedDay(field, day); err != nil {
			return nil, err
		}
		if far, err := calendar.Add(w.today, schedule.MaxSearchDays); err != nil || day > far {
			return nil, brokenField(field, "not_allowed", "It lies more than two years ahead.", "Name an earlier day.")
		}
		w.from = max(day, w.today)
	}
	if asked.FirstDay != "" && asked.FirstDay < w.today {
		return nil, slotRefused(document.Faults{{Code: "too_early", At: "first_day", Reason: "The day is over.", Remedy: "Name today or a later one."}}, "")
	}
	if len(asked.Days.Stays) > 0 {
		w.days = domainSlotDays(asked.Days)
		w.days.Stages = p.work.StagesOf(w.days.Hours)
		if far, err := calendar.Add(w.today, schedule.MaxSearchDays+schedule.MaxSlotDays); err != nil || w.days.Until() > far {
			return nil, slotRefused(document.Faults{{Code: "too_late", At: "days/stays", Reason: "It lies more than three years ahead.", Remedy: "Name earlier days."}}, "")
		}
		return w, nil
	}
	w.ready, err = s.readyBy(c, p)
	return w, err
}

// without asks the plan as if the job had no slot.
func (w *wish) without(plan *schedule.Plan, fn func() (schedule.Earliest, error)) (schedule.Earliest, error) {
	key := w.planned.job.ID.String()
	if was, had := plan.Take(key); had {
		defer plan.Book(key, was)
	}
	return fn()
}

// on gives the slot that comes of a wish, or what is in the way: faults of a
// slot that was sent, reasons where none was found. was is the slot that is
// moved; of one that has begun, what is over stays as it is, and what the board
// says is left is laid out anew.
func (w *wish) on(plan *schedule.Plan, was store.Slot) (days schedule.Slot, faults document.Faults, reasons []schedule.Reason, err error) {
	if len(w.days.Stays) > 0 {
		return w.days, plan.Fits(w.planned.job.ID.String(), w.planned.work, w.days), nil, nil
	}
	var before schedule.Slot
	if was.Version > 0 && was.State != store.SlotReleased {
		before = was.Days
	}
	l, err := w.planned.left(before, w.today, w.ready)
	if err != nil {
		return schedule.Slot{}, nil, nil, err
	}
	found, err := w.without(plan, func() (schedule.Earliest, error) {
		if w.asked.FirstDay != "" {
			return l.on(plan, w.from)
		}
		return l.earliest(plan, w.from)
	})
	return found.Slot, nil, found.WhyNot, err
}

// plannedProblem says what an error of planning means to whoever asked.
func plannedProblem(err error) error {
	if errors.Is(err, calendar.ErrTooFar) || errors.Is(err, calendar.ErrNoWork) {
		return &problem{code: openapi.ProblemCodeStateConflict, detail: "By the workshop's calendar no day is worked as far as one can plan.", remedy: "Look at the days on which the floor is closed."}
	}
	if errors.Is(err, schedule.ErrNothingToDo) {
		return &problem{code: openapi.ProblemCodeStateConflict, detail: "There is no work to be done on the floor.", remedy: "Only a van that is worked on needs a slot."}
	}
	return err
}

// getSlot gives the slot of a job.
func (s *Server) getSlot(c *gin.Context) error {
	found, err := theOne(s, c, "slot", store.ReadTx.Slot)
	if err != nil {
		return err
	}
	return answerVersion(c, http.StatusOK, found.Version, contractSlot(found))
}

// bookSlot gives a job its slot.
func (s *Server) bookSlot(c *gin.Context) error {
	w, err := s.slotWished(c)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		was, err := tx.SlotIfAny(w.planned.job.ID)
		if err != nil {
			return reply{}, err
		}
		if was.Version > 0 && was.State != store.SlotReleased {
			return reply{}, &problem{code: openapi.ProblemCodeStateConflict, detail: "The job has a slot.", remedy: "Move it, or give it up first."}
		}
		kept, _, err := s.putSlot(tx, w, was, was.Version)
		return reply{status: http.StatusCreated, location: "/v1/jobs/" + kept.Job.String() + "/slot", version: kept.Version, body: contractSlot(kept)}, err
	})
}

// moveSlot gives a job another slot in place of the one it has.
func (s *Server) moveSlot(c *gin.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	w, err := s.slotWished(c)
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		was, err := liveSlot(tx, w.planned.job.ID, version)
		if err != nil {
			return reply{}, err
		}
		kept, moved, err := s.putSlot(tx, w, was, version)
		return reply{status: http.StatusOK, version: kept.Version, body: openapi.SlotMoved{Slot: contractSlot(kept), Moved: contractMove(moved)}}, err
	})
	return notFoundIs(err, "slot")
}

// slotWished reads a wish for the job that the address names, and has the plan
// at hand, so that the transaction has little to read.
func (s *Server) slotWished(c *gin.Context) (*wish, error) {
	asked, err := decode[openapi.SlotWanted](c)
	if err != nil {
		return nil, err
	}
	p, err := s.jobPlanned(c)
	if err != nil {
		return nil, err
	}
	w, err := s.wish(c, p, asked, "/"+map[bool]string{true: "first_day", false: "from"}[asked.FirstDay != ""])
	if err != nil {
		return nil, err
	}
	return w, s.onPlan(c, func(store.ReadTx, *schedule.Plan) error { return nil })
}

// liveSlot is the slot of a job that goes on, at a version.
func liveSlot(tx store.WriteTx, job uuid.UUID, version int64) (store.Slot, error) {
	was, err := tx.Slot(job)
	switch {
	case err != nil:
		return was, err
	case was.Version != version:
		return was, store.ErrStale
	case was.State == store.SlotReleased:
		return was, &problem{code: openapi.ProblemCodeStateConflict, detail: "The slot was given up.", remedy: "Book another."}
	}
	return was, nil
}

// putSlot works a wish out on the plan as the transaction sees it, and keeps
// what comes of it.
func (s *Server) putSlot(tx store.WriteTx, w *wish, was store.Slot, version int64) (kept store.Slot, moved schedule.Move, err error) {
	if err := jobMay(tx, w.planned.job.ID); err != nil {
		return kept, moved, err
	}
	if err := sameJob(tx, w.planned.job); err != nil {
		return kept, moved, err
	}
	var days schedule.Slot
	err = s.onPlanToWrite(tx, func(plan *schedule.Plan) error {
		found, faults, reasons, err := w.on(plan, was)
		switch {
		case err != nil:
			return plannedProblem(err)
		case len(faults) > 0:
			return slotRefused(withNumbers(tx.ReadTx, faults), "days/")
		case len(found.Stays) == 0:
			return noSlot(reasons)
		}
		days = found
		return nil
	})
	if err != nil {
		return kept, moved, err
	}
	content := store.SlotContent{State: schedule.Held, Days: days}
	if was.State == schedule.Firm && was.Days.From() == days.From() {
		content.State, content.ConfirmedOn = was.State, was.ConfirmedOn
	}
	kept, err = tx.PutSlot(w.planned.job.ID, version, content)
	return kept, schedule.Moved(was.Days, days), err
}

// jobMay says whether a job can have a slot as it stands.
func jobMay(tx store.WriteTx, id uuid.UUID) error {
	entry, err := tx.JobEntry(id)
	if err != nil {
		return err
	}
	if entry.State != job.Agreed && entry.State != job.InTheWorkshop {
		return &problem{code: openapi.ProblemCodeStateConflict, detail: "The job is " + string(entry.State) + ".", remedy: "Only a job that goes on has a slot."}
	}
	return nil
}

// previewSlot tells what a wish would come to.
func (s *Server) previewSlot(c *gin.Context) error {
	w, err := s.slotWished(c)
	if err != nil {
		return err
	}
	var out openapi.SlotPreview
	err = s.onPlan(c, func(tx store.ReadTx, plan *schedule.Plan) error {
		was, err := tx.SlotIfAny(w.planned.job.ID)
		if err != nil {
			return err
		}
		days, faults, reasons, err := w.on(plan, was)
		if err != nil {
			return plannedProblem(err)
		}
		out = openapi.SlotPreview{Fits: len(faults) == 0 && len(days.Stays) > 0, WhyNot: mapped(reasons, contractWhyNot),
			InTheWay: mapped(withNumbers(tx, faults), func(f document.Fault) openapi.FieldError {
				return openapi.FieldError{Field: fieldOf("days/" + f.At), Code: f.Code, Reason: f.Reason, Remedy: f.Remedy}
			})}
		if len(days.Stays) > 0 {
			out.Days = contractSlotDays(days)
			before := was.Days
			if was.State == store.SlotReleased {
				before = schedule.Slot{}
			}
			out.Moved = contractMove(schedule.Moved(before, days))
		}
		return nil
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, out)
}

// confirmSlot makes a slot firm: the van has to be confirmed to come.
func (s *Server) confirmSlot(c *gin.Context) error {
	return s.changeSlot(c, func(tx store.WriteTx, was store.Slot) (store.SlotContent, error) {
		today, err := dayOf(tx.ReadTx)
		if err != nil {
			return was.SlotContent, err
		}
		if err := jobMay(tx, was.Job); err != nil {
			return was.SlotContent, err
		}
		of, err := tx.WholeJob(was.Job)
		if err != nil {
			return was.SlotContent, err
		}
		day, sure := of.Content.Confirmed()
		switch {
		case was.Again != nil:
			return was.SlotContent, &problem{code: openapi.ProblemCodeStateConflict, detail: "The slot has to be planned again. " + was.Again.Says, remedy: "Move it first: what is left of the work is laid out anew."}
		case !sure:
			return was.SlotContent, &problem{code: openapi.ProblemCodeStateConflict, detail: "The van is not confirmed to come.",
				remedy: "Keep who brings it and when, and that it is confirmed, with the job."}
		case day > was.Days.From():
			return was.SlotContent, &problem{code: openapi.ProblemCodeStateConflict, detail: "The van is only sure to be there from " + calendar.Said(day) + " on, and the slot begins before.",
				remedy: "Move the slot."}
		}
		if err := s.depositIn(tx, was.Job); err != nil {
			return was.SlotContent, err
		}
		return store.SlotContent{State: schedule.Firm, Days: was.Days, ConfirmedOn: today}, nil
	})
}

// slotFollows takes from the floor what a job needs no more: all that is ahead
// of one that is cancelled or handed over.
func slotFollows(tx store.WriteTx, e store.JobEntry, today string) error {
	if e.State != job.Cancelled && e.State != job.HandedOver {
		return nil
	}
	was, err := tx.SlotIfAny(e.ID)
	if err != nil || was.Version == 0 || was.State == store.SlotReleased || e.State == job.HandedOver && was.Days.Until() <= today {
		return err
	}
	tomorrow, err := calendar.Add(today, 1)
	if err != nil {
		return err
	}
	content := was.SlotContent
	if over := was.Days.Before(tomorrow); len(over.Stays) > 0 {
		content.Days = over
	} else {
		content.State = store.SlotReleased
	}
	_, err = tx.PutSlot(e.ID, was.Version, content)
	return err
}

// releaseSlot gives a slot up.
func (s *Server) releaseSlot(c *gin.Context) error {
	return s.changeSlot(c, func(_ store.WriteTx, was store.Slot) (store.SlotContent, error) {
		return store.SlotContent{State: store.SlotReleased, Days: was.Days}, nil
	})
}

func (s *Server) changeSlot(c *gin.Context, to func(store.WriteTx, store.Slot) (store.SlotContent, error)) error {
	id, version, err := pathVersion(c, "slot")
	if err != nil {
		return err
	}
	err = s.keep(c, func(tx store.WriteTx) (reply, error) {
		was, err := liveSlot(tx, id, version)
		if err != nil {
			return reply{}, err
		}
		content, err := to(tx, was)
		if err != nil {
			return reply{}, err
		}
		kept, err := tx.PutSlot(id, version, content)
		return reply{status: http.StatusOK, version: kept.Version, body: contractSlot(kept)}, err
	})
	return notFoundIs(err, "slot")
}

// listSlots gives the slots of some days.
func (s *Server) listSlots(c *gin.Context) error {
	var list []store.Slot
	err := s.readTx(c, func(tx store.ReadTx) error {
		from, until, err := s.daysAsked(c, tx, mostListedDays)
		if err == nil {
			list, err = tx.SlotsOn(from, until)
		}
		return err
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.Slots{Slots: mapped(list, contractSlot)})
}

const mostListedDays = 400

// slotRefused: 409 where others have what is wanted, 422 where it could never
// be. Faults are of a field, or of what is under one.
func slotRefused(faults document.Faults, under string) error {
	if !slices.ContainsFunc(faults, func(f document.Fault) bool { return f.Code != "place_taken" && f.Code != "trade_booked" }) {
		return refused(openapi.ProblemCodeStateConflict, "Others have what the slot wants.", faults, under)
	}
	return refused(openapi.ProblemCodeTermsRefused, "The slot cannot be so.", faults, under)
}

// noSlot: none was found, and why.
func noSlot(reasons []schedule.Reason) error {
	p := &problem{code: openapi.ProblemCodeStateConflict, detail: "There is no such slot.", remedy: "Ask for the earliest there is, or change what is in the way."}
	for _, r := range reasons {
		p.errors = append(p.errors, openapi.FieldError{Field: "/first_day", Code: reasonCode(r.Kind), Reason: r.Says, Remedy: "Choose another day."})
	}
	return p
}

// withNumbers calls jobs in sentences by their numbers: the plan knows ids.
func withNumbers(tx store.ReadTx, faults document.Faults) document.Faults {
	out := slices.Clone(faults)
	for i := range out {
		out[i].Reason = jobKey.ReplaceAllStringFunc(out[i].Reason, func(key string) string {
			if entry, err := tx.JobEntry(uuid.MustParse(key)); err == nil {
				return fmt.Sprintf("job %d", entry.Number)
			}
			return "another"
		})
	}
	return out
}

var jobKey = regexp.MustCompile(`[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}`)
