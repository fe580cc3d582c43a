package api

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/bom/schedule"
	"wainscot/bom/supply"
	"wainscot/openapi"
	"wainscot/pricing/job"
)

// Bounds of the foreman's list.
const (
	outlookDays    = 5 // working days, where nobody says
	maxOutlookVans = 500
)

// getOutlook tells what stops each van that is in the workshop or comes in on
// the days looked at.
func (s *Server) getOutlook(c *gin.Context) error {
	ahead := outlookDays
	if asked := c.Query("days"); asked != "" {
		n, err := strconv.Atoi(asked)
		if err != nil {
			return brokenField("query/days", "not_allowed", "It is not a number of days.", "Write 0 to 60.")
		}
		ahead = n
	}
	l, err := s.lookOver(c, ahead)
	if err != nil {
		return err
	}
	toOrder := map[string][]supply.Unordered{}
	if len(l.vans) > 0 {
		now, err := s.suppliesNow(c)
		if err != nil {
			return err
		}
		l.lateParts(now)
		if toOrder, err = l.unorderedParts(now, ahead); err != nil {
			return err
		}
	}
	list, err := job.Look(l.today, ahead, l.floor.Calendar, l.vans)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, openapi.OutlookList{Day: l.today, Vans: mapped(list[:min(len(list), maxOutlookVans)], func(o job.Outlook) openapi.Outlook {
		van := contractOutlook(o)
		van.ToOrder = mapped(toOrder[o.Job], contractUnordered)
		return van
	})})
}

// overlooked is the floor as the foreman's list looks at it.
type overlooked struct {
	today string
	floor schedule.Floor
	slots map[uuid.UUID]*schedule.Slot
	again map[uuid.UUID]*store.SlotAgain
	jobs  []store.WholeJob
	built map[uuid.UUID]*agreedText
	vans  []job.Ahead
}

func (s *Server) lookOver(c *gin.Context, ahead int) (*overlooked, error) {
	l := &overlooked{slots: map[uuid.UUID]*schedule.Slot{}, again: map[uuid.UUID]*store.SlotAgain{}, built: map[uuid.UUID]*agreedText{}}
	if err := s.readTx(c, func(tx store.ReadTx) error { return l.read(tx, ahead) }); err != nil {
		return nil, err
	}
	for i := range l.jobs {
		w := &l.jobs[i]
		plan, open, err := s.planAhead(c, w, l.built[w.ID])
		if err != nil {
			return nil, err
		}
		a := w.Content.Ahead(plan, w.ID.String(), w.Number, l.slots[w.ID])
		a.Missing = append(a.Missing, open...)
		if again := l.again[w.ID]; again != nil {
			a.Missing = append(a.Missing, job.Missing{What: job.MissingSlot, Code: strconv.FormatInt(again.Variation, 10), Says: again.Says + " Its slot has to be planned again."})
		}
		l.vans = append(l.vans, a)
	}
	l.overbooked()
	return l, nil
}

// planAhead is the plan of a job that is looked at, and the finishes of it that
// are still to be chosen.
func (s *Server) planAhead(c *gin.Context, w *store.WholeJob, text *agreedText) (*job.Plan, []job.Missing, error) {
	if number, without := w.Content.OwnRelease(); without {
		release, err := s.releaseByNumber(c, number)
		if err != nil {
			return nil, nil, err
		}
		plan := job.PlanOf(&bom.Specification{}, w.Content.OwnSheet(release.Catalogue()), release.Catalogue())
		return &plan, nil, nil
	}
	now, err := text.now()
	if err != nil {
		return nil, nil, err
	}
	release, err := s.releaseByNumber(c, now.Release.Number)
	if err != nil {
		return nil, nil, err
	}
	van := &now.Van
	plan := job.PlanOf(&van.Specification, &van.Sheet, release.Catalogue())
	return &plan, openFinishes(van.Specification.Finishes, &van.Sheet), nil
}

