package apitest

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// TestVariationPlansTheSlot: what a change does to the days of the van is told
// before it is sent, and booked with the yes; where others have those days by
// then nobody is moved, and the slot says that it has to be planned again.
func TestVariationPlansTheSlot(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	s.floor(1)
	one := s.job(nil)
	path := "/v1/jobs/" + one.Id
	slot := func() openapi.Slot { return seen[openapi.Slot](t, w, w.Ours, path+"/slot") }
	stops := func() bool {
		for _, v := range seen[openapi.OutlookList](t, w, w.Ours, "/v1/outlook?days=60").Vans {
			if v.Job == one.Id {
				return slices.ContainsFunc(v.Stops, func(o openapi.OutlookStop) bool { return o.What == "slot" }) && v.AtRisk
			}
		}
		t.Error("the foreman's list has no such van")
		return false
	}
	var agreed openapi.Agreement
	additions := []any{}
	vary := func(code, hours string) (v openapi.Variation) {
		t.Helper()
		s.do(auth.Sales, http.MethodGet, path+"/agreement", "", nil).into(t, http.StatusOK, &agreed)
		additions = append(additions, object{"code": code, "kind": "one-off", "words": "A cupboard of ash", "stage": "furniture", "mass_kg": "1",
			"hours": []any{object{"trade": "joiner", "hours": hours}}, "price": object{"amount": "900.00", "currency": "GBP"}})
		s.at(auth.Sales, http.MethodPost, path+"/variations", object{"choices": agreed.Choices, "additions": additions}).into(t, http.StatusCreated, &v)
		return v
	}
	if v := vary("first", "24"); v.Slot.Was.From != "" {
		t.Errorf("without a slot it tells %+v", v.Slot)
	}
	s.at(auth.Sales, http.MethodPost, path+"/variations/1/withdrawal", nil).into(t, http.StatusOK, new(openapi.Variation))
	additions = nil

	var booked openapi.Slot
	s.book(one.Id, object{}).into(t, http.StatusCreated, &booked)
	v := vary("second", "24")
	told := slices.IndexFunc(v.Says, func(x openapi.VariationSentence) bool { return x.About == "slot" })
	if !v.Slot.Fits || v.Slot.Was.Until != booked.Until || v.Slot.Is.From != booked.From || v.Slot.Is.Until <= booked.Until || told < 0 || v.Slot.Moved.LeavesLaterDays <= 0 {
		t.Fatalf("proposed, it tells %+v, %+v; booked is %s to %s", v.Slot, v.Says, booked.From, booked.Until)
	}
	if floor := seen[openapi.Variation](t, w, w.Ours, path+"/variations/2"); floor.Slot.Is != v.Slot.Is {
		t.Errorf("read, it tells %+v", floor.Slot)
	}
	s.at(auth.Sales, http.MethodPost, path+"/variations/2/sending", nil).into(t, http.StatusOK, &v)
	page := s.do(auth.Sales, http.MethodGet, path+"/variations/2/variation.html", "", nil)
	if !strings.Contains(strings.ReplaceAll(string(page.body), "\u00a0", " "), "later than planned so far. These are days") {
		t.Error("the page does not tell the days")
	}
	if now := slot(); now.Version != booked.Version {
		t.Error("sending it has booked days")
	}
	yes := object{"by": "Wren Aldous", "how": "paper"}
	s.at(auth.Sales, http.MethodPost, path+"/variations/2/acceptance", yes).into(t, http.StatusOK, &v)
	now := slot()
	if more := plannedHours(now.Days).Sub(plannedHours(booked.Days)); now.From != v.Slot.Is.From || now.Until != v.Slot.Is.Until || !more.Equal(decimal.RequireFromString("24")) || now.PlanAgain.Says != "" {
		t.Errorf("after the yes it is %s to %s with %s h more; told was %+v", now.From, now.Until, more, v.Slot.Is)
	}

	// The next one waits, and somebody else takes the days behind it.
	v = vary("third", "16")
	s.at(auth.Sales, http.MethodPost, path+"/variations/3/sending", nil).into(t, http.StatusOK, &v)
	two := s.job(nil)
	var behind openapi.Slot
	s.book(two.Id, object{"from": now.From}).into(t, http.StatusCreated, &behind)
	if !v.Slot.Fits || behind.From > v.Slot.Is.Until {
		t.Fatalf("nobody is in the way: %+v, and %s", v.Slot.Is, behind.From)
	}
	s.at(auth.Sales, http.MethodPost, path+"/variations/3/acceptance", yes).into(t, http.StatusOK, &v)
	kept := slot()
	again := kept.PlanAgain
	if v.State != "accepted" || !writtenAlike(t, kept.Days, now.Days) || again.Variation != 3 || again.Since != "2026-11-25" || !strings.Contains(again.Says, "With variation 3 the van would be ready on") {
		t.Errorf("the days are others': %+v, %+v", kept.Days.Stays, again)
	}
	if j := s.jobAt(one.Id); j.PlanAgain != again || !stops() {
		t.Errorf("the job tells %+v, the foreman's list %v", j.PlanAgain, stops())
	}
	if told := seen[openapi.Overbooked](t, w, w.Ours, "/v1/floor/overbooked").Overbooked; len(told) != 0 || seen[openapi.Slot](t, w, w.Ours, "/v1/jobs/"+two.Id+"/slot").Version != behind.Version {
		t.Errorf("a yes has overbooked or moved: %+v", told)
	}
	s.do(auth.Sales, http.MethodPost, path+"/slot/confirm", `"3"`, nil).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	var moved openapi.SlotMoved
	s.do(auth.Workshop, http.MethodPut, path+"/slot", `"3"`, object{}).into(t, http.StatusOK, &moved)
	if more := plannedHours(moved.Slot.Days).Sub(plannedHours(now.Days)); moved.Slot.PlanAgain.Says != "" || !more.Equal(decimal.RequireFromString("16")) || s.jobAt(one.Id).PlanAgain.Says != "" || stops() {
		t.Errorf("planned again with %s h more: %+v", more, moved.Slot)
	}
	w.verify(t, w.Ours)
}
