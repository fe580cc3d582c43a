package catalogue_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

// files reads all files of a folder of testdata.
func files(tb testing.TB, pattern string) []document.File {
	tb.Helper()
	paths, err := filepath.Glob(pattern)
	if err != nil || len(paths) == 0 {
		tb.Fatalf("no files %s: %v", pattern, err)
	}
	var list []document.File
	for _, p := range paths {
		data, err := os.ReadFile(p)
		if err != nil {
			tb.Fatal(err)
		}
		list = append(list, document.File{Name: filepath.Base(p), Data: data})
	}
	return list
}

func sample(tb testing.TB) *catalogue.Catalogue {
	tb.Helper()
	c, _, faults := catalogue.Decode(files(tb, "testdata/sample/*.yaml"))
	if len(faults) > 0 {
		tb.Fatalf("the sample has faults:\n%v", faults)
	}
	return c
}

func TestSampleComesBackFromJSON(t *testing.T) {
	c := sample(t)
	data, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	again, _, faults := catalogue.DecodeJSON(data)
	if len(faults) > 0 {
		t.Fatalf("faults:\n%v", faults)
	}
	if got, want := catalogue.Hash(again), catalogue.Hash(c); got != want {
		t.Errorf("hash %s, want %s", got, want)
	}
}

// The sample is right to the last formula, not only in its structure.
func TestSampleCompiles(t *testing.T) {
	if _, faults := bom.Compile(sample(t)); len(faults) > 0 {
		t.Errorf("faults:\n%v", faults)
	}
}
