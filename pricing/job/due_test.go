package job_test

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wainscot/pricing"
	"wainscot/pricing/job"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

func penny(minor int64) money.Amount {
	a, err := money.FromMinor(minor, "GBP")
	if err != nil {
		panic(err)
	}
	return a
}

// TestDues: when a payment is due, and where it is.
func TestDues(t *testing.T) {
	payments := []pricing.Payment{
		{Code: "deposit", Amount: penny(200_00), When: pricebook.OnAcceptance},
		{Code: "before", Amount: penny(500_00), When: pricebook.BeforeSlot, Days: 7},
		{Code: "rest", Amount: penny(300_00), When: pricebook.OnHandover, Days: 2},
	}
	for name, c := range map[string]struct {
		paid int64
		days job.DueDays
		want string
	}{
		"nothing paid, no slot": {0, job.DueDays{Today: "2026-03-01", Agreed: "2026-03-01"},
			"deposit 0.00 2026-03-01 due, before 0.00  to come, rest 0.00  to come"},
		"a part of the first": {50_00, job.DueDays{Today: "2026-03-02", Agreed: "2026-03-01", Slot: "2026-04-08", Handover: "2026-04-12"},
			"deposit 50.00 2026-03-01 overdue, before 0.00 2026-04-01 to come, rest 0.00 2026-04-14 to come"},
		"ahead of time": {650_00, job.DueDays{Today: "2026-04-01", Agreed: "2026-03-01", Slot: "2026-04-08", Handover: "2026-04-12"},
			"deposit 200.00 2026-03-01 paid, before 450.00 2026-04-01 due, rest 0.00 2026-04-14 to come"},
		"too much": {1_100_00, job.DueDays{Today: "2026-05-01", Agreed: "2026-03-01"},
			"deposit 200.00 2026-03-01 paid, before 500.00  paid, rest 300.00  paid"},
		"less than nothing": {-5_00, job.DueDays{Today: "2026-03-01", Agreed: "2026-03-01"},
			"deposit 0.00 2026-03-01 due, before 0.00  to come, rest 0.00  to come"},
	} {
		dues, err := job.Dues(payments, penny(c.paid), c.days)
		if err != nil {
			t.Fatal(err)
		}
		var told []string
		for _, d := range dues {
			told = append(told, fmt.Sprintf("%s %s %s %s", d.Code, d.Paid.Fixed(), d.On, d.State))
		}
		if got := strings.Join(told, ", "); got != c.want {
			t.Errorf("%s:\n%s, want\n%s", name, got, c.want)
		}
	}
}

// TestDuesAddUp: paid and open come to each payment, paid to what was paid as far
// as there is anything to pay, and no payment is paid before the one before it.
func TestDuesAddUp(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var payments []pricing.Payment
		total := int64(0)
		for range rapid.IntRange(0, 6).Draw(rt, "payments") {
			amount := rapid.Int64Range(-100, 1000).Draw(rt, "amount")
			payments = append(payments, pricing.Payment{Amount: penny(amount), When: pricebook.OnAcceptance})
			total += max(amount, 0)
		}
		paid := rapid.Int64Range(-100, 3000).Draw(rt, "paid")
		dues, err := job.Dues(payments, penny(paid), job.DueDays{Today: "2026-03-01", Agreed: "2026-03-01"})
		if err != nil {
			rt.Fatal(err)
		}
		sum, open := int64(0), false
		for i, d := range dues {
			if d.Paid.Minor()+d.Open.Minor() != payments[i].Amount.Minor() || d.Paid.Sign() < 0 {
				rt.Fatalf("%+v of %+v", d, payments[i])
			}
			if open && d.Paid.Sign() > 0 {
				rt.Fatalf("payment %d is paid before one before it: %+v", i, dues)
			}
			open = open || d.Open.Sign() > 0
			sum += d.Paid.Minor()
		}
		if sum != min(max(paid, 0), total) {
			rt.Fatalf("%d was paid of %d, and counts as %d", paid, total, sum)
		}
	})
}