// read reads the jobs that are looked at, their slots, and the floor.
func (l *overlooked) read(tx store.ReadTx, ahead int) error {
	var err error
	if l.today, err = dayOf(tx); err != nil {
		return err
	}
	floor, err := tx.Floor()
	if err != nil {
		return err
	}
	l.floor = floor.Content
	crew, err := tx.Crew()
	if err != nil {
		return err
	}
	for _, m := range crew {
		l.floor.Crew = append(l.floor.Crew, m.Leaving())
	}
	until, err := l.floor.Calendar.Forward(l.today, ahead)
	if err != nil {
		return err
	}
	slots, err := tx.SlotsOn(l.today, until)
	if err != nil {
		return err
	}
	looked := map[uuid.UUID]bool{}
	for i := range slots {
		l.slots[slots[i].Job], l.again[slots[i].Job] = &slots[i].Days, slots[i].Again
		if err := l.add(tx, slots[i].Job, looked); err != nil {
			return err
		}
	}
	for after := (*store.Place)(nil); ; {
		list, next, err := tx.Jobs(store.JobFilter{State: job.InTheWorkshop, After: after, Limit: 200})
		if err != nil {
			return err
		}
		for _, e := range list {
			if err := l.add(tx, e.ID, looked); err != nil {
				return err
			}
		}
		if next == nil || len(l.jobs) >= maxOutlookVans {
			return nil
		}
		after = next
	}
}

// add reads a job that is looked at, once, and what it is built by.
func (l *overlooked) add(tx store.ReadTx, id uuid.UUID, looked map[uuid.UUID]bool) error {
	if looked[id] {
		return nil
	}
	looked[id] = true
	w, err := tx.WholeJob(id)
	if err != nil {
		return err
	}
	if w.Quote == uuid.Nil && w.Content.TakenOn == nil || w.State == job.HandedOver || w.State == job.Cancelled {
		return nil
	}
	b, err := readAgreed(tx, w.JobEntry, w.Content)
	if err != nil {
		return err
	}
	if l.slots[id] == nil { // one that is over already
		slot, err := tx.SlotIfAny(id)
		if err != nil {
			return err
		}
		if slot.Version > 0 && slot.State != store.SlotReleased {
			l.slots[id], l.again[id] = &slot.Days, slot.Again
		}
	}
	l.jobs, l.built[id] = append(l.jobs, w), b
	return nil
}

// openFinishes are the finishes still to choose, each at the first stage that
// wants its part.
func openFinishes(list []bom.SpecifiedFinish, sheet *bom.Sheet) []job.Missing {
	var missing []job.Missing
	for _, f := range list {
		if f.Choice != "" {
			continue
		}
		k := slices.IndexFunc(sheet.Lines, func(l bom.Line) bool { return l.Finish == f.Finish && l.Code == "" })
		if k >= 0 {
			missing = append(missing, job.Missing{What: job.MissingFinish, Stage: sheet.Lines[k].Stage, Code: f.Finish,
				Says: "“" + sheet.Lines[k].Name + "” is still to be chosen."})
		}
	}
	return missing
}

// lateParts adds what suppliers are late with.
func (l *overlooked) lateParts(n *supplies) {
	for i := range n.plan.Late {
		late := &n.plan.Late[i]
		if late.Want < 0 {
			continue
		}
		w := &n.wants[late.Want]
		k := slices.IndexFunc(l.vans, func(a job.Ahead) bool { return a.Job == w.Job })
		if k < 0 {
			continue
		}
		l.vans[k].Missing = append(l.vans[k].Missing, job.Missing{What: job.MissingPart, Stage: w.Stage, Code: w.Code, By: late.There,
			Says: w.Name + " comes on " + calendar.Said(late.There) + " and is wanted on " + calendar.Said(late.Wanted) + "."})
	}
}

