package bom

import (
	"os"
	"testing"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

// sample is the small catalogue under testdata, with every kind of thing once.
func sample(tb testing.TB) *Release {
	tb.Helper()
	r, faults := Compile(sampleCatalogue(tb))
	if len(faults) > 0 {
		tb.Fatalf("the sample catalogue does not compile:\n%v", faults)
	}
	return r
}

func sampleCatalogue(tb testing.TB) *catalogue.Catalogue {
	tb.Helper()
	const name = "testdata/sample/catalogue.yaml"
	data, err := os.ReadFile(name)
	if err != nil {
		tb.Fatal(err)
	}
	c, positions, faults := catalogue.Decode([]document.File{{Name: name, Data: data}})
	if len(faults) > 0 {
		tb.Fatalf("%v", positions.Locate(faults))
	}
	return c
}

func resolved(tb testing.TB, r *Release, van Van, choices Choices, settle Settle) Resolution {
	tb.Helper()
	res, faults, err := Resolve(r, van, choices, settle)
	if err != nil || len(faults) > 0 {
		tb.Fatalf("resolve: %v %v", faults, err)
	}
	return res
}

func wants(codes ...string) []Choice {
	list := make([]Choice, len(codes))
	for i, c := range codes {
		list[i].Want = c
	}
	return list
}
