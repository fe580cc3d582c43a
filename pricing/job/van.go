package job

import (
	"fmt"
	"slices"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
)

// Expected is the day a van was expected, as it was known then: new vans come
// late. The last one holds.
type Expected struct {
	Number int `json:"number"`
	// Day it comes, YYYY-MM-DD; From whom.
	Day  string `json:"day"`
	From Note   `json:"from,omitempty"`
	// Confirmed: whoever brings it has said so.
	Confirmed bool   `json:"confirmed,omitempty"`
	On        string `json:"on"`
	By        string `json:"by"`
	Because   Note   `json:"because,omitempty"` // of a change
}

// Expect says when a van comes, from whom, and whether that is confirmed; of a
// change, also why.
func (j *Job) Expect(a Act, day, from string, confirmed bool, because string) (Job, document.Faults) {
	w := j.write(a)
	w.room(len(j.Expected), "day")
	if j.Arrived != nil {
		w.fault(NotInThisState, "day", "The van is here.", "Nothing is expected any more.")
	}
	w.dayFrom("day", day, true)
	changed := len(j.Expected) > 0 && j.Expected[len(j.Expected)-1].Day != day
	e := Expected{Number: w.number(), Day: day, Confirmed: confirmed, On: a.On, By: a.By}
	e.From, e.Because = w.note("from", from, true), w.note("because", because, changed)
	w.Expected = append(w.Expected, e)
	return w.done()
}

// Confirmed is the day from which the van is sure to be there: the day it came,
// or the day for which it is confirmed. Without either no slot of it is firm.
func (j *Job) Confirmed() (day string, ok bool) {
	if j.Arrived != nil {
		return j.Arrived.On, true
	}
	if n := len(j.Expected); n > 0 && j.Expected[n-1].Confirmed {
		return j.Expected[n-1].Day, true
	}
	return "", false
}

// Condition is how a van was when it came or left: the list that both sign.
type Condition struct {
	Number int    `json:"number"`
	On     string `json:"on"`
	By     string `json:"by"`

	MileageMiles int `json:"mileage_miles"`
	FuelPercent  int `json:"fuel_percent"`
	KeyCount     int `json:"key_count"`
	// KeyHook is where its keys hang while it is here.
	KeyHook     string       `json:"key_hook,omitempty"`
	Photographs []Photograph `json:"photographs"`
	Marks       []Mark       `json:"marks,omitempty"`
	// Belongings that are in it.
	Belongings []Note      `json:"belongings,omitempty"`
	Papers     []VanPaper  `json:"papers,omitempty"`
	Signatures []Signature `json:"signatures"`
	// TakenOn: it came before the workshop began here, and how it was then is on
	// the paper that was signed.
	TakenOn bool `json:"taken_on,omitempty"`
}

// Side of a van.
type Side string

// The sides; zero is invalid.
const (
	Front    Side = "front"
	Rear     Side = "rear"
	Nearside Side = "nearside"
	Offside  Side = "offside"
	Roof     Side = "roof"
	Inside   Side = "inside"
)

// Words are the sides there are.
func (Side) Words() []string {
	return []string{string(Front), string(Rear), string(Nearside), string(Offside), string(Roof), string(Inside)}
}

// sidesAround are those photographed at every van.
var sidesAround = []Side{Front, Rear, Nearside, Offside}

// Photograph of a side.
type Photograph struct {
	Side       Side `json:"side"`
	Attachment int  `json:"attachment"`
}

// Mark is a scratch, a dent or a stain that is there.
type Mark struct {
	Side       Side `json:"side"`
	Says       Note `json:"says,omitempty"`
	Attachment int  `json:"attachment"`
}

// VanPaper is a paper of the van that was seen, or given back.
type VanPaper string

// The papers; zero is invalid.
const (
	Registration VanPaper = "registration document"
	Insurance    VanPaper = "insurance"
	ServiceBook  VanPaper = "service book"
	Handbook     VanPaper = "handbook"
	KeyCode      VanPaper = "key code"
)

// Words are the papers there are.
func (VanPaper) Words() []string {
	return []string{string(Registration), string(Insurance), string(ServiceBook), string(Handbook), string(KeyCode)}
}

// Signature under a condition.
type Signature struct {
	For Party `json:"for"`
	// Name of who signed; the signature itself is an attachment, 0 where the
	// paper is filed elsewhere.
	Name       Note `json:"name"`
	Attachment int  `json:"attachment,omitempty"`
}

// Party to a signature.
type Party string

// The parties; zero is invalid.
const (
	ForTheCustomer Party = "customer"
	ForTheWorkshop Party = "workshop"
)

// Words are the parties there are.
func (Party) Words() []string { return []string{string(ForTheCustomer), string(ForTheWorkshop)} }