// unorderedParts are the parts nobody has ordered of stages that begin on the
// days looked at, by job; what would come too late even if it was ordered today
// is missing. A stage under way has what it has: what is on no entry of its
// board is there all the same. A workshop that neither counts nor orders a part
// would read of nothing else.
func (l *overlooked) unorderedParts(n *supplies, ahead int) (map[string][]supply.Unordered, error) {
	until, err := l.floor.Calendar.Forward(l.today, ahead)
	if err != nil {
		return nil, err
	}
	kept := n.keptParts()
	list, err := n.position.Unordered(&n.plan, n.wants, func(part string) bool { return kept[part] })
	if err != nil {
		return nil, err
	}
	told := map[string][]supply.Unordered{}
	for i := range list {
		u := &list[i]
		k := slices.IndexFunc(l.vans, func(a job.Ahead) bool { return a.Job == u.Job })
		if k < 0 || slices.ContainsFunc(l.vans[k].Stages, func(s job.StageAhead) bool { return s.Code == u.Stage && s.State == job.UnderWay }) {
			continue
		}
		if u.Wanted <= until {
			told[u.Job] = append(told[u.Job], *u)
		}
		if u.There == "" {
			continue // nobody says how long it takes
		}
		m := job.Missing{What: job.MissingPart, Stage: u.Stage, By: u.There, Says: strings.TrimSuffix(u.Says(), ".") + ": ordered today it is there on " + calendar.Said(u.There) + "."}
		if len(u.Parts) == 1 {
			m.Code = u.Parts[0].Code
		}
		l.vans[k].Missing = append(l.vans[k].Missing, m)
	}
	return told, nil
}

// keptParts are those the workshop counts, tops up or has ordered.
func (n *supplies) keptParts() map[string]bool {
	kept := map[string]bool{}
	for i := range n.stock {
		kept[n.stock[i].Part] = kept[n.stock[i].Part] || n.stock[i].Moved > 0
	}
	for i := range n.bins {
		kept[n.bins[i].Part] = true
	}
	for _, o := range n.contents {
		for i := range o.Lines {
			kept[o.Lines[i].Code] = true
		}
	}
	return kept
}

func contractUnordered(u supply.Unordered) openapi.UnorderedParts {
	return openapi.UnorderedParts{
		Stage: u.Stage, WantedOn: u.Wanted, OrderBy: u.OrderBy, TooLate: u.TooLate, ThereOn: u.There, Says: u.Says(),
		Parts: mapped(u.Parts, func(p supply.UnorderedPart) openapi.UnorderedPart {
			return openapi.UnorderedPart{Part: p.Code, Name: p.Name, Unit: p.Unit, Quantity: plain(p.Quantity)}
		}),
	}
}

// overbooked adds the people and places there are too few of.
func (l *overlooked) overbooked() {
	plan, faults := schedule.New(l.floor)
	if len(faults) > 0 {
		return // the floor says so itself
	}
	for id, slot := range l.slots {
		plan.Book(id.String(), *slot)
	}
	for _, o := range plan.Overbooked(l.today) {
		for i := range l.vans {
			if v := &l.vans[i]; slices.Contains(o.Slots, v.Job) {
				v.Missing = append(v.Missing, lacking(&o, v.Slot)...)
			}
		}
	}
}

// lacking is what an overbooking is to one of the vans it is of: at the stages
// of that day, a trade that is short only where it is wanted.
func lacking(o *schedule.Overbooking, slot *schedule.Slot) []job.Missing {
	m := job.Missing{What: job.MissingBay, Code: o.Place, Says: o.Says}
	var stages []string
	for _, h := range slot.Hours {
		if h.Day == o.Day && !slices.Contains(stages, h.Stage) && (o.Place != "" || slices.Contains(o.Trades, h.Trade)) {
			stages = append(stages, h.Stage)
		}
	}
	if o.Place == "" {
		m.What, m.Code = job.MissingPerson, o.Trades[0]
	}
	var list []job.Missing
	for _, s := range stages {
		m.Stage = s
		list = append(list, m)
	}
	return list
}

func contractOutlook(o job.Outlook) openapi.Outlook {
	return openapi.Outlook{
		Job: o.Job, Number: whole(int(o.Number)), Stages: o.Stages, Next: o.Next,
		Stops: mapped(o.Stops, func(s job.Stop) openapi.OutlookStop {
			return openapi.OutlookStop{What: openapi.OutlookStopWhat(s.What), Stage: s.Stage, Code: s.Code, WantedOn: s.WantedOn, By: s.By, Says: s.Says}
		}),
		StandsToday: o.StandsToday, Instead: o.Instead, HandoverOn: o.HandoverOn, EarliestOn: o.Earliest,
		LateDays: whole(o.LateDays), AtRisk: o.AtRisk, Because: o.Because,
	}
}
