package document

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
)

var update = flag.Bool("update", false, "write the golden files anew")

const shelfFormat = "shelf/1"

// shelf has a field of every kind.
type shelf struct {
	Title string   `yaml:"title" json:"title"`
	Wood  wood     `yaml:"wood" json:"wood,omitempty"`
	Boxes []box    `yaml:"boxes" json:"boxes,omitempty"`
	Tags  []string `yaml:"tags" json:"tags,omitempty"`
}

type box struct {
	Code     string           `yaml:"code" json:"code"`
	MassKG   decimal.Decimal  `yaml:"mass_kg" json:"mass_kg,omitzero"`
	Spare    *decimal.Decimal `yaml:"spare" json:"spare,omitempty"`
	Count    int              `yaml:"count" json:"count,omitempty"`
	Open     bool             `yaml:"open" json:"open,omitempty"`
	Quantity string           `yaml:"quantity" json:"quantity,omitempty" document:"formula"`
	Wood     wood             `yaml:"wood" json:"wood,omitempty"`
}

type wood string

func (wood) Words() []string { return []string{"oak", "elm"} }

func decodeShelf(name, text string) (shelf, Positions, Faults) {
	var s shelf
	p, faults := Decode(File{Name: name, Data: []byte(text)}, &s, shelfFormat)
	return s, p, faults
}

func TestDecodeReadsBothWritings(t *testing.T) {
	for name, text := range map[string]string{
		"x.yaml": `format: shelf/1
title: >
  Oak
  shelf, "good"
boxes:
  - code: tin
    mass_kg: 1.50
    spare: 0
    count: 3
    open: true
    quantity: 2
tags: [a, 'b 😀', "2"]
`,
		"x.json": `{"format":"shelf\/1","title":"Oak shelf, \"good\"",
			"boxes":[{"code":"tin","mass_kg":1.50,"spare":"0",
			"count":3,"open":true,"quantity":2}],"tags":["\u0061","b \ud83d\ude00","2"]}`,
	} {
		s, p, faults := decodeShelf(name, text)
		if len(faults) > 0 {
			t.Fatal(name, faults)
		}
		b := s.Boxes[0]
		if s.Title != `Oak shelf, "good"` || b.Code != "tin" || b.MassKG.String() != "1.5" || b.Spare == nil || b.Count != 3 ||
			!b.Open || b.Quantity != "2" || strings.Join(s.Tags, "+") != "a+b 😀+2" {
			t.Errorf("%s: %+v", name, s)
		}
		want := map[string]int{"x.yaml": 9, "x.json": 3}[name]
		if at, ok := p.At("boxes/tin/count"); !ok || at.Line != want {
			t.Errorf("%s: boxes/tin/count is said to be at %v (%v), not in line %d", name, at, ok, want)
		}
	}
}

// Broken documents, each with all its faults in a golden file beside it.
func TestFaults(t *testing.T) {
	paths := broken()
	if len(paths) == 0 {
		t.Fatal("no broken documents")
	}
	for _, path := range paths {
		t.Run(filepath.Base(path), func(t *testing.T) {
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			_, _, faults := decodeShelf(filepath.Base(path), string(data))
			var b strings.Builder
			for _, f := range faults {
				fmt.Fprintf(&b, "%s\n\t%s\n", f.Code, f.Error())
			}
			golden(t, path+".txt", b.String())
		})
	}
}

func broken() []string {
	a, _ := filepath.Glob("testdata/faults/*.yaml")
	b, _ := filepath.Glob("testdata/faults/*.json")
	return append(a, b...)
}

func golden(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestLimits(t *testing.T) {
	head := "format: shelf/1\ntitle: Oak\ntags:"
	long := "format: shelf/1\ntitle: " + strings.Repeat("o", MaxText)
	nested := func(depth int) string {
		return head + "\nboxes: " + strings.Repeat("[", depth-1) + strings.Repeat("]", depth-1)
	}
	filled := head + strings.Repeat("#", MaxFileBytes-len(head)-1) + "\n"
	values := head + "\n" + strings.Repeat("- a\n", MaxValues/2-10)
	for _, c := range []struct{ name, text, code string }{
		{"as long a text as may be", long, ""},
		{"a text one byte too long", long + "o", "bad_text"},
		{"as deep as may be", nested(MaxDepth), "wrong_kind"},
		{"one too deep", nested(MaxDepth + 1), "too_deep"},
		{"as large as may be", filled, "malformed"}, // a # needs a space before it
		{"one byte too large", filled + "\n", "too_large"},
		{"as many values as may be", values, ""},
		{"too many values", values + strings.Repeat("- a\n", 20), "too_many_values"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, _, faults := decodeShelf("x.yaml", c.text)
			code := ""
			if len(faults) > 0 {
				code = faults[0].Code
			}
			if code != c.code {
				t.Errorf("got %q (%v), want %q", code, faults, c.code)
			}
		})
	}
}