// NewCondition is a condition to be recorded.
type NewCondition struct {
	MileageMiles, FuelPercent, KeyCount int
	KeyHook                             string
	Photographs                         []Photograph
	Marks                               []NewMark
	Belongings                          []string
	Papers                              []VanPaper
	Signatures                          []NewSignature
}

// NewMark is a mark to be recorded.
type NewMark struct {
	Side       Side
	Says       string
	Attachment int
}

// NewSignature is a signature to be recorded.
type NewSignature struct {
	For        Party
	Name       string
	Attachment int
}

const (
	maxMileage = 3_000_000
	maxKeys    = 20
	maxHook    = 20 // characters
)

// condition keeps a list; at is its place in what was sent.
func (w *writing) condition(at string, n *NewCondition) *Condition {
	c := &Condition{
		Number: w.number(), On: w.act.On, By: w.act.By, MileageMiles: n.MileageMiles, FuelPercent: n.FuelPercent,
		KeyCount: n.KeyCount, KeyHook: n.KeyHook, Photographs: slices.Clone(n.Photographs), Papers: slices.Clone(n.Papers),
	}
	w.within(at+"mileage_miles", n.MileageMiles, maxMileage)
	w.within(at+"fuel_percent", n.FuelPercent, 100)
	w.within(at+"key_count", n.KeyCount, maxKeys)
	if reason := document.TextFault(n.KeyHook); reason != "" || len(n.KeyHook) > maxHook {
		w.fault("bad_text", at+"key_hook", "That is no hook.", "Give its number.")
	}
	for _, l := range []int{len(n.Photographs), len(n.Marks), len(n.Belongings), len(n.Papers)} {
		if l > MaxListed {
			w.fault("too_many", at, "The list is too long.", fmt.Sprintf("Give at most %d of each.", MaxListed))
			return c
		}
	}
	w.sides(at, n)
	for i, m := range n.Marks {
		path := document.Join(at+"marks", i+1)
		w.side(path, m.Side)
		w.attachment(path+"/attachment", m.Attachment, true)
		c.Marks = append(c.Marks, Mark{Side: m.Side, Says: w.note(path+"/says", m.Says, true), Attachment: m.Attachment})
	}
	for i, says := range n.Belongings {
		c.Belongings = append(c.Belongings, w.note(document.Join(at+"belongings", i+1), says, true))
	}
	for i, p := range n.Papers {
		if !slices.Contains(p.Words(), string(p)) || slices.Contains(n.Papers[:i], p) {
			w.fault("unknown_word", document.Join(at+"papers", i+1), fmt.Sprintf("%q is no paper of a van, or is listed twice.", p), "List each paper once.")
		}
	}
	c.Signatures = w.signatures(at, n)
	return c
}

// sides checks that every side was photographed.
func (w *writing) sides(at string, n *NewCondition) {
	for i, p := range n.Photographs {
		path := document.Join(at+"photographs", i+1)
		w.side(path, p.Side)
		w.attachment(path+"/attachment", p.Attachment, true)
	}
	for _, side := range sidesAround {
		if !slices.ContainsFunc(n.Photographs, func(p Photograph) bool { return p.Side == side }) {
			w.fault("missing", at+"photographs", fmt.Sprintf("There is no photograph of the %s.", side), "Photograph every side: front, rear, nearside and offside.")
		}
	}
}

func (w *writing) side(at string, s Side) {
	if !slices.Contains(s.Words(), string(s)) {
		w.fault("unknown_word", at+"/side", fmt.Sprintf("%q is no side of a van.", s), "Use front, rear, nearside, offside, roof or inside.")
	}
}

func (w *writing) within(at string, n, most int) {
	if n < 0 || n > most {
		w.fault("out_of_range", at, fmt.Sprintf("%d cannot be.", n), fmt.Sprintf("Give 0 to %d.", most))
	}
}

// signatures of both.
func (w *writing) signatures(at string, n *NewCondition) []Signature {
	var list []Signature
	for i, s := range n.Signatures {
		path := document.Join(at+"signatures", i+1)
		if !slices.Contains(s.For.Words(), string(s.For)) || slices.ContainsFunc(n.Signatures[:i], func(o NewSignature) bool { return o.For == s.For }) {
			w.fault("unknown_word", path+"/for", fmt.Sprintf("%q is no party, or signs twice.", s.For), "Customer and workshop sign once each.")
		}
		w.attachment(path+"/attachment", s.Attachment, false)
		list = append(list, Signature{For: s.For, Name: w.note(path+"/name", s.Name, true), Attachment: s.Attachment})
	}
	for _, party := range []Party{ForTheCustomer, ForTheWorkshop} {
		if !slices.ContainsFunc(n.Signatures, func(s NewSignature) bool { return s.For == party }) {
			w.fault("not_signed", at+"signatures", fmt.Sprintf("It is not signed for the %s.", party), "Have both sign.")
		}
	}
	return list
}

