// Package catalogue is what a workshop offers: base vans with their measured
// facts, features in groups, finishes, packages, rules, safety rules, figures,
// checks, parts, kits, stages, trades and outside work.
//
// A catalogue is data. It is written as YAML files (Decode) or sent as JSON of
// the same shape (DecodeJSON), both strict: docs/catalogue.md describes every
// field, openapi/catalogue.schema.json is the same as a JSON Schema. Decoding
// refuses what is malformed, dangling, doubled or out of range and reports all
// faults at once; what needs the meaning of a formula (names, units, cycles)
// is found by bom.Compile. Hash identifies a catalogue by its content.
//
// Units: lengths in mm, areas in m², mass in kg, hours decimal; the unit is in
// the field's name or in the part's Unit.
package catalogue

import (
	"github.com/shopspring/decimal"

	"wainscot/bom/document"
)

// Format is the first line of every catalogue file.
const Format = "wainscot-catalogue/1"

// Catalogue is everything a workshop offers. Lists keep the order in which
// they were written (files by name, then line): it is the order in which
// people see things.
type Catalogue struct { //nolint:recvcheck // MarshalJSON must also serve a catalogue held by value
	Title       string        `yaml:"title" json:"title"`
	Trades      []Trade       `yaml:"trades" json:"trades"`
	Stages      []Stage       `yaml:"stages" json:"stages"`
	BaseVans    []BaseVan     `yaml:"base_vans" json:"base_vans"`
	Groups      []Group       `yaml:"groups" json:"groups"`
	Features    []Feature     `yaml:"features" json:"features"`
	Finishes    []Finish      `yaml:"finishes" json:"finishes,omitempty"`
	Packages    []Package     `yaml:"packages" json:"packages,omitempty"`
	Rules       []Rule        `yaml:"rules" json:"rules,omitempty"`
	SafetyRules []SafetyRule  `yaml:"safety_rules" json:"safety_rules,omitempty"`
	Figures     []Figure      `yaml:"figures" json:"figures,omitempty"`
	Checks      []Check       `yaml:"checks" json:"checks,omitempty"`
	Parts       []Part        `yaml:"parts" json:"parts"`
	Kits        []Kit         `yaml:"kits" json:"kits,omitempty"`
	OutsideWork []OutsideWork `yaml:"outside_work" json:"outside_work,omitempty"`
	// Where the masses of a van sit, what it carries on the road, what counts
	// towards its class and which papers others must give.
	Positions     []Position     `yaml:"positions" json:"positions,omitempty"`
	Loads         []Load         `yaml:"loads" json:"loads,omitempty"`
	ClassFeatures []ClassFeature `yaml:"class_features" json:"class_features,omitempty"`
	Evidence      []Evidence     `yaml:"evidence" json:"evidence,omitempty"`
}

// Trade is a skill whose hours are counted and charged: joiner, electrician.
type Trade struct {
	Code string `yaml:"code" json:"code"`
	Name string `yaml:"name" json:"name"`
}

// Stage is a step on the workshop floor.
type Stage struct {
	Code string `yaml:"code" json:"code"`
	Name string `yaml:"name" json:"name"`
	// After names the stages that must be finished before this one starts.
	After []string `yaml:"after" json:"after,omitempty"`
	// MostPeople who may work at it on one van at once; 0 means two.
	MostPeople int `yaml:"most_people" json:"most_people,omitempty"`
	// Where it can be done; empty means in a bay.
	Where Where `yaml:"where" json:"where,omitempty"`
	// Lines are what the stage itself takes whenever anything is done in it:
	// setting up, protecting the floor, sweeping out. Written without a
	// stage, they are given this one when they are read.
	Lines []Line `yaml:"lines" json:"lines,omitempty"`
	// Holds are what must be tested or certified before the stage begins.
	Holds []StageHold `yaml:"holds" json:"holds,omitempty"`
}

// Where a stage can be done.
type Where string

