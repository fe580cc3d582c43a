// Package stockbook is vans that are bought to be sold again under the VAT margin
// scheme: bought from whom, on what day, for how much; sold when and for how
// much; and the VAT on what is between. HMRC wants such a book, one entry a
// vehicle, in the order of their stock numbers (VAT Notice 718/1, section on
// records; from memory).
//
// People and vans are known by their ids.
package stockbook

import (
	"errors"
	"fmt"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// Van is one entry of the book.
type Van struct {
	// Number in the stock book, from 1, without gaps.
	Number int64  `json:"number"`
	Van    string `json:"van"` // id
	// How it came here.
	How      How          `json:"how"`
	From     string       `json:"from"` // id of who sold it
	BoughtOn string       `json:"bought_on"`
	Paid     money.Amount `json:"paid"`
	// MileageMiles is what the odometer showed.
	MileageMiles int `json:"mileage_miles"`
	// Sale and BackOn are nil and "" while it stands here. BackOn is the day on
	// which its purchase was taken back: it had been entered by mistake, or the
	// part exchange did not come to pass.
	Sale   *Sale  `json:"sale,omitempty"`
	BackOn string `json:"back_on,omitempty"`
}

// Standing says whether the van stands here.
func (v Van) Standing() bool { return v.Sale == nil && v.BackOn == "" }

// GoBack is the end of an entry whose purchase is taken back on a day. One that
// was sold cannot go back.
func (v Van) GoBack(on string) (Van, document.Faults) {
	switch {
	case v.Sale != nil:
		return v, document.Faults{{Code: "in_use", At: "receipt", Reason: fmt.Sprintf("Van %d of the stock book was sold on %s.", v.Number, v.Sale.On), Remedy: "What was sold has been bought: leave it."}}
	case v.BackOn != "":
		return v, document.Faults{{Code: "taken_back", At: "receipt", Reason: fmt.Sprintf("Van %d of the stock book went back on %s.", v.Number, v.BackOn), Remedy: "Leave it."}}
	}
	v.BackOn = on
	return v, nil
}

// MaxMileage of a van; more is refused.
const MaxMileage = 3_000_000

// How a van came into the stock book.
type How string

// The ways; zero is invalid.
const (
	PartExchange How = "part exchange" // payment in kind for a job
	Bought       How = "bought"
)

// Words are the ways there are.
func (How) Words() []string { return []string{string(PartExchange), string(Bought)} }

// Account of the books in which what was paid for it stands.
func (h How) Account() ledger.Account {
	if h == PartExchange {
		return ledger.TakenIn
	}
	return ledger.BoughtIn
}

// Sale of a van, and the VAT on its margin.
type Sale struct {
	To      string          `json:"to"` // id
	On      string          `json:"on"`
	Price   money.Amount    `json:"price"` // all that was paid for it
	Percent decimal.Decimal `json:"vat_percent"`
	Margin  money.Amount    `json:"margin"` // below nothing where it was sold at a loss
	VAT     money.Amount    `json:"vat"`
}

// New is a van as it comes in.
func New(v Van, vatShown bool) (Van, document.Faults) {
	var faults document.Collector
	fault := func(code, at, reason, remedy string) {
		faults.Add(document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	if vatShown {
		fault("not_eligible", "vat_shown", "A van bought on an invoice that shows VAT cannot be sold under the margin scheme.", "Enter that invoice among the suppliers', and sell the van with VAT on its whole price.")
	}
	if !calendar.Valid(v.BoughtOn) {
		fault("day", "bought_on", fmt.Sprintf("%q is not a day.", v.BoughtOn), "Write it as year, month and day: 2027-01-11.")
	}
	if v.Paid.Sign() <= 0 {
		fault("amount", "paid", "It cost nothing.", "Write what was paid or allowed for it.")
	}
	if v.MileageMiles < 0 || v.MileageMiles > MaxMileage {
		fault("out_of_range", "mileage_miles", fmt.Sprintf("%d is no mileage.", v.MileageMiles), "Write what the odometer shows.")
	}
	v.Sale = nil
	return v, faults.Faults()
}

// Margin is what a van was sold for above what was paid for it, and the VAT in
// that: its fraction r/(100 + r), half up, and nothing where it is at or below
// nothing. What was spent on the van in between does not lessen it (VAT Notice
// 718/1, from memory; the fraction is of VAT Notice 700). A loss on one van does
// not lessen the VAT on another.
func Margin(paid, price money.Amount, percent decimal.Decimal) (margin, vat money.Amount, err error) {
	if margin, err = price.Sub(paid); err != nil {
		return margin, vat, err
	}
	if margin.Sign() <= 0 {
		return margin, money.Zero(price.Currency()), nil
	}
	vat, err = money.FractionOfGross(margin, percent, money.HalfUp)
	return margin, vat, err
}

// Sell is the end of an entry: the van went to somebody on a day for a price.
func (v Van) Sell(to, on string, price money.Amount, percent decimal.Decimal) (Van, document.Faults, error) {
	var faults document.Collector
	fault := func(code, at, reason, remedy string) {
		faults.Add(document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	switch {
	case v.BackOn != "":
		fault("state", "sale", fmt.Sprintf("Van %d of the stock book went back on %s.", v.Number, v.BackOn), "Enter it anew when it has come in again.")
	case v.Sale != nil:
		fault("state", "sale", fmt.Sprintf("Van %d of the stock book was sold on %s.", v.Number, v.Sale.On), "Leave it.")
	case !calendar.Valid(on) || on < v.BoughtOn:
		fault("day", "on", fmt.Sprintf("%q is not a day since it was bought on %s.", on, v.BoughtOn), "Write the day on which it was sold.")
	case price.Currency() != v.Paid.Currency() || price.Sign() <= 0:
		fault("amount", "price", "It is nothing, or in another currency than was paid.", "Write all that was paid for it.")
	}
	if list := faults.Faults(); len(list) > 0 {
		return v, list, nil
	}
	margin, vat, err := Margin(v.Paid, price, percent)
	if err != nil {
		return v, nil, err
	}
	v.Sale = &Sale{To: to, On: on, Price: price, Percent: percent, Margin: margin, VAT: vat}
	return v, nil, nil
}

// scheme is the VAT of a sum under the margin scheme: no rate is shown.
func scheme(net money.Amount) *ledger.VAT {
	return &ledger.VAT{Treatment: pricebook.Margin, Percent: decimal.Zero, Net: net}
}

// Buying is what a van that is bought does to the books: it is paid for from an
// account, and among purchases its whole price stands without VAT.
func (v Van) Buying(from ledger.Account) []ledger.Line {
	return []ledger.Line{
		{Account: v.How.Account(), Amount: v.Paid, Party: v.From},
		{Account: from, Amount: v.Paid.Neg(), Party: v.From},
		{Account: ledger.VATPaid, Amount: money.Zero(v.Paid.Currency()), Party: v.From, VAT: scheme(v.Paid)},
	}
}

// TakingIn is what a van taken in part exchange does to them: it is a receipt,
// to be placed on the job that it pays for.
func (v Van) TakingIn() []ledger.Line {
	return ledger.Receipt(ledger.TakenIn, v.Paid, v.From)
}

// Selling is what the sale does to them. invoiced is that a job's invoice has
// its price among sales, without VAT, as a line under the margin scheme; else
// the price is taken from what was received of the buyer and not yet placed.
// What was paid for the van becomes a cost, and the VAT on the margin is due:
// of sales its price less that VAT is left.
func (v Van) Selling(invoiced bool) ([]ledger.Line, error) {
	s := v.Sale
	if s == nil {
		return nil, errors.New("stockbook: it was not sold")
	}
	lines := []ledger.Line{
		{Account: ledger.Purchases, Amount: v.Paid, Party: v.From},
		{Account: v.How.Account(), Amount: v.Paid.Neg(), Party: v.From},
	}
	net, err := s.Price.Sub(s.VAT)
	if err != nil {
		return nil, err
	}
	if invoiced {
		if !s.VAT.IsZero() {
			lines = append(lines, ledger.Line{Account: ledger.Sales, Amount: s.VAT, Party: s.To},
				ledger.Line{Account: ledger.VATDue, Amount: s.VAT.Neg(), Party: s.To, VAT: scheme(s.VAT.Neg())})
		}
		return lines, nil
	}
	return append(lines,
		ledger.Line{Account: ledger.Unplaced, Amount: s.Price, Party: s.To},
		ledger.Line{Account: ledger.Sales, Amount: net.Neg(), Party: s.To},
		ledger.Line{Account: ledger.VATDue, Amount: s.VAT.Neg(), Party: s.To, VAT: scheme(net)}), nil
}
