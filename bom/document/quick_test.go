package document

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// readBoth reads a text with the quick and the full reader.
func readBoth(data []byte) (quick, full node, ok bool, faults Collector, halted bool) {
	p := parser{name: "x", faults: &faults}
	quick, ok = p.quick(data)
	if ok {
		full = p.full(data)
	}
	return quick, full, ok, faults, p.halted
}

// same says that two trees are one, as far as binding can tell.
func same(a, b node) bool {
	if a.kind != b.kind || a.quoted != b.quoted || a.line != b.line || a.text != b.text ||
		len(a.items) != len(b.items) || len(a.entries) != len(b.entries) {
		return false
	}
	for i := range a.items {
		if !same(a.items[i], b.items[i]) {
			return false
		}
	}
	for i := range a.entries {
		x, y := a.entries[i], b.entries[i]
		if x.key != y.key || x.line != y.line || !same(x.value, y.value) {
			return false
		}
	}
	return true
}

var quickTexts = []struct {
	text  string
	quick bool
}{
	{"a: 1\n", true},
	{"a: 1", true},
	{"# c\n\na: b # c\n\n# c\nb: c#d\n", true},
	{"a:\n- x\n- y\nb: z\n", true},
	{"a:\n  - x\n  - y: 1\n    z: 2\n  - - n\nb: z\n", false},
	{"a:\n  -   y: 1\n      z: 2\n  -\n    y: 3\nb:\n  c:\n    d: e f  g\n", true},
	{"a: [x, 'y z', \"w\", -1, [], {}]\nb: {c: d e, f: [g]} # h\n", true},
	{"a: 'it''s'\n", false},
	{"a: \"x\\ny\"\n", false},
	{"a: b\n  c\n", false},
	{"a: b\n c: d\n", false},
	{"a:\nb: c\n", false},
	{"a: b: c\n", false},
	{"a: [b,\n c]\n", false},
	{"a: >\n  b\n", false},
	{"a: &b c\n", false},
	{"a: *b\n", false},
	{"a: !b c\n", false},
	{"? a\n", false},
	{"<<: a\n", false},
	{"---\na: b\n", false},
	{"a: b\n---\n", false},
	{"a: b\n...\n", false},
	{"a: [b ? c]\n", false},
	{"a: [b: c]\n", false},
	{"a: {b}\n", false},
	{"a: {b: }\n", false},
	{"a: [b]c\n", false},
	{"a: 'b'c\n", false},
	{"a: 'b'#c\n", false},
	{"a: [b]#c\n", false},
	{"a:\tb\n", false},
	{"a: b\r\nc: d\r\n", false},
	{"a: \u00e9\u20ac\U0001f600\n", true},
	{"a: b\u2028c\n", false},
	{"- a\n", false},
	{"a:\n    - b\n  - c\n", false},
	{"a:\n    b: c\n  d: e\n", false},
	{" a: b\n", false},
	{"a: -\n", false},
	{"a: - b\n", false},
	{"a:b\n", false},
	{"a: b:c\n", true},
	{"a: ~\nb: null\nc: -5\nd: .5\ne: +x\n", true},
	{strings.Repeat("k", 1100) + ": 1\n", false},
	{"", false},
	{"#", false},
	{"a: b\n#", true},
}

func TestQuickReaderIsTheFullOne(t *testing.T) {
	for _, c := range quickTexts {
		quick, full, ok, faults, _ := readBoth([]byte(c.text))
		if ok != c.quick {
			t.Errorf("%q: read quickly: %v", c.text, ok)
		}
		if ok && (!same(quick, full) || len(faults.list) > 0) {
			t.Errorf("%q:\nquick %+v\nfull  %+v\n%v", c.text, quick, full, faults.list)
		}
	}
	// The way catalogues are written here is the usual one.
	for _, pattern := range []string{"../catalogue/testdata/sample/*.yaml", "../../testdata/demo/*/*.yaml"} {
		paths, _ := filepath.Glob(pattern)
		for _, path := range paths {
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			quick, full, ok, _, _ := readBoth(data)
			if !ok {
				t.Errorf("%s is not read quickly", path)
			} else if !same(quick, full) {
				t.Errorf("%s is read another way quickly", path)
			}
		}
	}
}

// What the quick reader accepts is what the full one reads, without a fault.
func FuzzQuickReader(f *testing.F) {
	for _, c := range quickTexts {
		f.Add([]byte(c.text))
	}
	for _, path := range broken() {
		if data, err := os.ReadFile(path); err == nil && strings.HasSuffix(path, ".yaml") {
			f.Add(data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if firstNotUTF8(data) > 0 {
			return // refused before either reads it
		}
		quick, full, ok, faults, halted := readBoth(data)
		if ok && (halted || len(faults.list) > 0 || !same(quick, full)) {
			t.Errorf("%q:\nquick %+v\nfull  %+v\n%v", data, quick, full, faults.list)
		}
	})
}

// BenchmarkRead reads the demo's catalogue with each reader.
func BenchmarkRead(b *testing.B) {
	paths, _ := filepath.Glob("../../testdata/demo/catalogue/*.yaml")
	var texts [][]byte
	size := 0
	for _, path := range paths {
		data, err := os.ReadFile(path)
		if err != nil {
			b.Fatal(err)
		}
		texts = append(texts, data)
		size += len(data)
	}
	read := func(b *testing.B, one func(*parser, []byte)) {
		b.Helper()
		b.SetBytes(int64(size))
		for b.Loop() {
			for _, data := range texts {
				one(&parser{name: "x", faults: &Collector{}}, data)
			}
		}
	}
	b.Run("reader=quick", func(b *testing.B) {
		read(b, func(p *parser, data []byte) {
			if _, ok := p.quick(data); !ok {
				b.Fatal("not read quickly")
			}
		})
	})
	b.Run("reader=full", func(b *testing.B) { read(b, func(p *parser, data []byte) { p.full(data) }) })
}
