package bom

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"wainscot/bom/document"
)

var update = flag.Bool("update", false, "write the golden files anew")

// Every testdata/sheets/NAME.yaml is a van with choices for the sample
// catalogue; NAME.txt beside it is the specification and sheet they come to,
// to be read. go test ./bom -run Golden -update writes them anew.
func TestGoldenSheets(t *testing.T) {
	files, err := filepath.Glob("testdata/sheets/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatal("no testdata/sheets/*.yaml", err)
	}
	r := sample(t)
	for _, name := range files {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".yaml"), func(t *testing.T) {
			data, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			var ask struct {
				Van     Van     `yaml:"van"`
				Choices Choices `yaml:"choices" json:",omitzero"`
				Settle  Settle  `yaml:"settle" json:",omitempty"`
			}
			if positions, faults := document.Decode(document.File{Name: name, Data: data}, &ask, ""); len(faults) > 0 {
				t.Fatal(positions.Locate(faults))
			}
			res := resolved(t, r, ask.Van, ask.Choices, ask.Settle)
			got := readable(r, res, Expand(r, res.Specification))
			golden := strings.TrimSuffix(name, ".yaml") + ".txt"
			if *update {
				if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("not as in %s (run with -update to accept):\n%s", golden, difference(string(want), got))
			}
		})
	}
}

// difference shows the first lines that differ.
func difference(want, got string) string {
	w, g := strings.Split(want, "\n"), strings.Split(got, "\n")
	var b strings.Builder
	for i, shown := 0, 0; i < max(len(w), len(g)) && shown < 10; i++ {
		line := func(list []string) string {
			if i < len(list) {
				return list[i]
			}
			return "(nothing)"
		}
		if line(w) != line(g) {
			fmt.Fprintf(&b, "line %d\n  want %s\n  got  %s\n", i+1, line(w), line(g))
			shown++
		}
	}
	return b.String()
}

// readable writes a specification and its sheet for people.
func readable(r *Release, res Resolution, s Sheet) string {
	var b strings.Builder
	spec := res.Specification
	fmt.Fprintf(&b, "SPECIFICATION on %s: allowed %v, settled %v\n", spec.Van.BaseVan, spec.Allowed, spec.Settled)
	for _, f := range spec.Features {
		fmt.Fprintf(&b, "  %-18s %d, fit %d  %-13s %s\n", f.Code, f.Count, f.Fit, f.Standing, f.Why)
	}
	for _, f := range spec.Removed {
		fmt.Fprintf(&b, "  %-18s %d taken out%s\n", f.Code, f.Count, map[bool]string{true: ", replaced"}[f.Replaced])
	}
	for _, f := range spec.Finishes {
		fmt.Fprintf(&b, "  finish %s: %q\n", f.Finish, f.Choice)
	}
	for _, c := range spec.PackageChanges {
		fmt.Fprintf(&b, "  package without %d %s, swap for %q, already there %v\n", c.Count, c.Item, c.SwapFor, c.AlreadyThere)
	}
	for _, p := range res.Answer.PutAside {
		tell := teller{r, res.Said}
		fmt.Fprintf(&b, "  put aside: %s\n", tell.choice(&res.Said[p.Choice]))
	}
	for i, t := range s.Stages {
		fmt.Fprintf(&b, "\n%d %s: %s h, standing %s h\n", i+1, strings.ToUpper(t.Name), t.Hours, t.StandingHours)
		for _, l := range s.Lines {
			if l.Stage != t.Stage {
				continue
			}
			fmt.Fprintf(&b, "  %8s %-5s %-8s %s (%s)", l.Quantity, l.Unit, l.Kind, l.Name, l.Code+l.Finish)
			if !l.MassKG.IsZero() {
				fmt.Fprintf(&b, " %s kg", l.MassKG)
			}
			b.WriteByte('\n')
			if l.InPlaceOf != nil {
				fmt.Fprintf(&b, "  %14s   in place of %s\n", l.InPlaceOf.Fewer, l.InPlaceOf.Part)
			}
			for _, why := range l.Because {
				fmt.Fprintf(&b, "  %14s   %s\n", why.Quantity, why.Says)
			}
		}
	}
	fmt.Fprintf(&b, "\nHOURS %s\n", s.Hours)
	for _, t := range s.Trades {
		fmt.Fprintf(&b, "  %s %s\n", t.Name, t.Hours)
	}
	m := s.Mass
	fmt.Fprintf(&b, "MASS unladen %s (weighed %v) + %s - %s kg, plated %s, left %s\n", m.UnladenKG, m.Weighed, m.AddedKG, m.RemovedKG, m.PlatedKG, m.LeftKG)
	for _, a := range []struct {
		name string
		Axles
	}{{"before", m.Before}, {"after", m.After}, {"in running order", m.InRunningOrder}, {"laden", m.Laden}, {"most", m.Most}, {"plated", m.Plated}} {
		fmt.Fprintf(&b, "AXLES %s: front %s, rear %s kg\n", a.name, a.FrontKG, a.RearKG)
	}
	for _, f := range s.Figures {
		fmt.Fprintf(&b, "FIGURE %s = %s %s\n", f.Name, f.Value, f.Unit)
	}
	for _, c := range s.Checks {
		fmt.Fprintf(&b, "CHECK %s (%s): %s %s %s %s, met %v %s\n", c.Name, c.Grade, c.Figure, c.Sense, c.Limit, c.Unit, c.Met, c.Says)
	}
	for _, c := range s.Cautions {
		fmt.Fprintf(&b, "CAUTION %s (%s)\n", c.Says, strings.Join(append(slices.Clone(c.Features), c.Additions...), ", "))
	}
	for _, c := range s.Certificates {
		fmt.Fprintf(&b, "CERTIFICATE %s\n", c.Name)
	}
	for _, e := range s.Evidence {
		fmt.Fprintf(&b, "EVIDENCE before %s: %s, by %s\n", e.Due, e.Name, e.By)
	}
	for _, f := range s.ClassFeatures {
		fmt.Fprintf(&b, "CLASS %s: %s %v\n", f.List, f.Name, f.Met)
	}
	for _, l := range s.LeavesOut {
		fmt.Fprintf(&b, "LEAVES OUT %s\n", l)
	}
	for _, n := range Ready(r, spec, s) {
		fmt.Fprintf(&b, "NOT READY %s %s: %s\n", n.Code, n.About, n.Says)
	}
	fmt.Fprintf(&b, "HASH %s\n", CanonicalHash(s))
	return b.String()
}
