package apitest

import (
	"fmt"
	"net/http"
	"slices"
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// TestVariationLeavesOver: what a change leaves over of what is on order is told
// before it is sent, leaves drafts with the yes, and stands on a list until the
// job wants it again or somebody has dealt with it.
func TestVariationLeavesOver(t *testing.T) {
	w := newWorld(t)
	s := seller{w, t, w.Ours}
	j := s.job(nil)
	path := "/v1/jobs/" + j.Id
	order := func(lines ...any) (o openapi.Order, version string) {
		t.Helper()
		g := s.do(auth.Workshop, http.MethodPost, "/v1/orders", "", object{"supplier_code": "brackwater", "lines": lines})
		g.into(t, http.StatusCreated, &o)
		return o, g.header.Get("Etag")
	}
	line := func(code, quantity, job string) object {
		l := object{"kind": "part", "code": code, "quantity": quantity, "wanted_on": "2026-12-18", "agreed_price": object{"amount": "20.00", "currency": "GBP"}}
		if job != "" {
			l["job"] = job
		}
		return l
	}
	draft, _ := order(line("hob_2", "1", j.Id), line("sill_guard", "7", ""))
	placed, version := order(line("blanket_fire", "1", j.Id), line("blanket_fire", "2", ""), line("regulator_30", "1", j.Id))
	s.do(auth.Workshop, http.MethodPost, "/v1/orders/"+placed.Id+"/place", version, object{"knowing": true}).into(t, http.StatusOK, &placed)
	orders := func() (d, p openapi.Order) {
		return seen[openapi.Order](t, w, w.Ours, "/v1/orders/"+draft.Id), seen[openapi.Order](t, w, w.Ours, "/v1/orders/"+placed.Id)
	}
	said := func(list []openapi.SurplusLine) (text []string) {
		for _, l := range list {
			text = append(text, fmt.Sprint(l.Code, " ", l.Quantity, " of order ", l.OrderNumber, " ", l.OrderState, " changed ", l.Changed, " job ", l.JobNumber == j.Number, " variation ", l.Variation, " since ", l.Since))
		}
		slices.Sort(text)
		return text
	}
	list := func() []string { return said(seen[openapi.SurplusList](t, w, w.Ours, "/v1/surplus").Lines) }

	var agreed openapi.Agreement
	number := 0
	vary := func(choices openapi.Choices, yes bool) (v openapi.Variation) {
		t.Helper()
		number++
		one := fmt.Sprintf("%s/variations/%d", path, number)
		s.at(auth.Sales, http.MethodPost, path+"/variations", object{"choices": choices, "additions": agreed.Additions}).into(t, http.StatusCreated, &v)
		s.at(auth.Sales, http.MethodPost, one+"/sending", nil).into(t, http.StatusOK, &v)
		if yes {
			before := seen[openapi.Variation](t, w, w.Ours, one)
			if !slices.Equal(said(before.Surplus), said(v.Surplus)) {
				t.Errorf("read, variation %d tells %q", number, said(before.Surplus))
			}
			s.at(auth.Sales, http.MethodPost, one+"/acceptance", object{"by": "Wren Aldous", "how": "paper"}).into(t, http.StatusOK, &before)
			if after := seen[openapi.Variation](t, w, w.Ours, one); !slices.Equal(said(after.Surplus), said(before.Surplus)) || !slices.Equal(list(), said(after.Surplus)) {
				t.Errorf("accepted, variation %d tells %q; the list is %q", number, said(after.Surplus), list())
			}
		}
		return v
	}
	s.do(auth.Sales, http.MethodGet, path+"/agreement", "", nil).into(t, http.StatusOK, &agreed)
	v := vary(without(agreed.Choices, "hob_two"), true)
	want := []string{
		"blanket_fire 1 of order 2 placed changed false job true variation 1 since ",
		"hob_2 1 of order 1 draft changed true job true variation 1 since ",
		"regulator_30 1 of order 2 placed changed false job true variation 1 since ",
	}
	if got := said(v.Surplus); !slices.Equal(got, want) {
		t.Errorf("it tells %q", got)
	}
	want = []string{"blanket_fire 1 of order 2 placed changed false job true variation 1 since 2026-11-25", "regulator_30 1 of order 2 placed changed false job true variation 1 since 2026-11-25"}
	if got := list(); !slices.Equal(got, want) {
		t.Errorf("the list is %q", got)
	}
	d, p := orders()
	if len(d.Lines) != 1 || d.Lines[0].Code != "sill_guard" || d.Version != 2 || len(p.Lines[0].Surplus) != 1 || p.Lines[0].Quantity != "1" || len(p.Lines[1].Surplus) != 0 {
		t.Errorf("the orders: %+v, %+v", d.Lines, p.Lines)
	}

	// Wanted again, nothing is left over.
	if v := vary(agreed.Choices, true); len(v.Surplus) != 0 || len(list()) != 0 {
		t.Errorf("wanted again, it tells %q, the list is %q", said(v.Surplus), list())
	}
	vary(without(agreed.Choices, "hob_two"), true)

	// The regulator is taken back, the blanket goes to stock when it comes.
	deal := func(role auth.Role, line int, how string) got {
		g := s.do(auth.Workshop, http.MethodGet, "/v1/orders/"+placed.Id, "", nil)
		return s.do(role, http.MethodPost, "/v1/orders/"+placed.Id+"/surplus", g.header.Get("Etag"), object{"line": line, "how": how})
	}
	deal(auth.Books, 1, "to stock").want(t, http.StatusForbidden, openapi.ProblemCodeRoleNotAllowed)
	deal(auth.Workshop, 2, "to stock").want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	deal(auth.Workshop, 3, "taken back").into(t, http.StatusOK, &p)
	deal(auth.Workshop, 1, "to stock").into(t, http.StatusOK, &p)
	deal(auth.Workshop, 1, "to stock").want(t, http.StatusUnprocessableEntity, openapi.ProblemCodeTermsRefused)
	if len(list()) != 0 || p.Lines[2].Quantity != "0" || p.Lines[0].Quantity != "1" || p.State != "placed" {
		t.Errorf("dealt with: %+v, the list is %q", p.Lines, list())
	}
	g := s.do(auth.Workshop, http.MethodGet, "/v1/orders/"+placed.Id, "", nil)
	s.do(auth.Workshop, http.MethodPost, "/v1/orders/"+placed.Id+"/deliveries", g.header.Get("Etag"), object{"lines": []any{object{"line": 1, "quantity": "1"}, object{"line": 2, "quantity": "2"}}}).into(t, http.StatusOK, &p)
	if stock := seen[openapi.Stock](t, w, w.Ours, "/v1/stock/blanket_fire"); p.State != "closed" || stock.OnHand != "3" || len(stock.Kept) != 0 {
		t.Errorf("it came: %s, in stock are %+v", p.State, stock)
	}
	w.verify(t, w.Ours)
}
