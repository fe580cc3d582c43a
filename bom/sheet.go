package bom

import (
	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
)

// Sheet is a build sheet: the full bill of materials and labour hours of a
// specification, by stage, each line with its reasons. It holds no maps and no
// floats, and the same specification on the same release gives the same sheet
// to the byte.
type Sheet struct {
	Format  string `json:"format"` // SheetFormat
	BaseVan string `json:"base_van"`
	// Lines in stage order, then kind, then code. A kit's line stands before
	// nothing in particular: its components have lines of their own, with the
	// kit in their Because.Via.
	Lines []Line `json:"lines"`
	// Stages has one total for every stage of the catalogue, in order.
	Stages   []StageTotal    `json:"stages"`
	Trades   []TradeTotal    `json:"trades"`
	Figures  []FigureValue   `json:"figures,omitempty"`
	Checks   []CheckResult   `json:"checks,omitempty"`
	Hours    decimal.Decimal `json:"hours"` // hands-on, all trades
	Mass     Mass            `json:"mass"`
	Cautions []CautionNote   `json:"cautions,omitempty"`
	// Certificates must exist before handover.
	Certificates []Certificate `json:"certificates,omitempty"`
	// Evidence is what others have to give, and when it must be there.
	Evidence []EvidenceDue `json:"evidence,omitempty"`
	// ClassFeatures are what counts towards registration in a class, list by
	// list. The authority decides.
	ClassFeatures []ClassFeature `json:"class_features,omitempty"`
	// LeavesOut says what a part conversion does not include.
	LeavesOut []string `json:"leaves_out,omitempty"`
	// Broken are the formulas of the catalogue that could not be worked out
	// (division by zero, too large, negative quantity); a sheet with any is
	// not ready to issue.
	Broken []BrokenFormula `json:"broken,omitempty"`
}

// SheetFormat names the shape of a Sheet.
const SheetFormat = "wainscot-sheet/1"

// LineKind is what a line asks for.
type LineKind string

// The kinds of line, in the order they stand within a stage.
const (
	KitLine      LineKind = "kit"
	PartLine     LineKind = "part"
	HoursLine    LineKind = "hours"
	OutsideLine  LineKind = "outside"
	StandingLine LineKind = "standing"
	// Additions of the choices; MassKG is of all of it, and below nothing
	// where it takes something off the van.
	OneOffLine  LineKind = "one-off"
	OwnPartLine LineKind = "customer's own"
)

// Line is one thing wanted at one stage.
type Line struct {
	Stage string   `json:"stage"`
	Kind  LineKind `json:"kind"`
	// Code is of the part, kit, trade, outside work or addition; "" for
	// standing time.
	// A part whose finish is still to choose has no code but the Finish.
	Code   string `json:"code,omitempty"`
	Finish string `json:"finish,omitempty"`
	Name   string `json:"name"`
	// Quantity in Unit: parts rounded up to their decimals after merging,
	// hours and standing time half up to 0.01, kits and visits as they come.
	// Standing time is the longest of its reasons, as nobody waits twice.
	Quantity  decimal.Decimal     `json:"quantity"`
	Unit      string              `json:"unit"` // part's unit, "each" for kits, "h", "visit"
	MassKG    decimal.Decimal     `json:"mass_kg"`
	Provision catalogue.Provision `json:"provision,omitempty"`
	// Unproved: an addition, which no rule or check of the catalogue knows.
	Unproved bool `json:"unproved,omitempty"`
	// InPlaceOf is the part a customer's own stands in for.
	InPlaceOf *InPlaceOf `json:"in_place_of,omitempty"`
	// Because says what asked for it; the quantities, unrounded, add up to
	// what Quantity was rounded from (of standing time: the longest is it).
	Because []Because `json:"because"`
}

// InPlaceOf is the part of the sheet that a customer's own part stands in for.
type InPlaceOf struct {
	Part string `json:"part"`
	Name string `json:"name"`
	// Fewer of it are wanted, scrap left out; less than the customer brings
	// where the sheet has no more of it.
	Fewer decimal.Decimal `json:"fewer"`
}

// Because is one reason of a line.
type Because struct {
	// Feature that asked; "" for a stage's own lines, consumables by rate and
	// additions.
	Feature string `json:"feature,omitempty"`
	// Addition that asked, or, with a Quantity below nothing, that brings
	// what would else be wanted.
	Addition string `json:"addition,omitempty"`
	// Removal: asked by taking the feature out, not by fitting it.
	Removal bool `json:"removal,omitempty"`
	// Via are the kits it is a component of, outermost first.
	Via      []string        `json:"via,omitempty"`
	Quantity decimal.Decimal `json:"quantity"`
	// Says is the reason as words, whole enough to print alone.
	Says string `json:"says"`
}

// StageTotal is what one stage takes.
type StageTotal struct {
	Stage         string          `json:"stage"`
	Name          string          `json:"name"`
	Hours         decimal.Decimal `json:"hours"`
	StandingHours decimal.Decimal `json:"standing_hours"`
	Lines         int             `json:"lines"`
}

// TradeTotal is what one trade works.
type TradeTotal struct {
	Trade string          `json:"trade"`
	Name  string          `json:"name"`
	Hours decimal.Decimal `json:"hours"`
}

// FigureValue is one figure worked out.
type FigureValue struct {
	Code  string          `json:"code"`
	Name  string          `json:"name"`
	Value decimal.Decimal `json:"value"`
	Unit  string          `json:"unit"`
}

