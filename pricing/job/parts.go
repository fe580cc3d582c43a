package job

import (
	"github.com/shopspring/decimal"
)

// PartAt is what stock and orders say of one part and a job.
type PartAt struct {
	Part string
	// Issued to the job and not put back, by stage; "" where nobody said which.
	Issued []IssuedAt
	// Kept for it on the shelf, Ordered for it and not delivered.
	Kept, Ordered decimal.Decimal
	// Wanted by other jobs, and neither in stock nor due for them.
	Wanted decimal.Decimal
	// ToppedUp: it comes from the bins, and goes back there.
	ToppedUp bool
	// Returns are as many as the supplier takes back, which no record tells.
	Returns decimal.Decimal
}

// IssuedAt is so many for one stage.
type IssuedAt struct {
	Stage    string
	Quantity decimal.Decimal
}

// PartProgress says where the parts of one code are that the job wants. Fitted
// is what was used by its board, or issued to stages that have begun, whichever
// is more: both are said of the same parts. What can go back is what other jobs
// want of it and what the supplier takes; what comes from the bins all of it.
func (j *Job) PartProgress(at *PartAt) PartProgress {
	begun, issued := decimal.Zero, decimal.Zero
	for _, m := range at.Issued {
		issued = issued.Add(m.Quantity)
		for i := range j.Stages {
			if s := &j.Stages[i]; s.Code == m.Stage && (s.State == UnderWay || s.State == Done) {
				begun = begun.Add(m.Quantity)
			}
		}
	}
	used := decimal.Zero
	for _, u := range j.UsedParts() {
		if u.Part == at.Part {
			used = used.Add(u.Used)
		}
	}
	nothing := decimal.Zero
	p := PartProgress{Part: at.Part, Ordered: decimal.Max(nothing, at.Ordered), Fitted: decimal.Max(nothing, begun, used)}
	p.Here = decimal.Max(nothing, issued.Sub(p.Fitted)).Add(decimal.Max(nothing, at.Kept))
	most := p.Ordered.Add(p.Here)
	p.CanGoBack = decimal.Min(most, decimal.Max(nothing, at.Wanted).Add(decimal.Max(nothing, at.Returns)))
	if at.ToppedUp {
		p.CanGoBack = most
	}
	return p
}
