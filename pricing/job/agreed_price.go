package job

import (
	"encoding/json"
	"fmt"

	"wainscot/bom/document"
	"wainscot/pricing"
	"wainscot/pricing/money"
)

// AgreedPriceFormat names the shape of an AgreedPrice.
const AgreedPriceFormat = "wainscot-agreed-price/1"

// AgreedPrice is what a job without a quote is to be paid, and when: of a return
// visit the customer pays, or of a van that was in build before the workshop
// began with its books here. It may be agreed anew until it is invoiced; every
// one is kept, and the last holds.
type AgreedPrice struct {
	Format string `json:"format"` // AgreedPriceFormat
	Job    string `json:"job"`    // id
	Number int64  `json:"number"` // of the job, from 1
	On     string `json:"on"`     // YYYY-MM-DD
	// Priced has the lines, VAT, total and payments; nobody reckoned a cost.
	Priced pricing.Priced `json:"priced"`
}

// Agree gives a job without a quote its price, or another in its place. The
// AgreedPrice is what is to be kept with it.
func (j *Job) Agree(id, on string, priced pricing.Priced) (Job, *AgreedPrice, document.Faults) {
	fault := func(code, at, reason, remedy string) (Job, *AgreedPrice, document.Faults) {
		return Job{}, nil, document.Faults{{Code: code, At: at, Reason: reason, Remedy: remedy}}
	}
	switch {
	case j.State == Cancelled:
		return fault(NotInThisState, "", "The job is cancelled.", "Settle what is kept of its deposits.")
	case j.Return != nil && j.Return.Why != PaidVisit:
		return fault("contradiction", "lines", fmt.Sprintf("The van came back for %s, and the %s bears it.", j.Return.Why, j.Return.Why.Pays()), "Open a paid visit for what the customer pays.")
	}
	now := *j
	now.AgreedPrice++
	if now.Return != nil {
		visit := *now.Return
		visit.Price = &priced.Totals.Gross
		now.Return = &visit
	}
	return now, &AgreedPrice{Format: AgreedPriceFormat, Job: id, Number: now.AgreedPrice, On: on, Priced: priced}, nil
}

// HoldsOfDeposits says what stands against a price when so much of deposits is
// held: it would be less than was paid.
func (p *AgreedPrice) HoldsOfDeposits(held money.Amount) document.Faults {
	if held.Minor() <= p.Priced.Totals.Gross.Minor() {
		return nil
	}
	return document.Faults{{Code: "more_than_due", At: "lines", Reason: fmt.Sprintf("%s of deposits are held, and it would come to %s.", held, p.Priced.Totals.Gross),
		Remedy: "Give back of the deposits first, or agree to more."}}
}

// Encode writes an agreed price as it is kept.
func (p *AgreedPrice) Encode() ([]byte, error) { return json.Marshal(p) }

// DecodeAgreedPrice reads one as it is kept.
func DecodeAgreedPrice(text []byte) (*AgreedPrice, error) {
	var p AgreedPrice
	if err := decodeStrictly(text, &p); err != nil {
		return nil, fmt.Errorf("agreed price: %w", err)
	}
	if p.Format != AgreedPriceFormat {
		return nil, fmt.Errorf("agreed price: the format %q is not %q", p.Format, AgreedPriceFormat)
	}
	return &p, nil
}
