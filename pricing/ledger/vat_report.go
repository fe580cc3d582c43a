package ledger

import (
	"errors"
	"fmt"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/pricing/money"
)

// VATReport is the VAT of a period: what became due, what was paid on purchases.
type VATReport struct {
	// From and Until are days, both in it.
	From  string `json:"from"`
	Until string `json:"until"`
	// Complete is that somebody declared the purchases of the period complete,
	// Closed that nothing more can be entered in it.
	Complete bool `json:"complete"`
	Closed   bool `json:"closed"`
	// Heading is what it may be called, Covers what is in it and what is not, in
	// sentences. It is only called a return where it could be one.
	Heading string   `json:"heading"`
	Covers  []string `json:"covers"`
	Output  []VATSum `json:"output"`
	Input   []VATSum `json:"input"`
	// Sales and Purchases are what the VAT is on, without it.
	Sales     money.Amount `json:"sales"`
	OutputVAT money.Amount `json:"output_vat"`
	Purchases money.Amount `json:"purchases"`
	InputVAT  money.Amount `json:"input_vat"`
	// Balance is VAT due less VAT paid: to pay, or below nothing to have back.
	Balance money.Amount `json:"balance"`
}

// ReportVAT sums the entries of a period up. complete is that the purchases
// through its last day were declared complete, closedThrough the last day on
// which the books are closed.
func ReportVAT(entries []Entry, from, until string, complete bool, closedThrough string, c money.Currency) (VATReport, document.Faults, error) {
	r := VATReport{From: from, Until: until, Complete: complete, Closed: until <= closedThrough}
	if !calendar.Valid(from) || !calendar.Valid(until) || from > until {
		return r, document.Faults{{Code: "day", At: "until", Reason: fmt.Sprintf("%q to %q is no period.", from, until), Remedy: "Give its first and last day, as year, month and day."}}, nil
	}
	r.Output, r.Input = VATOf(entries, VATDue, from, until, c), VATOf(entries, VATPaid, from, until, c)
	var err, err2, err3 error
	r.Sales, r.OutputVAT, err = sumVAT(r.Output, c)
	r.Purchases, r.InputVAT, err2 = sumVAT(r.Input, c)
	if err := errors.Join(err, err2); err != nil {
		return r, nil, err
	}
	r.Balance, err3 = r.OutputVAT.Sub(r.InputVAT)
	r.say()
	return r, nil, err3
}

func sumVAT(list []VATSum, c money.Currency) (net, vat money.Amount, err error) {
	net, vat = money.Zero(c), money.Zero(c)
	for _, v := range list {
		var err, err2 error
		net, err = net.Add(v.Net)
		vat, err2 = vat.Add(v.VAT)
		if err := errors.Join(err, err2); err != nil {
			return net, vat, err
		}
	}
	return net, vat, nil
}

// say words the heading: a report of half the purchases that is called a return
// would be handed in as one.
func (r *VATReport) say() {
	period := calendar.Said(r.From) + " to " + calendar.Said(r.Until)
	switch {
	case r.Complete && r.Closed:
		r.Heading = "VAT return, " + period
	case r.Complete:
		r.Heading = "VAT return, " + period + " (draft: the books are open)"
	default:
		r.Heading = "VAT in the books, " + period + " (not the return: purchases are not complete)"
	}
	r.Covers = []string{
		"VAT due: deposits on the day they came in, invoices and credit notes on their tax points, the margin on vans sold under the margin scheme, and what the workshop accounts for itself on services from abroad and on imports.",
		"VAT paid: suppliers' invoices as far as they are accepted, on their tax points, credit notes, and the same VAT on services from abroad and on imports, presumed to be taken off whole.",
		"Services from abroad count among sales and purchases, imports among purchases only.",
		"Not in it: import VAT that was paid at the border and is on no paper entered here, private use, partial exemption, and whatever is not entered here.",
	}
	if r.Complete {
		r.Covers = append(r.Covers, "The purchases of the period were declared complete.")
	} else {
		r.Covers = append(r.Covers, "Nobody has declared the purchases of the period complete, so more VAT paid may belong to it.")
	}
	if !r.Closed {
		r.Covers = append(r.Covers, "The books are not closed through its last day, so it may change.")
	}
}