// The kinds of where.
const (
	InBay    Where = "bay"
	InYard   Where = "yard"
	Anywhere Where = "anywhere"
)

// Words are all there are.
func (Where) Words() []string { return words(InBay, InYard, Anywhere) }

// StageHold keeps a stage from beginning until something is tested or
// certified: no lining over wiring that nobody has tested. It applies to a van
// whose sheet has the outside work and anything at the stage that it names.
type StageHold struct {
	Code string `yaml:"code" json:"code"`
	// Until says what lifts the hold.
	Until HoldUntil `yaml:"until" json:"until"`
	// Outside is the outside work whose certificate lifts it, or whose
	// signatories may test; without it the workshop's own people test.
	Outside string `yaml:"outside" json:"outside,omitempty"`
	// Stage whose finished work is tested. When that is taken up again, it has
	// to be tested again.
	Stage string `yaml:"stage" json:"stage,omitempty"`
	Says  string `yaml:"says" json:"says"` // why, as a sentence
}

// HoldUntil is what lifts a hold.
type HoldUntil string

// What lifts holds.
const (
	UntilTest        HoldUntil = "test"
	UntilCertificate HoldUntil = "certificate"
)

// Words are all there are.
func (HoldUntil) Words() []string { return words(UntilTest, UntilCertificate) }

// BaseVan is one body variant with its measured facts.
type BaseVan struct {
	Code string `yaml:"code" json:"code"`
	Name string `yaml:"name" json:"name"`
	// Facts by name. A numeric fact's name ends in its unit: _mm, _m2, _kg,
	// _l, _w, _count; other facts are text or true/false. Every base van has
	// the same names and kinds, RequiredFacts among them. Formulas read them
	// as van.NAME.
	Facts Facts `yaml:"facts" json:"facts"`
	// Particulars are what differs between single vans of this kind: for each
	// name the values there are, the standard one first. Rules read them as
	// van.NAME == "value"; the van in question says which it has.
	Particulars []Particular `yaml:"particulars" json:"particulars,omitempty"`
	// Fitted is what every van of this kind comes with (minibus seats, side
	// windows); the van in question may say otherwise.
	Fitted []Fitted `yaml:"fitted" json:"fitted,omitempty"`
}

// RequiredFacts are those every base van must state.
// The two unladen masses, nobody aboard and the fuel tank at 90 %, may be
// overridden by the weighbridge ticket of the van in question, and the plated
// ones by its plate, so rules may not read them; figures and checks may.
var RequiredFacts = []string{
	"body", "length_mm", "width_mm", "height_mm", "wheelbase_mm",
	"load_length_mm", "load_width_mm", "load_height_mm", "rib_count",
	"wall_area_m2", "roof_area_m2", "floor_area_m2", "seat_count",
	"unladen_front_kg", "unladen_rear_kg",
	"plated_kg", "plated_front_kg", "plated_rear_kg",
}

// WeighedFacts are the facts that a weighbridge ticket or the plate of the van
// in question overrides.
var WeighedFacts = []string{"unladen_front_kg", "unladen_rear_kg", "plated_kg", "plated_front_kg", "plated_rear_kg"}

// Facts that a base van may state, for what needs them. Distances are behind
// the front axle.
const (
	// FrontOverhangMM is how far the van reaches ahead of its front axle: for
	// drawings.
	FrontOverhangMM = "front_overhang_mm"
	// LoadFromFrontAxleMM is where the load space begins. What is fitted without
	// a position counts in its middle, or midway between the axles where the
	// base van does not state it.
	LoadFromFrontAxleMM = "load_from_front_axle_mm"
	// CabSeatsFromFrontAxleMM, FuelTankFromFrontAxleMM and FuelTankL correct a
	// weighbridge ticket for people aboard and fuel.
	CabSeatsFromFrontAxleMM = "cab_seats_from_front_axle_mm"
	FuelTankFromFrontAxleMM = "fuel_tank_from_front_axle_mm"
	FuelTankL               = "fuel_tank_l"
)

