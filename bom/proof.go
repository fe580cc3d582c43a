package bom

import (
	"cmp"
	"crypto/sha256"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"wainscot/bom/document"
)

// Proof is what looking through a release came to, before it is published: for
// every base van how many specifications it allows, whether what the workshop
// swears by holds over all of them, and everything that should not be so. The
// same release and price-book give the same proof. It holds no maps and no
// floats.
type Proof struct {
	Format string `json:"format"` // ProofFormat
	// Catalogue is its hash, Engine the number of the engine's meaning.
	Catalogue string `json:"catalogue"`
	Engine    int    `json:"engine"`
	// Editions of the price-book that prices were looked up in, with the day;
	// none where there was no price-book.
	Editions []ProofEdition `json:"editions,omitempty"`
	Vans     []VanProof     `json:"vans"`
	// Safety has one entry for each safety rule, in catalogue order.
	Safety []SafetyProof `json:"safety,omitempty"`
	// Findings: faults first, then warnings, then notes, each by section of the
	// catalogue.
	Findings []Finding `json:"findings,omitempty"`
	// Acknowledged are the warnings that somebody has taken upon themselves,
	// with the reason.
	Acknowledged []Acknowledgement `json:"acknowledged,omitempty"`
}

// ProofFormat names the shape of a Proof.
const ProofFormat = "wainscot-proof/1"

// ProofEdition is one edition of the price-book and the day it was asked for.
type ProofEdition struct {
	Edition string `json:"edition"`
	Day     string `json:"day"`
}

// VanProof is what the proof of one base van came to.
type VanProof struct {
	BaseVan string `json:"base_van"`
	Name    string `json:"name"`
	// Features that some van of the kind can have.
	Features int `json:"features"`
	// Specifications there are on vans as they come, in digits. AtLeast: there
	// may be more, the work ended.
	Specifications string `json:"specifications"`
	AtLeast        bool   `json:"at_least,omitempty"`
	// Specimens are the specifications that were expanded, Pairs those that
	// meet in them, Never the pairs that no allowed specification has.
	Specimens int `json:"specimens"`
	Pairs     int `json:"pairs"`
	Never     int `json:"never"`
	// Checks as they stood on the specimens.
	Checks   []CheckProof `json:"checks,omitempty"`
	Faults   int          `json:"faults"`
	Warnings int          `json:"warnings"`
}

// CheckProof says how often a check was met over the specimens.
type CheckProof struct {
	Code   string `json:"code"`
	Met    int    `json:"met"`
	NotMet int    `json:"not_met"`
}

// SafetyProof says of a safety rule on which base vans it holds over every
// allowed specification.
type SafetyProof struct {
	Code string `json:"code"`
	Says string `json:"says"`
	// Holds on these base vans, Broken on those; on the others it was not
	// decided.
	Holds  []string `json:"holds,omitempty"`
	Broken []string `json:"broken,omitempty"`
}

// FindingGrade says what a finding means for publishing.
type FindingGrade string

// The grades.
const (
	FindingFault   FindingGrade = "fault"   // stops publishing
	FindingWarning FindingGrade = "warning" // stops it until acknowledged
	FindingNote    FindingGrade = "note"    // for whoever keeps the catalogue
)

// FindingCode says what kind of thing was found; it is stable.
type FindingCode string

// The codes that bom finds; prices have their own, by GapCode.
const (
	NothingAllowed     FindingCode = "nothing_allowed"     // a base van on which the rules allow nothing
	DeadFeature        FindingCode = "dead_feature"        // can never be there
	DeadValue          FindingCode = "dead_value"          // a van that differs so has no specification
	DeadChoice         FindingCode = "dead_choice"         // a finish's choice that can never be taken
	GroupNeverOffered  FindingCode = "group_never_offered" //
	GroupNeverPicked   FindingCode = "group_never_picked"  // offered, and nothing of it can be had
	GroupUnsettleable  FindingCode = "group_unsettleable"  // one must be picked, and none can
	IdleRule           FindingCode = "idle_rule"           // its condition never holds
	ImpliedRule        FindingCode = "implied_rule"        // the others make it so without it
	SafetyBroken       FindingCode = "safety_broken"       // with an example
	IdleSafetyRule     FindingCode = "idle_safety_rule"    // its condition never holds
	CountNeverReached  FindingCode = "count_never_reached" // there can never be so many
	PackageContradicts FindingCode = "package_contradicts" // cannot be had whole
	BrokenInProof      FindingCode = "formula_broken"      // a formula without a usable number
	BadQuantity        FindingCode = "bad_quantity"        // none, or more than a van can take
	StageWithoutHours  FindingCode = "stage_without_hours" // things are fitted, nobody works
	CheckNeverMet      FindingCode = "check_never_met"     // a must
	NotReproduced      FindingCode = "not_reproduced"      // the engine contradicts itself
	NotProved          FindingCode = "not_proved"          // the work ended first
)

