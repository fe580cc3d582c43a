package quote_test

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"wainscot/bom/calendar"
	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden holds a text against a file of testdata.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, got, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s is not what it comes to any more (-update writes it anew):\n%s", path, got)
	}
}

func TestRecomputeGivesTheSameBytes(t *testing.T) {
	o := quotetest.Offer("2026-10")
	names, _ := filepath.Glob("../../testdata/demo/choices/*.yaml")
	for _, path := range names {
		name := strings.TrimSuffix(filepath.Base(path), ".yaml")
		if name == "choices-that-clash" {
			continue
		}
		a := asked(t, name, "windows-only")
		a.Vans[1].Van = "another"
		a.SlotWanted = "2027-02-01"
		d := issue(t, o, a, 3)
		text := encoded(t, d)
		read, err := quote.Decode([]byte(text))
		if err != nil {
			t.Fatal(err)
		}
		r, err := quote.Recompute(o, read)
		if err != nil || !r.Same || len(r.Differences) > 0 || r.SHA256 != r.SHA256Now || r.SHA256 != quote.SHA256([]byte(text)) {
			t.Errorf("%s: %v %+v", name, err, r)
		}
		// The workshop has closed for a month since: what it wrote then stands.
		shut := o
		shut.Days = calendar.Calendar{HolidaysUntil: "2028-12-31", Closed: []calendar.Closed{{From: "2027-01-02", Until: "2027-01-31", Name: "Floor", Why: calendar.Closure}}}
		if r, err := quote.Recompute(shut, read); err != nil || !r.Same {
			t.Errorf("%s with other days worked: %v %+v", name, err, r)
		}
	}
}

func TestRecomputeTellsWhatDiffers(t *testing.T) {
	a := asked(t, "windows-only", "roof-only")
	a.Terms.Day = "2026-09-01"
	d := issue(t, quotetest.Offer("2026-07"), a, 1)
	// Something of an older engine: a line more, another quantity, an amount.
	d.Engine = 0
	lines := d.Vans[0].Sheet.Lines
	lines[0].Quantity = lines[0].Quantity.Add(number("1.5"))
	lines[1].Code, lines[1].Name = "beading", "Beading"
	before := encoded(t, d)
	r, err := quote.Recompute(quotetest.Offer("2026-10"), d)
	if err != nil || r.Same || r.SHA256 == r.SHA256Now || encoded(t, d) != before {
		t.Fatal(err, r.Same)
	}
	var b bytes.Buffer
	for _, d := range r.Differences {
		fmt.Fprintf(&b, "%s\n    %s: %q, %q\n", d.Says, d.At, d.Before, d.After)
	}
	// Which hash it is, is no matter here.
	text := strings.NewReplacer(d.Edition.Hash[:12], "(hash then)", quotetest.Offer("2026-10").Book.Hash()[:12], "(hash now)").Replace(b.String())
	golden(t, "recomputed.txt", []byte(text))

	same := issue(t, quotetest.Offer("2026-10"), asked(t, "windows-only"), 1)
	same.Vans[0].Specification.Features[0].Why = "Because."
	if r, err := quote.Recompute(quotetest.Offer("2026-10"), same); err != nil || r.Same || len(r.Differences) != 1 {
		t.Errorf("a reason that differs: %v %+v", err, r)
	}
	same.Asked.Vans[0].Choices.Features[0].Want = "nothing_known"
	if _, err := quote.Recompute(quotetest.Offer("2026-10"), same); err == nil {
		t.Error("a code nobody knows is worked out")
	}
}
