package engineering_test

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"wainscot/bom/catalogue"
	"wainscot/bom/formula"
)

// TestDocs runs every example of docs/engineering.md as the formula it is: a
// call, then "= value" or "fails: words".
func TestDocs(t *testing.T) {
	page := read(t, "../../docs/engineering.md")
	scope, faults := formula.NewScope(&catalogue.Catalogue{})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	examples := map[string]bool{}
	for i, block := range strings.Split(page, "```") {
		if i%2 == 0 {
			continue
		}
		for line := range strings.SplitSeq(strings.TrimSpace(block), "\n") {
			source, want, fails := strings.Cut(line, "  fails: ")
			if !fails {
				source, want, _ = strings.Cut(line, " = ")
			}
			source, want = strings.TrimSpace(source), strings.TrimSpace(want)
			got := worked(scope, source)
			if fails && !strings.Contains(got, want) || !fails && got != want {
				t.Errorf("%s\n gives %s\n  docs %s", source, got, want)
			}
			for _, name := range called.FindAllStringSubmatch(source, -1) {
				examples[name[1]] = true
			}
		}
	}
	// Whatever formulas may call stands on the page, with an example.
	_, list, _ := strings.Cut(read(t, "../../docs/formulas.md"), "## Engineering")
	list, _, _ = strings.Cut(list, "The names in brackets")
	names := called.FindAllStringSubmatch(list, -1)
	if len(names) < 2 {
		t.Error("docs/formulas.md lists no functions of engineering")
	}
	for _, name := range names {
		if !examples[name[1]] || !strings.Contains(page, "`"+name[1]+"`") {
			t.Errorf("docs/engineering.md has no example or no word of %s", name[1])
		}
	}
}

var called = regexp.MustCompile(`([a-z][a-z0-9_]*)\(`)

func read(t *testing.T, file string) string {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// worked gives what a formula comes to, or its fault. One of constants alone is
// worked out, and refused, when it is compiled.
func worked(scope *formula.Scope, source string) string {
	f, err := scope.Compile(source, formula.Number)
	if err != nil {
		return err.Error()
	}
	d, err := f.Number(scope.NewValues())
	if err != nil {
		return err.Error()
	}
	return d.String()
}
