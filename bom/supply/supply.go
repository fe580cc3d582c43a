// Package supply says what the workshop has to get hold of, and by when.
//
// Wanted takes a build sheet and the days of its stages and gives the parts by
// day, stage and job, level by level: a kit that is made at the bench is wanted
// at its stage, and what it is made of so many bench days earlier. Net holds
// the wants of all jobs against what is in stock and what suppliers still owe,
// level by level, and gives what is still to order or to make, and from which
// day on that is late. ReadyBy says when the parts of a van that has no slot
// yet could be there.
//
// Nothing here knows prices, suppliers or packs by name: an Item has the lead
// time, the least quantity and the multiple of wherever it would be had
// from. Days are text, YYYY-MM-DD; lead times are working days.
package supply

import (
	"errors"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
)

// Errors; test for them with errors.Is. They mean that the input cannot be
// used; what a workshop can cause is in the answers.
var (
	ErrQuantity = errors.New("a quantity below nothing, too large, or finer than a millionth")
	ErrDay      = errors.New("not a day written as year-month-day")
	ErrCircle   = errors.New("a thing is made of itself")
	ErrWant     = errors.New("a want that goes into a kit nobody wants, or is there twice")
	ErrItem     = errors.New("an item with a lead time, a kind or a recipe that makes no sense")
)

// Kind of what is wanted.
type Kind string

// The kinds; zero is invalid.
const (
	Part    Kind = "part"         // bought
	Kit     Kind = "kit"          // made at the bench
	Outside Kind = "outside work" // somebody comes, or we go there
)

// Words are the kinds there are.
func (Kind) Words() []string { return []string{string(Part), string(Kit), string(Outside)} }

// Want is so much of something wanted for one job at one stage.
type Want struct {
	Job, Stage string
	Kind       Kind
	Code, Name string
	Unit       string
	Provision  catalogue.Provision // of parts
	// Quantity, Unit by Unit. Of a component it is for all of the kits it goes
	// into.
	Quantity decimal.Decimal
	// Day it is wanted on in the morning; "" while the job has no slot.
	Day string
	// Until is the last day of the stage: outside work may be done on any day
	// from Day to it.
	Until string
	// Via are the kits it goes into, the outermost first; none: it goes into
	// the van as it is.
	Via []string
}

// Needs are what one job wants.
type Needs struct {
	// Wants to net: parts for the job, kits and outside work.
	Wants []Want
	// ToppedUp are taken from two bins and not netted.
	ToppedUp []Want
	// Open are wants of parts nobody can name yet.
	Open []Open
	// OneOffs are additions of the quote; what they take is known to nobody
	// but who wrote them, and they are had by hand.
	OneOffs []Want
}

// Open is a want whose finish is still to choose.
type Open struct {
	Job, Stage   string
	Finish, Name string
	Unit         string
	Quantity     decimal.Decimal
	Day          string
	Via          []string
}

// Component is what one of a made thing takes.
type Component struct {
	Code string
	Each decimal.Decimal
}

// Item is how a part, kit or outside work is had.
type Item struct {
	Code string
	Kind Kind
	// LeadDays are working days from ordering it, or from beginning to make
	// it, to having it.
	LeadDays int
	// Least is ordered or made at once, and in multiples of Multiple; 0 is no
	// such limit.
	Least, Multiple decimal.Decimal
	// Recipe is what one is made of, where a want does not say so itself.
	Recipe []Component
	// Measured: made for one van and of no use to another, so that one in
	// stock covers the wants of the job it is kept for, and of no other.
	Measured bool
	// Unsourced: nobody has said where it is had from, so that the lead time
	// says nothing.
	Unsourced bool
}

// Holding is what is in stock; with a Job it is kept for that job.
type Holding struct {
	Kind      Kind
	Code, Job string
	Quantity  decimal.Decimal
}

// Due is what a supplier, or the bench, still owes; with a Job it was ordered
// for that job alone.
type Due struct {
	Kind      Kind
	Code, Job string
	Day       string
	Quantity  decimal.Decimal
	// Order it is due of, as whoever asks calls it.
	Order string
}

// Position is how things stand on a day: what can be had how, what is there,
// what is due.
type Position struct {
	Today    string
	Calendar calendar.Calendar
	Items    []Item
	Held     []Holding
	Due      []Due
}