func TestNotUTF8(t *testing.T) {
	_, _, faults := decodeShelf("x.yaml", "format: shelf/1\ntitle: \xe9lm\n")
	if len(faults) != 1 || faults[0].Code != "not_utf8" || faults[0].Line != 2 {
		t.Errorf("got %v", faults)
	}
	// A mark at the beginning that says UTF-8 is no fault, one that says
	// UTF-16 is.
	if _, _, faults := decodeShelf("x.yaml", "\ufeffformat: shelf/1\ntitle: Elm\n"); len(faults) > 0 {
		t.Errorf("got %v", faults)
	}
	if _, _, faults := decodeShelf("x.yaml", "\xff\xfef\x00o\x00"); len(faults) != 1 || faults[0].Code != "not_utf8" {
		t.Errorf("got %v", faults)
	}
}

func TestFaultsAreCutAndCounted(t *testing.T) {
	var b bytes.Buffer
	b.WriteString("format: shelf/1\ntitle: Oak\nboxes:\n")
	for i := range 5000 {
		fmt.Fprintf(&b, "  - {code: box-%d, count: many}\n", i)
	}
	_, _, faults := decodeShelf("x.yaml", b.String())
	if len(faults) != MaxFaults+1 {
		t.Fatalf("%d faults", len(faults))
	}
	if got := faults[MaxFaults]; got.Code != "more_faults" || !strings.HasPrefix(got.Reason, "4800 more") {
		t.Errorf("got %v", got)
	}
	if faults[0].At != "boxes/box-0/count" || faults[0].Line != 4 {
		t.Errorf("first is %v", faults[0])
	}
}

func TestSeveralFiles(t *testing.T) {
	read := func(files ...File) (shelf, Positions, Faults) {
		var s shelf
		p, faults := DecodeAll(files, &s, shelfFormat)
		return s, p, faults
	}
	a := File{Name: "a.yaml", Data: []byte("format: shelf/1\ntitle: Oak\nboxes:\n  - code: tin\n  - count: 1\n")}
	b := File{Name: "b.json", Data: []byte("{\"format\": \"shelf/1\",\n \"boxes\": [{\"code\": \"crate\"},\n {\"code\": \"tin\"}]}")}
	t.Run("lists go on in the order of names", func(t *testing.T) {
		s, p, faults := read(b, a)
		if len(faults) != 1 || faults[0].At != "boxes/2/code" {
			t.Fatalf("got %v", faults)
		}
		if len(s.Boxes) != 4 || s.Boxes[0].Code != "tin" || s.Boxes[2].Code != "crate" {
			t.Fatalf("got %+v", s)
		}
		for at, want := range map[string]Position{
			"boxes/tin":       {"a.yaml", 4},
			"boxes/crate":     {"b.json", 2},
			"boxes/4/code":    {"b.json", 3},
			"boxes/tin/count": {"a.yaml", 4}, // not given: its box
		} {
			if got, _ := p.At(at); got != want {
				t.Errorf("%s is said to be at %v, not %v", at, got, want)
			}
		}
	})
	t.Run("all else is given once", func(t *testing.T) {
		again := File{Name: "c.yaml", Data: []byte("format: shelf/1\ntitle: Elm\nboxes: none\n")}
		_, _, faults := read(a, again)
		var got []string
		for _, f := range faults {
			got = append(got, fmt.Sprint(f.Code, " ", f.File, ":", f.Line))
		}
		if want := "missing_key a.yaml:5, given_twice c.yaml:2, given_twice c.yaml:3"; strings.Join(got, ", ") != want {
			t.Errorf("got %v, want %s", got, want)
		}
	})
	t.Run("a file that cannot be read does not make its keys missing", func(t *testing.T) {
		_, _, faults := read(File{Name: "a.yaml", Data: []byte("title: [")}, b)
		if len(faults) != 1 || faults[0].Code != "malformed" {
			t.Errorf("got %v", faults)
		}
	})
	t.Run("no file at all", func(t *testing.T) {
		if _, _, faults := read(); len(faults) != 1 || faults[0].Code != "no_document" {
			t.Errorf("got %v", faults)
		}
	})
}

// Whatever bytes come, there is an answer, and every fault says what and where.
func FuzzDecode(f *testing.F) {
	for _, path := range broken() {
		data, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data, strings.HasSuffix(path, ".json"))
	}
	f.Fuzz(func(t *testing.T, data []byte, asJSON bool) {
		var s shelf
		p, faults := Decode(File{Name: "x", Data: data, JSON: asJSON}, &s, shelfFormat)
		for _, fault := range faults {
			if fault.Code == "" || fault.Reason == "" || fault.Remedy == "" {
				t.Errorf("a fault that does not say enough: %+v", fault)
			}
			p.At(fault.At)
		}
	})
}
