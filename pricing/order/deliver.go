package order

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/bom/supply"
	"wainscot/pricing/money"
)

// Delivery is what came at once.
type Delivery struct {
	// Number in its order, from 1.
	Number int    `json:"number"`
	On     string `json:"on"` // YYYY-MM-DD
	// Note is the number of the supplier's delivery note.
	Note string `json:"note,omitempty"`
	// By is the id of whoever took it in.
	By    string          `json:"by"`
	Lines []DeliveredLine `json:"lines"`
	// Carriage on the note, without VAT; nil where it says none.
	Carriage    *money.Amount `json:"carriage,omitempty"`
	Differences []Difference  `json:"differences,omitempty"`
}

// DeliveredLine is what came of one line.
type DeliveredLine struct {
	// Line of the order, from 1.
	Line int `json:"line"`
	// Code of what came: another than was ordered is a difference.
	Code string `json:"code"`
	// Quantity counted, and Noted on the delivery note where that says
	// otherwise.
	Quantity decimal.Decimal  `json:"quantity"`
	Noted    *decimal.Decimal `json:"noted,omitempty"`
	// UnitPrice on the note; nil where it says none.
	UnitPrice   *money.UnitPrice `json:"unit_price,omitempty"`
	Differences []Difference     `json:"differences,omitempty"`
}

// Difference is something that came otherwise than it was ordered.
type Difference struct {
	What    What   `json:"what"`
	Ordered string `json:"ordered"`
	Came    string `json:"came"`
	// Money: the two are amounts, which not everybody is shown.
	Money bool `json:"money,omitempty"`
}

// What is different.
type What string

// What can be; zero is invalid.
const (
	OtherPart     What = "part"
	MoreThanAsked What = "quantity"       // more than was still to come
	OtherThanNote What = "quantity noted" // counted otherwise than the note says
	OtherPrice    What = "price"
	OtherCarriage What = "carriage"
	CameLate      What = "late" // after the day it was wanted
)

// Words are all there are.
func (What) Words() []string {
	return []string{string(OtherPart), string(MoreThanAsked), string(OtherThanNote), string(OtherPrice), string(OtherCarriage), string(CameLate)}
}

// Deliver takes in what came. Differences are worked out and kept with it;
// those given are put aside. The order is closed when all of it is here.
func (o Order) Deliver(d Delivery) (Order, document.Faults) {
	if !o.State.Open() {
		return o, o.not("delivered", "Only what was placed, and is neither closed nor cancelled, can be delivered.")
	}
	if faults := o.checkDelivery(&d); len(faults) > 0 {
		return o, faults
	}
	o.Lines = slices.Clone(o.Lines)
	d.Number, d.Lines, d.Differences = len(o.Deliveries)+1, slices.Clone(d.Lines), nil
	for i := range d.Lines {
		came := &d.Lines[i]
		line := &o.Lines[came.Line-1]
		came.Differences = differences(line, came, d.On)
		line.Delivered = line.Delivered.Add(came.Quantity)
	}
	if d.Carriage != nil && o.Carriage != nil && d.Number == 1 && *d.Carriage != *o.Carriage {
		d.Differences = append(d.Differences, Difference{OtherCarriage, o.Carriage.Fixed(), d.Carriage.Fixed(), true})
	}
	o.Deliveries = append(slices.Clip(o.Deliveries), d)
	o.State = PartDelivered
	over(&o, d.On)
	return o, nil
}

