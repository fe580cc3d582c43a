package supply

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/document"
)

// Stock is what is on the shelf of one part or kit: what has moved in, less
// what has moved out.
type Stock struct {
	OnHand decimal.Decimal
	// Kept for jobs, by job; no more than is on hand, unless somebody knew.
	Kept []Kept
}

// Kept is what of the stock is for one job.
type Kept struct {
	Job      string          `json:"job"`
	Quantity decimal.Decimal `json:"quantity"`
}

// Movement is something that moved in or out.
type Movement struct {
	Kind MovementKind
	// Quantity is above nothing; of a count it is what was counted, and of an
	// adjustment what there is more or, below nothing, less.
	Quantity decimal.Decimal
	Job      string // issued to, put back from, or kept for
}

// MovementKind is what happened.
type MovementKind string

// The kinds; zero is invalid.
const (
	Delivered MovementKind = "delivered" // by a supplier, in
	Built     MovementKind = "built"     // a kit, at the bench, in
	PutBack   MovementKind = "put back"  // from a job, in
	Issued    MovementKind = "issued"    // to a job, out
	BuiltIn   MovementKind = "built in"  // into a kit, at the bench, out
	Returned  MovementKind = "returned"  // to a supplier, out
	Scrapped  MovementKind = "scrapped"  // out
	Counted   MovementKind = "counted"   // so much is there
	Adjusted  MovementKind = "adjusted"  // so much more or less
)

// Words are the kinds there are.
func (MovementKind) Words() []string {
	return []string{string(Delivered), string(Built), string(PutBack), string(Issued), string(BuiltIn),
		string(Returned), string(Scrapped), string(Counted), string(Adjusted)}
}

// MostStock is more than may lie on a shelf, and less than nothing by as much.
const MostStock = 1_000_000_000

// Moved is what a movement did.
type Moved struct {
	// Change of what is on hand.
	Change decimal.Decimal
	// Below: less than nothing is on hand now, and somebody knew.
	Below bool
	// Short: less is on hand now than is kept for jobs.
	Short bool
}

// Move gives the stock after a movement. What would leave less than nothing,
// or less than is kept for others, is refused unless knowing; then Moved says
// so. What is issued to a job comes off what is kept for it first.
func (s Stock) Move(m Movement, knowing bool) (Stock, Moved, document.Faults) {
	var did Moved
	if fault := m.check(); fault != nil {
		return s, did, document.Faults{*fault}
	}
	switch m.Kind {
	case Delivered, Built, PutBack, Adjusted:
		did.Change = m.Quantity
	case Issued, BuiltIn, Returned, Scrapped:
		did.Change = m.Quantity.Neg()
	case Counted:
		did.Change = m.Quantity.Sub(s.OnHand)
	}
	after := Stock{OnHand: s.OnHand.Add(did.Change), Kept: s.Kept}
	if m.Kind == Issued && m.Job != "" {
		after.Kept = s.Without(m.Job, m.Quantity)
	}
	if after.OnHand.Abs().GreaterThanOrEqual(decimal.New(MostStock, 0)) {
		return s, did, document.Faults{{Code: "too_much", At: "quantity", Reason: fmt.Sprintf("There would be %s of it.", after.OnHand), Remedy: "Look at the unit."}}
	}
	less := did.Change.Sign() < 0
	did.Below = less && after.OnHand.Sign() < 0
	did.Short = less && after.KeptInAll().GreaterThan(after.OnHand)
	switch {
	case knowing:
	case did.Below:
		return s, Moved{}, document.Faults{{Code: "below_nothing", At: "quantity", Reason: fmt.Sprintf("There are %s, and that leaves %s.", s.OnHand, after.OnHand),
			Remedy: "Count what is there, or say that it is known."}}
	case did.Short:
		return s, Moved{}, document.Faults{{Code: "kept_for_jobs", At: "quantity",
			Reason: fmt.Sprintf("That leaves %s, and %s are kept for jobs.", after.OnHand, after.KeptInAll()),
			Remedy: "Keep less for them first, or say that it is known."}}
	}
	return after, did, nil
}

func (m *Movement) check() *document.Fault {
	if !slices.Contains(m.Kind.Words(), string(m.Kind)) {
		return &document.Fault{Code: "kind", At: "kind", Reason: fmt.Sprintf("Nothing moves as %q.", m.Kind), Remedy: "Name one of the movements there are."}
	}
	size := m.Quantity
	if m.Kind == Adjusted {
		size = size.Abs()
	}
	if _, ok := millionthsOf(size); !ok || size.IsZero() && m.Kind != Counted {
		return &document.Fault{Code: "quantity", At: "quantity", Reason: "It is not so much of anything.", Remedy: "Write up to a million, with at most six decimals, and less than nothing only of an adjustment."}
	}
	if (m.Kind == Issued || m.Kind == PutBack) && m.Job == "" {
		return &document.Fault{Code: "no_job", At: "job", Reason: "Nothing says to or from which job.", Remedy: "Name the job."}
	}
	return nil
}

// Keep puts what is kept for a job to a quantity; nothing takes it away. No
// more is kept than there is.
func (s Stock) Keep(job string, quantity decimal.Decimal) (Stock, document.Faults) {
	if _, ok := millionthsOf(quantity); !ok {
		return s, document.Faults{{Code: "quantity", At: "quantity", Reason: "It is not so much of anything.", Remedy: "Write up to a million, with at most six decimals."}}
	}
	after := Stock{OnHand: s.OnHand}
	for _, k := range s.Kept {
		if k.Job != job {
			after.Kept = append(after.Kept, k)
		}
	}
	if quantity.Sign() > 0 {
		after.Kept = append(after.Kept, Kept{job, quantity})
	}
	if more := quantity.Sub(s.KeptFor(job)); more.Sign() > 0 && after.KeptInAll().GreaterThan(s.OnHand) {
		return s, document.Faults{{Code: "not_there", At: "quantity", Reason: fmt.Sprintf("There are %s, and %s are kept for other jobs.", s.OnHand, after.KeptInAll().Sub(quantity)),
			Remedy: "Keep what there is."}}
	}
	return after, nil
}

// Without is what is kept when so much less is kept for a job, never below
// nothing.
func (s Stock) Without(job string, quantity decimal.Decimal) (kept []Kept) {
	for _, k := range s.Kept {
		if k.Job == job {
			if k.Quantity = k.Quantity.Sub(quantity); k.Quantity.Sign() <= 0 {
				continue
			}
		}
		kept = append(kept, k)
	}
	return kept
}

// KeptFor is what is kept for one job.
func (s Stock) KeptFor(job string) decimal.Decimal {
	for _, k := range s.Kept {
		if k.Job == job {
			return k.Quantity
		}
	}
	return decimal.Zero
}

// KeptInAll is what is kept for all jobs together.
func (s Stock) KeptInAll() decimal.Decimal {
	var sum decimal.Decimal
	for _, k := range s.Kept {
		sum = sum.Add(k.Quantity)
	}
	return sum
}

// Holdings are what of it netting may use: what is kept, by job, as far as
// there is any, and what is free.
func (s Stock) Holdings(kind Kind, code string) (list []Holding) {
	left := s.OnHand
	for _, k := range s.Kept {
		q := decimal.Min(k.Quantity, left)
		if q.Sign() <= 0 {
			break
		}
		list, left = append(list, Holding{kind, code, k.Job, q}), left.Sub(q)
	}
	if left.Sign() > 0 {
		list = append(list, Holding{Kind: kind, Code: code, Quantity: left})
	}
	return list
}
