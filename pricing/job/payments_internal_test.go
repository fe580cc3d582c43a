package job

import (
	"fmt"
	"testing"

	"wainscot/pricing"
	"wainscot/pricing/money"
)

// How a change is divided over the payments of a job, by hand.
func TestAddTo(t *testing.T) {
	pounds := func(minor int64) money.Amount {
		a, err := money.FromMinor(minor, "GBP")
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	steps := func(amounts ...int64) (list []pricing.Payment) {
		for i, a := range amounts {
			list = append(list, pricing.Payment{Code: []string{"deposit", "stage", "rest"}[i], Amount: pounds(a)})
		}
		return list
	}
	other := steps(300, 500, 400)
	other[1].Code = "another"
	for _, test := range []struct {
		name     string
		schedule []pricing.Payment
		wanted   []pricing.Payment
		change   int64
		payments string
		after    string
	}{
		{"more, step by step", steps(200, 500, 300), steps(240, 600, 360), 200, "[deposit 40 stage 100 rest 60]", "[240 600 360]"},
		{"the steps are others: the last bears it", steps(200, 500, 300), other, 200, "[rest 200]", "[200 500 500]"},
		{"a step would shrink: the last bears it", steps(200, 500, 300), steps(100, 600, 500), 200, "[rest 200]", "[200 500 500]"},
		{"less, off the last", steps(200, 500, 300), steps(180, 450, 270), -100, "[rest -100]", "[200 500 200]"},
		{"less than the last has", steps(200, 500, 300), steps(100, 250, 150), -500, "[stage -200 rest -300]", "[200 300 0]"},
		{"less than there is: it is given back", steps(200, 0, 0), steps(0, 0, 0), -250, "[deposit -250]", "[-50 0 0]"},
		{"nothing", steps(200, 500, 300), steps(200, 500, 300), 0, "[]", "[200 500 300]"},
	} {
		payments, after, err := addTo(test.schedule, test.wanted, pounds(test.change))
		if err != nil {
			t.Fatal(err)
		}
		var got, then []string
		for _, p := range payments {
			got = append(got, fmt.Sprint(p.Code, " ", p.Amount.Minor()))
		}
		for _, p := range after {
			then = append(then, fmt.Sprint(p.Amount.Minor()))
		}
		if fmt.Sprint(got) != test.payments || fmt.Sprint(then) != test.after {
			t.Errorf("%s: %v, then %v; want %s, then %s", test.name, got, then, test.payments, test.after)
		}
	}
}