func (o Order) checkDelivery(d *Delivery) document.Faults {
	var faults document.Collector
	fault := func(code, at, reason, remedy string) {
		faults.Add(document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	if !calendar.Valid(d.On) || d.On < o.PlacedOn {
		fault("day", "on", fmt.Sprintf("%q is not a day since the order was placed on %s.", d.On, o.PlacedOn), "Write the day on which it came.")
	}
	if len(d.Lines) == 0 || len(d.Lines) > MaxLines || len(o.Deliveries) >= MaxDeliveries {
		fault("lines", "lines", fmt.Sprintf("%d lines came, and there were %d deliveries before.", len(d.Lines), len(o.Deliveries)),
			fmt.Sprintf("Write 1 to %d lines, in at most %d deliveries.", MaxLines, MaxDeliveries))
	}
	for i := range d.Lines[:min(len(d.Lines), MaxLines)] {
		l := &d.Lines[i]
		at := document.Join("lines", i+1)
		if l.Line < 1 || l.Line > len(o.Lines) {
			fault("unknown_line", at+"/line", fmt.Sprintf("The order has no line %d.", l.Line), fmt.Sprintf("Name one from 1 to %d.", len(o.Lines)))
		}
		if !usable(l.Quantity) || l.Quantity.Sign() == 0 {
			fault("quantity", at+"/quantity", "It is not so much of anything.", fmt.Sprintf("Write more than 0 and less than %d, with at most six decimals.", MaxQuantity))
		}
		if l.Noted != nil && !usable(*l.Noted) {
			fault("quantity", at+"/noted", "It is not so much of anything.", "Write what the delivery note says.")
		}
		if l.Code == "" {
			fault("no_code", at+"/code", "Nothing says what came.", "Name the part.")
		}
		if l.UnitPrice != nil && o.Goods != nil && l.UnitPrice.Currency() != o.Goods.Currency() {
			fault("currency", at+"/unit_price", "It is in another currency than the order.", "Write it in the order's.")
		}
	}
	if d.Carriage != nil && o.Goods != nil && d.Carriage.Currency() != o.Goods.Currency() {
		fault("currency", "carriage", "It is in another currency than the order.", "Write it in the order's.")
	}
	return faults.Faults()
}

func differences(line *Line, came *DeliveredLine, on string) (list []Difference) {
	if came.Code != line.Code {
		list = append(list, Difference{OtherPart, line.Code, came.Code, false})
	}
	if left := line.Left(); came.Quantity.GreaterThan(left) {
		list = append(list, Difference{MoreThanAsked, left.String(), came.Quantity.String(), false})
	}
	if came.Noted != nil && !came.Noted.Equal(came.Quantity) {
		list = append(list, Difference{OtherThanNote, came.Noted.String(), came.Quantity.String(), false})
	}
	if came.UnitPrice != nil && line.UnitPrice != nil && !came.UnitPrice.Equal(*line.UnitPrice) {
		list = append(list, Difference{OtherPrice, line.UnitPrice.Fixed(), came.UnitPrice.Fixed(), true})
	}
	if on > line.WantedOn {
		list = append(list, Difference{CameLate, line.WantedOn, on, false})
	}
	return list
}

// Expect puts a line's day to what the supplier says now.
func (o Order) Expect(line int, day string) (Order, document.Faults) {
	if !o.State.Open() {
		return o, o.not("expected on another day", "Only what is still to come has a day.")
	}
	if line < 1 || line > len(o.Lines) {
		return o, document.Faults{{Code: "unknown_line", At: "line", Reason: fmt.Sprintf("The order has no line %d.", line), Remedy: fmt.Sprintf("Name one from 1 to %d.", len(o.Lines))}}
	}
	if !calendar.Valid(day) || day < o.PlacedOn {
		return o, document.Faults{{Code: "day", At: "due_on", Reason: fmt.Sprintf("%q is not a day since the order was placed on %s.", day, o.PlacedOn), Remedy: "Write the day on which it is to come."}}
	}
	o.Lines = slices.Clone(o.Lines)
	o.Lines[line-1].DueOn = day
	return o, nil
}

// Cancel takes an order back of which nothing has come.
func (o Order) Cancel(on string) (Order, document.Faults) {
	if o.State != Draft && o.State != Placed {
		return o, o.not("cancelled", "Close it: what has not come is then not waited for.")
	}
	return o.end(Cancelled, on)
}

// Close ends an order whose rest is not coming.
func (o Order) Close(on string) (Order, document.Faults) {
	if !o.State.Open() {
		return o, o.not("closed", "Only what was placed is closed.")
	}
	return o.end(Closed, on)
}

func (o Order) end(s State, on string) (Order, document.Faults) {
	if !calendar.Valid(on) {
		return o, document.Faults{{Code: "day", At: "on", Reason: fmt.Sprintf("%q is not a day.", on), Remedy: "Write it as year, month and day: 2026-04-01."}}
	}
	o.State, o.EndedOn = s, on
	return o, nil
}

// Due is what is still to come of it, of a draft all, each line on the day it
// is thought to. name is how whoever asks calls the order. A visit comes to
// every van it is for. What a job has left over is for whoever wants it.
func (o Order) Due(name string) []supply.Due {
	if o.State != Draft && !o.State.Open() {
		return nil
	}
	var list []supply.Due
	for i := range o.Lines {
		l := &o.Lines[i]
		d := supply.Due{Kind: l.Kind, Code: l.Code, Job: l.Job, Day: cmp.Or(l.DueOn, l.WantedOn), Quantity: l.Left(), Order: name}
		switch {
		case d.Quantity.Sign() == 0:
		case l.Kind == supply.Outside && len(l.For) > 0:
			for _, f := range l.For {
				d.Job, d.Quantity = f.Job, f.Quantity
				list = append(list, d)
			}
		case l.Job != "":
			if d.Quantity = l.LeftFor(l.Job); d.Quantity.Sign() > 0 {
				list = append(list, d)
			}
			if d.Job, d.Quantity = "", l.Left().Sub(d.Quantity); d.Quantity.Sign() > 0 {
				list = append(list, d)
			}
		default:
			list = append(list, d)
		}
	}
	return list
}
