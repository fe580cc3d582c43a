package apitest

import (
	"net/http"
	"slices"
	"strings"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// stops: the foreman's list knows a van that is here and has no slot.
func (f *floor) stops() {
	t := f.t
	var list openapi.OutlookList
	f.do(auth.Workshop, http.MethodGet, "/v1/outlook", "", nil).into(t, http.StatusOK, &list)
	if list.Day != "2026-11-25" || len(list.Vans) != 1 || list.Vans[0].Job != f.job || list.Vans[0].AtRisk || list.Vans[0].Next == "" {
		t.Errorf("the foreman's list: %+v", list)
	}
	f.do(auth.Workshop, http.MethodGet, "/v1/outlook?days=61", "", nil).want(t, http.StatusBadRequest, openapi.ProblemCodeContractBroken)
}

// built: the van that was handed over is found by its numbers, its checks fall
// due, and what it took is learned from.
func (f *floor) built() {
	t := f.t
	path := "/v1/jobs/" + f.job
	var b openapi.AsBuilt
	f.do(auth.Sales, http.MethodGet, path+"/as-built", "", nil).into(t, http.StatusOK, &b)
	if b.HandedOverOn != "2026-11-25" || b.Registration != "WT24 DMO" || len(b.Stages) == 0 || len(b.Papers) == 0 || len(b.Tests) == 0 || len(b.Photographs) == 0 {
		t.Errorf("as built: %s %s, %d stages, %d papers, %d tests", b.HandedOverOn, b.Registration, len(b.Stages), len(b.Papers), len(b.Tests))
	}
	var number, battery string
	for _, p := range b.Parts {
		for _, s := range p.Serials {
			number = s.Value
		}
		if strings.HasPrefix(p.Part, "gel_battery") {
			battery = p.WarrantyUntil
		}
	}
	if number == "" || battery != "2028-11-25" {
		t.Errorf("the last number is %q, the battery is under warranty until %q", number, battery)
	}

	var found openapi.SerialsFound
	f.do(auth.Books, http.MethodGet, "/v1/serials?from="+number, "", nil).into(t, http.StatusOK, &found)
	if len(found.Found) == 0 || found.Found[0].Job != f.job || found.Found[0].Registration != "WT24 DMO" || found.More {
		t.Errorf("found by %s: %+v", number, found)
	}
	found = openapi.SerialsFound{}
	f.do(auth.Books, http.MethodGet, "/v1/serials?from=a&until=zzzz", "", nil).into(t, http.StatusOK, &found)
	if n := len(found.Found); n < 2 || !slices.ContainsFunc(found.Found, func(s openapi.SerialFound) bool { return s.Value == number }) {
		t.Errorf("%d are in the range", n)
	}
	theirs := f.exchange(t, call{method: http.MethodGet, path: "/v1/serials?from=" + number, of: f.Theirs, role: auth.Owner})
	found = openapi.SerialsFound{}
	if theirs.into(t, http.StatusOK, &found); len(found.Found) != 0 {
		t.Errorf("the other workshop finds %+v", found)
	}

	var due openapi.ChecksDue
	f.do(auth.Workshop, http.MethodGet, "/v1/checks-due?until=2027-11-25", "", nil).into(t, http.StatusOK, &due)
	names := func() (list []string) {
		for _, c := range due.Checks {
			list = append(list, c.Name+" "+c.DueOn)
		}
		slices.Sort(list)
		return list
	}
	if got := names(); !slices.Equal(got, []string{"Gas check 2027-11-25", "Habitation check 2027-11-25"}) {
		t.Errorf("due are %q", got)
	}
	f.do(auth.Workshop, http.MethodPost, path+"/checks", "", object{"name": "Oil check"}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	f.do(auth.Workshop, http.MethodPost, path+"/checks", "", object{"name": "Gas check", "on": "2026-11-26"}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	var made openapi.FallingDue
	f.do(auth.Workshop, http.MethodPost, path+"/checks", "", object{"name": "Gas check"}).into(t, http.StatusOK, &made)
	if made.DueOn != "2027-11-25" || made.MadeOn != "2026-11-25" {
		t.Errorf("made: %+v", made)
	}

	f.comesBack()

	var back openapi.LookingBack
	f.do(auth.Owner, http.MethodGet, "/v1/looking-back?least_jobs=1&from=2026-11-25", "", nil).into(t, http.StatusOK, &back)
	if len(back.Jobs) != 1 || back.OfJobs != 1 || back.Jobs[0].Job != f.job || back.Jobs[0].RealMargin.Amount == "" || len(back.Stages) == 0 || len(back.Suggestions) == 0 {
		t.Errorf("looking back: %+v, %d stages, %d suggestions", back.Jobs, len(back.Stages), len(back.Suggestions))
	}
	back = openapi.LookingBack{}
	f.do(auth.Workshop, http.MethodGet, "/v1/looking-back", "", nil).into(t, http.StatusOK, &back)
	if len(back.Jobs) != 1 || back.Jobs[0].Net.Amount != "" || len(back.Suggestions) != 0 {
		t.Errorf("the workshop, looking back: %+v", back.Jobs)
	}
	back = openapi.LookingBack{}
	f.do(auth.Owner, http.MethodGet, "/v1/looking-back?until=2026-11-24", "", nil).into(t, http.StatusOK, &back)
	if len(back.Jobs) != 0 {
		t.Errorf("before it was handed over: %+v", back.Jobs)
	}
	f.paysForVisit()
}

// comesBack: the van comes back, a job without a quote, that goes through the
// workshop like any other.
func (f *floor) comesBack() {
	t := f.t
	body := object{"of": f.job, "why": "warranty", "says": "The sliding window leaks.", "hours": []any{object{"stage": "openings", "trade": "fitter", "hours": "1.5"}},
		"parts": []any{object{"stage": "openings", "part": "glass_side_slide", "quantity": "1"}}}
	both := clone(t, body)
	both["van"] = f.job
	f.do(auth.Sales, http.MethodPost, "/v1/return-visits", "", both).want(t, http.StatusBadRequest, openapi.ProblemCodeContractBroken)
	unpaid := clone(t, body)
	unpaid["why"] = "paid"
	p := f.do(auth.Sales, http.MethodPost, "/v1/return-visits", "", unpaid).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	if len(p.Errors) != 1 || p.Errors[0].Field != "/price" {
		t.Errorf("a paid visit without a price: %+v", p.Errors)
	}
	// Whose van comes back is kept as long as the papers of the visit.
	who := askAs[openapi.Customer](f.seller, auth.Sales, http.MethodPost, "/v1/customers", "", object{"kind": "private", "name": "Fairweather", "keep_until": "2026-12-24"}, http.StatusCreated).Id
	theirs := object{"van": f.keptVan(who, "WT19 BCK").Id, "why": "goodwill", "says": "A hinge squeaks.", "hours": body["hours"]}
	f.do(auth.Sales, http.MethodPost, "/v1/return-visits", "", theirs).into(t, http.StatusCreated, &openapi.ReturnVisit{})
	if c := seen[openapi.Customer](t, f.world, f.shop, "/v1/customers/"+who); c.KeepUntil != "2032-11-25" {
		t.Errorf("who comes back is kept until %s", c.KeepUntil)
	}
	var visit openapi.ReturnVisit
	g := f.do(auth.Sales, http.MethodPost, "/v1/return-visits", "", body)
	g.into(t, http.StatusCreated, &visit)
	if visit.Pays != "workshop" || visit.Of != f.job || visit.BaseVan == "" || g.header.Get("Location") != "/v1/jobs/"+visit.Job {
		t.Errorf("the visit: %+v", visit)
	}
	first := *f
	f.job, f.version = visit.Job, `"1"`
	if b := f.board(auth.Workshop); len(b.Stages) != 1 || b.Stages[0].Code != "openings" {
		t.Errorf("its board: %+v", b.Stages)
	}
	p = f.try(auth.Workshop, "stages", object{"stage": "openings", "do": "begin"}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	if got := codes(p); !slices.Equal(got, []string{"not_here"}) {
		t.Errorf("before the van is back: %q", got)
	}
	visit = openapi.ReturnVisit{}
	f.do(auth.Workshop, http.MethodGet, "/v1/jobs/"+f.job+"/return-visit", "", nil).into(t, http.StatusOK, &visit)
	if visit.Says != "The sliding window leaks." || len(visit.Hours) != 1 {
		t.Errorf("read again: %+v", visit)
	}
	f.do(auth.Sales, http.MethodGet, "/v1/jobs/"+f.job+"/agreement", "", nil).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	*f = first
	f.do(auth.Sales, http.MethodGet, "/v1/jobs/"+f.job+"/return-visit", "", nil).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
}
