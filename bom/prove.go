package bom

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"wainscot/bom/catalogue"
	"wainscot/bom/formula"
	"wainscot/bom/options"
)

// Proving says with how much work a release is proved, and who looks on.
type Proving struct {
	// Look is shown every specification of the covering sets with its sheet,
	// and says what it finds; pricing.Prove holds the price-book against them.
	// It may be nil.
	Look func(Specification, Sheet) []Seen
	// Work is the most that deciding the rules of one base van, and finding
	// its covering set, may each take; CountWork the most that counting its
	// specifications may. Both are in the units of the search, some
	// nanoseconds each; 0 is ProofWork and ProofCountWork.
	Work, CountWork int64
	// Progress is told what is under way; false ends the proof with
	// options.ErrStopped. It may be nil.
	Progress func(ProofStep) bool
}

// How much work a proof takes at most where nothing is said: some seconds for
// rules, about one for counting, of each base van.
const (
	ProofWork      = 300_000_000
	ProofCountWork = 60_000_000
)

// ProofStep says how far a proof has come.
type ProofStep struct {
	BaseVan string
	Doing   ProofPart
	Done    int
	Of      int
}

// ProofPart is what a proof is doing.
type ProofPart string

// The parts, in their order.
const (
	ProvingRules  ProofPart = "rules"
	CountingThem  ProofPart = "counting"
	CoveringPairs ProofPart = "pairs"
	ExpandingThem ProofPart = "build sheets"
)

// Seen is something that a Look found on one specification.
type Seen struct {
	Code FindingCode
	// At is the path in the catalogue of what it is about.
	At     string
	Says   string
	Remedy string
}

// Prove looks through a release before it is published.
//
// For every base van it is proved over all allowed specifications, of vans as
// they come (docs/engine.md says which those are), that no feature is dead, no
// group cannot be settled and no rule is idle, and, over all vans whatever is
// fitted to them, that every safety rule holds; where one does not, there is
// an example. Then a set of specifications in which every pair of features
// meets is expanded: every formula must give a number, every quantity be one
// that a van can take, every stage have its hours. How many specifications
// there are is counted.
//
// Nothing that a catalogue can cause is an error: it is a finding. The error
// is options.ErrStopped.
func Prove(r *Release, p Proving) (Proof, error) {
	if p.Work == 0 {
		p.Work = ProofWork
	}
	if p.CountWork == 0 {
		p.CountWork = ProofCountWork
	}
	v := &prover{r: r, p: &p, found: map[string]int{}}
	v.proof = Proof{Format: ProofFormat, Catalogue: r.hash, Engine: options.Engine}
	for i := range r.catalogue.SafetyRules {
		s := &r.catalogue.SafetyRules[i]
		v.proof.Safety = append(v.proof.Safety, SafetyProof{Code: s.Code, Says: s.Says})
	}
	v.begin()
	for van := range r.catalogue.BaseVans {
		if err := v.van(van); err != nil {
			return Proof{}, err
		}
	}
	v.everywhere()
	v.proof.finish()
	return v.proof, nil
}

// prover works on one Prove.
type prover struct {
	r     *Release
	p     *Proving
	proof Proof
	found map[string]int // by code and place: which finding

	// What counts only where it is so on every base van.
	bites   []bool // by rule: somewhere
	known   []bool // by rule: everywhere decided
	implied []bool // by rule: everywhere it bites
	safety  []bool // by safety rule: its condition holds somewhere
	most    []int  // by feature: the most there can be anywhere
	choice  map[string]bool

	// The base van under way.
	base  int
	rules *options.Rules
	kept  []int
}

func (v *prover) begin() {
	c := v.r.catalogue
	v.bites, v.known = make([]bool, len(c.Rules)), make([]bool, len(c.Rules))
	v.implied, v.safety = make([]bool, len(c.Rules)), make([]bool, len(c.SafetyRules))
	v.most = make([]int, len(c.Features))
	v.choice = map[string]bool{}
	for i := range c.Rules {
		v.known[i], v.implied[i] = true, true
	}
}

