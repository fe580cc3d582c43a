package options

import (
	"wainscot/bom/formula"
)

// Engine is the number of this engine's meaning: it changes whenever the same
// rules and choices could give another answer or another reason, or what is
// worked out of them another sheet.
const Engine = 3

// Model is the logic of a catalogue for one base van, facts folded away.
// bom.Compile makes it from a catalogue; lists keep catalogue order.
type Model struct {
	Features []Feature
	Groups   []Group
	// Settings are particulars of the van and those finishes that rules name:
	// each has exactly one of its values (a finish at most one).
	Settings []Setting
	Rules    []Rule
	// SettleOrder are the groups in the order settling takes them: by stage,
	// then as written. Groups left out follow in model order.
	SettleOrder []int
}

// Feature of the model.
type Feature struct {
	Code  string
	Name  string
	Group int // index into Groups, -1 for none
	// Most is 1 for a feature that is not counted; Least is then 1 too.
	Least, Most int
	// Follower is on only while a rule brings it.
	Follower bool
	// NotSold can only be on when the van came with it.
	NotSold bool
	// Refused, when not empty, is the sentence why this base van cannot have
	// it at all.
	Refused string
}

// Group of features.
type Group struct {
	Code, Name string
	AtMostOne  bool
	When       formula.Condition // offered only when
	Required   formula.Condition // at least one must be picked when
	WhenSays   string            // why it is not offered
	Default    []Count           // in the order settling tries them
}

// Count is a feature with how many.
type Count struct {
	Feature int
	N       int
}

// Setting is a particular or finish, named as in rules: van.steering.
type Setting struct {
	Name   string
	Label  string // for people: "steering"
	Values []string
	// Exact: one value always holds (particulars); else it may be open.
	Exact bool
	// Default is the value settling tries first ("" for the first possible).
	Default string
}

// Rule of the model: If ⇒ Then, and if Brings, support for what it brings.
type Rule struct {
	Code string
	Says string
	If   formula.Condition
	// Then must hold whenever If does; for a rule that brings, it is filled
	// in by Compile.
	Then formula.Condition
	// Brings are features that come along, counted ones with the least number.
	Brings []Count
}