// MeasuredFacts are the facts a base van may state, all of them numbers.
var MeasuredFacts = []string{FrontOverhangMM, LoadFromFrontAxleMM, CabSeatsFromFrontAxleMM, FuelTankFromFrontAxleMM, FuelTankL}

// NewVan is the name by which figures, lines and checks read, as van.new,
// whether the van in question is not registered yet. No fact has it.
const NewVan = "new"

// RequiredParticulars are those every base van must list values for.
var RequiredParticulars = []string{"steering", "sliding_doors", "rear_doors"}

// Everything about a field that a reader of the format must know is on the
// field: a key is required unless its json tag says omitempty or omitzero, and
// document:"formula" takes a number or true and false without quotes.

// Facts is an ordered list of named values; in YAML and JSON it is an object.
type Facts []Fact //nolint:recvcheck // facts are held by value and read into by pointer

// Fact is one measured fact: exactly one of Number, Text, Yes is meant, by Kind.
type Fact struct {
	Name   string
	Kind   FactKind
	Number decimal.Decimal
	Text   string
	Yes    bool
}

// FactKind says which value a Fact holds.
type FactKind uint8

// The kinds of fact; zero is invalid.
const (
	NumberFact FactKind = iota + 1
	TextFact
	YesNoFact
)

// Particular is one thing in which single vans of a kind differ.
type Particular struct {
	Name   string   `yaml:"name" json:"name"`
	Values []string `yaml:"values" json:"values"`
}

// Fitted is a feature a van has before any work, with its number if counted.
type Fitted struct {
	Feature string `yaml:"feature" json:"feature"`
	Count   int    `yaml:"count" json:"count,omitempty"` // 0 means 1
}

// Pick says how many features of a group may be picked.
type Pick string

// The bounds of a group.
const (
	ExactlyOne Pick = "exactly one"
	AtMostOne  Pick = "at most one"
	AnyNumber  Pick = "any"
)

// Words are all there are.
func (Pick) Words() []string { return words(ExactlyOne, AtMostOne, AnyNumber) }

// Group gathers features among which the customer picks.
type Group struct {
	Code string `yaml:"code" json:"code"`
	Name string `yaml:"name" json:"name"`
	// Stage gives the order in which groups are asked and settled.
	Stage string `yaml:"stage" json:"stage"`
	Pick  Pick   `yaml:"pick" json:"pick"`
	// When is the condition under which the group is offered at all; empty
	// means always. Where it does not hold nothing of the group may be on but
	// what is fitted and kept.
	When string `yaml:"when" json:"when,omitempty" document:"formula"`
	// Required is the condition under which at least one must be picked. Empty
	// means "whenever the group is offered" for exactly one, else never.
	Required string `yaml:"required" json:"required,omitempty" document:"formula"`
	// Says tells the customer why the group is not offered when When fails.
	Says string `yaml:"says" json:"says,omitempty"`
	// Default names what settling picks first; a counted one with its number.
	Default []Fitted `yaml:"default" json:"default,omitempty"`
	// Position is where its features sit, for axle loads; a feature or a line
	// may say otherwise.
	Position string `yaml:"position" json:"position,omitempty"`
}

