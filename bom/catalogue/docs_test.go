package catalogue_test

import (
	"fmt"
	"os"
	"reflect"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
)

const page = "../../docs/catalogue.md"

func readPage(t *testing.T) string {
	t.Helper()
	data, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// The sample on the page is the sample that is tested.
func TestPageShowsTheSample(t *testing.T) {
	const from, to = "<!-- sample -->\n", "<!-- end of sample -->"
	text := readPage(t)
	before, rest, ok := strings.Cut(text, from)
	_, after, ok2 := strings.Cut(rest, to)
	if !ok || !ok2 {
		t.Fatal("the page has no place for the sample")
	}
	var b strings.Builder
	for _, f := range files(t, "testdata/sample/*.yaml") {
		fmt.Fprintf(&b, "\n`%s`\n\n```yaml\n%s```\n", f.Name, f.Data)
	}
	golden(t, page, before+from+b.String()+"\n"+to+after)
}

// Every key has its line under the heading of its type, and every word of a
// closed list is on the page.
func TestPageNamesEveryKey(t *testing.T) {
	headings := map[string]string{
		"Catalogue": "## The whole", "Trade": "## Trades", "Stage": "## Stages", "StageHold": "### Holds", "BaseVan": "## Base vans",
		"Particular": "### Particulars", "Fitted": "### Features with how many", "Group": "## Groups",
		"Feature": "## Features", "Count": "## Features", "CheckDue": "## Features", "Removal": "### Removal", "Line": "### Lines",
		"Finish": "## Finishes", "FinishChoice": "## Finishes", "Package": "## Packages", "PackageFinish": "## Packages",
		"Rule": "## Rules", "SafetyRule": "## Safety rules", "Figure": "## Figures", "Check": "## Checks", "Part": "## Parts", "Rate": "## Parts",
		"Kit": "## Kits", "KitHours": "## Kits", "KitItem": "### Kit items", "OutsideWork": "## Outside work",
		"Position": "## Positions", "Load": "## Loads", "ClassFeature": "## Class features", "Evidence": "## Evidence",
	}
	text := readPage(t)
	seen := map[reflect.Type]bool{}
	var walk func(reflect.Type)
	walk = func(typ reflect.Type) {
		for typ.Kind() == reflect.Slice || typ.Kind() == reflect.Pointer {
			typ = typ.Elem()
		}
		if seen[typ] {
			return
		}
		seen[typ] = true
		if closed, ok := reflect.TypeAssert[interface{ Words() []string }](reflect.Zero(typ)); ok {
			for _, w := range closed.Words() {
				if !strings.Contains(text, "`"+w+"`") {
					t.Errorf("the page does not name the word %q", w)
				}
			}
		}
		if typ.Kind() != reflect.Struct || typ == reflect.TypeFor[decimal.Decimal]() || typ == reflect.TypeFor[catalogue.Fact]() {
			return
		}
		heading := headings[typ.Name()]
		_, section, ok := strings.Cut(text, "\n"+heading+"\n")
		if !ok || heading == "" {
			t.Errorf("the page has no heading %q for %s", heading, typ.Name())
			return
		}
		if end := strings.Index(section, "\n#"); end >= 0 {
			section = section[:end]
		}
		for field := range typ.Fields() {
			key, _, _ := strings.Cut(field.Tag.Get("yaml"), ",")
			if !strings.Contains(section, "`"+key+"`") {
				t.Errorf("under %q the page does not name %q", heading, key)
			}
			walk(field.Type)
		}
	}
	walk(reflect.TypeFor[catalogue.Catalogue]())
	for _, name := range append(catalogue.RequiredFacts, catalogue.RequiredParticulars...) {
		if !strings.Contains(text, "`"+name+"`") {
			t.Errorf("the page does not name %q", name)
		}
	}
}
