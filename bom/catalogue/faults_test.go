package catalogue_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"wainscot/bom/catalogue"
)

var update = flag.Bool("update", false, "write the golden files anew")

// Each broken file is read after the sample, so that it holds only what is
// broken; beside it stands every fault it must have.
func TestFaults(t *testing.T) {
	whole := files(t, "testdata/sample/*.yaml")
	for _, broken := range files(t, "testdata/faults/*.yaml") {
		t.Run(broken.Name, func(t *testing.T) {
			c, _, faults := catalogue.Decode(append(slices.Clip(whole), broken))
			if c != nil {
				t.Error("there is a catalogue")
			}
			var b strings.Builder
			for _, f := range faults {
				fmt.Fprintf(&b, "%s\n\t%s\n", f.Code, f.Error())
			}
			golden(t, strings.TrimSuffix(filepath.Join("testdata/faults", broken.Name), ".yaml")+".txt", b.String())
		})
	}
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
