package bom

import (
	"os"
	"testing"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

// sample is the small catalogue under testdata, with every kind of thing once.
func sample(t testing.TB) *Release {
	t.Helper()
	r, faults := Compile(sampleCatalogue(t))
	if len(faults) > 0 {
		t.Fatalf("the sample catalogue does not compile:\n%v", faults)
	}
	return r
}

func sampleCatalogue(t testing.TB) *catalogue.Catalogue {
	t.Helper()
	const name = "testdata/sample/catalogue.yaml"
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	c, positions, faults := catalogue.Decode([]document.File{{Name: name, Data: data}})
	if len(faults) > 0 {
		t.Fatalf("%v", positions.Locate(faults))
	}
	return c
}

func resolved(t testing.TB, r *Release, van Van, choices Choices, settle Settle) Resolution {
	t.Helper()
	res, faults, err := Resolve(r, van, choices, settle)
	if err != nil || len(faults) > 0 {
		t.Fatalf("resolve: %v %v", faults, err)
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
