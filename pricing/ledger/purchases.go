package ledger

import (
	"errors"

	"wainscot/pricing/money"
)

// Buy is a supplier's invoice, by VAT treatment and rate: what was bought, the
// VAT on it, and what is owed. Sums below nothing are a credit note's.
func Buy(party string, rows []VATSum, c money.Currency) ([]Line, error) {
	net, gross := money.Zero(c), money.Zero(c)
	var taxes []Line
	for _, r := range rows {
		var err, err2 error
		net, err = net.Add(r.Net)
		gross, err2 = money.Sum(c, gross, r.Net, r.VAT)
		if err := errors.Join(err, err2); err != nil {
			return nil, err
		}
		if !r.VAT.IsZero() || !r.Net.IsZero() {
			taxes = append(taxes, Line{Account: VATPaid, Amount: r.VAT, Party: party, VAT: &VAT{r.Treatment, r.Percent, r.Net}})
		}
	}
	var lines []Line
	if !net.IsZero() {
		lines = append(lines, Line{Account: Purchases, Amount: net, Party: party})
	}
	lines = append(lines, taxes...)
	if !gross.IsZero() {
		lines = append(lines, Line{Account: Creditors, Amount: gross.Neg(), Party: party})
	}
	return lines, nil
}

// AccountVAT is VAT that the buyer accounts for, since the supplier's paper shows
// none: it is worked out of each row's net at its rate, half up, and becomes due
// and is taken off on the same day. Of a service from abroad what it comes to is
// among sales as well as purchases, as the tax authority counts it; of goods
// imported it is among purchases only (VAT Notices 741A and 700/12; details from
// memory). That all of it may be taken off is presumed.
func AccountVAT(party string, rows []VATSum, service bool) ([]Line, error) {
	var lines []Line
	for _, r := range rows {
		vat, err := money.OnNet(r.Net, r.Percent, money.HalfUp)
		if err != nil {
			return nil, err
		}
		if vat.IsZero() {
			continue
		}
		sold, none := r.Net, money.Zero(r.Net.Currency())
		if !service {
			sold = none
		}
		lines = append(lines,
			Line{Account: VATPaid, Amount: vat, Party: party, VAT: &VAT{r.Treatment, r.Percent, none}},
			Line{Account: VATDue, Amount: vat.Neg(), Party: party, VAT: &VAT{r.Treatment, r.Percent, sold}})
	}
	return lines, nil
}

// PayCreditor is money that went to a supplier from an account that holds
// money; below nothing it is money that a supplier gave back.
func PayCreditor(from Account, amount money.Amount, party string) []Line {
	return []Line{{Account: Creditors, Amount: amount, Party: party}, {Account: from, Amount: amount.Neg(), Party: party}}
}
