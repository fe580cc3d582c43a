package catalogue_test

import (
	"fmt"
	"strings"
	"testing"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

// large is a valid catalogue of about a megabyte: the sample and many parts,
// kits and features.
func large() []document.File {
	var b strings.Builder
	b.WriteString("format: " + catalogue.Format + "\nparts:\n")
	const n = 2500
	for i := range n {
		fmt.Fprintf(&b, "  - code: PART-%d\n    name: Part number %d, as a workshop would call it\n    unit: m\n    decimals: 1\n    mass_kg: 1.%d\n    provision: for the job\n    scrap_percent: 5\n", i, i, i)
	}
	b.WriteString("kits:\n")
	for i := range n / 5 {
		fmt.Fprintf(&b, "  - {code: SET-%d, name: Set %d, items: [{part: PART-%d}, {part: PART-%d, quantity: 2}]}\n", i, i, i, i+1)
	}
	b.WriteString("features:\n")
	for i := range n {
		fmt.Fprintf(&b, `  - code: feature_%d
    name: Feature number %d
    group: seating
    says: What it is, in the words of a customer who has never seen one.
    lines:
      - stage: furniture
        part: PART-%d
        quantity: mm_to_m(van.load_length_mm) * 0.4
      - {stage: furniture, trade: joiner, quantity: 1.25, says: "Fitted, aligned and sealed"}
`, i, i, i)
	}
	return []document.File{{Name: "9-large.yaml", Data: []byte(b.String())}}
}

func BenchmarkDecode(b *testing.B) {
	whole := append(files(b, "testdata/sample/*.yaml"), large()...)
	size := 0
	for _, f := range whole {
		size += len(f.Data)
	}
	b.SetBytes(int64(size))
	b.ReportAllocs()
	for b.Loop() {
		if _, _, faults := catalogue.Decode(whole); len(faults) > 0 {
			b.Fatal(faults)
		}
	}
}

func BenchmarkValidate(b *testing.B) {
	c, _, faults := catalogue.Decode(append(files(b, "testdata/sample/*.yaml"), large()...))
	if len(faults) > 0 {
		b.Fatal(faults)
	}
	b.ReportAllocs()
	for b.Loop() {
		if faults := c.Validate(); len(faults) > 0 {
			b.Fatal(faults)
		}
	}
}

func BenchmarkHash(b *testing.B) {
	c, _, faults := catalogue.Decode(append(files(b, "testdata/sample/*.yaml"), large()...))
	if len(faults) > 0 {
		b.Fatal(faults)
	}
	b.ReportAllocs()
	for b.Loop() {
		catalogue.Hash(c)
	}
}

// BenchmarkCompare compares it with one in which every tenth feature takes
// longer.
func BenchmarkCompare(b *testing.B) {
	read := func() *catalogue.Catalogue {
		c, _, faults := catalogue.Decode(append(files(b, "testdata/sample/*.yaml"), large()...))
		if len(faults) > 0 {
			b.Fatal(faults)
		}
		return c
	}
	was, is := read(), read()
	for i := range is.Features {
		if n := len(is.Features[i].Lines); i%10 == 0 && n > 0 {
			is.Features[i].Lines[n-1].Quantity = "1.5"
		}
	}
	differences := 0
	for b.Loop() {
		differences = len(catalogue.Compare(was, is).Differences)
	}
	b.ReportMetric(float64(differences), "differences")
}
