package api

import (
	"fmt"

	"github.com/shopspring/decimal"

	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/money"
)

// sentMoney reads amounts and numbers of one currency, and remembers all that
// cannot be read.
type sentMoney struct {
	currency money.Currency
	faults   document.Collector
}

func (r *sentMoney) fault(at, code, reason, remedy string) {
	r.faults.Add(document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
}

// askedMoney reads one amount in a currency; field is a pointer to it.
func askedMoney(field string, m openapi.Money, c money.Currency) (money.Amount, error) {
	r := sentMoney{currency: c}
	a := r.amount(field[1:], m)
	return a, r.refused()
}

// amount in the currency; at is its field without the slash before it.
func (r *sentMoney) amount(at string, m openapi.Money) money.Amount {
	if m.Currency != string(r.currency) {
		r.fault(at, "currency", "It is not in the workshop's money.", "Write it in "+string(r.currency)+".")
		return money.Zero(r.currency)
	}
	a, err := money.Parse(m.Amount, r.currency)
	if err != nil {
		r.fault(at, "not_money", notMoney(err), "Write an amount of the workshop's money.")
		return money.Zero(r.currency)
	}
	if !a.Enterable() {
		r.fault(at, "out_of_range", "That is more than is entered at once.", fmt.Sprintf("Write less than %d; look whether there are too many digits.", money.LargestEntered))
		return money.Zero(r.currency)
	}
	return a
}

// unit price in the currency.
func (r *sentMoney) unit(at string, m openapi.Money) money.UnitPrice {
	d := r.decimal(at+"/amount", m.Amount)
	u, err := money.NewUnitPrice(d, money.Currency(m.Currency))
	if err != nil || m.Currency != string(r.currency) {
		r.fault(at, "not_money", "It is no price in the workshop's money.", "Write an amount in "+string(r.currency)+".")
	}
	return u
}

func (r *sentMoney) decimal(at, text string) decimal.Decimal {
	d, err := decimal.NewFromString(text)
	if err != nil {
		r.fault(at, "wrong_form", "It is not a decimal number.", "Write it in digits, with a point.")
	}
	return d
}

// refused is the problem of all that could not be read; nil for none.
func (r *sentMoney) refused() error {
	if faults := r.faults.Faults(); len(faults) > 0 {
		return supplyRefused(faults)
	}
	return nil
}
