package formula

import (
	"os"
	"strings"
	"testing"
)

// TestDocs runs every example of docs/formulas.md: a formula, then "= value",
// "fails: words" or "refused: words"; one after "rule: " is a condition.
func TestDocs(t *testing.T) {
	data, err := os.ReadFile("../../docs/formulas.md")
	if err != nil {
		t.Fatal(err)
	}
	s := testScope(t)
	v := testValues(t, s)
	ran := 0
	for i, block := range strings.Split(string(data), "```") {
		if i%2 == 0 {
			continue
		}
		for line := range strings.SplitSeq(strings.TrimSpace(block), "\n") {
			source, want := example(line)
			if got := s.shown(v, source); got != want {
				t.Errorf("%s\n gives %s\n  docs %s", source, got, want)
			}
			ran++
		}
	}
	if ran < 40 {
		t.Errorf("only %d examples found", ran)
	}
}

// example splits a line of the page.
func example(line string) (source, want string) {
	for _, mark := range []string{"  refused: ", "  fails: ", " = "} {
		if source, said, ok := strings.Cut(line, mark); ok {
			return strings.TrimSpace(source), strings.TrimSpace(strings.TrimPrefix(mark, " =")) + strings.TrimSpace(said)
		}
	}
	return strings.TrimSpace(line), "a condition"
}

func (s *Scope) shown(v *Values, source string) string {
	if condition, ok := strings.CutPrefix(source, "rule: "); ok {
		if _, err := s.Condition(condition); err != nil {
			return "refused:" + err.Error()
		}
		return "a condition"
	}
	root, fault := s.read(source, inQuantities)
	want := Number
	if fault == nil {
		want = root.kind
	}
	f, err := s.Compile(source, want)
	if err != nil {
		return "refused:" + err.Error()
	}
	if want == Number {
		d, err := f.Number(v)
		if err != nil {
			return "fails:" + err.Error()
		}
		return d.String()
	}
	yes, err := f.Truth(v)
	switch {
	case err != nil:
		return "fails:" + err.Error()
	case yes:
		return "yes"
	}
	return "no"
}
