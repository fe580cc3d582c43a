package bom

import (
	"fmt"
	"math/rand"
	"slices"
	"strings"
	"testing"

	"wainscot/bom/catalogue"
)

// generated draws a catalogue as the pinned generator of docs/engine.md does
// (bom/options/generated_test.go, which draws rules only), with a part, hours
// and a share of a kit for every feature. Changing anything here changes what
// the published figures mean.
func generated(n int) *catalogue.Catalogue {
	r := rand.New(rand.NewSource(20261125 + int64(n)))
	c := blank()
	c.Trades = []catalogue.Trade{{Code: "joiner", Name: "Joiner"}}
	c.Groups, c.Features = nil, nil
	group := make([]int, n)
	for at := 0; at < n; {
		size := 3 + r.Intn(4)
		if r.Intn(3) == 0 {
			for k := at; k < min(at+size/2, n); k++ {
				group[k] = -1
			}
			at += size / 2
			continue
		}
		g := catalogue.Group{Code: fmt.Sprintf("g%d", len(c.Groups)), Name: "Group", Stage: "work", Pick: catalogue.AtMostOne}
		if r.Intn(10) < 4 {
			g.Pick = catalogue.ExactlyOne
		}
		for k := at; k < min(at+size, n); k++ {
			group[k] = len(c.Groups)
		}
		c.Groups = append(c.Groups, g)
		at += size
	}
	c.Groups = append(c.Groups, catalogue.Group{Code: "single", Name: "Single", Stage: "work", Pick: catalogue.AnyNumber})
	part := part("board", "m2")
	part.Decimals = 2
	c.Parts = []catalogue.Part{part}
	for i, g := range group {
		f := catalogue.Feature{Code: fmt.Sprintf("f%d", i), Name: fmt.Sprintf("Feature %d", i), Group: "single", Lines: []catalogue.Line{
			{Stage: "work", Part: "board", Quantity: fmt.Sprintf("%d / 7", i%9+1)}, {Stage: "work", Trade: "joiner", Quantity: "0.25"}}}
		if g >= 0 {
			f.Group = c.Groups[g].Code
		}
		c.Features = append(c.Features, f)
	}
	planted := plant(r, c, group)
	for i := range 3 * n {
		c.Rules = append(c.Rules, drawnRule(r, i, n, group, planted))
	}
	return c
}

// plant draws six specifications, variants of one, that will keep every rule.
func plant(r *rand.Rand, c *catalogue.Catalogue, group []int) [][]bool {
	const planted, varied = 6, 35
	var out [][]bool
	for k := range planted {
		p := make([]bool, len(group))
		if k > 0 {
			copy(p, out[0])
		}
		for i, g := range group {
			if g < 0 && (k == 0 || r.Intn(100) < varied) {
				p[i] = r.Intn(2) == 0
			}
		}
		for g := range c.Groups[:len(c.Groups)-1] {
			if k > 0 && r.Intn(100) >= varied {
				continue
			}
			var members []int
			for i := range group {
				if group[i] == g {
					members = append(members, i)
					p[i] = false
				}
			}
			if c.Groups[g].Pick == catalogue.ExactlyOne || r.Intn(4) > 0 {
				p[members[r.Intn(len(members))]] = true
			}
		}
		out = append(out, p)
	}
	return out
}

// drawnRule ties a feature to two others, mostly near ones.
func drawnRule(r *rand.Rand, number, n int, group []int, planted [][]bool) catalogue.Rule {
	const near = 12
	for {
		lits := []int{number / 3}
		for len(lits) < 3 {
			j := lits[0] + r.Intn(2*near+1) - near
			if r.Intn(20) == 0 {
				j = r.Intn(n)
			}
			if j < 0 || j >= n || slices.Contains(lits, j) || group[j] >= 0 && group[j] == group[lits[0]] {
				continue
			}
			lits = append(lits, j)
		}
		on := []bool{r.Intn(2) == 0, r.Intn(2) == 0, r.Intn(2) == 0}
		kept := true
		for _, p := range planted {
			kept = kept && (p[lits[0]] == on[0] || p[lits[1]] == on[1] || p[lits[2]] == on[2])
		}
		if !kept {
			continue
		}
		words := make([]string, 3)
		for k, f := range lits {
			words[k] = fmt.Sprintf("f%d", f)
			if on[k] == (k == 0) {
				words[k] = "!" + words[k]
			}
		}
		return catalogue.Rule{Code: fmt.Sprintf("r%d", number), Says: "A rule.", If: words[0], Needs: strings.Join(words[1:], " || ")}
	}
}

// BenchmarkProve500 proves a whole generated catalogue of 500 features: every
// verdict, every pair expanded, and the count as far as the work for it goes.
func BenchmarkProve500(b *testing.B) {
	r, faults := Compile(generated(500))
	if len(faults) > 0 {
		b.Fatal(faults)
	}
	for b.Loop() {
		proof, err := Prove(r, Proving{})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(proof.Vans[0].Specimens), "specimens")
	}
}
