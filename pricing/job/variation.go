package job

import (
	"encoding/json"
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/document"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
)

// VariationFormat names the shape of a Variation.
const VariationFormat = "wainscot-variation/1"

// Variation is a change of what a job is to be, worked out and priced: what the
// customer adds or drops, what a finding takes. It is offered like a quote, and
// accepted it gives the job its new sheet and total.
//
// Everything it charges stands in the price of the whole van, what is done anew
// and what cannot be credited as additions of their own. So what a job comes to
// is the total of its last accepted variation, and that is the accepted quote
// and every accepted variation's change added up, to the penny.
type Variation struct {
	Format string `json:"format"` // VariationFormat
	Job    string `json:"job"`    // id
	Number int64  `json:"number"` // of the job, from 1
	From   From   `json:"from"`
	// Release is the job's own; Edition the price-book's on Day, for what is
	// new. What is unchanged keeps its price, whatever edition it is from.
	Release quote.Release `json:"release"`
	Edition quote.Edition `json:"edition"`
	// Editions that any line of it is from.
	Editions   []string `json:"editions"`
	Engine     int      `json:"engine"`
	Day        string   `json:"day"`         // YYYY-MM-DD
	ValidUntil string   `json:"valid_until"` // the last day it can be accepted
	// Findings it answers, by their numbers.
	Findings []int  `json:"findings,omitempty"`
	Rule     Rework `json:"rule"`
	// Reckoned with: what was done, ordered and fitted when it was worked out.
	Progress Progress `json:"progress"`
	// Asked and Van are the whole van as it is to be, its price included.
	// Charges are the additions among its choices that variations have made;
	// they are carried from one to the next and are nobody's choice.
	Asked   quote.Asked `json:"asked"`
	Van     quote.Van   `json:"van"`
	Charges []string    `json:"charges,omitempty"`
	// Difference of the job's build sheet.
	Difference bom.Difference `json:"difference"`
	Rework     []ReworkLine   `json:"rework,omitempty"`
	KeptBack   []KeptLine     `json:"kept_back,omitempty"`
	// Says is the change in words, as a comparison of two revisions has it; the
	// differences of the sentences on parts of the price add up to Change.
	Says []Told `json:"says"`
	// Was the job's total, Is what it comes to then, Change the difference, with
	// its VAT.
	Was    pricing.Totals `json:"was"`
	Is     pricing.Totals `json:"is"`
	Change Sum            `json:"change"`
	VAT    []VATChange    `json:"vat"`
	// Cost and Margin are what changes of them, without VAT: for the workshop's
	// eyes only. nil where either is not known.
	Cost   *money.Amount `json:"cost,omitempty"`
	Margin *money.Amount `json:"margin,omitempty"`
	// Payments are of the change and add up to it; Schedule is of the whole job.
	Payments []pricing.Payment `json:"payments"`
	Schedule []pricing.Payment `json:"schedule"`
	Paper    quote.Paper       `json:"paper"`
	// Slot is what becomes of the days of the van; nil where it has none, or they
	// stay as they are because the work does.
	Slot *SlotChange `json:"slot,omitempty"`
	// Cancellation is what the customer is told of the right to cancel a yes that
	// is given at a distance; nil where nobody worked it out.
	Cancellation *quote.Cancellation `json:"cancellation,omitempty"`
}

// From is what a variation changes.
type From struct {
	Quote    string `json:"quote"` // id
	Revision int    `json:"revision"`
	Place    int    `json:"place"` // of the van in it, from 1
	// Variation of the job that was accepted last; 0 for none.
	Variation int64 `json:"variation,omitempty"`
}

// Told is one sentence on what is different.
type Told struct {
	About      quote.About   `json:"about"`
	Code       string        `json:"code,omitempty"`
	Says       string        `json:"says"`
	Before     *money.Amount `json:"before,omitempty"`
	After      *money.Amount `json:"after,omitempty"`
	Difference *money.Amount `json:"difference,omitempty"`
}

