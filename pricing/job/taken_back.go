package job

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/document"
)

// TakenBack says that an entry was recorded wrongly: a part, a serial number,
// or where something went that was taken out. The entry stays where it is, and
// counts for nothing any more; what it should have been is recorded anew. (Of
// hours it is a counter-entry: they count by the day.)
type TakenBack struct {
	Number  int    `json:"number"`
	Entry   int    `json:"entry"` // its number
	On      string `json:"on"`
	By      string `json:"by"`
	Because Note   `json:"because"`
}

// TookBack is the word that took an entry back; false while it counts.
func (j *Job) TookBack(entry int) (TakenBack, bool) {
	return find(j.TakenBack, func(t *TakenBack) bool { return t.Entry == entry })
}

// Entry says what an entry that may be taken back is: a part, a serial or
// something removed, and of what.
func (j *Job) Entry(number int) (what, code string) {
	if e, ok := find(j.Parts, func(e *PartUsed) bool { return e.Number == number }); ok {
		return "part", e.Part
	}
	if e, ok := find(j.Serials, func(e *Serial) bool { return e.Number == number }); ok {
		return "serial", e.Part
	}
	if e, ok := find(j.Removed, func(e *Removed) bool { return e.Number == number }); ok {
		return "removed", e.Feature
	}
	return "", ""
}

func (j *Job) counts(entry int) bool {
	_, back := j.TookBack(entry)
	return !back
}

// Fitted says whether a serial number is of something that is in the van: not
// taken back, and not replaced by another that counts.
func (j *Job) Fitted(s *Serial) bool {
	return j.counts(s.Number) && (s.ReplacedBy == 0 || !j.counts(s.ReplacedBy))
}

// TakeBackPart takes back a part that was recorded as issued or returned.
func (j *Job) TakeBackPart(a Act, number int, because string) (Job, document.Faults) {
	w := j.write(a)
	e, ok := find(j.Parts, func(e *PartUsed) bool { return e.Number == number })
	w.takeBack(ok, number, because)
	if left := w.Used(e.Stage, e.Part); ok && left.IsNegative() {
		w.fault("more_than_issued", "entry", fmt.Sprintf("%s came back of what this one issued.", left.Neg()), "Take back first that it came back.")
	}
	return w.done()
}

// TakeBackSerial takes back a serial or batch number. What it had taken the
// place of is in the van again.
func (j *Job) TakeBackSerial(a Act, number int, because string) (Job, document.Faults) {
	w := j.write(a)
	e, ok := find(j.Serials, func(e *Serial) bool { return e.Number == number })
	if ok && e.ReplacedBy != 0 && j.counts(e.ReplacedBy) {
		w.fault(NotInThisState, "entry", fmt.Sprintf("Entry %d has taken its place.", e.ReplacedBy), "Take that back first.")
	}
	w.takeBack(ok, number, because)
	for i := range w.Serials {
		s := &w.Serials[i]
		twice := func(o Serial) bool {
			return o.Number != s.Number && sameOne(&o, s.Part, s.Kind, s.Value) && w.Fitted(&o)
		}
		if ok && s.ReplacedBy == number && slices.ContainsFunc(w.Serials, twice) {
			w.fault("given_twice", "entry", fmt.Sprintf("With it the serial number %s would be in the van twice.", s.Value), "Take the other one back first.")
		}
	}
	return w.done()
}

// TakeBackRemoved takes back where something went that was taken out; what was
// said of it before holds again.
func (j *Job) TakeBackRemoved(a Act, number int, because string) (Job, document.Faults) {
	w := j.write(a)
	_, ok := find(j.Removed, func(e *Removed) bool { return e.Number == number })
	w.takeBack(ok, number, because)
	return w.done()
}

func (w *writing) takeBack(known bool, number int, because string) {
	w.room(len(w.TakenBack), "entry")
	switch {
	case !known:
		w.fault("unknown_entry", "entry", fmt.Sprintf("The job has no such entry %d.", number), "Name one of its entries.")
	case !w.counts(number):
		w.fault(NotInThisState, "entry", "The entry is taken back already.", "Read them again.")
	}
	back := TakenBack{Number: w.number(), Entry: number, On: w.act.On, By: w.act.By}
	back.Because = w.note("because", because, true)
	w.TakenBack = append(w.TakenBack, back)
}

// sameOne says whether a serial is the number of that one thing.
func sameOne(s *Serial, part string, kind SerialKind, value string) bool {
	return s.Kind == OfOne && kind == OfOne && s.Part == part && s.Value == value
}

// Move is what a change of a job moves of a part: so much goes from the shelf
// to a stage, or, below nothing, comes back from there. Without a stage it was
// part of the van and is kept (below nothing), or is so no more.
type Move struct {
	Part, Stage string
	Quantity    decimal.Decimal
}

// MovesTo are what has moved when j has become after: by what was recorded, or
// taken back, in between. By what the entries come to, not by the entries, so
// that nothing moves twice.
func (j *Job) MovesTo(after *Job) []Move {
	var list []Move
	add := func(part, stage string, quantity decimal.Decimal) {
		i := slices.IndexFunc(list, func(m Move) bool { return m.Part == part && m.Stage == stage })
		if i < 0 {
			i, list = len(list), append(list, Move{Part: part, Stage: stage})
		}
		list[i].Quantity = list[i].Quantity.Add(quantity)
	}
	for _, u := range after.UsedParts() {
		add(u.Part, u.Stage, u.Used)
	}
	for _, u := range j.UsedParts() {
		add(u.Part, u.Stage, u.Used.Neg())
	}
	for _, s := range after.shelved() {
		add(s.Part, "", s.Quantity.Neg())
	}
	for _, s := range j.shelved() {
		add(s.Part, "", s.Quantity)
	}
	return slices.DeleteFunc(list, func(m Move) bool { return m.Quantity.IsZero() })
}

// shelved is what is kept of all that was taken out, by the last word on each.
func (j *Job) shelved() []Shelved {
	var list []Shelved
	for i := range j.Removed {
		r := &j.Removed[i]
		if last, ok := j.WentTo(r.Feature); ok && last.Number == r.Number {
			list = append(list, r.Shelved...)
		}
	}
	return list
}
