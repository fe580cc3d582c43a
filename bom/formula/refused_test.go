package formula

import (
	"errors"
	"flag"
	"os"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write golden files anew")

// TestRefused holds the words of every refusal.
func TestRefused(t *testing.T) {
	const file = "testdata/refused.txt"
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	s := testScope(t)
	var out []string
	for line := range strings.Lines(string(data)) {
		line = strings.TrimRight(line, "\n")
		if strings.HasPrefix(line, "    ") {
			continue // an answer
		}
		out = append(out, line)
		want, source, ok := strings.Cut(line, ": ")
		if !ok || strings.HasPrefix(line, "#") {
			continue
		}
		answer := s.try(want, source)
		if answer == nil {
			t.Errorf("%q is accepted", line)
			continue
		}
		if e, ok := errors.AsType[*Error](answer); !ok {
			t.Errorf("%q: %T", line, answer)
		} else if e.Column < 1 || e.Column > len([]rune(source))+1 || e.Reason == "" || e.Remedy == "" {
			t.Errorf("%q: %#v", line, e)
		}
		out = append(out, "    "+answer.Error())
	}
	got := strings.Join(out, "\n") + "\n"
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if got != string(data) {
		t.Errorf("%s is not what is said now; -update shows the difference in the file", file)
		for i, line := range strings.Split(string(data), "\n") {
			if i < len(out) && out[i] != line {
				t.Errorf("first at line %d:\n was %s\n now %s", i+1, line, out[i])
				break
			}
		}
	}
}

func (s *Scope) try(want, source string) error {
	var err error
	switch want {
	case "number":
		_, err = s.Compile(source, Number)
	case "truth":
		_, err = s.Compile(source, Truth)
	case "check":
		_, err = s.CompileCheck(source, Truth)
	case "rule":
		_, err = s.Condition(source)
	}
	return err
}
