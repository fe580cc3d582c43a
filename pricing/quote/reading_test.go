package quote_test

import (
	"encoding/json"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
)

// Whole documents of the demo come back as the library would read them.
func TestDecodeReadsWhatTheLibraryWould(t *testing.T) {
	o := quotetest.Offer("2026-10")
	names, _ := filepath.Glob("../../testdata/demo/choices/*.yaml")
	for _, path := range names {
		name := strings.TrimSuffix(filepath.Base(path), ".yaml")
		if name == "choices-that-clash" {
			continue
		}
		text := []byte(encoded(t, issue(t, o, asked(t, name), 1)))
		got, err := quote.Decode(text)
		if err != nil {
			t.Fatal(err)
		}
		var want quote.Document
		if err := json.Unmarshal(text, &want); err != nil || !reflect.DeepEqual(*got, want) {
			t.Errorf("%s: the library reads another: %v", name, err)
		}
	}
}
