package apitest

import (
	"bytes"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom/schedule"
	"wainscot/openapi"
)

// floor is a job on the floor as its people's calls.
type floor struct {
	seller
	job     string
	version string
	// crew by name, signatories by what they sign.
	crew, signs map[string]string
}

// onTheFloor agrees a job, and gives the workshop a crew of two and
// signatories: one for each of what has to be signed, and one for gas whose
// register entry is over.
func onTheFloor(t *testing.T, change func(object)) *floor {
	t.Helper()
	w := newWorld(t)
	f := &floor{seller: seller{w, t, w.Ours}, crew: map[string]string{}, signs: map[string]string{}}
	f.job = f.seller.job(change).Id
	f.version = `"1"`
	err := w.Store.As(w.Ours.Principal[auth.Owner]).Write(t.Context(), func(tx store.WriteTx) error {
		for name, alone := range map[string]bool{"Bo": true, "Prentice": false} {
			var trades []schedule.MemberTrade
			for _, trade := range []string{"fitter", "joiner", "electrician", "gas_fitter", "trimmer"} {
				trades = append(trades, schedule.MemberTrade{Trade: trade, Alone: alone || trade != "gas_fitter" && trade != "electrician"})
			}
			m, err := tx.AddCrewMember(store.CrewContent{Name: name, Member: schedule.Member{Trades: trades}})
			if err != nil {
				return err
			}
			f.crew[name] = m.ID.String()
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for name, body := range map[string]object{
		"gas_test":             {"name": "Fenella Gastby", "firm": "Gastby and Daughter", "register": "Gas register", "register_number": "G-40117", "expires_on": "2027-10-31", "signs": []string{"gas_test"}},
		"expired":              {"name": "Otto Flint", "register": "Gas register", "register_number": "G-1", "expires_on": "2026-11-24", "signs": []string{"gas_test"}},
		"electrical_test":      {"name": "Perry Ohmsby", "register": "Mains register", "register_number": "E-7", "signs": []string{"electrical_test"}},
		"anchorage_inspection": {"name": "Ada Belt", "register": "Anchorage register", "register_number": "A-9", "signs": []string{"anchorage_inspection"}},
	} {
		var g openapi.Signatory
		f.do(auth.Owner, http.MethodPost, "/v1/signatories", "", body).into(t, http.StatusCreated, &g)
		f.signs[name] = g.Id
		if g.Expired != (name == "expired") {
			t.Errorf("%s expired: %v", name, g.Expired)
		}
	}
	return f
}

// try sends something that is done to the job, and gives what was answered.
func (f *floor) try(role auth.Role, what string, body object) got {
	f.t.Helper()
	return f.do(role, http.MethodPost, "/v1/jobs/"+f.job+"/"+what, f.version, body)
}

// must sends something that has to succeed, and gives the board after it.
func (f *floor) must(role auth.Role, what string, body object) openapi.JobBoard {
	f.t.Helper()
	g := f.try(role, what, body)
	if g.status >= http.StatusBadRequest {
		f.t.Fatalf("%s: %d %s", what, g.status, g.body)
	}
	f.version = g.header.Get("Etag")
	return f.board(auth.Owner)
}

func (f *floor) board(role auth.Role) openapi.JobBoard {
	f.t.Helper()
	var b openapi.JobBoard
	f.do(role, http.MethodGet, "/v1/jobs/"+f.job+"/board", "", nil).into(f.t, http.StatusOK, &b)
	return b
}

// conditionOf is how the van is, with the photograph of every side.
func conditionOf() object {
	var sides []any
	for _, s := range []string{"front", "rear", "nearside", "offside"} {
		sides = append(sides, object{"side": s, "attachment": 1})
	}
	return object{
		"mileage_miles": 11_400, "fuel_percent": 60, "key_count": 2, "key_hook": "7", "photographs": sides,
		"belongings": []string{"A blue blanket"}, "papers": []string{"registration document"},
		"signatures": []any{object{"for": "customer", "name": "Ottoline Fairweather"}, object{"for": "workshop", "name": "Idris"}},
	}
}

func codes(p openapi.Problem) []string {
	var list []string
	for _, e := range p.Errors {
		list = append(list, e.Code)
	}
	slices.Sort(list)
	return slices.Compact(list)
}

// TestVanGoesThroughTheWorkshop takes a van in, through every stage of its
// board, and out by the gate, and tries what must not be on the way.
func TestVanGoesThroughTheWorkshop(t *testing.T) {
	f := onTheFloor(t, nil)
	w := f.world
	b := f.board(auth.Workshop)
	if b.OnSite || len(b.InTheWay) == 0 || len(b.Stages) == 0 || b.Registration != "WT24 DMO" {
		t.Fatalf("the board of a van that has not come: %+v", b)
	}
	p := f.try(auth.Workshop, "stages", object{"stage": b.Stages[0].Code, "do": "begin"}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	if got := codes(p); !slices.Contains(got, "not_here") {
		t.Errorf("beginning without a van: %q", got)
	}
	f.comes()
	f.stops()
	f.works()
	f.leaves()
	f.built()
	w.verify(t, w.Ours)
}

// comes: the van is expected, late, and taken in.
func (f *floor) comes() {
	t := f.t
	f.must(auth.Sales, "expected", object{"day": "2026-11-26", "from": "The dealer in Skelbrook"})
	f.try(auth.Sales, "expected", object{"day": "2026-12-03", "from": "The dealer in Skelbrook", "confirmed": true}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	if b := f.must(auth.Sales, "expected", object{"day": "2026-12-03", "from": "The dealer in Skelbrook", "confirmed": true, "because": "It is on the ship."}); b.SureFrom != "2026-12-03" {
		t.Errorf("sure from %q", b.SureFrom)
	}
	p := f.try(auth.Sales, "arrival", conditionOf()).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	if got := codes(p); !slices.Equal(got, []string{"unknown_attachment"}) {
		t.Errorf("photographs nobody attached: %q", got)
	}
	f.try(auth.Workshop, "attachments", object{"media_type": "image/png", "content": "cGhvdG8=", "sha256": strings.Repeat("0", 64)}).
		want(t, http.StatusBadRequest, openapi.ProblemCodeContractBroken)
	for i := range 2 {
		g := f.try(auth.Workshop, "attachments", object{"media_type": "image/png", "content": "cGhvdG8=", "says": "The front.", "on": "2026-11-25"})
		var a openapi.JobAttachment
		g.into(t, http.StatusCreated, &a)
		f.version = g.header.Get("Etag")
		if i == 0 && a.Number != 3 {
			t.Errorf("the attachment has number %d", a.Number)
		}
	}
	var a openapi.JobAttachment
	f.do(auth.Books, http.MethodGet, "/v1/jobs/"+f.job+"/attachments/3", "", nil).into(t, http.StatusOK, &a)
	if a.Content != "cGhvdG8=" || a.Says != "The front." || a.Bytes != 5 {
		t.Errorf("the attachment: %+v", a)
	}
	f.do(auth.Books, http.MethodGet, "/v1/jobs/"+f.job+"/attachments/99", "", nil).want(t, http.StatusNotFound, openapi.ProblemCodeNotFound)
	f.must(auth.Sales, "arrival", f.listed())
	var here openapi.OnSite
	f.do(auth.Workshop, http.MethodGet, "/v1/on-site", "", nil).into(t, http.StatusOK, &here)
	if len(here.Vans) != 1 || here.Vans[0].Job != f.job || here.Vans[0].KeyHook != "7" || here.Vans[0].Registration != "WT24 DMO" {
		t.Errorf("on site tonight: %+v", here)
	}
	if list := f.jobs("?registration=wt24"); len(list) != 1 || list[0].State != "in the workshop" {
		t.Errorf("by registration: %+v", list)
	}
	if list := f.jobs("?registration=zz"); len(list) != 0 {
		t.Errorf("by another registration: %+v", list)
	}
	if list := f.jobs("?day=2026-11-25"); len(list) != 0 {
		t.Errorf("in a slot nobody booked: %+v", list)
	}
}

// listed is conditionOf with the photographs that were attached.
func (f *floor) listed() object {
	list := conditionOf()
	for _, p := range list["photographs"].([]any) {
		p.(object)["attachment"] = 3
	}
	return list
}

// works takes every stage of the board from beginning to end, with hours, tests
// and papers.
func (f *floor) works() {
	t := f.t
	b := f.board(auth.Workshop)
	for _, paper := range b.Papers {
		if paper.Due == "work" {
			b = f.must(auth.Workshop, "papers", object{"code": paper.Code, "attachment": 3})
		}
	}
	first := b.Stages[0].Code
	b = f.must(auth.Workshop, "holds", object{"code": "rust", "stage": first, "says": "The sill is rusted through."})
	hold := b.Holds[0].Number
	f.try(auth.Workshop, "stages", object{"stage": first, "do": "begin"}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	f.must(auth.Workshop, "holds/"+itoa(hold)+"/lift", object{"because": "Welded."})
	for _, s := range b.Stages {
		f.stage(s)
	}
}

func itoa(n int32) string { return strconv.Itoa(int(n)) }

// stage takes one stage from beginning to end.
func (f *floor) stage(s openapi.BoardStage) {
	t := f.t
	for _, h := range s.WaitsFor {
		test := object{"of": h.Code, "passed": true, "crew": f.crew["Bo"]}
		switch h.Caution {
		case "gas":
			test["signatory"] = f.signs["expired"]
			p := f.try(auth.Workshop, "tests", test).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
			if got := codes(p); !slices.Equal(got, []string{"expired"}) {
				t.Errorf("signed by one who is not in the register any more: %q", got)
			}
			test["signatory"] = f.signs["gas_test"]
		case "mains":
			test["signatory"] = f.signs["electrical_test"]
		}
		f.must(auth.Workshop, "tests", test)
	}
	f.must(auth.Workshop, "stages", object{"stage": s.Code, "do": "begin"})
	for _, trade := range s.Trades {
		if trade.Trade == "gas_fitter" {
			alone := object{"hours": []any{object{"crew": f.crew["Prentice"], "stage": s.Code, "trade": trade.Trade, "hours": "1"}}}
			p := f.try(auth.Workshop, "hours", alone).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
			if got := codes(p); !slices.Equal(got, []string{"alone"}) {
				t.Errorf("an apprentice alone at the gas: %q", got)
			}
		}
		b := f.must(auth.Workshop, "hours", object{"hours": []any{
			object{"crew": f.crew["Bo"], "stage": s.Code, "trade": trade.Trade, "hours": "0.5"},
			object{"crew": f.crew["Prentice"], "stage": s.Code, "trade": trade.Trade, "hours": "0.25"},
		}})
		if s.Code == "strip_out" && trade.Trade == "fitter" {
			last := b.Hours[len(b.Hours)-1].Number
			f.must(auth.Workshop, "hours/"+itoa(last)+"/take-back", object{"because": "It was another van."})
		}
	}
	for _, outside := range s.Outside {
		if by := f.signs[outside]; by != "" {
			f.must(auth.Workshop, "papers", object{"code": outside, "signatory": by, "attachment": 3})
		}
	}
	f.must(auth.Workshop, "stages", object{"stage": s.Code, "do": "finish"})
}

// misread: a number that was read wrongly is taken back, and stays to be seen.
func (f *floor) misread(part, stage string) {
	t := f.t
	b := f.must(auth.Workshop, "serials", object{"part": part, "stage": stage, "kind": "serial", "value": "misread " + part})
	last := itoa(b.Serials[len(b.Serials)-1].Number)
	f.try(auth.Workshop, "serials/"+last+"/take-back", object{}).want(t, http.StatusBadRequest, openapi.ProblemCodeContractBroken)
	f.try(auth.Workshop, "parts/"+last+"/take-back", object{"because": "Misread."}).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	b = f.must(auth.Workshop, "serials/"+last+"/take-back", object{"because": "Misread."})
	back := b.TakenBack[len(b.TakenBack)-1]
	if itoa(back.Entry) != last || back.What != "serial" || back.Code != part || back.Because != "Misread." || b.Serials[len(b.Serials)-1].Value != "misread "+part {
		t.Errorf("taken back: %+v", back)
	}
	var found openapi.SerialsFound
	if f.do(auth.Books, http.MethodGet, "/v1/serials?from=misread&until=misreadzzzz", "", nil).into(t, http.StatusOK, &found); len(found.Found) != 0 {
		t.Errorf("a number that was never in the van is found: %+v", found.Found)
	}
}

// shelved: what was taken out and is kept goes on the shelf; another word, or
// the word taken back, takes it off again.
func (f *floor) shelved(feature string) {
	t := f.t
	on := func(want string) {
		t.Helper()
		if got := askAs[openapi.Stock](f.seller, auth.Books, http.MethodGet, "/v1/stock/seat_cover", "", nil, http.StatusOK); got.OnHand != want {
			t.Errorf("on the shelf are %s, want %s", got.OnHand, want)
		}
	}
	buys := object{"feature": feature, "to": "workshop buys", "price": object{"amount": "40.00", "currency": "GBP"}}
	f.must(auth.Sales, "removed", buys)
	buys["shelved"] = []any{object{"part": "seat_cover", "quantity": "3"}}
	b := f.must(auth.Sales, "removed", buys)
	on("3")
	first := b.Removed[slices.IndexFunc(b.Removed, func(r openapi.BoardRemoved) bool { return r.Feature == feature })]
	if len(first.Shelved) != 1 || first.Shelved[0].Part != "seat_cover" {
		t.Errorf("kept: %+v", first)
	}
	b = f.must(auth.Sales, "removed", object{"feature": feature, "to": "waste"})
	on("0")
	last := b.Removed[slices.IndexFunc(b.Removed, func(r openapi.BoardRemoved) bool { return r.Feature == feature })]
	f.must(auth.Sales, "removed/"+itoa(last.Number)+"/take-back", object{"because": "The other row is waste."})
	on("3")
}

// leaves clears what is in the way one by one, and hands the van over.
func (f *floor) leaves() {
	t := f.t
	b := f.board(auth.Workshop)
	p := f.try(auth.Sales, "handover", f.listed()).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	if len(p.Errors) != len(b.InTheWay) {
		t.Errorf("%d things are in the way, and %d were told: %+v", len(b.InTheWay), len(p.Errors), p.Errors)
	}
	f.must(auth.Workshop, "snags", object{"says": "A drawer sticks."})
	b = f.board(auth.Workshop)
	f.must(auth.Workshop, "snags/"+itoa(b.Snags[0].Number), object{"promised_by": "2026-12-10"})
	for _, stop := range b.InTheWay {
		switch stop.Code {
		case "serial":
			f.misread(stop.About, b.Stages[0].Code)
			for n := range 20 {
				f.must(auth.Workshop, "serials", object{"part": stop.About, "stage": b.Stages[0].Code, "kind": "serial", "value": stop.About + itoa(int32(n+1)), "crew": f.crew["Bo"]})
				if left := f.board(auth.Workshop); !slices.ContainsFunc(left.InTheWay, func(s openapi.Stops) bool { return s.Code == "serial" && s.About == stop.About }) {
					break
				}
			}
		case "batch":
			k := slices.IndexFunc(b.Stages, func(o openapi.BoardStage) bool { return strings.Contains(stop.Says, o.Name) })
			f.must(auth.Workshop, "serials", object{"part": stop.About, "stage": b.Stages[k].Code, "kind": "batch", "value": "L-7", "crew": f.crew["Bo"]})
		case "removed":
			f.shelved(stop.About)
		case "not_shown":
			f.must(auth.Sales, "shown", object{"shown": []string{stop.About}})
		case "weighing":
			f.must(auth.Sales, "trips", object{"why": "Weighbridge."})
			f.must(auth.Sales, "trips/back", object{})
			f.must(auth.Workshop, "weighings", object{"front_kg": "1100", "rear_kg": "1000", "fuel_percent": 90, "attachment": 3})
		}
	}
	f.try(auth.Books, "balance", object{"how": "owner's word", "because": "They pay on Friday."}).want(t, http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed)
	f.must(auth.Owner, "balance", object{"how": "owner's word", "because": "They pay on Friday."})
	f.must(auth.Workshop, "parts", object{"part": "seat_cover", "stage": "strip_out", "quantity": "2"})
	if b = f.board(auth.Workshop); len(b.InTheWay) != 0 {
		t.Fatalf("still in the way: %+v", b.InTheWay)
	}
	if strings.Contains(string(f.do(auth.Workshop, http.MethodGet, "/v1/jobs/"+f.job+"/board", "", nil).body), "Friday") {
		t.Error("the workshop reads why the owner lets the van go")
	}
	for _, path := range []string{"card.pdf", "picking.csv", "picking.xlsx"} {
		g := f.do(auth.Workshop, http.MethodGet, "/v1/jobs/"+f.job+"/"+path, "", nil)
		if g.status != http.StatusOK || len(g.body) < 500 {
			t.Errorf("%s: %d, %d bytes", path, g.status, len(g.body))
		}
		if path == "picking.csv" && !bytes.Contains(g.body, []byte("strip_out")) && !bytes.Contains(g.body, []byte("seat_cover")) {
			t.Errorf("the pick list says %s", g.body[:200])
		}
	}
	out := f.listed()
	out["key_count"], out["mileage_miles"], out["belongings"] = 1, 11_500, []string{}
	b = f.must(auth.Sales, "handover", out)
	var different []string
	for _, d := range b.Differences {
		different = append(different, string(d.Code))
	}
	if b.State != "handed over" || b.OnSite || !slices.Equal(different, []string{"mileage", "keys", "belonging"}) {
		t.Errorf("handed over: %s, different %q", b.State, different)
	}
	f.try(auth.Workshop, "snags", object{"says": "Another."}).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	if list := f.jobs("?state=handed%20over"); len(list) != 1 {
		t.Errorf("handed over: %+v", list)
	}
}

// TestCancelledJob: its van is given back, and what is personal is gone with
// its customer.
func TestCancelledJob(t *testing.T) {
	f := onTheFloor(t, nil)
	g := f.try(auth.Workshop, "attachments", object{"media_type": "image/png", "content": "cGhvdG8="})
	f.version = g.header.Get("Etag")
	f.must(auth.Sales, "arrival", func() object {
		list := conditionOf()
		for _, p := range list["photographs"].([]any) {
			p.(object)["attachment"] = 1
		}
		return list
	}())
	f.try(auth.Owner, "departure", conditionOf()).want(t, http.StatusConflict, openapi.ProblemCodeStateConflict)
	f.must(auth.Owner, "cancellation", object{"because": "They bought a boat."})
	if b := f.board(auth.Sales); !b.OnSite || b.State != "cancelled" {
		t.Errorf("cancelled: %+v", b)
	}
	if b := f.must(auth.Owner, "departure", conditionOf()); b.OnSite || b.CancelledOn == "" {
		t.Errorf("gone: %+v", b)
	}
	stale := f.version
	f.version = `"1"`
	f.try(auth.Owner, "cancellation", object{"because": "Again."}).want(t, http.StatusPreconditionFailed, openapi.ProblemCodeChangedMeanwhile)
	f.version = stale
}

func TestSignatoriesOverTheAPI(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	body := w.example(t, http.MethodPost, "/v1/signatories")
	var one openapi.Signatory
	s.do(auth.Owner, http.MethodPost, "/v1/signatories", "", body).into(t, http.StatusCreated, &one)
	bad := clone(t, body)
	bad["signs"] = []string{"gas_test", "gas_test", "alchemy"}
	p := s.do(auth.Owner, http.MethodPost, "/v1/signatories", "", bad).want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	if got := codes(p); !slices.Equal(got, []string{"given_twice", "unknown_code"}) {
		t.Errorf("refused with %q", got)
	}
	s.do(auth.Owner, http.MethodPut, "/v1/signatories/"+one.Id, `"1"`, object{"name": one.Name, "signs": one.Signs, "expires_on": "2026-11-24"}).into(t, http.StatusOK, &one)
	if !one.Expired || one.RegisterNumber == "" || one.Version != 2 {
		t.Errorf("changed: %+v", one)
	}
	var list openapi.Signatories
	s.do(auth.Books, http.MethodGet, "/v1/signatories", "", nil).into(t, http.StatusOK, &list)
	if len(list.Signatories) != 1 || !list.Signatories[0].Expired {
		t.Errorf("listed: %+v", list)
	}
}
