package options

// Verb of a choice.
type Verb uint8

// The verbs; zero is invalid.
const (
	Want    Verb = iota + 1 // have it (at least one of a counted one)
	Refuse                  // have none of it
	Number                  // have exactly N of a counted feature
	AtLeast                 // have N or more of a counted feature (what is fitted and kept)
	Pick                    // take Value for the setting Feature names
)

// Choice is one thing the customer said. Where it comes from is Source.
type Choice struct {
	Verb    Verb
	Feature string // a feature's code, or a setting's name for Pick
	N       int    // for Number and AtLeast
	Value   string // for Pick
	Source  Source
}

// Source says who made a choice.
type Source uint8

// The sources, in the order in which choices are taken; zero is invalid.
const (
	FromVan      Source = iota + 1 // a particular of the van in question
	FromFitted                     // what the van has and keeps
	FromCustomer                   // what the customer said
	FromPackage                    // what a chosen package holds
	FromSettling                   // what settling added
)

// Standing of a feature as the salesperson sees it.
type Standing uint8

// The standings; zero is invalid.
const (
	Chosen Standing = iota + 1
	ComesWith
	AlreadyThere
	Open
	RuledOut
)

// String gives the standing in the words used everywhere.
func (s Standing) String() string {
	switch s {
	case Chosen:
		return "chosen"
	case ComesWith:
		return "comes with it"
	case AlreadyThere:
		return "already there"
	case Open:
		return "open"
	case RuledOut:
		return "ruled out"
	}
	return "invalid"
}

// Answer is what Resolve says about the choices.
type Answer struct {
	// Options has one entry a feature, in model order.
	Options []Option
	// Settings says which values of each setting are still possible.
	Settings []SettingValue
	// PutAside are the choices that do not fit with those before them.
	PutAside []PutAside
	// Unsettled is what leaving every open option off would break; none means
	// that the specification so far is allowed as it stands.
	Unsettled []Unsettled

	why *explanation
}

// Option is the standing of one feature. Answer.Why gives its reason.
type Option struct {
	Feature  int
	Standing Standing
	// Swap: ruled out merely because its group has another pick.
	Swap bool
	// Least and Most there can be, given the choices: 0 and 1 for an open
	// feature that is not counted.
	Least, Most int
	// ByChoice is the index of the choice that says so directly (chosen,
	// already there, refused), -1 where it follows from others.
	ByChoice int
}

// SettingValue is the standing of one value of a setting: chosen, open or
// ruled out.
type SettingValue struct {
	Setting  int
	Value    int
	Standing Standing
}

// Reason is a valid set of choices and rules that together make something so,
// in the order a person would reason.
type Reason struct {
	Choices []int // indices into the choices given to Resolve
	Causes  []Cause
	// Loose: it was to be made minimal, and the work for that ended. It is
	// valid all the same.
	Loose bool
}

// Cause is one rule (or group bound, or fact of the base van) of a reason.
type Cause struct {
	Kind  CauseKind
	Index int    // of the rule, group, feature or setting
	Says  string // the sentence
}

// CauseKind says what a cause is.
type CauseKind uint8

// The kinds of cause; zero is invalid.
const (
	ByRule     CauseKind = iota + 1
	ByGroup              // at most one, exactly one, not offered
	ByFollower           // a follower without anything that brings it
	ByVan                // this base van cannot have it, or it is not sold
	BySetting            // one value at a time
	ByCounting           // two of it are at least one of it; never told
)

// PutAside is a choice that does not fit with those taken before it.
type PutAside struct {
	Choice int
	Why    *Reason // the earlier choices and the rules it conflicts with
}

// Unsettled is something that leaving every open option off would break.
type Unsettled struct {
	Group int // index, or -1
	Rule  int // index, or -1
	Says  string
	// Options are the features that could settle it.
	Options []int
}
