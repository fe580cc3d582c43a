package ledger

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"wainscot/bom/document"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// Book is the entries of a workshop and what they come to: all of them, or
// those since a Standing. The zero Book is empty. It is not safe for use by
// several at once.
type Book struct {
	entries []Entry
	// before the first of entries there were so many, the last of that hash;
	// known are those of them that were given to be reversed.
	before int64
	was    string
	known  map[int64]*Entry
	// closedThrough is the last day nothing more is entered on; "" for none.
	closedThrough string
	balances      map[place]int64
	vat           map[vatPlace]vatSum
	reversed      map[int64]int64 // by which entry
}

// place is where an amount stands.
type place struct {
	account  Account
	job      string
	currency money.Currency
}

// vatPlace is a VAT of a job on an account.
type vatPlace struct {
	account   Account
	job       string
	treatment pricebook.Treatment
	percent   string
	currency  money.Currency
}

type vatSum struct{ vat, net int64 }

// Standing is what the entries of a book have come to, without the entries: so
// much of it as the next ones touch.
type Standing struct {
	Entries       int64  // how many there are
	Head          string // hash of the last; "" before the first
	ClosedThrough string
	Sums          []Sum
	// Known are entries that the next may reverse, Reversed by which entry those
	// are that were.
	Known    []Entry
	Reversed map[int64]int64
}

// Sum is what stands on an account in a currency, in minor units: of a job where
// the account goes by job, of a VAT where its lines name one.
type Sum struct {
	Account   Account
	Job       string
	Treatment pricebook.Treatment
	Percent   string
	Currency  money.Currency
	Minor     int64
	Net       int64 // what it is the VAT of
}

// Continue is a book that goes on from a standing. Of what is earlier it knows
// no more than that: Entries, DepositsOn and VATBetween tell of what was entered
// since.
func Continue(s Standing) *Book {
	b := &Book{closedThrough: s.ClosedThrough, before: s.Entries, was: s.Head, known: map[int64]*Entry{},
		balances: map[place]int64{}, vat: map[vatPlace]vatSum{}, reversed: map[int64]int64{}}
	for i := range s.Known {
		b.known[s.Known[i].Number] = &s.Known[i]
	}
	maps.Copy(b.reversed, s.Reversed)
	for _, sum := range s.Sums {
		b.balances[place{sum.Account, sum.Job, sum.Currency}] += sum.Minor
		if sum.Account.hasVAT() {
			at := vatPlace{sum.Account, sum.Job, sum.Treatment, sum.Percent, sum.Currency}
			b.vat[at] = vatSum{b.vat[at].vat + sum.Minor, b.vat[at].net + sum.Net}
		}
	}
	return b
}

// Sum is what a line adds to what stands.
func (l *Line) Sum() Sum {
	at := l.place()
	s := Sum{Account: at.account, Job: at.job, Currency: at.currency, Minor: l.Amount.Minor()}
	if l.VAT != nil {
		s.Treatment, s.Percent, s.Net = l.VAT.Treatment, l.VAT.Percent.String(), l.VAT.Net.Minor()
	}
	return s
}

// count is how many entries there are, those before a standing too.
func (b *Book) count() int64 { return b.before + int64(len(b.entries)) }

// entry of a number; nil where it is not known.
func (b *Book) entry(number int64) *Entry {
	if at := number - b.before; at >= 1 && at <= int64(len(b.entries)) {
		return &b.entries[at-1]
	}
	return b.known[number]
}

// Read takes in entries as they were kept, in order, and refuses a chain that
// does not hold.
func Read(entries []Entry, closedThrough string) (*Book, error) {
	b := &Book{closedThrough: closedThrough}
	for i := range entries {
		e := &entries[i]
		switch {
		case e.Number != int64(i+1):
			return nil, fmt.Errorf("ledger: entry %d stands where %d should", e.Number, i+1)
		case e.Previous != b.head() || e.Hash != e.digest():
			return nil, fmt.Errorf("ledger: entry %d is not what was written", e.Number)
		}
		if faults := e.check(); len(faults) > 0 {
			return nil, fmt.Errorf("ledger: entry %d: %w", e.Number, faults)
		}
		b.take(*e)
	}
	return b, nil
}

