package apitest

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/bom/calendar"
	"wainscot/openapi"
)

// floor gives the workshop bays, a yard for three, and people for every trade.
func (s seller) floor(bays int) {
	s.t.Helper()
	places := []any{object{"code": "yard", "name": "Yard", "kind": "yard", "vans": 3, "most_length_mm": 0, "most_height_mm": 0, "stages": []any{}}}
	for i := range bays {
		places = append(places, object{"code": fmt.Sprintf("bay_%d", i+1), "name": fmt.Sprintf("Bay %d", i+1), "kind": "bay", "vans": 1,
			"most_length_mm": 7000, "most_height_mm": 0, "stages": []any{}})
	}
	version := s.do(auth.Workshop, http.MethodGet, "/v1/floor", "", nil).header.Get("Etag")
	if g := s.do(auth.Workshop, http.MethodPut, "/v1/floor", version, object{"most_idle_days": 2, "places": places,
		"calendar": object{"week": []any{}, "holidays_until": "2027-12-31", "closed": []any{object{"from": "2026-12-24", "until": "2027-01-01", "name": "Between the years", "why": "closure"}}}}); g.status != http.StatusOK {
		s.t.Fatalf("floor: %d %s", g.status, g.body)
	}
	for name, trades := range map[string][]string{"Wren": {"fitter", "joiner"}, "Ash": {"electrician", "gas_fitter"}, "Rue": {"trimmer", "fitter"}} {
		s.hire(name, trades...)
	}
}

func (s seller) hire(name string, trades ...string) openapi.CrewMember {
	s.t.Helper()
	var list, hours []any
	for _, t := range trades {
		list = append(list, object{"trade": t, "alone": true})
	}
	for _, d := range []string{"monday", "tuesday", "wednesday", "thursday", "friday"} {
		hours = append(hours, object{"weekday": d, "hours": "8"})
	}
	var m openapi.CrewMember
	s.do(auth.Workshop, http.MethodPost, "/v1/crew", "", object{"name": name, "trades": list, "hours": hours}).into(s.t, http.StatusCreated, &m)
	return m
}

func (s seller) book(job string, wanted object) got {
	return s.do(auth.Sales, http.MethodPost, "/v1/jobs/"+job+"/slot", "", wanted)
}

