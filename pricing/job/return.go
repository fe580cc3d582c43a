package job

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/pricing/money"
)

// Return is a finished van that comes back: a job without a quote. What is to be
// done stands in it, and who pays.
type Return struct {
	// Of is the id of the job it was built by; "" where that is not known.
	Of  string       `json:"of,omitempty"`
	Why ReturnReason `json:"why"`
	// Supplier on whom a supplier's claim is made.
	Supplier string `json:"supplier,omitempty"`
	// Says is what is the matter.
	Says Note `json:"says"`
	// Release of the catalogue its stages, trades and parts are of.
	Release int64           `json:"release"`
	Hours   []ReturnHours   `json:"hours,omitempty"`
	Parts   []ReturnPart    `json:"parts,omitempty"`
	Outside []ReturnOutside `json:"outside,omitempty"`
	// Price with VAT, of a visit the customer pays.
	Price *money.Amount `json:"price,omitempty"`
}

// ReturnHours are hours of one trade at one stage.
type ReturnHours struct {
	Stage string          `json:"stage"`
	Trade string          `json:"trade"`
	Hours decimal.Decimal `json:"hours"`
}

// ReturnPart is so much of a part at one stage.
type ReturnPart struct {
	Stage    string          `json:"stage"`
	Part     string          `json:"part"`
	Quantity decimal.Decimal `json:"quantity"`
}

// ReturnOutside is outside work at one stage; the certificate it returns is
// waited for at the handover.
type ReturnOutside struct {
	Stage   string `json:"stage"`
	Outside string `json:"outside"`
}

// ReturnReason is why a van comes back.
type ReturnReason string

// The reasons; zero is invalid.
const (
	UnderWarranty  ReturnReason = "warranty"
	SuppliersClaim ReturnReason = "supplier's claim"
	Goodwill       ReturnReason = "goodwill"
	PaidVisit      ReturnReason = "paid"
)

// Words are the reasons there are.
func (ReturnReason) Words() []string {
	return []string{string(UnderWarranty), string(SuppliersClaim), string(Goodwill), string(PaidVisit)}
}

// Pays says who bears what the visit costs: the workshop, the supplier or the
// customer.
func (r ReturnReason) Pays() string {
	switch r {
	case SuppliersClaim:
		return "supplier"
	case PaidVisit:
		return "customer"
	}
	return "workshop"
}

// maxReturnLines of each list of a return visit.
const maxReturnLines = 200

// NewReturn is the job of a return visit, agreed today. c is the catalogue of
// its release; says is what is the matter.
func NewReturn(a Act, r Return, says, baseVan string, c *catalogue.Catalogue) (Job, document.Faults) {
	begun := Job{Format: Format, State: Agreed, BaseVan: baseVan, AgreedOn: a.On}
	w := begun.write(a)
	r.check(w, c)
	r.Says = w.note("says", says, true)
	sheet := r.Sheet(baseVan, c)
	w.Stages = stagesOf(&sheet, c.Stages)
	w.Return = &r
	return w.done()
}

func (r *Return) check(w *writing, c *catalogue.Catalogue) {
	if !slices.Contains(r.Why.Words(), string(r.Why)) {
		w.fault("unknown_word", "why", fmt.Sprintf("%q is no reason for a return visit.", r.Why), document.Suggest(string(r.Why), r.Why.Words(), ""))
	}
	switch {
	case r.Why == SuppliersClaim && r.Supplier == "":
		w.fault("missing", "supplier", "Nothing says which supplier bears it.", "Name the supplier.")
	case r.Why != SuppliersClaim && r.Supplier != "":
		w.fault("contradiction", "supplier", "Only a supplier's claim is a supplier's.", "Leave the supplier out, or make it a supplier's claim.")
	case r.Why == PaidVisit && r.Price == nil:
		w.fault("missing", "price", "Nothing says what the customer pays.", "Give the price, with VAT.")
	case r.Why != PaidVisit && r.Price != nil:
		w.fault("contradiction", "price", "Only a visit the customer pays has a price.", "Leave the price out, or make it a paid visit.")
	case r.Price != nil && r.Price.Sign() < 0:
		w.fault("out_of_range", "price", "A price is not below nothing.", "Give 0 or more.")
	}
	if len(r.Hours)+len(r.Parts)+len(r.Outside) == 0 {
		w.fault("missing", "hours", "There is nothing to do.", "Give hours, a part or outside work; a quarter of an hour to look at it.")
	}
	if len(r.Hours) > maxReturnLines || len(r.Parts) > maxReturnLines || len(r.Outside) > maxReturnLines {
		w.fault("too_many", "hours", "That is more than a return visit.", fmt.Sprintf("At most %d of each; quote what is more.", maxReturnLines))
		return
	}
	known := func(at, what, code string, list []string) {
		if !slices.Contains(list, code) {
			w.fault("unknown_code", at, fmt.Sprintf("The release has no %s %q.", what, code), document.Suggest(code, list, ""))
		}
	}
	stages := codesOf(c.Stages, func(s catalogue.Stage) string { return s.Code })
	trades := codesOf(c.Trades, func(t catalogue.Trade) string { return t.Code })
	outside := codesOf(c.OutsideWork, func(o catalogue.OutsideWork) string { return o.Code })
	for i, h := range r.Hours {
		at := document.Join("hours", i+1)
		known(at+"/stage", "stage", h.Stage, stages)
		known(at+"/trade", "trade", h.Trade, trades)
		if h.Hours.Sign() <= 0 || h.Hours.GreaterThan(decimal.New(bom.MaxAdditionHours, 0)) || h.Hours.Exponent() < -hourPlaces {
			w.fault("out_of_range", at+"/hours", "Nobody works so many hours on it.", fmt.Sprintf("Give more than 0 and at most %d, to a hundredth.", bom.MaxAdditionHours))
		}
	}
	for i, p := range r.Parts {
		at := document.Join("parts", i+1)
		known(at+"/stage", "stage", p.Stage, stages)
		part := partOf(c, p.Part)
		if part == nil {
			known(at+"/part", "part", p.Part, codesOf(c.Parts, func(p catalogue.Part) string { return p.Code }))
			continue
		}
		if p.Quantity.Sign() <= 0 || p.Quantity.GreaterThan(decimal.New(10_000, 0)) || -p.Quantity.Exponent() > int32(part.Decimals) {
			w.fault("out_of_range", at+"/quantity", "The part is not issued in such a quantity.", fmt.Sprintf("Give more than 0 and at most 10000, with at most %d decimals.", part.Decimals))
		}
	}
	for i, o := range r.Outside {
		at := document.Join("outside", i+1)
		known(at+"/stage", "stage", o.Stage, stages)
		known(at+"/outside", "outside work", o.Outside, outside)
	}
}

