package ledger_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"wainscot/pricing/ledger"
)

// TestStatement: what a customer owes and paid, day by day, over all their jobs;
// another's is not in it.
func TestStatement(t *testing.T) {
	var b ledger.Book
	deposit(t, &b, "2026-03-10", "60.00", "job", of(t, "1000.00"))
	deposit(t, &b, "2026-03-09", "70.00", "job", of(t, "1000.00"))
	deposit(t, &b, "2026-03-10", "5.00", "other", of(t, "1000.00"))
	rows, err := ledger.VATIn(gbp(t, "1000.00"), of(t, "1000.00"))
	if err != nil {
		t.Fatal(err)
	}
	lines, err := b.Invoice("job", "ada", rows, "GBP")
	if err != nil {
		t.Fatal(err)
	}
	post(t, &b, "2026-04-01", ledger.Invoiced, lines)
	if _, faults := b.Reverse(2, "2026-04-02", "perran", time.Time{}, ledger.Document{Noun: "note", ID: "1"}); len(faults) == 0 {
		t.Fatal("a deposit that was applied was reversed")
	}
	post(t, &b, "2026-04-03", ledger.TakenBack, ledger.TakeAway(gbp(t, "60.00"), "job", "ada"))
	post(t, &b, "2026-04-04", ledger.Refunded, ledger.Return(gbp(t, "60.00"), ledger.Bank, "ada"))
	var told []string
	for _, m := range ledger.StatementOf(b.Entries(), map[string]bool{"job": true}, "2026-04-30", "GBP") {
		told = append(told, fmt.Sprintf("%s %s %s %s", m.Day, m.Kind, m.Change.Fixed(), m.Balance.Fixed()))
	}
	want := "2026-03-09 placed -70.00 -70.00, 2026-03-10 placed -60.00 -130.00, 2026-04-01 invoiced 1000.00 870.00, 2026-04-03 taken back 60.00 930.00"
	if got := strings.Join(told, ", "); got != want {
		t.Errorf("it tells\n%s, want\n%s", got, want)
	}
	if got := ledger.StatementOf(b.Entries(), map[string]bool{"job": true}, "2026-03-09", "GBP"); len(got) != 1 {
		t.Errorf("through the first day it tells %v", got)
	}
}
