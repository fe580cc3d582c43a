// Package order is an order to one supplier, from the proposal to the last
// delivery.
//
// Propose groups what a supply.Plan says is still to buy by supplier, with
// packs, breaks, carriage, visit days and the days to order by. An Order is a
// value: what happens to it is a function that gives another Order and the
// faults that stand in the way; with any fault nothing has happened. Its prices
// are fixed on the day it is placed, from the edition in force, and what a
// delivery does otherwise is told as a difference.
//
// Nothing here opens a file or asks a clock: days, editions and ids come in as
// arguments. Orders name jobs and people by id.
package order

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/bom/supply"
	"wainscot/pricing/money"
)

// Format names the shape of an Order.
const Format = "wainscot-order/1"

// Order is what is asked of one supplier.
type Order struct {
	Format   string `json:"format"`
	State    State  `json:"state"`
	Supplier string `json:"supplier"`
	// Name of the supplier as the edition has it.
	Name  string `json:"name"`
	Lines []Line `json:"lines"`

	// Once it is placed: the day, the edition its prices are from, what its
	// goods come to and what carriage was expected, without VAT.
	PlacedOn string        `json:"placed_on,omitempty"`
	Edition  string        `json:"edition,omitempty"`
	Goods    *money.Amount `json:"goods,omitempty"`
	Carriage *money.Amount `json:"carriage,omitempty"`

	Deliveries []Delivery `json:"deliveries,omitempty"`
	// EndedOn is the day it was closed or cancelled.
	EndedOn string `json:"ended_on,omitempty"`
}

// State of an order.
type State string

// The states; zero is invalid.
const (
	Draft         State = "draft"
	Placed        State = "placed"
	PartDelivered State = "part delivered"
	Closed        State = "closed" // all is here, or the rest is not coming
	Cancelled     State = "cancelled"
)

// Words are the states there are.
func (State) Words() []string {
	return []string{string(Draft), string(Placed), string(PartDelivered), string(Closed), string(Cancelled)}
}

// Open says whether something of it is still to come.
func (s State) Open() bool { return s == Placed || s == PartDelivered }

// Line is one thing ordered.
type Line struct {
	Kind supply.Kind `json:"kind"` // part or outside work
	Code string      `json:"code"`
	Name string      `json:"name"`
	// Unit of the part, or "visit".
	Unit         string          `json:"unit"`
	SupplierPart string          `json:"supplier_part,omitempty"`
	Quantity     decimal.Decimal `json:"quantity"`
	// WantedOn is the day it has to be there; of outside work the day of the
	// visit.
	WantedOn string `json:"wanted_on"`
	// DueOn is the day the supplier is thought, or has said, to deliver.
	DueOn string `json:"due_on,omitempty"`
	// Job it is for alone; "" for whoever wants it first.
	Job string `json:"job,omitempty"`
	// For are the wants it was ordered for. A visit takes several vans.
	For []For `json:"for,omitempty"`
	// InPlaceOf is the part it is a substitute for, this once.
	InPlaceOf string `json:"in_place_of,omitempty"`
	// Certificate is the paper outside work returns.
	Certificate string `json:"certificate,omitempty"`
	// Agreed: UnitPrice was agreed by word and is not the edition's.
	Agreed    bool             `json:"agreed,omitempty"`
	UnitPrice *money.UnitPrice `json:"unit_price,omitempty"`
	Amount    *money.Amount    `json:"amount,omitempty"`
	// Delivered so far.
	Delivered decimal.Decimal `json:"delivered,omitzero"`
	// Surplus is what of it changes of jobs have left nobody wanting.
	Surplus []Surplus `json:"surplus,omitempty"`
}

// For is what of a line is for one job at one stage.
type For struct {
	Job      string          `json:"job"`
	Stage    string          `json:"stage"`
	WantedOn string          `json:"wanted_on"`
	Quantity decimal.Decimal `json:"quantity"`
}

// Left is what of a line is still to come, never below nothing.
func (l *Line) Left() decimal.Decimal {
	return decimal.Max(decimal.Zero, l.Quantity.Sub(l.Delivered))
}

