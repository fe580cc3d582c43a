package quote

import (
	"errors"
	"fmt"
	"slices"
	"time"
	"unicode/utf8"

	"wainscot/bom"
	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/pricing"
	"wainscot/pricing/money"
)

// Acceptance is the customer's yes to an issued revision. Who said it, and what
// shows that, is personal and stands beside it.
type Acceptance struct {
	// Revision that was offered.
	Revision int `json:"revision"`
	// On is the day of the contract, in the workshop's time zone; At the moment
	// it was recorded.
	On    string    `json:"on"`
	At    time.Time `json:"at"`
	How   How       `json:"how"`
	Place Place     `json:"place"`
	// TermsSHA256 is of the terms of sale the customer was shown.
	TermsSHA256 string `json:"terms_sha256"`
	// Ticked are the extras taken.
	Ticked []Tick `json:"ticked,omitempty"`
	// ExpressRequest is how the customer asked for work to begin while the
	// contract may still be cancelled; "" when they did not.
	ExpressRequest string `json:"express_request,omitempty"`
}

// How a quote was accepted.
type How string

// The ways; zero is invalid.
const (
	AtCounter How = "counter"
	OnPaper   How = "paper"
	ByLink    How = "link"
)

// Words are the ways there are.
func (How) Words() []string { return []string{string(AtCounter), string(OnPaper), string(ByLink)} }

// Tick is an extra that is taken.
type Tick struct {
	Van     int    `json:"van"` // of the quote, from 1
	Feature string `json:"feature"`
}

// maxExpressRequest bounds the words of an express request, in characters.
const maxExpressRequest = 400

// ErrOtherOffer says that a document cannot be worked again with an offer: it
// was worked out with another release, edition, or held revision.
var ErrOtherOffer = errors.New("the quote was worked out with another release or edition")