// Entries are all of them, in order. They are not to be changed.
func (b *Book) Entries() []Entry { return b.entries }

// ClosedThrough is the last day nothing more is entered on; "" for none.
func (b *Book) ClosedThrough() string { return b.closedThrough }

func (b *Book) head() string {
	if len(b.entries) == 0 {
		return b.was
	}
	return b.entries[len(b.entries)-1].Hash
}

// Close shuts every day through one; a day that is shut is not opened again.
func (b *Book) Close(through string) document.Faults {
	if !document.ValidDay(through) || through <= b.closedThrough {
		return document.Faults{{Code: "closed", At: "through", Reason: fmt.Sprintf("The books are closed through %q.", b.closedThrough), Remedy: "Name a later day."}}
	}
	b.closedThrough = through
	return nil
}

// Post writes an entry, or says what stands against it; then nothing has
// happened. Number, Previous and Hash are given to it.
func (b *Book) Post(e Entry) (Entry, document.Faults) {
	faults := e.check()
	if len(faults) == 0 {
		faults = b.against(&e)
	}
	if len(faults) > 0 {
		return Entry{}, faults
	}
	e.Lines = slices.Clone(e.Lines)
	e.seal(b.count()+1, b.head())
	b.take(e)
	return e, nil
}

// against is what the entries so far have against another.
func (b *Book) against(e *Entry) document.Faults {
	var faults document.Faults
	fault := func(code, at, reason, remedy string) {
		faults = append(faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	if e.Day <= b.closedThrough {
		fault("closed", "day", fmt.Sprintf("The books are closed through %s.", b.closedThrough), "Enter it on a later day.")
	}
	if e.Kind == Reversed != (e.Reverses != 0) {
		fault("contradiction", "reverses", "A reversal names what it reverses, and nothing else does.", "Use Reverse.")
	}
	if e.Reverses != 0 {
		switch by := b.reversed[e.Reverses]; {
		case b.entry(e.Reverses) == nil:
			fault("no_entry", "reverses", fmt.Sprintf("There is no entry %d.", e.Reverses), "Name one that there is.")
		case by != 0:
			fault("reversed", "reverses", fmt.Sprintf("Entry %d was reversed by entry %d.", e.Reverses, by), "Leave it, or enter it anew.")
		case b.entry(e.Reverses).Kind == Reversed:
			fault("reversed", "reverses", "A reversal is not reversed.", "Enter anew what was reversed.")
		}
	}
	if len(faults) > 0 {
		return faults
	}
	// What is not there cannot be taken: a deposit below nothing would be money
	// somebody was given, and a receipt placed twice somebody else's.
	after := map[place]int64{}
	for _, l := range e.Lines {
		at := l.place()
		if l.Account != DepositsNotEarned && l.Account != Unplaced {
			continue
		}
		if _, ok := after[at]; !ok {
			after[at] = b.balances[at]
		}
		after[at] += l.Amount.Minor()
	}
	for i, l := range e.Lines {
		at := l.place()
		if left, ok := after[at]; ok && left > 0 {
			delete(after, at)
			fault("more_than_there_is", document.Join("lines", i+1), fmt.Sprintf("More would be taken from %q than stands there.", l.Account), "Take what there is, or reverse what took the rest.")
		}
	}
	return faults.Limit()
}

func (l *Line) place() place {
	at := place{account: l.Account, currency: l.Amount.Currency()}
	if l.Account.ByJob() {
		at.job = l.Job
	}
	return at
}

func (b *Book) take(e Entry) {
	if b.balances == nil {
		b.balances, b.vat, b.reversed = map[place]int64{}, map[vatPlace]vatSum{}, map[int64]int64{}
	}
	for i := range e.Lines {
		l := &e.Lines[i]
		b.balances[l.place()] += l.Amount.Minor()
		if l.VAT != nil {
			at := vatPlace{l.Account, l.place().job, l.VAT.Treatment, l.VAT.Percent.String(), l.Amount.Currency()}
			sum := b.vat[at]
			sum.vat += l.Amount.Minor()
			sum.net += l.VAT.Net.Minor()
			b.vat[at] = sum
		}
	}
	if e.Reverses != 0 {
		b.reversed[e.Reverses] = e.Number
	}
	b.entries = append(b.entries, e)
}

// Reverse takes an entry back whole, on a day: the same lines with the other
// sign.
func (b *Book) Reverse(number int64, day, by string, at time.Time, d Document) (Entry, document.Faults) {
	was := b.entry(number)
	if was == nil {
		return Entry{}, document.Faults{{Code: "no_entry", At: "reverses", Reason: fmt.Sprintf("There is no entry %d.", number), Remedy: "Name one that there is."}}
	}
	e := Entry{Day: day, At: at, By: by, Kind: Reversed, Document: d, Reverses: number}
	for _, l := range was.Lines {
		l.Amount = l.Amount.Neg()
		if l.VAT != nil {
			other := *l.VAT
			other.Net = other.Net.Neg()
			l.VAT = &other
		}
		e.Lines = append(e.Lines, l)
	}
	return b.Post(e)
}

// ReversedBy is the entry that took another back; 0 for none.
func (b *Book) ReversedBy(number int64) int64 { return b.reversed[number] }

// Balance of an account, over all jobs.
func (b *Book) Balance(a Account, c money.Currency) money.Amount {
	sum := int64(0)
	for at, minor := range b.balances {
		if at.account == a && at.currency == c {
			sum += minor
		}
	}
	return amountOf(sum, c)
}

// OfJob is what stands in an account for a job. Deposits are given as what is
// held: above nothing.
func (b *Book) OfJob(a Account, job string, c money.Currency) money.Amount {
	minor := b.balances[place{a, job, c}]
	if a == DepositsNotEarned {
		minor = -minor
	}
	return amountOf(minor, c)
}

// DepositVAT is the VAT that became due with the deposits of a job and is not
// invoiced yet, by treatment and rate.
func (b *Book) DepositVAT(job string, c money.Currency) []VATSum {
	var list []VATSum
	for at, sum := range b.vat {
		if at.account == VATOnDeposits && at.job == job && at.currency == c && (sum.vat != 0 || sum.net != 0) {
			list = append(list, VATSum{Treatment: at.treatment, Percent: decimal.RequireFromString(at.percent), Net: amountOf(sum.net, c), VAT: amountOf(sum.vat, c)})
		}
	}
	sortVAT(list)
	return list
}

// JobBalance is what a job has in an account.
type JobBalance struct {
	Job    string       `json:"job"`
	Amount money.Amount `json:"amount"`
}

// DepositsOn are the deposits not yet earned at the end of a day, job by job, in
// the order of their ids: those of entries on that day or before. Their sum is
// the second value.
func (b *Book) DepositsOn(day string, c money.Currency) ([]JobBalance, money.Amount) {
	sums := map[string]int64{}
	total := int64(0)
	for i := range b.entries {
		if b.entries[i].Day > day {
			continue
		}
		for _, l := range b.entries[i].Lines {
			if l.Account == DepositsNotEarned && l.Amount.Currency() == c {
				sums[l.Job] -= l.Amount.Minor()
				total -= l.Amount.Minor()
			}
		}
	}
	var list []JobBalance
	for job, minor := range sums {
		if minor != 0 {
			list = append(list, JobBalance{job, amountOf(minor, c)})
		}
	}
	slices.SortFunc(list, func(a, b JobBalance) int {
		if a.Job < b.Job {
			return -1
		}
		return 1
	})
	return list, amountOf(total, c)
}

// Without is what stood in a book before some of its entries: those of later
// days than one that is asked about. It is to be looked at, and not to go on.
func (b *Book) Without(entries []Entry) *Book {
	before := &Book{balances: maps.Clone(b.balances), vat: maps.Clone(b.vat)}
	for i := range entries {
		for k := range entries[i].Lines {
			sum := entries[i].Lines[k].Sum()
			before.balances[place{sum.Account, sum.Job, sum.Currency}] -= sum.Minor
			if sum.Account.hasVAT() {
				at := vatPlace{sum.Account, sum.Job, sum.Treatment, sum.Percent, sum.Currency}
				was := before.vat[at]
				before.vat[at] = vatSum{was.vat - sum.Minor, was.net - sum.Net}
			}
		}
	}
	return before
}

// DepositsNow are the deposits not yet earned of all entries, whatever their day,
// as DepositsOn gives them.
func (b *Book) DepositsNow(c money.Currency) ([]JobBalance, money.Amount) {
	var list []JobBalance
	total := int64(0)
	for at, minor := range b.balances {
		if at.account == DepositsNotEarned && at.currency == c && minor != 0 {
			list = append(list, JobBalance{at.job, amountOf(-minor, c)})
			total -= minor
		}
	}
	slices.SortFunc(list, func(a, b JobBalance) int { return strings.Compare(a.Job, b.Job) })
	return list, amountOf(total, c)
}

// VATSum is VAT of one treatment at one rate, and what it is the VAT of.
type VATSum struct {
	Treatment pricebook.Treatment `json:"treatment"`
	Percent   decimal.Decimal     `json:"vat_percent"`
	Net       money.Amount        `json:"net"`
	VAT       money.Amount        `json:"vat"`
}

// VATBetween is the VAT that became due from one day to another, both
// included, by treatment and rate.
func (b *Book) VATBetween(from, until string, c money.Currency) []VATSum {
	return VATOf(b.entries, VATDue, from, until, c)
}

// InputVATBetween is the VAT on purchases from one day to another, likewise.
func (b *Book) InputVATBetween(from, until string, c money.Currency) []VATSum {
	return VATOf(b.entries, VATPaid, from, until, c)
}

// VATOf is what entries from one day to another, both included, come to on an
// account of VAT, by treatment and rate: of VATPaid what was paid, of the
// others what became due. Nothing of no VAT on nothing is left out.
func VATOf(entries []Entry, a Account, from, until string, c money.Currency) []VATSum {
	sums := map[vatPlace]vatSum{}
	for i := range entries {
		if d := entries[i].Day; d < from || d > until {
			continue
		}
		for _, l := range entries[i].Lines {
			if l.Account != a || l.VAT == nil || l.Amount.Currency() != c {
				continue
			}
			at := vatPlace{treatment: l.VAT.Treatment, percent: l.VAT.Percent.String()}
			sum := sums[at]
			if a == VATDue {
				sum.vat -= l.Amount.Minor()
			} else {
				sum.vat += l.Amount.Minor()
			}
			sum.net += l.VAT.Net.Minor()
			sums[at] = sum
		}
	}
	var list []VATSum
	for at, sum := range sums {
		if sum.vat != 0 || sum.net != 0 {
			list = append(list, VATSum{Treatment: at.treatment, Percent: decimal.RequireFromString(at.percent), Net: amountOf(sum.net, c), VAT: amountOf(sum.vat, c)})
		}
	}
	sortVAT(list)
	return list
}

func sortVAT(list []VATSum) {
	order := pricebook.Standard.Words()
	slices.SortFunc(list, func(a, b VATSum) int {
		if d := slices.Index(order, string(a.Treatment)) - slices.Index(order, string(b.Treatment)); d != 0 {
			return d
		}
		return b.Percent.Cmp(a.Percent)
	})
}

// amountOf is an amount that entries have come to; their currencies were known
// and their sums within bounds.
func amountOf(minor int64, c money.Currency) money.Amount {
	a, err := money.FromMinor(minor, c)
	if err != nil {
		return money.Zero(c)
	}
	return a
}