func (v *prover) step(doing ProofPart, done, of int) bool {
	return v.p.Progress == nil || v.p.Progress(ProofStep{v.r.catalogue.BaseVans[v.base].Code, doing, done, of})
}

// find records a finding on the base van under way; the same on another is one
// finding on both.
func (v *prover) find(f Finding) *Finding {
	key := string(f.Code) + ":" + f.At
	at, ok := v.found[key]
	if !ok {
		at = len(v.proof.Findings)
		v.found[key] = at
		v.proof.Findings = append(v.proof.Findings, f)
	}
	known := &v.proof.Findings[at]
	if van := v.r.catalogue.BaseVans[v.base].Code; !slices.Contains(known.BaseVans, van) {
		known.BaseVans = append(known.BaseVans, van)
	}
	return known
}

// van proves one base van.
func (v *prover) van(base int) error {
	c := v.r.catalogue
	v.base = base
	out := VanProof{BaseVan: c.BaseVans[base].Code, Name: c.BaseVans[base].Name, Specifications: "0"}
	rules, err := v.r.rules(base)
	if err == nil {
		v.rules = rules
		v.kept = v.comesWith()
		err = v.logic(&out)
	}
	if err != nil {
		v.unknown()
	}
	switch at := "base_vans/" + out.BaseVan; {
	case errors.Is(err, options.ErrNothingAllowed):
		v.find(Finding{Grade: FindingFault, Code: NothingAllowed, At: at,
			Says:   fmt.Sprintf("The rules allow nothing at all for %s.", out.Name),
			Remedy: "Look for rules without an if, and for groups of which one must be picked, that exclude each other."})
	case errors.Is(err, options.ErrBudget):
		v.find(Finding{Grade: FindingFault, Code: NotProved, At: at,
			Says:   fmt.Sprintf("The rules for %s take more work to decide than a proof may.", out.Name),
			Remedy: "Look for many features that compete for few places; say it with one group of which at most one is picked."})
	case err != nil:
		return err
	}
	v.proof.Vans = append(v.proof.Vans, out)
	return nil
}

// unknown says that a base van was not proved, so that nothing is so on all.
func (v *prover) unknown() {
	clear(v.known)
	clear(v.implied)
	for i := range v.safety {
		v.safety[i] = true
	}
	for i := range v.most {
		v.most[i] = mostOf(&v.r.catalogue.Features[i])
	}
}

// logic is what is proved over all allowed specifications of one base van.
func (v *prover) logic(out *VanProof) error {
	claims := make([]options.Claim, len(v.r.logic.safety))
	for i, s := range v.r.logic.safety {
		claims[i] = options.Claim{If: v.r.fold(v.base, s.ifs), Holds: v.r.fold(v.base, s.holds)}
	}
	var candidates []int
	for i, still := range v.implied {
		if still {
			candidates = append(candidates, i)
		}
	}
	proved, err := v.rules.Prove(options.Proving{Kept: v.kept, Claims: claims, Rules: candidates, Work: v.p.Work,
		Progress: func(done, of int) bool { return v.step(ProvingRules, done, of) }})
	if err != nil {
		return err
	}
	v.features(&proved, out)
	v.groups(&proved)
	v.values(&proved)
	v.ruled(&proved)
	v.sworn(&proved)
	v.packages()

	if !v.step(CountingThem, 0, 1) {
		return options.ErrStopped
	}
	n, err := v.rules.Count(v.kept, v.p.CountWork)
	if err != nil {
		return err
	}
	out.Specifications, out.AtLeast = n.Number.String(), !n.Exact
	return v.sheets(out)
}

// comesWith says how many of each feature vans of the kind come with.
func (v *prover) comesWith() []int {
	kept := make([]int, len(v.r.catalogue.Features))
	for _, f := range v.r.catalogue.BaseVans[v.base].Fitted {
		if k, ok := v.r.features[f.Feature]; ok {
			kept[k] += max(f.Count, 1)
		}
	}
	return kept
}

// thoseVans stands in a finding's sentence for the base vans it is so on, which
// are known at the end.
const thoseVans = "{base vans}"