// Limits of an order; more is refused.
const (
	MaxLines      = 500
	MaxFor        = 1_000 // of one line
	MaxDeliveries = 200
	// MaxQuantity of one line is less than this.
	MaxQuantity = 1_000_000
)

// New is the draft of an order.
func New(supplier, name string, lines []Line) (Order, document.Faults) {
	o := Order{Format: Format, State: Draft, Supplier: supplier, Name: name}
	return o.Change(lines)
}

// Change puts other lines into a draft.
func (o Order) Change(lines []Line) (Order, document.Faults) {
	if o.State != Draft {
		return o, o.not("changed", "Change only a draft; cancel this one, or close it and order what is wanted anew.")
	}
	if faults := check(lines); len(faults) > 0 {
		return o, faults
	}
	o.Lines = make([]Line, len(lines))
	for i, l := range lines {
		l.Delivered, l.DueOn, l.Amount, l.Surplus = decimal.Zero, "", nil, nil
		if !l.Agreed {
			l.UnitPrice = nil
		}
		o.Lines[i] = l
	}
	return o, nil
}

// not is the fault of something that its state does not allow.
func (o Order) not(done, remedy string) document.Faults {
	return document.Faults{{Code: "state", At: "state", Reason: fmt.Sprintf("The order is %s and cannot be %s.", o.State, done), Remedy: remedy}}
}

func check(lines []Line) document.Faults {
	var faults document.Collector
	fault := func(code, at, reason, remedy string) {
		faults.Add(document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	if len(lines) == 0 || len(lines) > MaxLines {
		fault("lines", "lines", fmt.Sprintf("The order has %d lines.", len(lines)), fmt.Sprintf("Give it 1 to %d.", MaxLines))
	}
	for i := range lines[:min(len(lines), MaxLines)] {
		l := &lines[i]
		at := document.Join("lines", i+1)
		if l.Kind != supply.Part && l.Kind != supply.Outside {
			fault("kind", at+"/kind", "Only parts and outside work are ordered.", "Make a kit at the bench, and order what it is made of.")
		}
		if !usable(l.Quantity) || l.Quantity.Sign() == 0 {
			fault("quantity", at+"/quantity", "It is not so much of anything.", fmt.Sprintf("Write more than 0 and less than %d, with at most six decimals.", MaxQuantity))
		}
		if !calendar.Valid(l.WantedOn) {
			fault("day", at+"/wanted_on", fmt.Sprintf("%q is not a day.", l.WantedOn), "Write it as year, month and day: 2026-04-01.")
		}
		if len(l.For) > MaxFor {
			fault("too_many", at+"/for", fmt.Sprintf("It is for %d wants.", len(l.For)), fmt.Sprintf("At most %d.", MaxFor))
		}
		if l.Agreed && l.UnitPrice == nil {
			fault("no_price", at+"/unit_price", "A price was agreed, and nothing says which.", "Write it, or let the edition say.")
		}
	}
	return faults.Faults()
}

// usable says whether a quantity is one: not below nothing, no finer than a
// millionth, and of a size that means anything.
func usable(q decimal.Decimal) bool {
	return q.Exponent() >= -1000 && q.Exponent() <= 6 && q.Sign() >= 0 &&
		q.LessThan(decimal.New(MaxQuantity, 0)) && q.Equal(q.Truncate(6))
}

// Encode writes an order as it is kept.
func (o Order) Encode() ([]byte, error) { return json.Marshal(o) }

// Decode reads an order as it is kept.
func Decode(text []byte) (*Order, error) {
	in := json.NewDecoder(bytes.NewReader(text))
	in.DisallowUnknownFields()
	var o Order
	if err := in.Decode(&o); err != nil {
		return nil, fmt.Errorf("order: %w", err)
	}
	if o.Format != Format {
		return nil, fmt.Errorf("order: the format %q is not %q", o.Format, Format)
	}
	if _, err := in.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("order: more follows it")
	}
	return &o, nil
}
