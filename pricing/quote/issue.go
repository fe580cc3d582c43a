package quote

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"

	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/bom/options"
	"wainscot/pricing/money"
)

// Head is what a document says beside what was worked out.
type Head struct {
	Quote    string // its id
	Number   int64
	Revision int // from 1
	// IssuedOn is the day of issue. The last day of the offer is
	// Asked.Terms.ValidUntil.
	IssuedOn    string
	Customer    string // ids
	EndCustomer string
	// Paper is printed with it. TermsSHA256 and Reference are filled in where
	// they are empty.
	Paper Paper
}

// Unready is the error of issuing a quote that something stands in the way of.
type Unready struct {
	// Vans has one list for every van, empty for one that is ready.
	Vans [][]bom.NotReady
}

// Error lists what stands in the way, a line each.
func (u *Unready) Error() string {
	var b strings.Builder
	b.WriteString("the quote is not ready to issue:")
	for i, list := range u.Vans {
		for _, n := range list {
			fmt.Fprintf(&b, "\nvan %d: %s", i+1, n.Says)
		}
	}
	return b.String()
}

// Issue freezes what was worked out. The same Worked and Head give the same
// document, and that the same bytes.
//
// Errors: *Unready when anything stands in the way; document.Faults when the
// head is not whole (a day that is none, an offer that ends before it begins,
// terms that are not those of their hash).
func Issue(w Worked, h Head) (*Document, error) {
	if err := h.check(&w).Err(); err != nil {
		return nil, err
	}
	if !w.Ready() {
		u := &Unready{Vans: make([][]bom.NotReady, len(w.Vans))}
		for i := range w.Vans {
			u.Vans[i] = w.Vans[i].NotReady
		}
		return nil, u
	}
	return freeze(&w, h)
}

// freeze makes the document, ready or not.
func freeze(w *Worked, h Head) (*Document, error) {
	o := &w.Offer
	d := &Document{
		Format: Format, Quote: h.Quote, Number: h.Number, Revision: h.Revision,
		IssuedOn: h.IssuedOn, ValidUntil: w.Asked.Terms.ValidUntil,
		Customer: h.Customer, EndCustomer: h.EndCustomer,
		Release: Release{Number: o.Number, Hash: o.Release.Hash(), Title: o.Release.Catalogue().Title},
		Edition: Edition{Code: o.Book.Edition().Code, Hash: o.Book.Hash()},
		Engine:  options.Engine,
		Asked:   w.Asked,
		Vans:    make([]Van, len(w.Vans)),
		Totals:  w.Totals, Payments: w.Payments,
		Paper: h.Paper,
	}
	d.Asked.Format = AskedFormat
	if o.holds(&w.Asked) {
		held := o.Held.Edition
		d.Held, d.HeldRevision = &held, o.Held.Revision
	}
	for i := range w.Vans {
		d.Vans[i] = w.Vans[i].Van
	}
	d.Paper.TermsSHA256 = SHA256([]byte(d.Paper.Terms))
	if d.Paper.Reference == "" {
		var err error
		if d.Paper.Reference, err = Reference(h.Number, 0); err != nil {
			return nil, err
		}
	}
	return d, nil
}

// head gives back what a document was issued with.
func (d *Document) head() Head {
	return Head{Quote: d.Quote, Number: d.Number, Revision: d.Revision, IssuedOn: d.IssuedOn,
		Customer: d.Customer, EndCustomer: d.EndCustomer, Paper: d.Paper}
}

func (h *Head) check(w *Worked) document.Faults {
	var faults document.Faults
	fault := func(code, at, reason, remedy string) {
		faults = append(faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	if h.Quote == "" || h.Number < 1 || h.Revision < 1 {
		fault("missing", "quote", "A quote that is issued has an id, a number and a revision.", "Give all three, the numbers from 1.")
	}
	until := w.Asked.Terms.ValidUntil
	for _, d := range []struct{ at, day string }{{"issued_on", h.IssuedOn}, {"terms/valid_until", until}} {
		if !calendar.Valid(d.day) {
			fault("day", d.at, fmt.Sprintf("%q is not a day.", d.day), "Write it as year, month and day: 2027-01-11.")
		}
	}
	if len(faults) == 0 && until < h.IssuedOn {
		fault("contradiction", "terms/valid_until", fmt.Sprintf("The offer would end on %s, before it is made on %s.", until, h.IssuedOn), "Name a later last day.")
	}
	if have := h.Paper.TermsSHA256; have != "" && have != SHA256([]byte(h.Paper.Terms)) {
		fault("contradiction", "paper/terms_sha256", "The hash is not of these terms of sale.", "Leave it out, or give the terms it is of.")
	}
	if r := h.Paper.Reference; r != "" && !money.ValidReference(r) {
		fault("does_not_hold", "paper/reference", fmt.Sprintf("%q is no creditor reference.", r), "Leave it out.")
	}
	if len(w.Vans) == 0 || len(w.Vans) != len(w.Asked.Vans) {
		fault("missing", "vans", "Nothing has been worked out.", "Work the quote out first.")
	}
	for i := range w.Asked.Vans {
		if f := &w.Asked.Vans[i].Facts; f.Registration != "" || f.VIN != "" {
			fault("belongs_elsewhere", at(i, "facts"), "A registration or vehicle identification number is no part of a quote that is frozen.",
				"Keep them with the van, and name it by its id.")
		}
	}
	return faults
}

// SHA256 of bytes in hexadecimal: of Encode's, the document's hash.
func SHA256(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}