// Feature is something a customer can have, or a follower of one.
type Feature struct {
	Code  string `yaml:"code" json:"code"`
	Name  string `yaml:"name" json:"name"`
	Group string `yaml:"group" json:"group"`
	// Says describes it in the customer's words, for the quote.
	Says string `yaml:"says" json:"says,omitempty"`
	// Count makes the feature counted: absent, or Least to Most of them.
	Count *Count `yaml:"count" json:"count,omitempty"`
	// Follower features are never sold alone: they are on only while
	// something that brings them is.
	Follower bool `yaml:"follower" json:"follower,omitempty"`
	// NotSold features can only be there because the van came with them.
	NotSold bool `yaml:"not_sold" json:"not_sold,omitempty"`
	// SupplyOnly marks a kind of work without fitting: no hours, no outside
	// work, and no van is needed.
	SupplyOnly bool `yaml:"supply_only" json:"supply_only,omitempty"`
	// Vans limits the feature to these base vans; empty means all.
	Vans []string `yaml:"vans" json:"vans,omitempty"`
	// Caution names what can hurt here; the standing cautions go with it.
	Caution []Caution `yaml:"caution" json:"caution,omitempty"`
	// Position is where it sits, in place of the group's; a line may say
	// otherwise.
	Position string `yaml:"position" json:"position,omitempty"`
	// WarrantyMonths after handover on what is fitted for it, where a part does
	// not say otherwise; 0 is the workshop's rule.
	WarrantyMonths int `yaml:"warranty_months" json:"warranty_months,omitempty"`
	// ChecksDue are checks that fall due again and again while it is on board.
	ChecksDue []CheckDue `yaml:"checks_due" json:"checks_due,omitempty"`
	// LeavesOut says what a part conversion does not include, as sentences.
	LeavesOut []string `yaml:"leaves_out" json:"leaves_out,omitempty"`
	// Shows is what the customer is shown of it at the handover, as a sentence.
	Shows string `yaml:"shows" json:"shows,omitempty"`
	// Lines are what it takes to fit one (parts, kits, hours, outside work).
	Lines []Line `yaml:"lines" json:"lines,omitempty"`
	// Removal is what it takes to take one out that was fitted; absent means
	// it cannot be removed or replaced.
	Removal *Removal `yaml:"removal" json:"removal,omitempty"`
}

// CheckDue is a check of the finished van that falls due so many months after
// handover, and so many after it was last made. Features that name the same one
// have it once, at the shortest of their times.
type CheckDue struct {
	Name        string `yaml:"name" json:"name"`
	EveryMonths int    `yaml:"every_months" json:"every_months"`
	Cites       string `yaml:"cites" json:"cites,omitempty"`
}

// Caution is a thing that can hurt people.
type Caution string

// The cautions; each has a standing sentence that goes with every output.
const (
	CautionGas       Caution = "gas"
	CautionMains     Caution = "mains"
	CautionStructure Caution = "structure"
	CautionSeats     Caution = "seats"
	CautionWeight    Caution = "weight"
)

// Words are all there are.
func (Caution) Words() []string {
	return words(CautionGas, CautionMains, CautionStructure, CautionSeats, CautionWeight)
}

// Count bounds a counted feature when it is there at all.
type Count struct {
	Least int `yaml:"least" json:"least"` // at least 1
	Most  int `yaml:"most" json:"most"`   // at most MaxCount
}

// Removal is what taking out one fitted feature takes.
type Removal struct {
	// MassKG is taken off the van for each one removed.
	MassKG decimal.Decimal `yaml:"mass_kg" json:"mass_kg"`
	Lines  []Line          `yaml:"lines" json:"lines,omitempty"`
}

// Line asks for one thing at one stage. Exactly one of Part, Kit, Finish,
// Trade, Outside, Standing is given.
type Line struct {
	Stage string `yaml:"stage" json:"stage,omitempty"`
	Part  string `yaml:"part" json:"part,omitempty"`
	Kit   string `yaml:"kit" json:"kit,omitempty"`
	// Finish takes the part of the choice made for that finish.
	Finish string `yaml:"finish" json:"finish,omitempty"`
	// Trade makes the line hours: Quantity is hands-on hours of that trade.
	Trade string `yaml:"trade" json:"trade,omitempty"`
	// Outside makes the line outside work: Quantity is how many visits.
	Outside string `yaml:"outside" json:"outside,omitempty"`
	// Standing makes the line standing time: Quantity is hours in which
	// nobody works and nothing may follow (glue cures). A stage stands for
	// the longest of its standing times, not their sum.
	Standing bool `yaml:"standing" json:"standing,omitempty"`
	// Quantity is a formula in the part's unit (hours for trades), for one of
	// the feature unless Once. Empty means 1.
	Quantity string `yaml:"quantity" json:"quantity,omitempty" document:"formula"`
	// Once makes the quantity stand for all of a counted feature together,
	// needed as soon as one of them is fitted.
	Once bool `yaml:"once" json:"once,omitempty"`
	// When is a formula; the line is there only while it is true.
	When string `yaml:"when" json:"when,omitempty" document:"formula"`
	// Position is where the mass sits, in place of the feature's.
	Position string `yaml:"position" json:"position,omitempty"`
	// Says gives the reason where the feature's name does not explain it.
	Says string `yaml:"says" json:"says,omitempty"`
}