// Finding is one thing that the proof came upon.
type Finding struct {
	// Key names it for acknowledging: its code, its place, and the base vans
	// where it is not so on all. It changes when it comes to mean more.
	Key   string       `json:"key"`
	Grade FindingGrade `json:"grade"`
	Code  FindingCode  `json:"code"`
	// At is the path in the catalogue: "rules/gas_needs_locker".
	At string `json:"at"`
	// BaseVans on which it is so; none where it is so on all.
	BaseVans []string `json:"base_vans,omitempty"`
	Says     string   `json:"says"`
	Remedy   string   `json:"remedy"`
	// Times it was met among the specimens; 0 for what follows from the rules.
	Times int `json:"times,omitempty"`
	// Example shows it when it is resolved.
	Example *Example `json:"example,omitempty"`
}

// Example is a van and choices that can be run again.
type Example struct {
	Van     Van     `json:"van"`
	Choices Choices `json:"choices"`
	// Settle is how what they leave open is finished; "" not at all.
	Settle Settle `json:"settle,omitempty"`
}

// Acknowledgement takes a warning upon oneself.
type Acknowledgement struct {
	// Warning is the Key of a finding.
	Warning string `json:"warning" yaml:"warning"`
	Reason  string `json:"reason" yaml:"reason"`
}

// Limits of acknowledgements.
const (
	MaxAcknowledgements = 1_000
	MaxReason           = 1_000 // characters
)