// notProved records that the work ended before something was known.
func (v *prover) notProved(at, what string) {
	v.find(Finding{Grade: FindingWarning, Code: NotProved, At: at,
		Says:   fmt.Sprintf("The work ended before it was known %s on %s.", what, thoseVans),
		Remedy: "Allow the proof more work, or make the rules about it simpler."})
}

// notForThisVan says that a feature is marked as not for the base van: by its
// list of vans, by its group, which is offered on others only, or, where it only
// comes along, by all that brings it.
func (v *prover) notForThisVan(feature int) bool {
	f := &v.r.catalogue.Features[feature]
	if !offered(f.Vans, v.r.catalogue.BaseVans[v.base].Code) {
		return true
	}
	if f.Follower && !slices.ContainsFunc(v.r.logic.rules, func(rule logicRule) bool {
		return find(rule.brings, func(b options.Count) bool { return b.Feature == feature }) >= 0 &&
			v.r.possible(v.base, rule.ifs).Op != formula.IsFalse
	}) {
		return true
	}
	g := v.r.groupOf[feature]
	return g >= 0 && !f.NotSold && v.r.possible(v.base, v.r.logic.when[g]).Op == formula.IsFalse
}

func (v *prover) features(p *options.Proved, out *VanProof) {
	for i := range v.r.catalogue.Features {
		f := &v.r.catalogue.Features[i]
		at := "features/" + f.Code
		switch {
		case p.CanBeOn[i] == options.Yes:
			out.Features++
			v.most[i] = max(v.most[i], p.Most[i])
			if p.Most[i] == 0 {
				v.most[i] = mostOf(f) // not counted, or not decided
			}
		case p.CanBeOn[i] == options.Undecided:
			v.most[i] = mostOf(f)
			v.notProved(at, "whether it can be had")
		case !v.notForThisVan(i):
			v.find(Finding{Grade: FindingFault, Code: DeadFeature, At: at,
				Says:   fmt.Sprintf("%s can never be had on %s: no allowed specification has it.", f.Name, thoseVans),
				Remedy: "Mend the rules about it, or limit it to other base vans with vans."})
		}
	}
}

func (v *prover) groups(p *options.Proved) {
	for i := range v.r.catalogue.Groups {
		g := &v.r.catalogue.Groups[i]
		at := "groups/" + g.Code
		some := slices.ContainsFunc(v.r.members[i], func(f int) bool { return p.CanBeOn[f] != options.No })
		switch {
		case p.Unsettleable[i] == options.Yes:
			v.find(Finding{Grade: FindingFault, Code: GroupUnsettleable, At: at + "/required",
				Says:   fmt.Sprintf("%s cannot be settled on %s: whenever one must be picked, none can be.", g.Name, thoseVans),
				Remedy: "Offer one that can be had then, or limit the group with when or required."})
		case v.r.possible(v.base, v.r.logic.when[i]).Op == formula.IsFalse:
		case p.Offered[i] == options.No:
			v.find(Finding{Grade: FindingFault, Code: GroupNeverOffered, At: at + "/when",
				Says:   fmt.Sprintf("%s is never offered on %s: its condition holds on no allowed specification.", g.Name, thoseVans),
				Remedy: "Mend the condition, or the rules that keep it from holding."})
		case p.Pickable[i] == options.No && some: // else each of its features is told
			v.find(Finding{Grade: FindingFault, Code: GroupNeverPicked, At: at,
				Says:   fmt.Sprintf("On %s nothing of %s can be had while it is offered.", thoseVans, g.Name),
				Remedy: "Mend the condition of the group, or the rules about its features."})
		case p.Unsettleable[i] == options.Undecided || p.Offered[i] == options.Undecided:
			v.notProved(at, "whether it can be settled")
		}
	}
}