// Finish is a choice that picks a part and a surcharge.
type Finish struct {
	Code string `yaml:"code" json:"code"`
	Name string `yaml:"name" json:"name"`
	// When is the condition under which it has to be chosen; empty: always.
	When    string         `yaml:"when" json:"when,omitempty" document:"formula"`
	Default string         `yaml:"default" json:"default,omitempty"`
	Choices []FinishChoice `yaml:"choices" json:"choices"`
}

// FinishChoice is one fabric, one worktop, one paint code.
type FinishChoice struct {
	Code string `yaml:"code" json:"code"`
	Name string `yaml:"name" json:"name"`
	Part string `yaml:"part" json:"part"`
}

// Package is a named set of features at its own price.
type Package struct {
	Code string `yaml:"code" json:"code"`
	Name string `yaml:"name" json:"name"`
	Says string `yaml:"says" json:"says,omitempty"`
	// Vans are the base vans it is offered for; empty means all.
	Vans  []string `yaml:"vans" json:"vans,omitempty"`
	Items []Fitted `yaml:"items" json:"items"`
	// Finishes are included without surcharge.
	Finishes []PackageFinish `yaml:"finishes" json:"finishes,omitempty"`
}

// PackageFinish is a finish choice a package includes.
type PackageFinish struct {
	Finish string `yaml:"finish" json:"finish"`
	Choice string `yaml:"choice" json:"choice"`
}

// Rule ties features together. Exactly one of Needs, Brings, Clashes is given.
type Rule struct {
	Code string `yaml:"code" json:"code"`
	// If is the condition under which the rule bites; empty means always.
	If string `yaml:"if" json:"if,omitempty" document:"formula"`
	// Needs is a condition that must then hold.
	Needs string `yaml:"needs" json:"needs,omitempty" document:"formula"`
	// Brings are features that then come along, a counted one with the
	// number there must at least be.
	Brings []Fitted `yaml:"brings" json:"brings,omitempty"`
	// Clashes is a condition that must then not hold.
	Clashes string `yaml:"clashes" json:"clashes,omitempty" document:"formula"`
	// Says is the rule as a plain sentence for the customer.
	Says string `yaml:"says" json:"says"`
	// Cites names the standard, law or practice behind a technical rule.
	Cites string `yaml:"cites" json:"cites,omitempty"`
}

// SafetyRule is a condition the workshop swears by. It is no rule of the logic
// and takes nothing away: it is a claim, proved over every allowed
// specification before the catalogue is published.
type SafetyRule struct {
	Code string `yaml:"code" json:"code"`
	// If is the condition under which it is claimed; empty means always.
	If string `yaml:"if" json:"if,omitempty" document:"formula"`
	// Holds is the condition that is then claimed to hold.
	Holds string `yaml:"holds" json:"holds" document:"formula"`
	// Says is the claim as a plain sentence.
	Says string `yaml:"says" json:"says"`
	// Cites names the standard, law or practice behind a technical claim.
	Cites string `yaml:"cites" json:"cites,omitempty"`
}