// Sum is money with its VAT: Net + VAT = Gross. Below nothing it is a credit.
type Sum struct {
	Net   money.Amount `json:"net"`
	VAT   money.Amount `json:"vat"`
	Gross money.Amount `json:"gross"`
}

// VATChange is what changes of the VAT of one treatment at one rate.
type VATChange struct {
	Treatment pricebook.Treatment `json:"treatment"`
	Percent   decimal.Decimal     `json:"vat_percent"`
	Sum
}

// Agreement is what a job comes to before a variation: a van of the accepted
// revision, or what the last accepted variation made of it.
type Agreement struct {
	From     From
	Release  quote.Release
	Editions []string // that its lines are from, the newest first
	Asked    quote.Asked
	Van      quote.Van
	Charges  []string
	Schedule []pricing.Payment
	Paper    quote.Paper
}

// AgreementIn is a van of an accepted document, counted from 1. false when it has
// no such van.
func AgreementIn(d *quote.Document, place int) (Agreement, bool) {
	if place < 1 || place > len(d.Vans) {
		return Agreement{}, false
	}
	a := Agreement{From: From{Quote: d.Quote, Revision: d.Revision, Place: place}, Release: d.Release,
		Editions: []string{d.Edition.Code}, Asked: d.Asked, Van: d.Vans[place-1], Paper: d.Paper}
	if d.Held != nil {
		a.addEdition(d.Held.Code)
	}
	a.Asked.Vans = slices.Clone(d.Asked.Vans[place-1 : place])
	if v := &a.Asked.Vans[0]; a.Asked.Terms.DiscountAmount != nil && v.DiscountShare == nil {
		share := a.Van.Priced.Totals.Discount
		for _, l := range a.Van.Priced.Lines {
			if l.Kind == pricing.PromiseLine { // it is in the same total
				share, _ = share.Add(l.Amount)
			}
		}
		v.DiscountShare = &share
	}
	a.Van.Extras, a.Asked.Vans[0].Extras = nil, nil
	a.Schedule = a.Van.Priced.Payments
	a.linesEditions()
	return a, true
}

// Agreement is what the job comes to once the variation is accepted.
func (v *Variation) Agreement() Agreement {
	from := v.From
	from.Variation = v.Number
	return Agreement{From: from, Release: v.Release, Editions: v.Editions, Asked: v.Asked, Van: v.Van,
		Charges: v.Charges, Schedule: v.Schedule, Paper: v.Paper}
}

func (a *Agreement) addEdition(code string) {
	if code != "" && !slices.Contains(a.Editions, code) {
		a.Editions = append(a.Editions, code)
	}
}

func (a *Agreement) linesEditions() {
	for i := range a.Van.Priced.Lines {
		a.addEdition(a.Van.Priced.Lines[i].Edition)
	}
}

// Choices are what was chosen, without what variations have charged: what a
// proposal of the next one begins with.
func (a *Agreement) Choices() bom.Choices {
	c := a.Asked.Vans[0].Choices
	c.Additions = slices.DeleteFunc(slices.Clone(c.Additions), func(d bom.Addition) bool { return slices.Contains(a.Charges, d.Code) })
	return c
}

// Proposal is what a variation is made from; a draft keeps this and nothing
// more.
type Proposal struct {
	// Choices are the customer's new ones, whole. Additions that findings and
	// earlier variations have charged are not among them.
	Choices bom.Choices `json:"choices"`
	// Additions price those of the choices that are new or changed. One with
	// the code of a finding's (FindingCode) is its price in place of the one
	// that is built up. An addition that is as it was keeps its price.
	Additions []pricing.AdditionPrice `json:"additions,omitempty"`
	// Findings it answers, by their numbers.
	Findings   []int  `json:"findings,omitempty"`
	Day        string `json:"day"`
	ValidUntil string `json:"valid_until"`
	// Role of the person who proposes it; it limits a discount.
	Role string `json:"role"`
	// Parts are where the job's parts are, and Rule the rule of rework. A draft
	// keeps of Parts what was said of what can go back, and no more: the rest is
	// looked up whenever it is worked out.
	Parts []PartProgress `json:"parts,omitempty"`
	Rule  Rework         `json:"rule"`
	// Discount takes the place of the one that was agreed; nil: it stays.
	Discount *Discount `json:"discount,omitempty"`
}