// Sheet is what is to be done as a build sheet: what board, stores and papers
// read. It has no masses and no checks.
func (r *Return) Sheet(baseVan string, c *catalogue.Catalogue) bom.Sheet {
	return r.sheet("Return visit: "+string(r.Why), baseVan, c)
}

func (r *Return) sheet(says, baseVan string, c *catalogue.Catalogue) bom.Sheet {
	s := bom.Sheet{Format: bom.SheetFormat, BaseVan: baseVan}
	add := func(l bom.Line) {
		for i := range s.Lines {
			if o := &s.Lines[i]; o.Stage == l.Stage && o.Kind == l.Kind && o.Code == l.Code {
				o.Quantity = o.Quantity.Add(l.Quantity)
				o.Because[0].Quantity = o.Quantity
				return
			}
		}
		l.Because = []bom.Because{{Quantity: l.Quantity, Says: says}}
		s.Lines = append(s.Lines, l)
	}
	for _, p := range r.Parts {
		if part := partOf(c, p.Part); part != nil {
			add(bom.Line{Stage: p.Stage, Kind: bom.PartLine, Code: p.Part, Name: part.Name, Quantity: p.Quantity, Unit: string(part.Unit), Provision: part.Provision})
		}
	}
	for _, h := range r.Hours {
		trade, _ := find(c.Trades, func(t *catalogue.Trade) bool { return t.Code == h.Trade })
		add(bom.Line{Stage: h.Stage, Kind: bom.HoursLine, Code: h.Trade, Name: trade.Name, Quantity: h.Hours, Unit: "h"})
		s.Hours = s.Hours.Add(h.Hours)
	}
	var cautions []catalogue.Caution
	for _, o := range r.Outside {
		work, _ := find(c.OutsideWork, func(w *catalogue.OutsideWork) bool { return w.Code == o.Outside })
		add(bom.Line{Stage: o.Stage, Kind: bom.OutsideLine, Code: o.Outside, Name: work.Name, Quantity: decimal.New(1, 0), Unit: "visit"})
		cautions = append(cautions, work.Caution...)
		if there := slices.ContainsFunc(s.Certificates, func(k bom.Certificate) bool { return k.Outside == o.Outside }); work.Certificate != "" && !there {
			s.Certificates = append(s.Certificates, bom.Certificate{Name: work.Certificate, Outside: o.Outside})
		}
	}
	s.Cautions = bom.Cautions(cautions)
	order := codesOf(c.Stages, func(s catalogue.Stage) string { return s.Code })
	slices.SortStableFunc(s.Lines, func(a, b bom.Line) int {
		return cmp.Compare(slices.Index(order, a.Stage), slices.Index(order, b.Stage))
	})
	for i := range c.Stages {
		t := bom.StageTotal{Stage: c.Stages[i].Code, Name: c.Stages[i].Name}
		for k := range s.Lines {
			if l := &s.Lines[k]; l.Stage == t.Stage {
				t.Lines++
				if l.Kind == bom.HoursLine {
					t.Hours = t.Hours.Add(l.Quantity)
				}
			}
		}
		s.Stages = append(s.Stages, t)
	}
	return s
}
