// Package bom answers what a van needs: it takes the choices a customer makes
// for one van and comes back with the full bill of materials and labour hours
// of the conversion, by stage, each line with its reasons.
//
// The way of one thing through the package:
//
//	catalogue ──Compile──▶ Release
//	                          │
//	van, choices ──Resolve──▶ Specification ──Expand──▶ Sheet ──Ready──▶ what stands in the way
//
// Compile reads every condition and formula of a catalogue once, refuses what
// cannot be meant (an unknown name, a unit that does not fit, figures that
// need each other), and lays the lines of all features out so that expanding
// is arithmetic without searching. A Release never changes and serves any
// number of callers.
//
// Resolve is logic. It lays what the van already has, what the customer wants
// and refuses, and what a chosen package holds before the option-rules engine
// (package options), which says of every feature whether it is chosen, comes
// with it, is already there, is open or is ruled out, and why. What is on, with
// its number and the sentence that explains it, is the Specification.
//
// Expand is arithmetic, in order. Figures (lining area, gas input) are worked
// from the choices and the van; the lines of every feature that is fitted read
// the figures; kits explode into parts to any depth, scrap added; equal parts
// at a stage become one line that keeps all its reasons and is rounded up only
// then; consumables follow from the hours; the masses make a ledger; checks
// compare figures and totals with limits. The same specification on the same
// release gives the same sheet to the byte, and CanonicalHash names it.
//
// Nothing here reads a file, a clock or a random number, and nothing a user
// can ask for is an error: a clash, an unmet check, a formula that divides by
// zero are in the result, each with its reason.
//
// Rooms behind this one: catalogue (what a workshop offers), formula (its
// expressions), options (the engine), document (strict reading and hashing).
package bom

import (
	"cmp"
	"slices"
	"strings"
	"sync"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/formula"
	"wainscot/bom/options"
)

// Release is a catalogue made ready: every formula compiled, every code
// resolved. It never changes and may be used by several callers at once.
type Release struct {
	catalogue *catalogue.Catalogue
	hash      string

	baseVans     map[string]int
	features     map[string]int
	finishes     map[string]int
	packages     map[string]int
	featureCodes []string
	members      [][]int // of each group, features
	groupOf      []int   // of each feature, -1 for none

	scope  *formula.Scope
	logic  logic
	stages []int // in the order of work: indices into the catalogue's
	sheet  program

	compiling sync.Mutex // one base van's rules at a time
	vans      []vanRules
}

// Compile readies a catalogue. It gives either a release or all the faults of
// the catalogue, each at the path of the field it is about; what decoding knew
// of files and lines is added by Positions.Locate. The catalogue must not be
// changed afterwards.
func Compile(c *catalogue.Catalogue) (*Release, document.Faults) {
	if faults := c.Validate(); len(faults) > 0 {
		return nil, faults
	}
	b := newCompiler(c)
	b.stages()
	b.logic()
	b.figures()
	b.lines()
	b.checks()
	b.positions()
	b.listed()
	if len(b.faults) > 0 {
		return nil, b.faults.Limit()
	}
	b.places()
	b.readers()
	return b.r, nil
}

// Catalogue gives back what was compiled. It must not be changed.
func (r *Release) Catalogue() *catalogue.Catalogue { return r.catalogue }

// Hash identifies the catalogue by its content.
func (r *Release) Hash() string { return r.hash }

// Rules gives the compiled option rules of a base van, for proofs and
// explanations beyond Resolve. They are compiled when first asked for. The
// error says that there is no such base van, or that its rules allow nothing.
func (r *Release) Rules(baseVan string) (*options.Rules, error) {
	v, ok := r.baseVans[baseVan]
	if !ok {
		return nil, errNoBaseVan
	}
	return r.rules(v)
}

// compiler makes a release; every part of it adds faults and goes on.
type compiler struct {
	r      *Release
	c      *catalogue.Catalogue
	faults document.Faults
	// where finds parts, kits, trades and outside work by their codes.
	parts, kits, trades, outside, stageOf map[string]int
}