// values looks at particulars, and at those finishes that rules name.
func (v *prover) values(p *options.Proved) {
	for i, set := range v.rules.Model().Settings {
		name, particular := strings.CutPrefix(set.Name, "van.")
		for k, value := range set.Values {
			switch {
			case p.Possible[i][k] == options.Undecided:
				v.notProved("base_vans/"+v.r.catalogue.BaseVans[v.base].Code, fmt.Sprintf("whether the %s can be %q", set.Label, value))
			case !particular:
				v.choice[set.Name+"\x00"+value] = v.choice[set.Name+"\x00"+value] || p.Possible[i][k] == options.Yes
			case p.Possible[i][k] == options.No:
				v.find(Finding{Grade: FindingFault, Code: DeadValue,
					At:     "base_vans/" + v.r.catalogue.BaseVans[v.base].Code + "/particulars/" + name,
					Says:   fmt.Sprintf("Nothing is allowed for a %s whose %s is %q.", thoseVans, set.Label, value),
					Remedy: "Mend the rules that name it, or take the value out."})
			}
		}
	}
}

func (v *prover) ruled(p *options.Proved) {
	for i := range v.r.catalogue.Rules {
		switch p.Bites[i] {
		case options.Yes:
			v.bites[i] = true
			v.implied[i] = v.implied[i] && slices.Contains(p.Implied, i)
		case options.Undecided:
			v.known[i], v.implied[i] = false, false
		case options.No:
		}
	}
}

// sworn looks at the safety rules.
func (v *prover) sworn(p *options.Proved) {
	van := v.r.catalogue.BaseVans[v.base].Code
	for i, claim := range p.Claims {
		s := &v.r.catalogue.SafetyRules[i]
		at := "safety_rules/" + s.Code
		v.safety[i] = v.safety[i] || claim.Bites != options.No
		switch claim.Holds {
		case options.Yes:
			v.proof.Safety[i].Holds = append(v.proof.Safety[i].Holds, van)
		case options.No:
			v.proof.Safety[i].Broken = append(v.proof.Safety[i].Broken, van)
			f := v.find(Finding{Grade: FindingFault, Code: SafetyBroken, At: at,
				Says:   fmt.Sprintf("It does not hold: %s There is an allowed specification on which it is otherwise.", s.Says),
				Remedy: "Add the rule that makes it so, or mend the one that should."})
			if !claim.AsItComes && f.Example == nil {
				f.Says += " It is of a van that had some of it before."
			}
			if f.Example == nil {
				f.Example = v.example(claim.Against)
			}
		case options.Undecided:
			v.notProved(at, "whether it holds")
			v.proof.Findings[v.found[string(NotProved)+":"+at]].Grade = FindingFault // nobody swears by what is not known
		}
	}
}

// everywhere tells what is a fault only where it is so on every base van.
func (v *prover) everywhere() {
	add := func(f Finding) { v.proof.Findings = append(v.proof.Findings, f) }
	for i := range v.r.catalogue.Rules {
		rule := &v.r.catalogue.Rules[i]
		switch at := "rules/" + rule.Code; {
		case v.bites[i] && v.implied[i]:
			add(Finding{Grade: FindingNote, Code: ImpliedRule, At: at,
				Says:   "The other rules make it so without this one.",
				Remedy: "Nothing need be done: its sentence may say it better. Or take it out."})
		case !v.bites[i] && v.known[i]:
			add(Finding{Grade: FindingFault, Code: IdleRule, At: at + "/if",
				Says:   "The condition holds on no allowed specification of any base van, so the rule never does anything.",
				Remedy: "Mend the condition, or take the rule out."})
		}
	}
	for i := range v.r.catalogue.SafetyRules {
		if !v.safety[i] {
			add(Finding{Grade: FindingWarning, Code: IdleSafetyRule, At: "safety_rules/" + v.r.catalogue.SafetyRules[i].Code + "/if",
				Says:   "The condition holds on no allowed specification of any base van, so the safety rule says nothing.",
				Remedy: "Mend the condition, or take the safety rule out."})
		}
	}
	for i := range v.r.catalogue.Features {
		f := &v.r.catalogue.Features[i]
		if most := v.most[i]; most > 0 && most < mostOf(f) {
			add(Finding{Grade: FindingWarning, Code: CountNeverReached, At: "features/" + f.Code + "/count/most",
				Says:   fmt.Sprintf("There can be up to %d of %s, but no allowed specification has more than %d.", mostOf(f), f.Name, most),
				Remedy: fmt.Sprintf("Write %d, or mend the rules that keep it from more.", most)})
		}
	}
	for _, k := range v.r.logic.settings {
		f := &v.r.catalogue.Finishes[k]
		for _, c := range f.Choices {
			if possible, asked := v.choice["finish."+f.Code+"\x00"+c.Code]; asked && !possible {
				add(Finding{Grade: FindingFault, Code: DeadChoice, At: "finishes/" + f.Code + "/choices/" + c.Code,
					Says:   fmt.Sprintf("%s can never be %s: no allowed specification of any base van has it.", f.Name, c.Name),
					Remedy: "Mend the rules that name it, or take the choice out."})
			}
		}
	}
}