// Figure is a named quantity worked out from choices, van and other figures.
// Its code ends in its unit like a numeric fact's name.
type Figure struct {
	Code    string `yaml:"code" json:"code"`
	Name    string `yaml:"name" json:"name"`
	Formula string `yaml:"formula" json:"formula" document:"formula"`
	Cites   string `yaml:"cites" json:"cites,omitempty"`
}

// Check compares figures and sheet totals with a limit, after expansion.
type Check struct {
	Code string `yaml:"code" json:"code"`
	Name string `yaml:"name" json:"name"`
	// Grade is must (stops issuing) or should (shown).
	Grade Grade `yaml:"grade" json:"grade"`
	// When is a formula; the check is made only while it is true.
	When string `yaml:"when" json:"when,omitempty" document:"formula"`
	// Figure and Limit are number formulas; Sense says how they must stand.
	Figure string `yaml:"figure" json:"figure" document:"formula"`
	Sense  Sense  `yaml:"sense" json:"sense"`
	Limit  string `yaml:"limit" json:"limit" document:"formula"`
	Unit   string `yaml:"unit" json:"unit"`
	// NearPercent of the limit or less between figure and limit is near the
	// limit: met, and said. Absent means that nothing is near.
	NearPercent decimal.Decimal `yaml:"near_percent" json:"near_percent,omitzero"`
	// Says is the consequence when it is not met, Remedy what would mend it.
	Says   string `yaml:"says" json:"says"`
	Remedy string `yaml:"remedy" json:"remedy"`
	Cites  string `yaml:"cites" json:"cites,omitempty"`
}

// Grade of a check.
type Grade string

// The grades.
const (
	Must   Grade = "must"
	Should Grade = "should"
)

// Words are all there are.
func (Grade) Words() []string { return words(Must, Should) }

// Sense says how a checked figure must stand to its limit.
type Sense string

// The senses.
const (
	AtMost  Sense = "at most"
	AtLeast Sense = "at least"
)

// Words are all there are.
func (Sense) Words() []string { return words(AtMost, AtLeast) }

// Unit of a part.
type Unit string

// The units parts are counted in.
const (
	Each       Unit = "each"
	Metre      Unit = "m"
	SquareM    Unit = "m2"
	Litre      Unit = "l"
	Millilitre Unit = "ml"
	Kilogram   Unit = "kg"
)

// Words are all there are.
func (Unit) Words() []string { return words(Each, Metre, SquareM, Litre, Millilitre, Kilogram) }

// Provision says how a part is had when it is wanted.
type Provision string

// The provisions.
const (
	ForTheJob  Provision = "for the job" // ordered for each job
	ToppedUp   Provision = "topped up"   // kept in two bins
	Consumable Provision = "consumable"  // by rate per hour, never counted
)

// Words are all there are.
func (Provision) Words() []string { return words(ForTheJob, ToppedUp, Consumable) }

// Part is a thing bought.
type Part struct {
	Code string `yaml:"code" json:"code"`
	Name string `yaml:"name" json:"name"`
	Unit Unit   `yaml:"unit" json:"unit"`
	// Decimals is to how many places of Unit a quantity is rounded up.
	Decimals int `yaml:"decimals" json:"decimals,omitempty"`
	// MassKG is the mass of one Unit that stays in the van.
	MassKG    decimal.Decimal `yaml:"mass_kg" json:"mass_kg"`
	Provision Provision       `yaml:"provision" json:"provision"`
	// ScrapPercent of what is issued is lost in the work, so that
	// issued = needed / (1 - ScrapPercent/100).
	ScrapPercent decimal.Decimal `yaml:"scrap_percent" json:"scrap_percent,omitzero"`
	// Rates make a consumable: quantity per hands-on hour of a trade.
	Rates []Rate `yaml:"rates" json:"rates,omitempty"`
	// Serial says that each one's serial number is kept.
	Serial bool `yaml:"serial" json:"serial,omitempty"`
	// Batch says that the batch of what is used is kept, at each stage: of an
	// adhesive or a paint.
	Batch bool `yaml:"batch" json:"batch,omitempty"`
	// WarrantyMonths after handover, in place of its feature's.
	WarrantyMonths int `yaml:"warranty_months" json:"warranty_months,omitempty"`
}