// Acknowledge keeps acknowledgements with the proof. It refuses, all faults at
// once and then keeping none, what is no warning of this proof (a fault cannot
// be acknowledged away), what is said twice, and what gives no reason. The
// paths of the faults begin with "acknowledged".
func (p *Proof) Acknowledge(list []Acknowledgement) document.Faults {
	var faults document.Faults
	fault := func(code, at, reason, remedy string) {
		faults = append(faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	if len(list) > MaxAcknowledgements {
		fault("too_many", "acknowledged", fmt.Sprintf("There are %d entries.", len(list)), fmt.Sprintf("Give at most %d.", MaxAcknowledgements))
		return faults
	}
	warnings := codes(p.graded(FindingWarning), func(f Finding) string { return f.Key })
	kept := slices.Clone(p.Acknowledged)
	for i, a := range list {
		at := document.Join("acknowledged", i+1)
		switch found := find(p.Findings, func(f Finding) bool { return f.Key == a.Warning }); {
		case found < 0:
			fault("unknown_code", at+"/warning", fmt.Sprintf("The proof has no warning %s.", quoted(a.Warning)),
				document.Suggest(a.Warning, warnings, "Take it out: what it was about is mended, or has come to mean more."))
		case p.Findings[found].Grade == FindingFault:
			fault("not_a_warning", at+"/warning", fmt.Sprintf("%s is a fault, which nobody can take upon themselves.", quoted(a.Warning)), "Mend it.")
		case find(kept, func(k Acknowledgement) bool { return k.Warning == a.Warning }) >= 0:
			fault("given_twice", at+"/warning", fmt.Sprintf("%s is acknowledged twice.", quoted(a.Warning)), "Keep one of the two.")
		}
		switch {
		case strings.TrimSpace(a.Reason) == "":
			fault("missing_value", at+"/reason", "There is no reason.", "Say in a sentence why it may stay so.")
		case utf8.RuneCountInString(a.Reason) > MaxReason:
			fault("too_long", at+"/reason", fmt.Sprintf("The reason has %d characters.", utf8.RuneCountInString(a.Reason)), fmt.Sprintf("Give at most %d.", MaxReason))
		case document.TextFault(a.Reason) != "":
			fault("bad_text", at+"/reason", document.TextFault(a.Reason), "Take it out.")
		}
		kept = append(kept, a)
	}
	if len(faults) > 0 {
		return faults.Limit()
	}
	p.take(list)
	return nil
}

// CarryOver acknowledges anew what was acknowledged for an earlier release: the
// warnings that are still there under the same key, and so have not come to
// mean more. One that this proof has an acknowledgement of keeps that; all
// others have done their work and are let go.
func (p *Proof) CarryOver(list []Acknowledgement) {
	warnings := p.Unacknowledged()
	var kept []Acknowledgement
	for _, a := range list {
		if find(warnings, func(f Finding) bool { return f.Key == a.Warning }) >= 0 {
			kept = append(kept, a)
		}
	}
	p.take(kept)
}

// take puts acknowledgements into their order; p may share its list.
func (p *Proof) take(more []Acknowledgement) {
	kept := append(slices.Clone(p.Acknowledged), more...)
	slices.SortStableFunc(kept, func(a, b Acknowledgement) int { return strings.Compare(a.Warning, b.Warning) })
	p.Acknowledged = kept
}

// Faults are the findings that stop publishing whatever anybody says.
func (p *Proof) Faults() []Finding { return p.graded(FindingFault) }

// Unacknowledged are the warnings that nobody has taken upon themselves.
func (p *Proof) Unacknowledged() []Finding {
	return slices.DeleteFunc(p.graded(FindingWarning), func(f Finding) bool {
		return find(p.Acknowledged, func(a Acknowledgement) bool { return a.Warning == f.Key }) >= 0
	})
}

// Publishable says whether nothing stands between the release and publishing
// it: no fault, and no warning that nobody has acknowledged.
func (p *Proof) Publishable() bool { return len(p.Faults()) == 0 && len(p.Unacknowledged()) == 0 }

func (p *Proof) graded(grade FindingGrade) []Finding {
	var list []Finding
	for _, f := range p.Findings {
		if f.Grade == grade {
			list = append(list, f)
		}
	}
	return list
}

// sections in the order in which findings are told.
var sections = []string{"base_vans", "groups", "features", "finishes", "packages", "rules", "safety_rules", "figures", "checks", "stages", "parts", "kits", "trades", "outside_work"}

// finish names the findings, puts them in order and counts them by van.
func (p *Proof) finish() {
	all := len(p.Vans)
	for i := range p.Findings {
		f := &p.Findings[i]
		f.Key = string(f.Code) + ":" + f.At
		for k := range p.Vans {
			if v := &p.Vans[k]; slices.Contains(f.BaseVans, v.BaseVan) || len(f.BaseVans) == 0 {
				switch f.Grade {
				case FindingFault:
					v.Faults++
				case FindingWarning:
					v.Warnings++
				case FindingNote:
				}
			}
		}
		f.Says = strings.ReplaceAll(f.Says, thoseVans, p.names(f.BaseVans))
		if len(f.BaseVans) == all {
			f.BaseVans = nil
		}
		if len(f.BaseVans) > 0 {
			f.Key += ":" + vansInKey(f.BaseVans)
		}
	}
	grade := func(f *Finding) int {
		return slices.Index([]FindingGrade{FindingFault, FindingWarning, FindingNote}, f.Grade)
	}
	section := func(f *Finding) int {
		head, _, _ := strings.Cut(f.At, "/")
		return slices.Index(sections, head)
	}
	slices.SortStableFunc(p.Findings, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(grade(&a), grade(&b)), cmp.Compare(section(&a), section(&b)))
	})
}

// mostVansInKey is the most characters that base vans take of a key. A workshop
// has some dozens of them; a catalogue may have ten thousand.
const mostVansInKey = 600

// vansInKey are base vans as a key has them: by their codes, or where that is
// too long by how many they are and the SHA-256 of the codes.
func vansInKey(vans []string) string {
	list := strings.Join(vans, ",")
	if len(list) <= mostVansInKey {
		return list
	}
	return fmt.Sprintf("%d vans, %x", len(vans), sha256.Sum256([]byte(list)))
}

// mostVansNamed is how many base vans a sentence names.
const mostVansNamed = 20

// names are base vans as a sentence has them: one, some, or any of them.
func (p *Proof) names(vans []string) string {
	if len(vans) == len(p.Vans) && len(vans) > 1 {
		return "any base van"
	}
	var names []string
	for i := range p.Vans {
		if slices.Contains(vans, p.Vans[i].BaseVan) {
			names = append(names, p.Vans[i].Name)
		}
	}
	if n := len(names); n > mostVansNamed {
		names = append(names[:mostVansNamed], fmt.Sprintf("any of %d others", n-mostVansNamed))
	}
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + " or " + names[n-1]
	}
	return strings.Join(names, "")
}