// Discount on the whole job: one of the two. 0 per cent is none.
type Discount struct {
	Percent *decimal.Decimal `json:"percent,omitempty"`
	Amount  *money.Amount    `json:"amount,omitempty"` // on the basis of the quote
}

// Encode writes a proposal as a draft keeps it.
func (p *Proposal) Encode() ([]byte, error) { return json.Marshal(p) }

// DecodeProposal reads a proposal as a draft keeps it.
func DecodeProposal(text []byte) (*Proposal, error) {
	var p Proposal
	if err := decodeStrictly(text, &p); err != nil {
		return nil, fmt.Errorf("proposal: %w", err)
	}
	return &p, nil
}

// Progress is how far a job is: what cannot be undone for nothing.
type Progress struct {
	Stages []StageProgress `json:"stages,omitempty"`
	Parts  []PartProgress  `json:"parts,omitempty"`
}

// StageProgress is how much of a stage is done.
type StageProgress struct {
	Stage string `json:"stage"`
	// DonePercent is 100 for one that is done; of one under way, of its quoted
	// hours the part that was worked.
	DonePercent int `json:"done_percent"`
}

// PartProgress is where the parts of one code are that the job wants. What is
// in none of these was never ordered.
type PartProgress struct {
	Part string `json:"part"`
	// Ordered and not here yet, Here and not fitted, Fitted; in the part's unit.
	Ordered decimal.Decimal `json:"ordered,omitzero"`
	Here    decimal.Decimal `json:"here,omitzero"`
	Fitted  decimal.Decimal `json:"fitted,omitzero"`
	// CanGoBack are as many of those ordered and here as the supplier takes
	// back or another job takes.
	CanGoBack decimal.Decimal `json:"can_go_back,omitzero"`
}

func (p *Progress) done(stage string) int64 {
	for i := range p.Stages {
		if p.Stages[i].Stage == stage {
			return int64(p.Stages[i].DonePercent)
		}
	}
	return 0
}

func (p *Progress) part(code string) *PartProgress {
	for i := range p.Parts {
		if p.Parts[i].Part == code {
			return &p.Parts[i]
		}
	}
	return &PartProgress{}
}

// check looks at a progress apart from the sheet.
func (p *Progress) check(fault func(code, at, reason, remedy string)) {
	for i := range p.Stages {
		if n := p.Stages[i].DonePercent; n < 0 || n > 100 {
			fault("out_of_range", document.Join("progress/stages", i+1)+"/done_percent", fmt.Sprintf("%d %% of a stage cannot be done.", n), "Give 0 to 100.")
		}
	}
	for i := range p.Parts {
		s := &p.Parts[i]
		if s.Ordered.Sign() < 0 || s.Here.Sign() < 0 || s.Fitted.Sign() < 0 || s.CanGoBack.Sign() < 0 || s.CanGoBack.GreaterThan(s.Ordered.Add(s.Here)) {
			fault("out_of_range", document.Join("progress/parts", i+1), "So many cannot be ordered, here, fitted, or go back.",
				"Give nothing below 0, and no more that go back than are ordered and here.")
		}
	}
}

// Encode writes a variation as it is kept: the same variation gives the same
// bytes, whose SHA-256 names it once it is sent.
func (v *Variation) Encode() ([]byte, error) { return json.Marshal(v) }

// DecodeVariation reads a variation as it is kept.
func DecodeVariation(text []byte) (*Variation, error) {
	var v Variation
	if err := decodeStrictly(text, &v); err != nil {
		return nil, fmt.Errorf("variation: %w", err)
	}
	if v.Format != VariationFormat {
		return nil, fmt.Errorf("variation: the format %q is not %q", v.Format, VariationFormat)
	}
	return &v, nil
}
