package api

import (
	"github.com/shopspring/decimal"

	"wainscot/api/store"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/supply"
	"wainscot/pricing/job"
)

// moveParts moves stock as the board of a job has changed. A part of which
// nothing ever moved has no stock that is kept: only what is taken off a van
// begins one. Consumables are never counted. What was issued to the job and is
// at no stage yet goes first, so that nothing goes out twice.
func (b *build) moveParts(tx store.WriteTx, was, now *job.Job) error {
	moves := was.MovesTo(now)
	if len(moves) == 0 {
		return nil
	}
	moved, err := tx.MovedForJob(b.ID)
	if err != nil {
		return err
	}
	for _, m := range moves {
		if b.consumable(m.Part) {
			continue
		}
		kept, err := tx.Stock(m.Part)
		if err != nil {
			return err
		}
		one := store.StockMove{Job: b.ID, Stage: m.Stage, Knowing: b.knowing}
		switch {
		case m.Stage == "":
			one.Movement = supply.Movement{Kind: supply.Adjusted, Quantity: m.Quantity.Neg()}
		case kept.Moved == 0:
			continue
		case m.Quantity.IsPositive():
			left := m.Quantity.Sub(decimal.Min(m.Quantity, loose(moved, was, m.Part)))
			if left.IsZero() {
				continue
			}
			one.Movement = supply.Movement{Kind: supply.Issued, Quantity: left}
		default:
			one.Movement = supply.Movement{Kind: supply.PutBack, Quantity: m.Quantity.Neg()}
		}
		if _, _, err := tx.MoveStock(m.Part, one); err != nil {
			return refusedBy(err)
		}
	}
	return nil
}

// loose is what of a part was issued to a job and is on no entry of its board.
func loose(moved []store.StockMovement, j *job.Job, part string) decimal.Decimal {
	var sum decimal.Decimal
	for _, m := range moved {
		if m.Part == part {
			sum = sum.Add(issued(m))
		}
	}
	for _, u := range j.UsedParts() {
		if u.Part == part {
			sum = sum.Sub(u.Used)
		}
	}
	return decimal.Max(sum, decimal.Zero)
}

// issued is how much a movement took to its job; below nothing it brought it
// back. What was part of the van before was never taken there.
func issued(m store.StockMovement) decimal.Decimal {
	if m.Kind != supply.Issued && m.Kind != supply.PutBack {
		return decimal.Zero
	}
	return m.Change.Neg()
}

func (b *build) consumable(part string) bool {
	for i := range b.catalogue.Parts {
		if p := &b.catalogue.Parts[i]; p.Code == part {
			return p.Provision == catalogue.Consumable
		}
	}
	return false
}

// onBoard records on a job's board what is moved at the stock to or from a stage
// of it: the other door of the same room.
func (b *build) onBoard(tx store.WriteTx, by, part string, m store.StockMove) error {
	whole, err := tx.WholeJob(b.ID)
	if err != nil {
		return err
	}
	if whole.Content.Variation != b.Content.Variation {
		return store.ErrStale // the plan is of another sheet
	}
	quantity := m.Quantity
	if m.Kind == supply.PutBack {
		quantity = quantity.Neg()
	}
	now, faults := whole.Content.Use(&b.plan, job.Act{On: b.today, Today: b.today, By: by}, job.NewPart{Part: part, Stage: m.Stage, Quantity: quantity, Counted: true}, b.known)
	if len(faults) > 0 {
		return buildRefused(faults)
	}
	packed, err := store.PackJob(&now)
	if err != nil {
		return err
	}
	_, err = tx.ChangeWholeJob(whole, &now, packed)
	return err
}

// boardOf says whether a movement of a part belongs on the board of its job: to
// or from a stage. What comes back of a job that is over does not change it any
// more.
func boardOf(b *build, t *thing, m *store.StockMove) bool {
	if m.Stage == "" || t.kit != nil || b.consumable(t.code) {
		return false
	}
	over := b.State == job.HandedOver || b.State == job.Cancelled
	return m.Kind == supply.Issued || m.Kind == supply.PutBack && !over
}

// backFromNoStage: what is at a stage comes back from there, else its board
// would have what is on the shelf.
func backFromNoStage(tx store.ReadTx, t *thing, m *store.StockMove) error {
	if m.Kind != supply.PutBack || m.Stage != "" || t.kit != nil {
		return nil
	}
	whole, err := tx.WholeJob(m.Job)
	if err != nil || whole.State == job.HandedOver || whole.State == job.Cancelled {
		return err
	}
	moved, err := tx.MovedForJob(m.Job)
	if err != nil {
		return err
	}
	if there := loose(moved, whole.Content, t.code); m.Quantity.GreaterThan(there) {
		return supplyRefused(document.Faults{{Code: "at_a_stage", At: "stage", Reason: "At no stage of the job there are " + there.String() + ".",
			Remedy: "Name the stage it comes back from."}})
	}
	return nil
}