// Rate of use of a consumable.
type Rate struct {
	Trade   string          `yaml:"trade" json:"trade"`
	PerHour decimal.Decimal `yaml:"per_hour" json:"per_hour"`
}

// Kit is a thing made of parts and other kits, by the workshop or a supplier.
type Kit struct {
	Code string `yaml:"code" json:"code"`
	Name string `yaml:"name" json:"name"`
	// Items are the components of one kit.
	Items []KitItem `yaml:"items" json:"items"`
	// Hours are what making one kit takes, at the stage that asks for it.
	Hours []KitHours `yaml:"hours" json:"hours,omitempty"`
	// BenchDays are the working days by which what it is made of must be there
	// before the kit is wanted; 0: it is made on the day.
	BenchDays int `yaml:"bench_days" json:"bench_days,omitempty"`
}

// KitItem is one component of a kit: exactly one of Part, Kit, Finish.
type KitItem struct {
	Part   string `yaml:"part" json:"part,omitempty"`
	Kit    string `yaml:"kit" json:"kit,omitempty"`
	Finish string `yaml:"finish" json:"finish,omitempty"`
	// Quantity is a formula; empty means 1.
	Quantity string `yaml:"quantity" json:"quantity,omitempty" document:"formula"`
	// ScrapPercent here is in place of the part's own.
	ScrapPercent *decimal.Decimal `yaml:"scrap_percent" json:"scrap_percent,omitempty"`
}

// KitHours are bench hours of a trade for one kit.
type KitHours struct {
	Trade string `yaml:"trade" json:"trade"`
	Hours string `yaml:"hours" json:"hours" document:"formula"` // a formula
}

// OutsideWork is work the workshop buys: gas engineer, upholsterer, paint.
type OutsideWork struct {
	Code string `yaml:"code" json:"code"`
	Name string `yaml:"name" json:"name"`
	// Certificate names the paper it returns, which handover waits for.
	Certificate string    `yaml:"certificate" json:"certificate,omitempty"`
	Caution     []Caution `yaml:"caution" json:"caution,omitempty"`
}

// Position is a place in the van where masses sit.
type Position struct {
	Code string `yaml:"code" json:"code"`
	Name string `yaml:"name" json:"name"`
	// FromFrontAxleMM is how far behind the front axle, below nothing ahead of
	// it: a formula over facts of the base van, as the others are.
	FromFrontAxleMM string `yaml:"from_front_axle_mm" json:"from_front_axle_mm" document:"formula"`
	// RightOfCentreMM is how far right of the middle, looking ahead; below
	// nothing left of it. Empty means in the middle.
	RightOfCentreMM string `yaml:"right_of_centre_mm" json:"right_of_centre_mm,omitempty" document:"formula"`
	// AboveGroundMM is for drawings.
	AboveGroundMM string `yaml:"above_ground_mm" json:"above_ground_mm,omitempty" document:"formula"`
}

// Load is something the finished van carries on the road.
type Load struct {
	Code string   `yaml:"code" json:"code"`
	Name string   `yaml:"name" json:"name"`
	Kind LoadKind `yaml:"kind" json:"kind"`
	// MassKG is a formula, of all of it.
	MassKG   string `yaml:"mass_kg" json:"mass_kg" document:"formula"`
	Position string `yaml:"position" json:"position"`
	// RunningOrderPercent of it counts in the mass in running order: all of the
	// driver, of water as much as the edition of the law in force says.
	RunningOrderPercent decimal.Decimal `yaml:"running_order_percent" json:"running_order_percent,omitzero"`
	Cites               string          `yaml:"cites" json:"cites,omitempty"`
}