// packages looks whether each can be had whole: on a van that keeps what it
// comes with, or on one that has none of it.
func (v *prover) packages() {
	base := &v.r.catalogue.BaseVans[v.base]
	bare := Van{BaseVan: base.Code}
	for _, f := range base.Fitted {
		bare.Fitted = append(bare.Fitted, FittedItem{Feature: f.Feature, Count: f.Count, Action: Absent})
	}
	for i := range v.r.catalogue.Packages {
		p := &v.r.catalogue.Packages[i]
		if !offered(p.Vans, base.Code) {
			continue
		}
		asked := Choices{Package: p.Code}
		left, whole := v.leftOut(Van{BaseVan: base.Code}, asked)
		if !whole {
			left, whole = v.leftOut(bare, asked)
		}
		if !whole {
			v.find(Finding{Grade: FindingFault, Code: PackageContradicts, At: "packages/" + p.Code,
				Says:    fmt.Sprintf("On %s %s cannot be had whole: without %s it can.", thoseVans, p.Name, left),
				Remedy:  "Take out of it what does not go with the rest, or limit it to other base vans.",
				Example: &Example{Van: bare, Choices: asked}})
		}
	}
}

// leftOut says what of a package cannot be had with the rest of it.
func (v *prover) leftOut(van Van, asked Choices) (left string, whole bool) {
	res, faults, err := Specify(v.r, van, asked, SettleNothing)
	if err != nil || len(faults) > 0 {
		return "something", false
	}
	var names []string
	for _, c := range res.Specification.PackageChanges {
		if k, ok := v.r.features[c.Item]; ok && !c.AlreadyThere {
			names = append(names, the(v.r.catalogue.Features[k].Name))
		}
	}
	return listed(names), len(names) == 0
}

// example turns the engine's choices back into a van and a customer's choices.
func (v *prover) example(said []options.Choice) *Example {
	base := &v.r.catalogue.BaseVans[v.base]
	e := &Example{Van: Van{BaseVan: base.Code}}
	keeps := map[string]int{}
	for _, c := range said {
		switch {
		case c.Verb == options.Pick && c.Source == options.FromVan:
			name := strings.TrimPrefix(c.Feature, "van.")
			k := find(base.Particulars, func(p catalogue.Particular) bool { return p.Name == name })
			if k >= 0 && base.Particulars[k].Values[0] != c.Value {
				e.Van.Particulars = append(e.Van.Particulars, ParticularValue{Name: name, Value: c.Value})
			}
		case c.Verb == options.Pick:
			e.Choices.Finishes = append(e.Choices.Finishes, FinishChoice{Finish: strings.TrimPrefix(c.Feature, "finish."), Choice: c.Value})
		case c.Source == options.FromFitted:
			keeps[c.Feature] = max(c.N, 1)
		default:
			e.Choices.Features = append(e.Choices.Features, Choice{Want: c.Feature, Count: c.N})
		}
	}
	standard := v.comesWith()
	for i, code := range v.r.featureCodes {
		f := &v.r.catalogue.Features[i]
		kept := keeps[code]
		gone := standard[i] - kept
		switch {
		case kept == standard[i]:
			continue
		case gone < 0: // more than they come with
			e.Van.Fitted = append(e.Van.Fitted, FittedItem{Feature: code, Count: kept, Action: Keep})
		case f.Removal != nil:
			e.Van.Fitted = append(e.Van.Fitted, FittedItem{Feature: code, Count: gone, Action: Remove})
		default:
			e.Van.Fitted = append(e.Van.Fitted, FittedItem{Feature: code, Count: gone, Action: Absent})
		}
	}
	return e
}