func newCompiler(c *catalogue.Catalogue) *compiler {
	r := &Release{
		catalogue: c, hash: catalogue.Hash(c),
		baseVans: index(c.BaseVans, func(v *catalogue.BaseVan) string { return v.Code }),
		features: index(c.Features, func(f *catalogue.Feature) string { return f.Code }),
		finishes: index(c.Finishes, func(f *catalogue.Finish) string { return f.Code }),
		packages: index(c.Packages, func(p *catalogue.Package) string { return p.Code }),
		members:  make([][]int, len(c.Groups)),
		groupOf:  make([]int, len(c.Features)),
		vans:     make([]vanRules, len(c.BaseVans)),
	}
	groups := index(c.Groups, func(g *catalogue.Group) string { return g.Code })
	for i, f := range c.Features {
		r.featureCodes = append(r.featureCodes, f.Code)
		r.groupOf[i] = -1
		if g, ok := groups[f.Group]; ok {
			r.groupOf[i] = g
			r.members[g] = append(r.members[g], i)
		}
	}
	b := &compiler{r: r, c: c,
		parts:   index(c.Parts, func(p *catalogue.Part) string { return p.Code }),
		kits:    index(c.Kits, func(k *catalogue.Kit) string { return k.Code }),
		trades:  index(c.Trades, func(t *catalogue.Trade) string { return t.Code }),
		outside: index(c.OutsideWork, func(o *catalogue.OutsideWork) string { return o.Code }),
	}
	r.scope, b.faults = formula.NewScope(c)
	return b
}

// stages puts the stages in the order of work: each after those it waits for,
// otherwise as written.
func (b *compiler) stages() {
	byCode := index(b.c.Stages, func(s *catalogue.Stage) string { return s.Code })
	after := make([][]int, len(b.c.Stages))
	for i, s := range b.c.Stages {
		for _, code := range s.After {
			if k, ok := byCode[code]; ok {
				after[i] = append(after[i], k)
			}
		}
	}
	order, cycle := inOrder(after)
	if cycle != nil {
		b.fault("cycle", "stages/"+b.c.Stages[cycle[0]].Code+"/after",
			"The stages wait for each other: "+arrows(cycle, func(i int) string { return b.c.Stages[i].Code })+".",
			"Take one of them out of the other's after.")
	}
	b.r.stages = order
	b.stageOf = make(map[string]int, len(order))
	for at, i := range order {
		b.stageOf[b.c.Stages[i].Code] = at
	}
}

// inOrder sorts 0..n-1 so that each comes after those it needs, otherwise by
// number. If some need each other it gives one such ring, the first of it
// again at its end.
func inOrder(needs [][]int) (order, ring []int) {
	const (
		untouched = iota
		under
		done
	)
	state := make([]uint8, len(needs))
	order = make([]int, 0, len(needs))
	var path []int
	var visit func(i int)
	visit = func(i int) {
		if ring != nil || state[i] == done {
			return
		}
		if state[i] == under {
			ring = append(slices.Clone(path[slices.Index(path, i):]), i)
			return
		}
		state[i] = under
		path = append(path, i)
		for _, k := range needs[i] {
			visit(k)
		}
		path = path[:len(path)-1]
		state[i] = done
		order = append(order, i)
	}
	for i := range needs {
		visit(i)
	}
	return order, ring
}

func arrows(ring []int, name func(int) string) string {
	names := make([]string, len(ring))
	for i, k := range ring {
		names[i] = name(k)
	}
	return strings.Join(names, " → ")
}

func (b *compiler) fault(code, at, reason, remedy string) {
	b.faults = append(b.faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
}

func index[T any](list []T, code func(*T) string) map[string]int {
	m := make(map[string]int, len(list))
	for i := range list {
		if _, ok := m[code(&list[i])]; !ok {
			m[code(&list[i])] = i
		}
	}
	return m
}

// sortedBy gives 0..n-1 sorted by key, otherwise by number.
func sortedBy[K cmp.Ordered](n int, key func(int) K) []int {
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(key(a), key(b)) })
	return order
}