// LoadKind is what kind of thing a load is.
type LoadKind string

// The kinds of load.
const (
	DriverLoad    LoadKind = "driver"
	PassengerLoad LoadKind = "passengers"
	WaterLoad     LoadKind = "water"
	GasLoad       LoadKind = "gas"
	LuggageLoad   LoadKind = "luggage"
	OtherLoad     LoadKind = "other"
)

// Words are all there are.
func (LoadKind) Words() []string {
	return words(DriverLoad, PassengerLoad, WaterLoad, GasLoad, LuggageLoad, OtherLoad)
}

// ClassFeature is one thing that counts towards the class in which the
// authority may register the van. It decides; nothing here promises.
type ClassFeature struct {
	Code string    `yaml:"code" json:"code"`
	Name string    `yaml:"name" json:"name"`
	List ClassList `yaml:"list" json:"list"`
	// When is a formula; it is looked at only while that is true.
	When string `yaml:"when" json:"when,omitempty" document:"formula"`
	// Holds is a formula: whether the van has it.
	Holds string `yaml:"holds" json:"holds" document:"formula"`
	Cites string `yaml:"cites" json:"cites,omitempty"`
}

// ClassList is the published list a class feature is of.
type ClassList string

// The lists.
const (
	InsideFeatures    ClassList = "inside"
	OutsideAppearance ClassList = "outside"
)

// Words are all there are.
func (ClassList) Words() []string { return words(InsideFeatures, OutsideAppearance) }

// Evidence is a paper that somebody has to give, besides the certificates of
// outside work.
type Evidence struct {
	Code string `yaml:"code" json:"code"`
	Name string `yaml:"name" json:"name"`
	// By says who gives it: the seat's maker, a technical service.
	By  string `yaml:"by" json:"by"`
	Due Due    `yaml:"due" json:"due"`
	// When is a formula; it is due only while that is true.
	When  string `yaml:"when" json:"when,omitempty" document:"formula"`
	Says  string `yaml:"says" json:"says"` // why
	Cites string `yaml:"cites" json:"cites,omitempty"`
}

// Due is what a paper must be there for.
type Due string

// What papers are due before.
const (
	BeforeWork         Due = "work"
	BeforeHandover     Due = "handover"
	BeforeRegistration Due = "registration"
)

// Words are all there are.
func (Due) Words() []string { return words(BeforeWork, BeforeHandover, BeforeRegistration) }

// Limits of a catalogue: more is refused.
const (
	MaxCount     = 50     // of one counted feature
	MaxFeatures  = 10_000 // features of one catalogue
	MaxParts     = 50_000
	MaxKitLevels = 20
	MaxFormula   = 500 // bytes of one formula
	MaxRules     = 50_000
	MaxListed    = 10_000 // of any other list
	MaxLines     = 1_000  // of one feature, stage or kit
	MaxFacts     = 200    // of one base van
	MaxHolds     = 20     // of one stage
	// MaxNearPercent of a limit is as near to it as can be called near.
	MaxNearPercent = 50
	MaxPositions   = 100
	MaxLoads       = 100
	MaxMostPeople  = 20 // at one stage of one van at once
	// MaxMonths of a warranty or between two checks; MaxChecksDue of a feature.
	MaxMonths    = 600
	MaxChecksDue = 20
	// MaxKitComponents is how many components a kit may have with all kits
	// inside it taken apart, MaxComponents how many all lines together.
	MaxKitComponents = 5_000
	MaxComponents    = 500_000
	// MaxBenchDays is how long before it is wanted a kit may be begun.
	MaxBenchDays = 250
	// MaxPartDecimals is how finely a part can be issued.
	MaxPartDecimals = 6
	MaxFileBytes    = document.MaxFileBytes
	MaxFaultsShown  = document.MaxFaults
)

func words[T ~string](closed ...T) []string {
	list := make([]string, len(closed))
	for i, w := range closed {
		list[i] = string(w)
	}
	return list
}