// TestSlots is a slot from the question to its end: the earliest for a quote
// and for its job, booked, in another's way, moved, confirmed, given up.
func TestSlots(t *testing.T) {
	w := newWorld(t)
	us := w.Ours
	s := seller{w, t, us}
	one, two := s.job(nil), s.job(nil)
	path := "/v1/jobs/" + one.Id
	nowhere := seen[openapi.EarliestSlot](t, w, us, path+"/earliest-slot")
	if nowhere.Found || len(nowhere.WhyNotEarlier) == 0 {
		t.Errorf("a slot on a floor without places: %+v", nowhere)
	}
	s.book(one.Id, object{}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	s.floor(1)

	quoted := seen[openapi.EarliestSlot](t, w, us, "/v1/quotes/"+one.Quote+"/revisions/1/vans/1/earliest-slot")
	asked := seen[openapi.EarliestSlot](t, w, us, path+"/earliest-slot")
	if !asked.Found || asked.From != quoted.From || len(asked.WhyNotEarlier) == 0 || asked.Estimate {
		t.Fatalf("for the quote %+v; for the job %+v", quoted, asked)
	}
	if !slices.ContainsFunc(asked.WhyNotEarlier, func(r openapi.WhyNot) bool { return r.Kind == "parts" && strings.Contains(r.Says, "working days") }) {
		t.Errorf("no lead time is told: %+v", asked.WhyNotEarlier)
	}
	network := seen[openapi.Network](t, w, us, path+"/network")
	if len(network.Stages) != len(one.Stages) || len(network.Critical) == 0 {
		t.Errorf("the network has %d stages, the job %d; critical %v", len(network.Stages), len(one.Stages), network.Critical)
	}

	var slot openapi.Slot
	s.book(one.Id, object{"from": "2026-11-26"}).into(t, http.StatusCreated, &slot)
	if slot.From != asked.From || slot.State != "held" || slot.Days.Stays[0].Place == "" {
		t.Errorf("booked %+v; the earliest was %s", slot, asked.From)
	}
	s.book(one.Id, object{}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)

	// The same days again, for another van, day for day and hour for hour.
	p := s.book(two.Id, object{"days": slot.Days}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	if len(p.Errors) == 0 || !strings.Contains(p.Errors[0].Reason, fmt.Sprintf("job %d", one.Number)) {
		t.Errorf("it is not told who has the bay: %+v", p)
	}
	broken := clone(t, object{"days": slot.Days})
	broken["days"].(object)["hours"] = []any{}
	s.book(two.Id, broken).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	s.book(two.Id, object{"first_day": "2026-11-24"}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	s.book(two.Id, object{"from": "2199-11-24"}).want(t, http.StatusBadRequest, openapi.ProblemCodeContractBroken)
	var second openapi.Slot
	s.book(two.Id, object{}).into(t, http.StatusCreated, &second)
	if second.From <= slot.From {
		t.Errorf("one bay: %s to %s and %s to %s", slot.From, slot.Until, second.From, second.Until)
	}
	s.changed()
	s.moved(one, slot)
	s.confirmedAndReleased(one, two)
	s.drawn(two)
	s.calendars(two)
	s.cancelled(two)
	w.verify(t, us)
}

// changed: what each option would do to the day is what a quote with it says.
func (s seller) changed() {
	s.t.Helper()
	asked := openapi.ChangesRequest{Van: shortVan, Settle: openapi.SettleByDefaults, Slots: true, Include: []openapi.ChangesRequestInclude{"choices"},
		Choices: openapi.Choices{Features: []openapi.Choice{{Want: "windows_only"}, {Want: "win_near_slide"}}}}
	said := post[openapi.Changes](s.t, s.world, auth.Workshop, "/v1/changes", asked)
	if said.Slot.From == "" || said.Slot.Until < said.Slot.From {
		s.t.Fatalf("the choices as they are have the slot %+v", said.Slot)
	}
	held := 0
	for _, c := range said.Changes {
		if c.Slot == said.Slot || c.Slot.From == "" || held == 2 {
			continue
		}
		held++
		var q openapi.QuoteKept
		s.do(auth.Sales, http.MethodPost, "/v1/quotes", "", object{"vans": []any{object{"van": shortVan, "choices": c.Choices, "settle": "by defaults"}}}).into(s.t, http.StatusCreated, &q)
		if of := seen[openapi.EarliestSlot](s.t, s.world, s.shop, "/v1/quotes/"+q.Id+"/revisions/1/vans/1/earliest-slot"); of.From != c.Slot.From || of.Until != c.Slot.Until {
			s.t.Errorf("%s %s: %+v; a quote with it %s to %s", c.Kind, c.Feature, c.Slot, of.From, of.Until)
		}
	}
	if held == 0 {
		s.t.Error("no option changes the day")
	}
	asked.Slots = false
	if said := post[openapi.Changes](s.t, s.world, auth.Workshop, "/v1/changes", asked); said.Slot.From != "" || said.Changes[0].Slot.From != "" {
		s.t.Error("days are told unasked")
	}
}

// moved: what a move would move is told before, and is what it moves.
func (s seller) moved(j openapi.Job, slot openapi.Slot) {
	s.t.Helper()
	path := "/v1/jobs/" + j.Id + "/slot"
	wanted := object{"from": "2027-03-01"}
	preview := post[openapi.SlotPreview](s.t, s.world, auth.Sales, path+"/preview", wanted)
	if !preview.Fits || preview.Moved.ComesLaterDays <= 0 || len(preview.Moved.Stages) == 0 {
		s.t.Errorf("the preview is %+v", preview)
	}
	if still := seen[openapi.Slot](s.t, s.world, s.shop, path); still.Version != slot.Version {
		s.t.Error("looking has moved it")
	}
	var m openapi.SlotMoved
	s.do(auth.Sales, http.MethodPut, path, `"1"`, wanted).into(s.t, http.StatusOK, &m)
	if m.Slot.From != preview.Days.Stays[0].From || m.Moved.ComesLaterDays != preview.Moved.ComesLaterDays {
		s.t.Errorf("moved %+v; the preview was %+v", m.Moved, preview.Moved)
	}
	s.do(auth.Sales, http.MethodPut, path, `"1"`, wanted).want(s.t, http.StatusPreconditionFailed, openapi.ProblemCodeChangedMeanwhile)
	blocked := post[openapi.SlotPreview](s.t, s.world, auth.Sales, path+"/preview", object{"first_day": "2026-12-26"})
	if blocked.Fits || len(blocked.WhyNot) != 1 || !strings.Contains(blocked.WhyNot[0].Says, "Between the years") {
		s.t.Errorf("on a day on which nobody works: %+v", blocked)
	}
}

func (s seller) confirmedAndReleased(one, two openapi.Job) {
	s.t.Helper()
	path := "/v1/jobs/" + one.Id + "/slot"
	expect := func(day string) {
		job := "/v1/jobs/" + one.Id
		version := s.do(auth.Sales, http.MethodGet, job, "", nil).header.Get("Etag")
		if g := s.do(auth.Workshop, http.MethodPost, job+"/expected", version, object{"day": day, "from": "the customer", "confirmed": true, "because": "The dealer says so."}); g.status != http.StatusOK {
			s.t.Fatalf("expecting the van: %d %s", g.status, g.body)
		}
	}
	confirm := func() got { return s.do(auth.Sales, http.MethodPost, path+"/confirm", `"2"`, nil) }
	confirm().want(s.t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	expect("2027-12-01") // after the slot begins
	confirm().want(s.t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	expect("2027-02-26")
	var firm openapi.Slot
	confirm().into(s.t, http.StatusOK, &firm)
	if firm.State != "firm" || firm.ConfirmedOn != "2026-11-25" {
		s.t.Errorf("confirmed: %+v", firm)
	}
	// Somebody falls ill: nothing is refused, and what is too much is told.
	crew := seen[openapi.Crew](s.t, s.world, s.shop, "/v1/crew").Crew
	for _, m := range crew {
		body := clone(s.t, object{"name": m.Name, "trades": m.Trades, "hours": m.Hours, "leave": []any{object{"from": "2026-11-26", "until": "2027-12-31"}}})
		if g := s.do(auth.Workshop, http.MethodPut, "/v1/crew/"+m.Id, `"1"`, body); g.status != http.StatusOK {
			s.t.Fatalf("leave: %d %s", g.status, g.body)
		}
	}
	told := seen[openapi.Overbooked](s.t, s.world, s.shop, "/v1/floor/overbooked").Overbooked
	if len(told) == 0 || !slices.ContainsFunc(told, func(o openapi.Overbooking) bool { return slices.Contains(o.Jobs, two.Id) && len(o.Trades) > 0 }) {
		s.t.Errorf("everybody is away, and it is told: %+v", told)
	}
	var gone openapi.Slot
	s.do(auth.Sales, http.MethodPost, path+"/release", `"3"`, nil).into(s.t, http.StatusOK, &gone)
	list := seen[openapi.Slots](s.t, s.world, s.shop, "/v1/slots?from=2026-11-26&until=2027-10-31").Slots
	if gone.State != "released" || gone.ConfirmedOn != "" || len(list) != 1 || list[0].Job != two.Id {
		s.t.Errorf("given up: %+v; there are %d slots", gone, len(list))
	}
	s.do(auth.Sales, http.MethodPut, path, `"4"`, object{}).want(s.t, http.StatusConflict, openapi.ProblemCodeStateConflict)
}

// calendars: a calendar program reads the slots by a link, until that is
// withdrawn or whoever made it leaves; it names nobody.
func (s seller) calendars(j openapi.Job) {
	t := s.t
	link := func(role auth.Role) (l openapi.CalendarLink) {
		s.do(role, http.MethodPost, "/v1/calendar-links", "", nil).into(t, http.StatusCreated, &l)
		return l
	}
	read := func(path string) got {
		return s.exchange(t, call{of: s.shop, method: http.MethodGet, path: path})
	}
	one, other := link(auth.Workshop), link(auth.Books)
	g := read(one.Path)
	if text := string(g.body); g.status != http.StatusOK || !strings.Contains(text, "UID:"+j.Id) || strings.Contains(text, "DMO") || strings.Contains(text, "Fairweather") {
		t.Errorf("by its link: %d %s", g.status, g.body)
	}
	for _, bad := range []string{strings.Repeat("A", 64), misspelt(one.Link), "no-such-link-is-as-short-as-this-one-here-is-it"} {
		read("/v1/calendar/"+bad+"/slots.ics").want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	}
	s.exchange(t, call{of: s.shop, method: http.MethodGet, path: "/v1/offered/" + one.Link}).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	if list := seen[openapi.CalendarLinks](t, s.world, s.shop, "/v1/calendar-links").Links; len(list) != 0 {
		t.Errorf("the links of others are listed: %+v", list)
	}
	if g := s.do(auth.Workshop, http.MethodPost, "/v1/calendar-links/withdraw", "", nil); g.status != http.StatusNoContent {
		t.Errorf("withdrawing: %d %s", g.status, g.body)
	}
	read(one.Path).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	if g := read(other.Path); g.status != http.StatusOK {
		t.Errorf("somebody else's is withdrawn with it: %d", g.status)
	}
	for range 10 {
		link(auth.Workshop)
	}
	s.do(auth.Workshop, http.MethodPost, "/v1/calendar-links", "", nil).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	gone := s.shop.Principal[auth.Books].Person.String()
	version := s.do(auth.Owner, http.MethodGet, "/v1/people/"+gone, "", nil).header.Get("Etag")
	if g := s.do(auth.Owner, http.MethodPost, "/v1/people/"+gone+"/leave", version, nil); g.status >= http.StatusBadRequest {
		t.Fatalf("leaving: %d %s", g.status, g.body)
	}
	read(other.Path).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
}

// cancelled: a job that is no more gives its slot back.
func (s seller) cancelled(j openapi.Job) {
	s.t.Helper()
	path := "/v1/jobs/" + j.Id
	version := s.do(auth.Owner, http.MethodGet, path, "", nil).header.Get("Etag")
	if g := s.do(auth.Owner, http.MethodPost, path+"/cancellation", version, object{"because": "The van was sold."}); g.status != http.StatusOK {
		s.t.Fatalf("cancelling: %d %s", g.status, g.body)
	}
	if slot := seen[openapi.Slot](s.t, s.world, s.shop, path+"/slot"); slot.State != "released" {
		s.t.Errorf("a job is cancelled, and its slot is %s", slot.State)
	}
	s.book(j.Id, object{}).want(s.t, http.StatusConflict, openapi.ProblemCodeStateConflict)
}

// drawn: plan and calendar tell of the slot that is left.
func (s seller) drawn(j openapi.Job) {
	s.t.Helper()
	days := "?from=2026-11-26&until=2027-03-20"
	svg := s.do(auth.Workshop, http.MethodGet, "/v1/floor/plan.svg"+days, "", nil)
	if svg.status != http.StatusOK || !strings.Contains(string(svg.body), fmt.Sprintf("Job %d: ", j.Number)) {
		s.t.Errorf("the plan: %d %s", svg.status, svg.body)
	}
	ics := s.do(auth.Workshop, http.MethodGet, "/v1/slots.ics"+days, "", nil)
	if ics.status != http.StatusOK || !strings.Contains(string(ics.body), "UID:"+j.Id) {
		s.t.Errorf("the calendar: %d %s", ics.status, ics.body)
	}
	s.do(auth.Workshop, http.MethodGet, "/v1/slots.ics?from=2026-11-26&until=2026-11-25", "", nil).want(s.t, http.StatusBadRequest, openapi.ProblemCodeContractBroken)
	for region, n := range map[string]int{"england+and+wales": 8, "scotland": 0} {
		if h := seen[openapi.ProposedHolidays](s.t, s.world, s.shop, "/v1/floor/holidays?year=2026&region="+region); len(h.Holidays) != n || h.Says == "" {
			s.t.Errorf("%s: %+v", region, h)
		}
	}
}

// TestOneBayOneVan: of several who book the same bay for the same days at once
// one has it and the others are told so.
func TestOneBayOneVan(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	s.floor(2)
	const vans = 4
	var jobs []openapi.Job
	for range vans {
		jobs = append(jobs, s.job(nil))
	}
	earliest := seen[openapi.EarliestSlot](t, w, w.Ours, "/v1/jobs/"+jobs[0].Id+"/earliest-slot")
	for round, wanted := range []object{{"days": earliest.Days}, {}} {
		answers := make([]got, vans)
		var together sync.WaitGroup
		for i := range jobs {
			together.Go(func() { answers[i] = s.book(jobs[i].Id, wanted) })
		}
		together.Wait()
		won := 0
		for i, g := range answers {
			switch {
			case g.status == http.StatusCreated:
				won++
			case g.status != http.StatusConflict:
				t.Errorf("round %d, van %d: %d %s", round, i, g.status, g.body)
			case round == 0 && !strings.Contains(string(g.body), "job "):
				t.Errorf("it is not told who has it: %s", g.body)
			}
		}
		// First all want the same; then those without one take what there is.
		if want := []int{1, vans - 1}[round]; won != want {
			t.Errorf("round %d: %d of %d have a slot; want %d", round, won, vans, want)
		}
	}
	if told := seen[openapi.Overbooked](t, w, w.Ours, "/v1/floor/overbooked").Overbooked; len(told) != 0 {
		t.Errorf("overbooked: %+v", told)
	}
	list := seen[openapi.Slots](t, w, w.Ours, "/v1/slots?from=2026-11-26&until=2027-12-30").Slots
	if len(list) != vans {
		t.Fatalf("%d slots for %d vans", len(list), vans)
	}
	for i, a := range list { // counted from what is listed alone
		for _, b := range list[i+1:] {
			for _, x := range a.Days.Stays {
				for _, y := range b.Days.Stays {
					if x.Place == y.Place && x.Place != "yard" && x.From <= y.Until && y.From <= x.Until {
						t.Errorf("two vans in %s: %+v, %+v", x.Place, x, y)
					}
				}
			}
		}
	}
}

func plannedHours(d openapi.SlotDays) (sum decimal.Decimal) {
	for _, h := range d.Hours {
		sum = sum.Add(decimal.RequireFromString(h.Hours))
	}
	return sum
}

// TestVanLeavesItsBay: a van waits for something, its bay is another's, and both
// are planned anew in one step.
func TestVanLeavesItsBay(t *testing.T) {
	f := onTheFloor(t, nil)
	s := f.seller
	s.floor(1)
	path := "/v1/jobs/" + f.job + "/slot"
	var slot, next openapi.Slot
	s.book(f.job, object{}).into(t, http.StatusCreated, &slot)
	asked := object{"work_from": "2027-03-01"}
	s.do(auth.Workshop, http.MethodPost, path+"/standstill/preview", "", asked).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	f.comes()
	s.do(auth.Workshop, http.MethodPost, path+"/standstill/preview", "", asked).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict) // nothing has begun
	other := s.job(nil)
	s.book(other.Id, object{}).into(t, http.StatusCreated, &next)
	need := map[string]decimal.Decimal{}
	for _, l := range s.wanted("?until=2027-06-30").Lines {
		if l.Kind == "part" {
			need[l.Code] = need[l.Code].Add(decimal.RequireFromString(l.Quantity))
		}
	}
	for code, quantity := range need { // all parts are here, so that only the bay is in the way
		s.do(auth.Workshop, http.MethodPost, "/v1/stock/"+code+"/movements", "", object{"kind": "counted", "quantity": quantity.String()}).into(t, http.StatusCreated, new(openapi.MovedStock))
	}
	begun, err := calendar.Add(slot.From, 1)
	if err != nil {
		t.Fatal(err)
	}
	s.on(begun)
	for _, bad := range []object{{"work_from": "2026-11-01"}, {"work_from": "2027-03-01", "out_from": "2026-11-01"}, {"work_from": "2031-03-01"}} {
		s.do(auth.Workshop, http.MethodPost, path+"/standstill/preview", "", bad).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	}
	// Moved without waiting: what was planned for yesterday counts as worked only
	// where the board says so.
	moved := post[openapi.SlotPreview](t, s.world, auth.Workshop, path+"/preview", object{})
	if all := plannedHours(slot.Days); !moved.Fits || moved.Days.Stays[0].From != slot.From || !plannedHours(moved.Days).Equal(all) || moved.Days.Hours[0].Day < begun {
		t.Errorf("moved, %s h are planned of %s h: %+v", plannedHours(moved.Days), all, moved.Days.Hours)
	}
	preview := post[openapi.StandstillPreview](t, s.world, auth.Workshop, path+"/standstill/preview", asked)
	if !preview.Fits || preview.Moved.LeavesLaterDays <= 0 || len(preview.Others) != 1 {
		t.Fatalf("the preview: fits %v, %+v, %d others", preview.Fits, preview.Moved, len(preview.Others))
	}
	move := preview.Others[0]
	if move.Job != other.Id || move.Version != next.Version || move.Moved.LeavesLaterDays >= 0 || move.FirstDay >= next.From {
		t.Errorf("who moves: %+v; it had %s to %s", move, next.From, next.Until)
	}
	// Nothing was worked: all hours of the sheet are planned from that day on, and
	// in between it stands in the yard.
	before, after := plannedHours(slot.Days), plannedHours(preview.Days)
	for _, h := range preview.Days.Hours {
		if h.Day < "2027-03-01" {
			t.Errorf("worked at %s on %s", h.Stage, h.Day)
		}
	}
	yard := slices.ContainsFunc(preview.Days.Stays, func(o openapi.Stay) bool { return o.Place == "yard" && o.From == begun })
	if !before.Equal(after) || !yard || preview.Days.Stays[0].From != slot.From {
		t.Errorf("%s h were planned and are %s h; in %+v", before, after, preview.Days.Stays)
	}
	others := func(version int64) object {
		return object{"work_from": "2027-03-01", "others": []any{object{"job": other.Id, "version": version, "first_day": move.FirstDay}}}
	}
	s.do(auth.Workshop, http.MethodPost, path+"/standstill", `"1"`, others(7)).want(t, http.StatusPreconditionFailed, openapi.ProblemCodeChangedMeanwhile)
	var planned openapi.StandstillPlanned
	s.do(auth.Workshop, http.MethodPost, path+"/standstill", `"1"`, others(next.Version)).into(t, http.StatusOK, &planned)
	if len(planned.Others) != 1 || planned.Others[0].Slot.From != move.FirstDay || planned.Slot.Until != preview.Days.Stays[len(preview.Days.Stays)-1].Until {
		t.Errorf("planned %+v", planned)
	}
	if told := seen[openapi.Overbooked](t, s.world, s.shop, "/v1/floor/overbooked").Overbooked; len(told) != 0 {
		t.Errorf("it would overbook: %+v", told)
	}
	s.do(auth.Workshop, http.MethodPost, path+"/standstill", `"2"`, object{"work_from": "2027-03-01", "others": []any{object{"job": f.job, "version": 2, "first_day": "2027-03-01"}}}).
		want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	s.verify(t, s.shop)
}
