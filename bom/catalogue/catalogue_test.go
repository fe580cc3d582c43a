package catalogue_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

// files reads all files of a folder of testdata.
func files(t testing.TB, pattern string) []document.File {
	t.Helper()
	paths, err := filepath.Glob(pattern)
	if err != nil || len(paths) == 0 {
		t.Fatalf("no files %s: %v", pattern, err)
	}
	var list []document.File
	for _, p := range paths {
		data, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, document.File{Name: filepath.Base(p), Data: data})
	}
	return list
}

func sample(t testing.TB) *catalogue.Catalogue {
	t.Helper()
	c, _, faults := catalogue.Decode(files(t, "testdata/sample/*.yaml"))
	if len(faults) > 0 {
		t.Fatalf("the sample has faults:\n%v", faults)
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