// Check finds what stands against the acceptance of a document, by a customer of
// that kind. What the ticked extras come to together is Accept's to find.
func (a *Acceptance) Check(d *Document, kind CustomerKind) document.Faults {
	var faults document.Faults
	fault := func(code, at, reason, remedy string) {
		faults = append(faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	if a.Revision != d.Revision {
		fault("other_revision", "revision", fmt.Sprintf("Revision %d is accepted, and this is revision %d.", a.Revision, d.Revision), "Show the customer the revision that is on offer.")
	}
	switch {
	case !calendar.Valid(a.On):
		fault("day", "on", fmt.Sprintf("%q is not a day.", a.On), "Write it as year, month and day: 2027-01-11.")
	case a.On < d.IssuedOn:
		fault("too_early", "on", fmt.Sprintf("It was only issued on %s.", calendar.Said(d.IssuedOn)), "Give the day of the customer's yes.")
	case Lapsed(d.ValidUntil, a.On):
		fault("lapsed", "on", fmt.Sprintf("The offer ended on %s.", calendar.Said(d.ValidUntil)), "Issue a new revision.")
	}
	if !slices.Contains(a.How.Words(), string(a.How)) {
		fault("unknown_word", "how", fmt.Sprintf("%q is no way to accept.", a.How), "Use one of counter, paper, link.")
	}
	switch {
	case !slices.Contains(a.Place.Words(), string(a.Place)):
		fault("unknown_word", "place", fmt.Sprintf("%q is no place of a sale.", a.Place), "Use one of on the premises, away from the premises, at a distance.")
	case a.How == ByLink && a.Place != AtDistance:
		fault("contradiction", "place", "Who accepts by a link is at a distance.", "Say at a distance, or record a yes at the counter.")
	}
	if kind != Private && kind != Trade {
		fault("unknown_word", "customer", fmt.Sprintf("%q is no kind of customer.", kind), "Use one of private, trade.")
	}
	if a.TermsSHA256 != d.Paper.TermsSHA256 {
		fault("other_terms", "terms_sha256", "Other terms of sale are accepted than were issued with the quote.", "Show the customer the terms of this revision.")
	}
	if reason := document.TextFault(a.ExpressRequest); reason != "" {
		fault("bad_text", "express_request", reason, "Write it as plain text.")
	} else if utf8.RuneCountInString(a.ExpressRequest) > maxExpressRequest {
		fault("too_long", "express_request", "The express request is too long.", fmt.Sprintf("Give it in at most %d characters.", maxExpressRequest))
	}
	a.checkTicks(d, fault)
	return faults.Limit()
}

func (a *Acceptance) checkTicks(d *Document, fault func(code, at, reason, remedy string)) {
	for i, t := range a.Ticked {
		path := document.Join("extras", i+1)
		switch {
		case t.Van < 1 || t.Van > len(d.Vans):
			fault("no_van", path+"/van", fmt.Sprintf("The quote has no van %d.", t.Van), fmt.Sprintf("Count them from 1 to %d.", len(d.Vans)))
		case !slices.ContainsFunc(d.Vans[t.Van-1].Extras, func(e Extra) bool { return e.Code == t.Feature }):
			fault("not_offered", path+"/feature", fmt.Sprintf("%q is no extra that was offered for this van.", t.Feature), "Tick what was offered.")
		case slices.Contains(a.Ticked[:i], t):
			fault("given_twice", path, "The extra is ticked twice.", "Keep one of the two.")
		}
	}
}

// Accept gives the document that is agreed. With nothing ticked it is the one
// that was issued; with extras ticked it is a further revision whose choices
// have them, worked out with the very release and editions of the offer, and no
// van of it costs more than it was offered at and its ticked extras together.
//
// Faults are what stands against the acceptance: Check's, and extras that do not
// go together. Errors: ErrOtherOffer, *Unready where the extras together stop
// the van (too heavy, say), and those of Work.
func Accept(o Offer, d *Document, a Acceptance, kind CustomerKind) (*Document, document.Faults, error) {
	if faults := a.Check(d, kind); len(faults) > 0 || len(a.Ticked) == 0 {
		return d, faults, nil
	}
	if !o.made(d) {
		return nil, nil, ErrOtherOffer
	}
	asked, err := ticked(o, d, a.Ticked)
	if err != nil {
		return nil, nil, err
	}
	w, faults, err := Work(o, asked)
	if err != nil || len(faults) > 0 {
		return nil, faults, err
	}
	if faults := together(&w, d, a.Ticked); len(faults) > 0 {
		return nil, faults, nil
	}
	h := d.head()
	h.Revision, h.IssuedOn = d.Revision+1, a.On
	agreed, err := Issue(w, h)
	return agreed, nil, err
}

// made says whether a document was worked out with this offer.
func (o *Offer) made(d *Document) bool {
	if o.Release.Hash() != d.Release.Hash || o.Book.Hash() != d.Edition.Hash {
		return false
	}
	return d.HeldRevision == 0 || o.Held != nil && o.Held.Revision == d.HeldRevision && o.Held.Quote == d.Quote
}

// ticked is what a document asked for with extras taken. What each van was
// offered at is kept, and its share of a discount in money, so that taking an
// extra for one van changes no other.
func ticked(o Offer, d *Document, ticks []Tick) (Asked, error) {
	asked := d.Asked
	asked.Vans = slices.Clone(asked.Vans)
	for i := range asked.Vans {
		v, offered := &asked.Vans[i], &d.Vans[i]
		v.Extras = nil
		if d.Asked.Terms.DiscountAmount != nil {
			share, err := discountOf(&offered.Priced)
			if err != nil {
				return asked, err
			}
			v.DiscountShare = &share
		}
		most := offered.Priced.Totals.Gross
		for _, e := range offered.Extras {
			if !slices.Contains(ticks, Tick{Van: i + 1, Feature: e.Code}) {
				continue
			}
			v.Choices = withExtra(o.Release.Catalogue(), v.Choices, AskedExtra{Feature: e.Code, Count: e.Count})
			v.Ticked = append(slices.Clip(v.Ticked), TickedExtra{Feature: e.Code, Count: e.Count, Gross: e.Gross})
			var err error
			if most, err = most.Add(e.Gross); err != nil {
				return asked, fmt.Errorf("van %d with its extras: %w", i+1, err)
			}
			v.AtMost = &most
		}
	}
	return asked, nil
}

// discountOf is what a price had taken off as a discount, as the terms ask for
// it: not below nothing.
func discountOf(p *pricing.Priced) (money.Amount, error) {
	off := money.Zero(p.Currency)
	for _, l := range p.Lines {
		if l.Kind != pricing.DiscountLine {
			continue
		}
		var err error
		if off, err = off.Sub(l.Amount); err != nil {
			return off, fmt.Errorf("the discount offered: %w", err)
		}
	}
	return off, nil
}

// together finds ticked extras that do not go together.
func together(w *Worked, d *Document, ticks []Tick) document.Faults {
	var faults document.Faults
	for i, t := range ticks {
		v := &w.Vans[t.Van-1]
		k := slices.IndexFunc(d.Vans[t.Van-1].Extras, func(e Extra) bool { return e.Code == t.Feature })
		offered := &d.Vans[t.Van-1].Extras[k]
		if f := featureOf(&v.Specification, t.Feature); f != nil && f.Count >= offered.Count {
			continue
		}
		reason := doesNotFit(&bom.Resolution{}, &v.Resolution)
		if reason == "" {
			reason = "Only one of its kind can be had."
		}
		faults = append(faults, document.Fault{Code: "do_not_go_together", At: document.Join("extras", i+1),
			Reason: fmt.Sprintf("“%s” does not go with the other extras. %s", offered.Words, reason), Remedy: "Take one or the other."})
	}
	for i := range w.Vans {
		if reason := doesNotFit(&bom.Resolution{}, &w.Vans[i].Resolution); reason != "" && len(faults) == 0 {
			faults = append(faults, document.Fault{Code: "do_not_go_together", At: "extras",
				Reason: fmt.Sprintf("The extras ticked for van %d do not go together. %s", i+1, reason), Remedy: "Take fewer of them."})
		}
	}
	return faults
}

// Lapsed says whether an issued offer has come to its end: it stands through
// its last day. Days are YYYY-MM-DD in the workshop's time zone, which sort as
// they follow each other.
func Lapsed(validUntil, today string) bool { return today > validUntil }