// Arrive takes the van in.
func (j *Job) Arrive(a Act, n NewCondition) (Job, document.Faults) {
	w := j.write(a)
	if j.Arrived != nil {
		w.fault(NotInThisState, "", fmt.Sprintf("The van came on %s.", calendar.Said(j.Arrived.On)), "Read the job again.")
	}
	if n.KeyCount == 0 {
		w.fault("missing", "key_count", "It came without keys.", "Count them.")
	}
	if n.KeyHook == "" {
		w.fault("missing", "key_hook", "Nothing says where its keys hang.", "Give the hook.")
	}
	w.Arrived = w.condition("", &n)
	w.State = InTheWorkshop
	return w.done()
}

// Trip is the van away for a while: to a weighbridge, a sprayer, the engineer.
type Trip struct {
	Number int    `json:"number"`
	Why    Note   `json:"why"`
	On     string `json:"on"`
	By     string `json:"by"`
	BackOn string `json:"back_on,omitempty"`
	BackBy string `json:"back_by,omitempty"`
}

// away says whether the van is on a trip.
func (j *Job) away() bool {
	return len(j.Trips) > 0 && j.Trips[len(j.Trips)-1].BackOn == ""
}

// OnSite says whether the van is here: it came, has not left, and is on no
// trip. It is here tonight, unless it goes before.
func (j *Job) OnSite() bool { return j.Arrived != nil && j.Left == nil && !j.away() }

// GoOut takes the van away for a while, and says what for.
func (j *Job) GoOut(a Act, why string) (Job, document.Faults) {
	w := j.write(a)
	w.room(len(j.Trips), "why")
	if !j.OnSite() {
		w.fault(NotHere, "", "The van is not here.", "Read the job again.")
	}
	w.Trips = append(w.Trips, Trip{Number: w.number(), Why: w.note("why", why, true), On: a.On, By: a.By})
	return w.done()
}

// ComeBack ends a trip.
func (j *Job) ComeBack(a Act) (Job, document.Faults) {
	w := j.write(a)
	if !j.away() {
		w.fault(NotInThisState, "", "The van is on no trip.", "Read the job again.")
		return w.done()
	}
	w.Trips = slices.Clone(w.Trips)
	t := &w.Trips[len(w.Trips)-1]
	if a.On < t.On {
		w.fault("too_early", "on", fmt.Sprintf("It only left on %s.", calendar.Said(t.On)), "Give the day it came back.")
	}
	t.BackOn, t.BackBy = a.On, a.By
	return w.done()
}

// Difference is what is not at the end as it was at the beginning.
type Difference struct {
	// Code: mileage, fuel, keys, mark, belonging or paper.
	Code string
	Says string
}

// mostMiles that a job puts on a van without anybody asking: the way to a
// weighbridge and an engineer.
const mostMiles = 60

// fuelLeast is by how much the tank may be less full.
const fuelLeast = 5

// Differences tells what is different when the van leaves.
func (j *Job) Differences(left *Condition) []Difference {
	in := j.Arrived
	if in == nil || left == nil || in.TakenOn {
		return nil
	}
	var list []Difference
	tell := func(code, format string, args ...any) {
		list = append(list, Difference{code, fmt.Sprintf(format, args...)})
	}
	switch miles := left.MileageMiles - in.MileageMiles; {
	case miles < 0:
		tell("mileage", "It shows %d miles fewer than when it came.", -miles)
	case miles > mostMiles:
		tell("mileage", "It was driven %d miles.", miles)
	}
	if left.FuelPercent < in.FuelPercent-fuelLeast {
		tell("fuel", "The tank is at %d %%, and was at %d %%.", left.FuelPercent, in.FuelPercent)
	}
	if left.KeyCount != in.KeyCount {
		tell("keys", "There are %d keys, and there were %d.", left.KeyCount, in.KeyCount)
	}
	for _, m := range left.Marks {
		same := func(o Mark) bool { return o.Side == m.Side && j.Said(o.Says) == j.Said(m.Says) }
		if !slices.ContainsFunc(in.Marks, same) {
			tell("mark", "A mark that was not there: %s, %s.", m.Side, j.Said(m.Says))
		}
	}
	for _, b := range in.Belongings {
		if !slices.ContainsFunc(left.Belongings, func(o Note) bool { return j.Said(o) == j.Said(b) }) {
			tell("belonging", "It came with this, and it is not listed: %s.", j.Said(b))
		}
	}
	for _, p := range in.Papers {
		if !slices.Contains(left.Papers, p) {
			tell("paper", "The %s was there, and is not given back.", p)
		}
	}
	return list
}
