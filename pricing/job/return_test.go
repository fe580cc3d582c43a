package job_test

import (
	"fmt"
	"strings"
	"testing"

	"wainscot/bom"
	"wainscot/pricing/job"
	"wainscot/pricing/quote/quotetest"
)

func TestReturnVisit(t *testing.T) {
	c := quotetest.Offer("2026-10").Release.Catalogue()
	price := pounds(t, "120.00")
	good := func() job.Return {
		return job.Return{Why: job.UnderWarranty, Release: 1, Hours: []job.ReturnHours{{Stage: "openings", Trade: "fitter", Hours: number("1.5")}, {Stage: "gas", Trade: "gas_fitter", Hours: number("0.5")}},
			Parts: []job.ReturnPart{{Stage: "openings", Part: "glass_side_slide", Quantity: number("1")}}, Outside: []job.ReturnOutside{{Stage: "gas", Outside: "gas_test"}}}
	}
	act := job.Act{On: "2027-05-03", Today: "2027-05-03", By: "person-1"}
	j, faults := job.NewReturn(act, good(), "The window leaks.", "short_panel_van", c)
	ok(t, faults)
	sheet := j.Return.Sheet(j.BaseVan, c)
	p := job.PlanOf(noSpec(), &sheet, c)
	got := ""
	for _, s := range j.Stages {
		got += fmt.Sprint(s.Code, " ", s.Hours, ";")
	}
	if got != "openings 1.5;gas 0.5;" || j.State != job.Agreed || j.AgreedOn != "2027-05-03" || j.Said(j.Return.Says) != "The window leaks." {
		t.Errorf("the visit is %s %+v", got, j)
	}
	if len(p.Parts) != 1 || len(p.Papers) != 1 || p.Papers[0].Code != "gas_test" || p.Weigh {
		t.Errorf("its plan: %+v, %+v", p.Parts, p.Papers)
	}
	text, err := j.Encode()
	if err != nil {
		t.Fatal(err)
	}
	if back, err := job.Decode(text); err != nil || back.Return == nil || back.Return.Why != job.UnderWarranty {
		t.Errorf("read back: %v", err)
	}
	for why, pays := range map[job.ReturnReason]string{job.UnderWarranty: "workshop", job.Goodwill: "workshop", job.SuppliersClaim: "supplier", job.PaidVisit: "customer"} {
		if why.Pays() != pays {
			t.Errorf("%s pays %s", why, why.Pays())
		}
	}
	for at, change := range map[string]func(*job.Return){
		"why":               func(r *job.Return) { r.Why = "whim" },
		"supplier":          func(r *job.Return) { r.Why = job.SuppliersClaim },
		"price":             func(r *job.Return) { r.Why = job.PaidVisit },
		"price ":            func(r *job.Return) { r.Price = &price },
		"hours":             func(r *job.Return) { r.Hours, r.Parts, r.Outside = nil, nil, nil },
		"hours/1/stage":     func(r *job.Return) { r.Hours[0].Stage = "moon" },
		"hours/1/hours":     func(r *job.Return) { r.Hours[0].Hours = number("0") },
		"parts/1/part":      func(r *job.Return) { r.Parts[0].Part = "moon" },
		"parts/1/quantity":  func(r *job.Return) { r.Parts[0].Quantity = number("0.5") },
		"outside/1/outside": func(r *job.Return) { r.Outside[0].Outside = "moon" },
	} {
		r := good()
		change(&r)
		if _, faults := job.NewReturn(act, r, "It leaks.", "short_panel_van", c); len(faults) != 1 || faults[0].At != trimmed(at) {
			t.Errorf("%s: %+v", at, faults)
		}
	}
	if _, faults := job.NewReturn(act, good(), "", "short_panel_van", c); len(faults) != 1 || faults[0].At != "says" {
		t.Errorf("nothing is the matter: %+v", faults)
	}
}

func noSpec() *bom.Specification { return &bom.Specification{} }

func trimmed(at string) string { return strings.TrimSpace(at) }
