package options

import (
	"fmt"
	"math/rand"
	"slices"

	"wainscot/bom/formula"
)

// The pinned generator of docs/engine.md: the catalogues on which the engine
// is measured. Changing anything here changes what every published figure
// means.
const (
	generatedSeed     = 20261125
	generatedPlanted  = 6
	generatedSets     = 1000
	generatedPicks    = 8
	clausesPerFeature = 3
	nearFeatures      = 12
	variedPercent     = 35 // of groups and single features, by which planted specifications differ
)

// generated is a catalogue for measuring, with its choice sets.
type generated struct {
	model   Model
	planted [][]bool
	clauses [][]int // literals by feature: i+1 on, -(i+1) off
	choices [][]Choice
}

// generate draws a catalogue of n features: about two in three stand in groups
// of which at most one may be picked, some of them required; about three
// clauses a feature tie near features together; six planted specifications,
// variants of one, keep them all, so that there is something to allow.
func generate(n int) *generated {
	r := rand.New(rand.NewSource(generatedSeed + int64(n)))
	g := &generated{}
	for i := range n {
		g.model.Features = append(g.model.Features, Feature{
			Code: fmt.Sprintf("f%d", i), Name: fmt.Sprintf("Feature %d", i), Group: -1, Least: 1, Most: 1,
		})
	}
	g.groups(r)
	g.plant(r)
	for i := range n * clausesPerFeature {
		g.clause(r, i/clausesPerFeature)
	}
	for range generatedSets {
		g.choices = append(g.choices, g.choose(r))
	}
	return g
}

func (g *generated) groups(r *rand.Rand) {
	n := len(g.model.Features)
	for at := 0; at < n; {
		size := 3 + r.Intn(4)
		if r.Intn(3) == 0 {
			at += size / 2
			continue
		}
		index := len(g.model.Groups)
		group := Group{Code: fmt.Sprintf("g%d", index), Name: fmt.Sprintf("Group %d", index),
			AtMostOne: true, When: formula.True, Required: formula.False}
		if r.Intn(10) < 4 {
			group.Required = formula.True
		}
		g.model.Groups = append(g.model.Groups, group)
		for k := at; k < min(at+size, n); k++ {
			g.model.Features[k].Group = index
		}
		at += size
	}
}

func (g *generated) plant(r *rand.Rand) {
	members := make([][]int, len(g.model.Groups))
	for i, f := range g.model.Features {
		if f.Group >= 0 {
			members[f.Group] = append(members[f.Group], i)
		}
	}
	for k := range generatedPlanted {
		p := make([]bool, len(g.model.Features))
		if k > 0 {
			copy(p, g.planted[0])
		}
		for i, f := range g.model.Features {
			if f.Group < 0 && (k == 0 || r.Intn(100) < variedPercent) {
				p[i] = r.Intn(2) == 0
			}
		}
		for i, m := range members {
			if k > 0 && r.Intn(100) >= variedPercent {
				continue
			}
			for _, f := range m {
				p[f] = false
			}
			if g.model.Groups[i].Required.Op == formula.IsTrue || r.Intn(4) > 0 {
				p[m[r.Intn(len(m))]] = true
			}
		}
		g.planted = append(g.planted, p)
	}
}

// clause ties feature i to two others, mostly near ones, so that every
// planted specification keeps it.
func (g *generated) clause(r *rand.Rand, i int) {
	n := len(g.model.Features)
	for {
		lits := []int{i}
		for len(lits) < 3 {
			j := i + r.Intn(2*nearFeatures+1) - nearFeatures
			if r.Intn(20) == 0 {
				j = r.Intn(n)
			}
			if j < 0 || j >= n || slices.Contains(lits, j) ||
				(g.model.Features[j].Group >= 0 && g.model.Features[j].Group == g.model.Features[lits[0]].Group) {
				continue
			}
			lits = append(lits, j)
		}
		for k, f := range lits {
			lits[k] = f + 1
			if r.Intn(2) == 0 {
				lits[k] = -lits[k]
			}
		}
		if !g.kept(lits) {
			continue
		}
		conds := make([]formula.Condition, len(lits))
		for k, l := range lits {
			conds[k] = formula.On(g.model.Features[max(l, -l)-1].Code, 1)
			if l < 0 {
				conds[k] = formula.Not(conds[k])
			}
		}
		g.clauses = append(g.clauses, lits)
		g.model.Rules = append(g.model.Rules, Rule{
			Code: fmt.Sprintf("r%d", len(g.model.Rules)),
			Says: fmt.Sprintf("Rule %d.", len(g.model.Rules)),
			If:   formula.Not(conds[0]),
			Then: formula.Or(conds[1:]...),
		})
		return
	}
}

func (g *generated) kept(lits []int) bool {
	for _, p := range g.planted {
		if !slices.ContainsFunc(lits, func(l int) bool { return p[max(l, -l)-1] == (l > 0) }) {
			return false
		}
	}
	return true
}

// choose draws eight wants of one planted specification.
func (g *generated) choose(r *rand.Rand) []Choice {
	p := g.planted[r.Intn(len(g.planted))]
	var out []Choice
	for len(out) < generatedPicks {
		i := r.Intn(len(p))
		code := g.model.Features[i].Code
		if p[i] && !slices.ContainsFunc(out, func(c Choice) bool { return c.Feature == code }) {
			out = append(out, Choice{Verb: Want, Feature: code, Source: FromCustomer})
		}
	}
	return out
}
