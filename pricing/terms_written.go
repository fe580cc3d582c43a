package pricing

import (
	"wainscot/bom/document"
	"wainscot/pricing/money"
)

// ReadDocument reads terms as people write them: money is an object of amount
// and currency, as everywhere in JSON.
func (t *Terms) ReadDocument(v document.Value) {
	var written struct {
		Terms          plainTerms    `yaml:",inline"`
		DiscountAmount writtenAmount `yaml:"discount_amount" json:"discount_amount,omitzero"`
	}
	v.Into(&written)
	*t = Terms(written.Terms)
	t.DiscountAmount = written.DiscountAmount.amount
}

// plainTerms are Terms without their reader.
type plainTerms Terms

// writtenAmount is an amount in a document; amount is nil where there is none.
type writtenAmount struct{ amount *money.Amount }

// ReadDocument takes {amount: "250.00", currency: GBP}.
func (w *writtenAmount) ReadDocument(v document.Value) {
	var written struct {
		Amount   string `yaml:"amount" json:"amount"`
		Currency string `yaml:"currency" json:"currency"`
	}
	if v.Into(&written); written.Amount == "" || written.Currency == "" {
		return // it has its fault
	}
	a, err := money.Parse(written.Amount, money.Currency(written.Currency))
	if err != nil {
		v.Refuse("amount", "It is no amount: "+err.Error()+".", `Write it like {amount: "250.00", currency: GBP}.`)
		return
	}
	w.amount = &a
}
