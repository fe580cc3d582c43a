package takeon

import (
	"fmt"
	"strconv"

	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
)

// figure is one the old list is held against.
type figure struct {
	what string
	// file it is of: needed where that has any lines.
	file  string
	count bool
	sum   func() (int64, int64) // a number, or minor units; and of how many lines
}

// figures there are, in the order in which they are told.
func (r *reader) figures() []figure {
	number := func(n int) func() (int64, int64) { return func() (int64, int64) { return int64(n), int64(n) } }
	var price, deposits, vat, parts, n int64
	for i := range r.out.Jobs {
		j := &r.out.Jobs[i]
		price += j.Price.Totals.Gross.Minor()
		for _, d := range j.Deposits {
			deposits, vat, n = deposits+d.Amount.Minor(), vat+d.VAT.VAT.Minor(), n+1
		}
	}
	for _, s := range r.out.Stock {
		parts += s.Value.Minor()
	}
	sum := func(minor int64, of int) func() (int64, int64) {
		return func() (int64, int64) { return minor, int64(of) }
	}
	return []figure{
		{"customers", "customers", true, number(len(r.out.Customers))},
		{"vans", "vans", true, number(len(r.out.Vans))},
		{"jobs", "jobs", true, number(len(r.out.Jobs))},
		{"agreed prices", "prices", false, sum(price, len(r.out.Jobs))},
		{"number of deposits", "deposits", true, number(int(n))},
		{"deposits", "deposits", false, sum(deposits, int(n))},
		{"VAT on deposits", "deposits", false, sum(vat, int(n))},
		{"stock", "stock", false, sum(parts, len(r.out.Stock))},
	}
}

// Figures are the words of what the old list is held against.
func Figures() []string {
	var list []string
	for _, f := range (&reader{}).figures() {
		list = append(list, f.what)
	}
	return list
}

// whole finds what is missing although each line is right.
func (r *reader) whole() {
	deposits := int64(0)
	for i := range r.out.Jobs {
		deposits += r.out.Jobs[i].Held()
	}
	if deposits > 0 && len(r.rows["balances"]) == 0 && !r.broken["balances"] {
		r.fault("balances.csv", 0, "", "missing_value", "There are deposits, and nothing says where the money is.", "Write the accounts with what the old books and the bank have on them that day.")
	}
	if _, err := r.out.Opening(); err != nil {
		r.fault("balances.csv", 0, "", "too_large", "All of it together is too large to be money.", "Look for a digit too many.")
	}
	if !r.k.CustomersMoneyApart || r.faulted["balances.csv"] || r.faulted["deposits.csv"] {
		return
	}
	there, line := int64(0), 0
	for _, b := range r.out.Balances {
		if b.Account == ledger.ClientBank {
			there, line = b.Books.Minor(), b.Line
		}
	}
	if there != deposits {
		r.fault("balances.csv", line, "books", "does_not_agree", fmt.Sprintf("Customers' money is kept apart: %s is there, the deposits are %s, and the difference is %s.",
			r.money(there), r.money(deposits), r.money(there-deposits)), "Put the account right, or the list of deposits.")
	}
}

func (r *reader) money(minor int64) string {
	a, err := money.FromMinor(minor, r.k.Currency)
	if err != nil {
		return strconv.FormatInt(minor, 10)
	}
	return a.String()
}

// prove holds the figures of the old list against those of the files, and the
// old books against the bank.
func (r *reader) prove() {
	r.readTotals()
	for _, f := range r.figures() {
		ofJobs := f.file == "prices" || f.file == "deposits"
		if r.broken[f.file] || r.faulted[f.file+".csv"] || ofJobs && r.broken["jobs"] {
			continue // it says itself what is wrong with it
		}
		is, lines := f.sum()
		w, there := r.totals[f.what]
		switch {
		case there:
			r.figure(f, w, is)
		case lines > 0 && f.file != "customers" && f.file != "vans" && !r.broken["totals"]:
			r.fault("totals.csv", 0, f.what, "missing_value", fmt.Sprintf("Nothing says what the old list has for %s.", f.what), "Add the line, with the figure of the old list.")
		}
	}
	for _, b := range r.out.Balances {
		off := b.Books.Minor() - b.Shown.Minor()
		r.out.Proofs = append(r.out.Proofs, Proof{string(b.Account), b.Shown.String(), b.Books.String(), r.money(off)})
		if off != 0 {
			r.fault("balances.csv", b.Line, "statement", "does_not_agree", fmt.Sprintf("The old books have %s, the statement %s, and the difference is %s.", b.Books, b.Shown, r.money(off)),
				"Enter in the old books what the bank has and they have not, or take a day on which both are the same.")
		}
	}
}

func (r *reader) readTotals() {
	for _, w := range r.rows["totals"] {
		what := w.word("what", Figures(), "")
		if _, twice := r.totals[what]; twice {
			w.fault("what", "twice", "The figure is there already.", "Write it once.")
			continue
		}
		if what != "" {
			r.totals[what] = w
		}
	}
}

func (r *reader) figure(f figure, w row, is int64) {
	var said, off int64
	tell := r.money
	if f.count {
		d, ok := w.decimal("figure", 0, 1_000_000)
		if !ok {
			return
		}
		said, tell = d.IntPart(), func(n int64) string { return strconv.FormatInt(n, 10) }
	} else {
		a, ok := w.amount("figure", -1<<62)
		if !ok {
			return
		}
		said = a.Minor()
	}
	off = is - said
	r.out.Proofs = append(r.out.Proofs, Proof{f.what, tell(said), tell(is), tell(off)})
	if off != 0 {
		w.fault("figure", "does_not_agree", fmt.Sprintf("The old list has %s, the files come to %s, and the difference is %s.", tell(said), tell(is), tell(off)), "Find what is missing, or there twice, and mend the files or the figure.")
	}
}
