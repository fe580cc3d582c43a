// Package takeon reads what a workshop brings along on the day it begins here:
// customers and vans, jobs in build with the price that was agreed, the hours
// left and the days promised, deposits whose VAT was declared in the old books,
// parts on the shelf; and the figures by which all of it is proved. It is read
// whole or not at all: with any fault there is no TakeOn, and every fault says
// in which file, line and column.
//
// Files are CSV (RFC 4180), their columns told by the words in the first line,
// in any order. The keys of customers, vans and jobs are those of the old list
// and tie the files together; nothing else is made of them.
package takeon

import (
	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
	"wainscot/bom/schedule"
	"wainscot/pricing"
	"wainscot/pricing/job"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

// File is one of the files; Name is what of it is in Columns.
type File struct{ Name, Text string }

// Limits of what is taken on at once; more is refused.
const (
	MaxRows  = 2_000   // of one file
	MaxBytes = 2 << 20 // of one file
)

// Known is what the files are read against.
type Known struct {
	// On is the day at whose end the figures stand (YYYY-MM-DD), Today the day
	// it is where the workshop is.
	On, Today string
	Currency  money.Currency
	Catalogue *catalogue.Catalogue
	Places    []string // of the floor
	// CustomersMoneyApart: the deposits are in an account of their own, which
	// has to hold just them.
	CustomersMoneyApart bool
}

// TakeOn is everything that is taken on, in the order of the files.
type TakeOn struct {
	On        string
	Currency  money.Currency
	Customers []Customer
	Vans      []Van
	Jobs      []Job
	Stock     []Stock
	// Balances of the accounts that hold money.
	Balances []Balance
	// Proofs are the figures of the old list against those of the files.
	Proofs []Proof
}

// Customer of the old list. All of it is personal.
type Customer struct {
	Line                                      int // of its file, as of all below
	Key                                       string
	Kind                                      quote.CustomerKind
	Name, GivenNames, Telephone, Email, Notes string
	AddressLines                              []string
	Postcode, Country                         string
}

// Van of the old list.
type Van struct {
	Line                       int
	Key                        string
	Customer                   int // its place among the customers, from 0; -1 for nobody
	BaseVan, Registration, VIN string
}

// Job in build, or agreed and still to come.
type Job struct {
	Line          int
	Key           string
	Customer, Van int // places, from 0
	// Words are what is built; they may name somebody.
	Words    string
	AgreedOn string
	// ArrivedOn is the day the van came; "" for one that is still to come.
	ArrivedOn, KeyHook string
	// Stage is the one under way; "" for none.
	Stage string
	// PromisedOn is the day the van was promised back; "" for none.
	PromisedOn string
	// Hours left, by stage and trade.
	Hours []job.ReturnHours
	// Papers are its certificates, there or to come.
	Papers []job.TakenOnPaper
	// Stays are its slot, in the order of their days.
	Stays    []schedule.Stay
	SlotLine int // of the first of them
	Price    pricing.Priced
	Deposits []Deposit
}

// Deposit that came in before, with the VAT that was declared on it.
type Deposit struct {
	Line   int
	Day    string
	Amount money.Amount
	VAT    ledger.VATSum
	// Words are the reference it came under, or how it came; they may name
	// somebody.
	Words string
}

// Stock of one part on the shelf, over all places.
type Stock struct {
	Part     string
	Quantity decimal.Decimal
	// Value of it at what it cost, for the proof only.
	Value money.Amount
}

// Balance of an account that holds money.
type Balance struct {
	Line    int
	Account ledger.Account
	Books   money.Amount // what the old books say, and what the bank, or a count
	Shown   money.Amount
}

// Proof is a figure of the old list against that of the files.
type Proof struct {
	What string `json:"what"`
	// List and Files are an amount of money, or a number.
	List  string `json:"list"`
	Files string `json:"files"`
	// Difference is Files − List: nothing where they agree.
	Difference string `json:"difference"`
}

// Held is what of deposits is held for a job.
func (j *Job) Held() int64 {
	sum := int64(0)
	for i := range j.Deposits {
		sum += j.Deposits[i].Amount.Minor()
	}
	return sum
}

// AccountBalance is what stands on an account once everything is taken on.
type AccountBalance struct {
	Account ledger.Account `json:"account"`
	Balance money.Amount   `json:"balance"` // above nothing on the left
}

// Opening is what the accounts of the books hold once everything is taken on;
// they come to nothing together.
func (t *TakeOn) Opening() ([]AccountBalance, error) {
	sums := map[ledger.Account]int64{}
	add := func(lines []ledger.Line) {
		for _, l := range lines {
			sums[l.Account] += l.Amount.Minor()
		}
	}
	for _, b := range t.Balances {
		if !b.Books.IsZero() {
			add(ledger.OpenBalance(b.Account, b.Books))
		}
	}
	for i := range t.Jobs {
		for _, d := range t.Jobs[i].Deposits {
			add(ledger.TakeOnDeposit("job", "", d.Amount, []ledger.VATSum{d.VAT}))
		}
	}
	list := []AccountBalance{}
	for _, a := range ledger.Accounts() {
		if sums[a] == 0 {
			continue
		}
		amount, err := money.FromMinor(sums[a], t.Currency)
		if err != nil {
			return nil, err
		}
		list = append(list, AccountBalance{a, amount})
	}
	return list, nil
}
