package purchase

import (
	"errors"
	"fmt"
	"slices"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
)

// Decide says what of an invoice is owed, by what was found of it: all of it
// (and the credit that is due is waited for), all but that credit, or nothing.
func (i *Invoice) Decide(s State, m Match, on string) (Invoice, document.Faults) {
	d := *i
	if d.State != Entered {
		return d, document.Faults{{Code: "state", At: "state", Reason: fmt.Sprintf("It is %s.", d.State), Remedy: "What was decided is put right by a credit note."}}
	}
	if !calendar.Valid(on) {
		return d, document.Faults{{Code: "day", At: "on", Reason: fmt.Sprintf("%q is not a day.", on), Remedy: "Write it as year, month and day: 2027-01-11."}}
	}
	switch s {
	case Accepted:
		d.Accepted, d.Disputed = slices.Clone(d.VAT), nil
	case AcceptedInPart:
		left := less(d.VAT, m.Credit)
		if m.Clean() || !someOf(left) || d.Kind == CreditNote {
			return d, document.Faults{{Code: "no_part", At: "state", Reason: "Nothing of it is to be credited, or all.", Remedy: "Accept it whole, or refuse it."}}
		}
		d.Accepted, d.Disputed = left, slices.Clone(m.Credit)
	case Refused:
		d.Accepted, d.Disputed = nil, slices.Clone(d.VAT)
	case Entered:
		fallthrough
	default:
		return d, document.Faults{{Code: "unknown_word", At: "state", Reason: fmt.Sprintf("%q decides nothing.", s), Remedy: "Accept it, accept it in part, or refuse it."}}
	}
	d.State, d.Match, d.DecidedOn = s, &m, on
	return d, nil
}

// Credit takes a credit note off the invoice it is of. What was never accepted
// of that goes first, since it was never owed; the rest is owed back, and is
// what the first value has. left is what of the invoice is still disputed
// afterwards. earlier are its credit notes before.
func Credit(note, of *Invoice, earlier []*Invoice) (back, left []ledger.VATSum, faults document.Faults) {
	if note.OwnVAT != of.OwnVAT {
		return nil, nil, document.Faults{{Code: "contradiction", At: "own_vat", Reason: "The invoice it is of accounts for VAT otherwise.", Remedy: "Say the same on both."}}
	}
	disputed, charged := slices.Clone(of.Disputed), slices.Clone(of.VAT)
	for _, e := range earlier {
		disputed = less(disputed, part(e.VAT, disputed))
		charged = less(charged, e.VAT)
	}
	for n, v := range note.VAT {
		at := slices.IndexFunc(charged, func(c ledger.VATSum) bool { return same(c, v) })
		if at < 0 || v.Net.Minor() > charged[at].Net.Minor() || v.VAT.Minor() > charged[at].VAT.Minor()+1 { // a penny of rounding
			faults = append(faults, document.Fault{Code: "more_than_there_is", At: document.Join("vat", n+1), Reason: "So much was not charged on that invoice, or was credited before.", Remedy: "Name the invoice it is of, or none."})
		}
	}
	if len(faults) > 0 {
		return nil, nil, faults
	}
	off := part(note.VAT, disputed)
	return drop(less(note.VAT, off)), drop(less(disputed, off)), nil
}

// Posting is what an invoice that was decided on does to the books; nothing
// where none of it is owed. Of a credit note rows are what Credit found to be
// owed back.
func Posting(i *Invoice, back []ledger.VATSum) ([]ledger.Line, error) {
	rows := i.Accepted
	if i.Kind == CreditNote {
		rows = make([]ledger.VATSum, len(back))
		for n, v := range back {
			v.Net, v.VAT = v.Net.Neg(), v.VAT.Neg()
			rows[n] = v
		}
	}
	if !someOf(rows) {
		return nil, nil
	}
	lines, err := ledger.Buy(i.Supplier, rows, i.Currency)
	if err != nil || i.OwnVAT == "" {
		return lines, err
	}
	own, err := ledger.AccountVAT(i.Supplier, rows, i.OwnVAT == ServiceFromAbroad)
	return append(lines, own...), err
}

// Sum is what rows come to with their VAT.
func Sum(rows []ledger.VATSum, c money.Currency) (money.Amount, error) {
	sum := money.Zero(c)
	for _, v := range rows {
		var err error
		if sum, err = money.Sum(c, sum, v.Net, v.VAT); err != nil {
			return sum, err
		}
	}
	return sum, nil
}

// part is what of rows others have at most.
func part(rows, most []ledger.VATSum) []ledger.VATSum {
	var list []ledger.VATSum
	for _, v := range rows {
		at := slices.IndexFunc(most, func(m ledger.VATSum) bool { return same(m, v) })
		if at < 0 {
			continue
		}
		if v.Net.Minor() > most[at].Net.Minor() {
			v.Net = most[at].Net
		}
		if v.VAT.Minor() > most[at].VAT.Minor() {
			v.VAT = most[at].VAT
		}
		list = append(list, v)
	}
	return list
}

// less takes rows off others; what these have not is left out.
func less(from, take []ledger.VATSum) []ledger.VATSum {
	list := slices.Clone(from)
	for _, t := range take {
		at := slices.IndexFunc(list, func(v ledger.VATSum) bool { return same(v, t) })
		if at < 0 {
			continue
		}
		var err, err2 error
		list[at].Net, err = list[at].Net.Sub(t.Net)
		list[at].VAT, err2 = list[at].VAT.Sub(t.VAT)
		if errors.Join(err, err2) != nil {
			panic("purchase: of two currencies: not checked")
		}
	}
	return list
}

func drop(rows []ledger.VATSum) []ledger.VATSum {
	return slices.DeleteFunc(rows, func(v ledger.VATSum) bool { return v.Net.IsZero() && v.VAT.IsZero() })
}

func someOf(rows []ledger.VATSum) bool {
	return slices.ContainsFunc(rows, func(v ledger.VATSum) bool { return !v.Net.IsZero() || !v.VAT.IsZero() })
}
