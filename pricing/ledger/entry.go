package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// Entry is one thing that happened to money.
type Entry struct {
	// Number counts the entries of a workshop from 1, without gaps.
	Number int64 `json:"number"`
	// Day it counts on, also for VAT; At the moment it was written.
	Day string    `json:"day"`
	At  time.Time `json:"at"`
	By  string    `json:"by"` // id of the person
	// Kind is what happened, Document what shows it.
	Kind     Kind     `json:"kind"`
	Document Document `json:"document"`
	// Reverses the entry of that number; 0 for none.
	Reverses int64  `json:"reverses,omitempty"`
	Lines    []Line `json:"lines"`
	// Previous is the hash of the entry before, and Hash of this one with it.
	Previous string `json:"previous,omitempty"`
	Hash     string `json:"hash"`
}

// Kind of an entry.
type Kind string

// The kinds; zero is invalid.
const (
	Received  Kind = "received"   // money came in
	Placed    Kind = "placed"     // and belongs to jobs
	TakenBack Kind = "taken back" // from a job that is invoiced
	Invoiced  Kind = "invoiced"   // the work is done, deposits applied
	Credited  Kind = "credited"   // an invoice taken back in part
	Refunded  Kind = "refunded"
	Kept      Kind = "kept"     // of a cancelled job's deposit
	PaidOut   Kind = "paid out" // card takings came to the bank, less fees
	Charged   Kind = "charged"  // a bank's or card company's fee
	Bought    Kind = "bought"   // a supplier's invoice
	Sold      Kind = "sold"     // a van of the stock book
	Paid      Kind = "paid"     // to a supplier, or what is not ours to explain
	Moved     Kind = "moved"    // between accounts that hold money
	Reversed  Kind = "reversed"
	TakenOn   Kind = "taken on" // what was there before the ledger
)

var kinds = []Kind{Received, Placed, TakenBack, Invoiced, Credited, Refunded, Kept, PaidOut, Charged, Bought, Sold, Paid, Moved, Reversed, TakenOn}

// Words are the kinds there are.
func (Kind) Words() []string {
	words := make([]string, len(kinds))
	for i, k := range kinds {
		words[i] = string(k)
	}
	return words
}

// Document is what an entry is about.
type Document struct {
	// Noun is a receipt, a deposit invoice, an invoice, a refund, a
	// supplier's invoice …; ID its id or number.
	Noun string `json:"noun"`
	ID   string `json:"id"`
}

// Line is an amount on one account.
type Line struct {
	Account Account      `json:"account"`
	Amount  money.Amount `json:"amount"`
	Job     string       `json:"job,omitempty"` // id
	// Customer or supplier it is of; an id.
	Party string `json:"party,omitempty"`
	// VAT says of which VAT a line on VATDue, VATOnDeposits or VATPaid is.
	VAT *VAT `json:"vat,omitempty"`
}

// VAT is a treatment at a rate.
type VAT struct {
	Treatment pricebook.Treatment `json:"treatment"`
	Percent   decimal.Decimal     `json:"vat_percent"`
	// Net is what it is the VAT of, above nothing where VAT became due or was
	// paid, and below where it is taken back.
	Net money.Amount `json:"net"`
}

// MaxLines of one entry; more is refused.
const MaxLines = 2_000

// check finds what is wrong with an entry by itself.
func (e *Entry) check() document.Faults {
	var faults document.Faults
	fault := func(code, at, reason, remedy string) {
		faults = append(faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	if !calendar.Valid(e.Day) {
		fault("day", "day", fmt.Sprintf("%q is not a day.", e.Day), "Write it as year, month and day: 2027-01-11.")
	}
	if !slices.Contains(kinds, e.Kind) {
		fault("unknown_word", "kind", fmt.Sprintf("%q is no kind of entry.", e.Kind), "Use one of those there are.")
	}
	if e.By == "" || e.Document.Noun == "" || e.Document.ID == "" {
		fault("missing", "document", "An entry says who made it and what shows it.", "Name the person and the document.")
	}
	if len(e.Lines) < 2 || len(e.Lines) > MaxLines {
		fault("number_of_lines", "lines", fmt.Sprintf("An entry of %d lines.", len(e.Lines)), fmt.Sprintf("Give 2 to %d.", MaxLines))
		return faults
	}
	sums := map[money.Currency]int64{}
	for i := range e.Lines {
		l, at := &e.Lines[i], document.Join("lines", i+1)
		switch {
		case !slices.Contains(accounts, l.Account):
			fault("unknown_word", at+"/account", fmt.Sprintf("%q is no account.", l.Account), "Use one of those there are.")
		case l.Amount.IsZero() && (l.VAT == nil || l.VAT.Net.IsZero()): // no VAT on something is worth a line
			fault("amount", at+"/amount", "A line of nothing says nothing.", "Leave it out.")
		case !l.Amount.Enterable() || l.VAT != nil && !l.VAT.Net.Enterable():
			fault("out_of_range", at+"/amount", fmt.Sprintf("%s is more than is entered at once.", l.Amount), fmt.Sprintf("Enter less than %d; look whether there are too many digits.", money.LargestEntered))
		case l.Account.ByJob() && l.Job == "":
			fault("no_job", at+"/job", fmt.Sprintf("What stands in %q belongs to a job.", l.Account), "Name the job.")
		case l.Account.hasVAT() != (l.VAT != nil):
			fault("vat", at+"/vat", "VAT is named on lines that are VAT, and on no others.", "Name treatment, rate and what it is the VAT of.")
		}
		sums[l.Amount.Currency()] += l.Amount.Minor()
	}
	for _, currency := range slices.Sorted(maps.Keys(sums)) {
		if left := sums[currency]; left != 0 {
			over, err := money.FromMinor(left, currency)
			if err != nil {
				fault("not_balanced", "lines", "The lines do not come to nothing.", "Make left and right equal.")
				continue
			}
			fault("not_balanced", "lines", fmt.Sprintf("Left is more than right by %s.", over), "Make left and right equal in each currency.")
		}
	}
	return faults.Limit()
}

// seal gives an entry its place in the chain.
func (e *Entry) seal(number int64, previous string) {
	e.Number, e.Previous, e.Hash = number, previous, ""
	e.Hash = e.digest()
}

// digest is the hash of the entry with the hash of the one before it: SHA-256
// over a domain and the entry as JSON, whose fields have an order.
func (e *Entry) digest() string {
	bare := *e
	bare.Hash, bare.At = "", e.At.UTC()
	text, err := json.Marshal(&bare)
	if err != nil {
		return "" // an amount without a currency, which check does not let in
	}
	h := sha256.New()
	h.Write([]byte("wainscot-ledger-entry/1\n"))
	h.Write(text)
	return hex.EncodeToString(h.Sum(nil))
}

// On is what an entry comes to on an account, in minor units.
func (e *Entry) On(a Account, c money.Currency) int64 {
	sum := int64(0)
	for i := range e.Lines {
		if l := &e.Lines[i]; l.Account == a && l.Amount.Currency() == c {
			sum += l.Amount.Minor()
		}
	}
	return sum
}

// Party whom an entry is of, the first that a line names; "" for none.
func (e *Entry) Party() string {
	for i := range e.Lines {
		if e.Lines[i].Party != "" {
			return e.Lines[i].Party
		}
	}
	return ""
}
