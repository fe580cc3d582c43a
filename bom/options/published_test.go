package options

import (
	"bufio"
	"fmt"
	"math/rand"
	"os"
	"slices"
	"strings"
	"testing"

	"wainscot/bom/formula"
)

// TestCountIsWhatIsPublished counts the products of published feature models.
// Their source stands in the file.
func TestCountIsWhatIsPublished(t *testing.T) {
	models, want := readFeatureModels(t, "../../testdata/published/feature_models.txt")
	if len(models) < 2 {
		t.Fatalf("only %d models", len(models))
	}
	for name, m := range models {
		rules, err := Compile(*m)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		got, err := rules.Count(nil, 1<<40)
		if err != nil || !got.Exact || got.Number.String() != want[name] {
			t.Errorf("%s: counted %v (%v), published %s", name, got, err, want[name])
		}
	}
}

// readFeatureModels reads the form that the file describes.
func readFeatureModels(t *testing.T, path string) (models map[string]*Model, numbers map[string]string) {
	t.Helper()
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = file.Close() }()
	models, numbers = map[string]*Model{}, map[string]string{}
	var m *Model
	feature := func(name string) formula.Condition {
		for _, f := range m.Features {
			if f.Code == name {
				return formula.On(name, 1)
			}
		}
		m.Features = append(m.Features, Feature{Code: name, Name: name, Group: -1, Least: 1, Most: 1})
		return formula.On(name, 1)
	}
	rule := func(ifs, then formula.Condition) {
		m.Rules = append(m.Rules, Rule{Code: fmt.Sprintf("r%d", len(m.Rules)), If: ifs, Then: then})
	}
	lines := bufio.NewScanner(file)
	for lines.Scan() {
		words := strings.Fields(lines.Text())
		switch {
		case len(words) == 0 || words[0] == "#" || strings.HasPrefix(words[0], "#"):
		case words[0] == "model":
			m = &Model{}
			models[words[1]], numbers[words[1]] = m, words[2]
			rule(formula.True, feature("root"))
		case words[0] == "some" || words[0] == "one":
			parent := feature(strings.TrimSuffix(words[1], ":"))
			group := len(m.Groups)
			m.Groups = append(m.Groups, Group{Code: fmt.Sprintf("g%d", group), AtMostOne: words[0] == "one", When: parent, Required: parent})
			for _, name := range words[2:] {
				feature(name)
				for i := range m.Features {
					if m.Features[i].Code == name {
						m.Features[i].Group = group
					}
				}
			}
		case words[0] == "either":
			rule(formula.True, formula.Or(feature(words[1]), feature(words[3])))
		case words[1] == "needs" && words[2] == "not":
			rule(feature(words[0]), formula.Not(feature(words[3])))
		case words[1] == "needs":
			rule(feature(words[0]), feature(words[2]))
		default:
			t.Fatalf("cannot read %q", lines.Text())
		}
	}
	if err := lines.Err(); err != nil {
		t.Fatal(err)
	}
	return models, numbers
}

// TestCountIsAPlainWalk counts the specifications of small generated catalogues
// by going through every choice on every feature in turn, over the clauses as
// they are written for the independent solver and not over ours. (That solver's
// own count, CountModels of github.com/crillab/gophersat v1.4.0, has some models
// twice: 909 where there are 850.)
func TestCountIsAPlainWalk(t *testing.T) {
	for _, n := range []int{22, 30, 36, 40} {
		r := rand.New(rand.NewSource(int64(n)))
		g := &generated{}
		for i := range n {
			g.model.Features = append(g.model.Features, Feature{Code: fmt.Sprintf("f%d", i), Group: -1, Least: 1, Most: 1})
		}
		g.groups(r)
		g.plant(r)
		for i := range 2 * n {
			g.clause(r, i/2)
		}
		rules, err := Compile(g.model)
		if err != nil {
			t.Fatal(err)
		}
		got, err := rules.Count(nil, 1<<40)
		if err != nil {
			t.Fatal(err)
		}
		want := walk(g.peerClauses(), make([]int, n+1), 1)
		if !got.Exact || got.Number.Int64() != int64(want) {
			t.Errorf("%d features: counted %v, by a plain walk %d", n, got, want)
		}
	}
}

// walk counts the assignments of the variables from v on that leave no clause
// without a true literal.
func walk(cnf [][]int, value []int, v int) (n int) {
	for _, clause := range cnf {
		if !slices.ContainsFunc(clause, func(l int) bool { at := value[max(l, -l)]; return at == 0 || at > 0 == (l > 0) }) {
			return 0
		}
	}
	if v == len(value) {
		return 1
	}
	for _, is := range []int{1, -1} {
		value[v] = is
		n += walk(cnf, value, v+1)
	}
	value[v] = 0
	return n
}