// Mass is the ledger of the van's mass, in kg.
type Mass struct {
	AddedKG   decimal.Decimal `json:"added_kg"`
	RemovedKG decimal.Decimal `json:"removed_kg"`
	// UnladenKG is the van before the work: weighed where known, else the
	// base van's.
	UnladenKG decimal.Decimal `json:"unladen_kg"`
	Weighed   bool            `json:"weighed"`
	PlatedKG  decimal.Decimal `json:"plated_kg"`
	// LeftKG = PlatedKG - UnladenKG - AddedKG + RemovedKG: what is left for
	// people, water, gas, fuel not in UnladenKG and luggage.
	LeftKG decimal.Decimal `json:"left_kg"`

	// Axle loads by moments. Before the work and After it the van is empty,
	// with nobody aboard; InRunningOrder it has what counts there of its loads,
	// Laden all of them.
	Before         Axles `json:"before,omitzero"`
	After          Axles `json:"after,omitzero"`
	InRunningOrder Axles `json:"in_running_order,omitzero"`
	Laden          Axles `json:"laden,omitzero"`
	// Most is the most that may ever rest on each axle: with every load that
	// bears on it and none that takes off it. A tail left empty is the front's.
	Most   Axles `json:"most,omitzero"`
	Plated Axles `json:"plated,omitzero"` // each its own limit; together less than their sum
	// UnplacedKG of what was added has no position in the catalogue.
	UnplacedKG decimal.Decimal `json:"unplaced_kg,omitzero"`
	// Positions where anything was added or taken out, in catalogue order, and
	// Loads in theirs; of loads those that weigh anything.
	Positions []PositionMass `json:"positions,omitempty"`
	Loads     []LoadMass     `json:"loads,omitempty"`
}

// Axles are what rests on the two axles, in kg.
type Axles struct {
	FrontKG decimal.Decimal `json:"front_kg"`
	RearKG  decimal.Decimal `json:"rear_kg"`
}

// TotalKG is what rests on both.
func (a Axles) TotalKG() decimal.Decimal { return a.FrontKG.Add(a.RearKG) }

// PositionMass is what the work adds and takes out at one position, in kg to
// the gram, and where that is.
type PositionMass struct {
	Position  string          `json:"position"`
	Name      string          `json:"name"`
	AddedKG   decimal.Decimal `json:"added_kg,omitzero"`
	RemovedKG decimal.Decimal `json:"removed_kg,omitzero"`
	Where     Where           `json:"where"`
}

// LoadMass is one thing the van carries.
type LoadMass struct {
	Load   string             `json:"load"`
	Name   string             `json:"name"`
	Kind   catalogue.LoadKind `json:"kind"`
	MassKG decimal.Decimal    `json:"mass_kg"`
	// InRunningOrderKG of it counts in the mass in running order.
	InRunningOrderKG decimal.Decimal `json:"in_running_order_kg,omitzero"`
	Position         string          `json:"position"`
	Where            Where           `json:"where"`
}

// Where a position is in a van.
type Where struct {
	FromFrontAxleMM decimal.Decimal  `json:"from_front_axle_mm"` // behind it; below nothing ahead of it
	RightOfCentreMM decimal.Decimal  `json:"right_of_centre_mm,omitzero"`
	AboveGroundMM   *decimal.Decimal `json:"above_ground_mm,omitempty"`
}

// CheckResult is a check worked out.
type CheckResult struct {
	Code   string          `json:"code"`
	Name   string          `json:"name"`
	Grade  catalogue.Grade `json:"grade"`
	Met    bool            `json:"met"`
	Figure decimal.Decimal `json:"figure"`
	Sense  catalogue.Sense `json:"sense"`
	Limit  decimal.Decimal `json:"limit"`
	Unit   string          `json:"unit"`
	// Near: met, and near the limit.
	Near   bool   `json:"near,omitempty"`
	Says   string `json:"says,omitempty"`   // when not met
	Remedy string `json:"remedy,omitempty"` // when not met
	Cites  string `json:"cites,omitempty"`
	// Answer given to a check that is not met, and whether it holds for this
	// figure.
	Answer   *CheckAnswer `json:"answer,omitempty"`
	Answered bool         `json:"answered,omitempty"`
}

// ClassFeature is whether the van has one thing that counts towards its class.
// The authority decides which class that is.
type ClassFeature struct {
	Code  string              `json:"code"`
	Name  string              `json:"name"`
	List  catalogue.ClassList `json:"list"`
	Met   bool                `json:"met"`
	Cites string              `json:"cites,omitempty"`
}

// EvidenceDue is a paper somebody has to give.
type EvidenceDue struct {
	Code  string        `json:"code"`
	Name  string        `json:"name"`
	By    string        `json:"by"`
	Due   catalogue.Due `json:"due"`
	Says  string        `json:"says"`
	Cites string        `json:"cites,omitempty"`
}

// CautionNote is a standing caution and the features and additions that bring
// it.
type CautionNote struct {
	Caution   catalogue.Caution `json:"caution"`
	Says      string            `json:"says"`
	Features  []string          `json:"features"`
	Additions []string          `json:"additions,omitempty"`
}

// Certificate is a paper that must exist before handover.
type Certificate struct {
	Name    string `json:"name"`
	Outside string `json:"outside"` // the outside work that returns it
}

// BrokenFormula is a formula that gave no usable number for these choices.
type BrokenFormula struct {
	At     string `json:"at"` // path in the catalogue
	Reason string `json:"reason"`
}
