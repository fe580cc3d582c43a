package apitest

import (
	"bytes"
	"flag"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"wainscot/api/auth"
	"wainscot/api/store/storetest"
	"wainscot/openapi"
)

var update = flag.Bool("update", false, "write the golden files anew")

// badInput is a request that must be answered with a problem.
type badInput struct {
	name   string
	body   string
	header http.Header
	method string // POST unless given
	path   string // /v1/quotes unless given
	role   auth.Role
}

const goodVan = `"van":{"base_van":"short_panel_van"}`

// ofVan is a body with one van of these members.
func ofVan(members string) string { return `{"vans":[{` + members + `}]}` }

// choosing is a body with these members of choices.features.
func choosing(features string) string {
	return ofVan(goodVan + `,"choices":{"features":[` + features + `]}`)
}

// withVan is a body with these members of van beside its base van.
func withVan(members string) string {
	return ofVan(`"van":{"base_van":"short_panel_van",` + members + `},"choices":{"features":[{"want":"whole_conversion"}]}`)
}

// underTerms is a body with these terms.
func underTerms(terms string) string {
	return `{"vans":[{` + goodVan + `,"choices":{"features":[{"want":"whole_conversion"}]},"settle":"by defaults"}],"terms":` + terms + `}`
}

func many(n int, member string) string {
	return strings.TrimSuffix(strings.Repeat(member+",", n), ",")
}

func badInputs() []badInput {
	header := func(name, value string) http.Header { return http.Header{name: {value}} }
	get := func(name, path string) badInput {
		return badInput{name: name, method: http.MethodGet, path: path}
	}
	return []badInput{
		// Not a JSON document.
		{name: "nothing", body: ""},
		{name: "only spaces", body: " \n\t"},
		{name: "not JSON", body: "van: short"},
		{name: "half a document", body: `{"van":{"base_van":`},
		{name: "something behind it", body: choosing("") + " and so on"},
		{name: "two documents", body: choosing("") + choosing("")},
		{name: "a byte order mark", body: "\ufeff" + choosing("")},
		{name: "not UTF-8", body: choosing("{\"want\":\"hob\xff\"}")},
		{name: "half a character", body: choosing(`{"want":"\ud800"}`)},
		{name: "a NUL", body: choosing(`{"want":"hob\u0000"}`)},
		{name: "a NUL in a name", body: choosing(`{"want\u0000":"hob"}`)},
		{name: "the same name twice", body: ofVan(goodVan + `,` + goodVan + `,"choices":{"features":[]}`)},
		{name: "the same name twice, written otherwise", body: choosing(`{"want":"hob_two","wan\u0074":"oven"}`)},
		{name: "nested deep", body: strings.Repeat(`{"van":`, 5000) + "1" + strings.Repeat("}", 5000)},
		{name: "lists nested deep", body: strings.Repeat("[", 100_000)},
		{name: "huge", body: choosing(many(30_000, `{"want":"hob_two"}`))},
		{name: "a number without end", body: withVan(`"year":1e400`)},
		{name: "a number of many digits", body: withVan(`"year":` + strings.Repeat("9", 5000))},

		// Announced as something else.
		{name: "no content type", body: choosing(""), header: header("Content-Type", "")},
		{name: "a form", body: "van=short", header: header("Content-Type", "application/x-www-form-urlencoded")},
		{name: "another character set", body: choosing(""), header: header("Content-Type", "application/json; charset=iso-8859-1")},
		{name: "a broken content type", body: choosing(""), header: header("Content-Type", "application/json; charset=")},
		{name: "compressed", body: choosing(""), header: header("Content-Encoding", "gzip")},

		// Not what the contract says.
		{name: "null", body: "null"},
		{name: "a list", body: "[]"},
		{name: "an empty object", body: "{}"},
		{name: "an unknown field", body: ofVan(goodVan + `,"choices":{"features":[]},"margin":"0"`)},
		{name: "a role of one's own", body: underTerms(`{"role":"owner"}`)},
		{name: "wrong types", body: ofVan(`"van":[],"choices":{"features":"hob","package":7}`)},
		{name: "a null inside", body: choosing("null")},
		{name: "10,000 choices", body: choosing(many(10_000, `{"want":"oven"}`))},
		{name: "one choice too many", body: choosing(many(2001, `{"want":"hob_two"}`))},
		{name: "5,000 wrong members", body: choosing(many(5000, `1`))},
		{name: "a negative count", body: choosing(`{"want":"sockets_usb","count":-1}`)},
		{name: "a count of nothing", body: choosing(`{"want":"sockets_usb","count":0}`)},
		{name: "a broken count", body: choosing(`{"want":"sockets_usb","count":1.5}`)},
		{name: "a huge count", body: choosing(`{"want":"sockets_usb","count":99999999999999999999}`)},
		{name: "a code that is a formula", body: choosing(`{"want":"1+1"}`)},
		{name: "a code that is a statement", body: choosing(`{"want":"'; DROP TABLE quotes; --"}`)},
		{name: "a long code", body: choosing(`{"want":"` + strings.Repeat("a", 500) + `"}`)},
		{name: "an empty choice", body: choosing(`{}`)},
		{name: "VIN with letters it cannot have", body: withVan(`"vin":"WVWZZZ1JZXW00000O"`)},
		{name: "a year before vans", body: withVan(`"year":1066`)},
		{name: "a mass in words", body: withVan(`"weighed_front_kg":"heavy"`)},
		{name: "a tank over full", body: withVan(`"weighed_front_kg":"1105","weighed_rear_kg":"870","weighed_fuel_percent":101`)},
		{name: "a fourth in front", body: withVan(`"weighed_front_kg":"1105","weighed_rear_kg":"870","weighed_people_count":4`)},
		{name: "weighed on no day", body: withVan(`"weighed_front_kg":"1105","weighed_rear_kg":"870","weighed_day":"2026-02-30"`)},
		{name: "a plate in tonnes", body: withVan(`"plated_kg":"3.5 t"`)},
		{name: "a day that is none", body: underTerms(`{"day":"2026-02-30"}`)},
		{name: "a discount below nothing", body: underTerms(`{"discount_percent":"-5"}`)},
		{name: "money without a currency", body: underTerms(`{"discount_amount":{"amount":"1.00"}}`)},

		// Not what the catalogue or the trade says.
		{name: "an unknown base van", body: ofVan(`"van":{"base_van":"hovercraft"},"choices":{"features":[]}`)},
		{name: "unknown codes", body: ofVan(goodVan + `,"choices":{"package":"palace","features":[{"want":"hob_tow"},{"refuse":"chandelier"}],"finishes":[{"finish":"fabric","choice":"gold"}]}`)},
		{name: "wanted and refused in one", body: choosing(`{"want":"oven","refuse":"hob_two"}`)},
		{name: "a count of what is not counted", body: choosing(`{"want":"oven","count":3}`)},
		{name: "more than there can be", body: choosing(`{"want":"whole_conversion"},{"want":"sockets_usb","count":999}`)},
		{name: "registered and new", body: withVan(`"new":true,"registration":"WT24 DMO"`)},
		{name: "one axle weighed", body: withVan(`"weighed_front_kg":"1105"`)},
		{name: "a ticket without masses", body: withVan(`"weighed_day":"2026-11-02"`)},
		{name: "a plate of nothing", body: withVan(`"plated_kg":"0","plated_front_kg":"0.000"`)},
		{name: "a plate of no van", body: withVan(`"none":true,"plated_kg":"3000"`)},
		{name: "an unknown particular", body: withVan(`"particulars":[{"name":"colour","value":"red"}]`)},
		{name: "choices against each other", body: choosing(`{"want":"whole_conversion"},{"want":"roof_elevating"},{"want":"roof_high"}`)},
		{name: "a day before any price-book", body: underTerms(`{"day":"2020-01-01"}`)},
		{name: "another currency", body: underTerms(`{"discount_amount":{"amount":"10.00","currency":"EUR"}}`)},
		{name: "a currency that is none", body: underTerms(`{"discount_amount":{"amount":"10.00","currency":"XQZ"}}`)},
		{name: "half a penny", body: underTerms(`{"discount_amount":{"amount":"10.005","currency":"GBP"}}`)},
		{name: "two discounts", body: underTerms(`{"discount_percent":"1","discount_amount":{"amount":"10.00","currency":"GBP"}}`)},
		{name: "a discount beyond the role", body: underTerms(`{"discount_percent":"99"}`)},
		{name: "neither van nor van_id", body: ofVan(`"choices":{"features":[]}`)},
		{name: "both van and van_id", body: ofVan(goodVan + `,"van_id":"01900000-0000-7000-8000-000000000000","choices":{"features":[]}`)},
		{name: "a van of nobody", body: ofVan(`"van_id":"01900000-0000-7000-8000-000000000000","choices":{"features":[]}`)},
		{name: "a price list that is not the customer's", body: underTerms(`{"price_list":"trade"}`)},
		{name: "a treatment of nothing", body: underTerms(`{"treatments":[{"code":"no_such_thing","treatment":"zero"}]}`)},

		// Addresses and parameters.
		get("nowhere", "/v1/nothing"),
		get("a stroke at the end", "/v1/quotes/"),
		get("in capitals", "/V1/quotes"),
		get("climbing", "/v1/quotes/../../etc/passwd"),
		{name: "a method it does not take", method: http.MethodDelete, path: "/v1/quotes"},
		{name: "a method nobody has", method: "BREW", path: "/v1/quotes"},
		{name: "a body where none belongs", method: http.MethodGet, path: "/v1/quotes", body: "{}"},
		get("an id that is none", "/v1/quotes/1"),
		get("an id in capitals", "/v1/quotes/0190AAAA-0000-7000-8000-000000000000"),
		get("an id of nothing", "/v1/quotes/01900000-0000-7000-8000-000000000000"),
		get("a limit of none", "/v1/quotes?limit=0"),
		get("a limit too large", "/v1/quotes?limit=101"),
		get("a limit in words", "/v1/quotes?limit=ten"),
		get("a limit with an exponent", "/v1/quotes?limit=1e1"),
		get("a parameter twice", "/v1/quotes?limit=1&limit=2"),
		get("an unknown parameter", "/v1/quotes?offset=10"),
		get("a deep object", "/v1/quotes?limit[gt]=1"),
		get("a parameter badly encoded", "/v1/quotes?registration=%zz"),
		get("a NUL in a parameter", "/v1/quotes?registration=%00"),
		get("a registration of dots", "/v1/quotes?registration=1%20...%20"+strings.Repeat("1", 300)),
		get("a cursor made up", "/v1/quotes?cursor=MTc2NDA3MjAwMDAwMDAwMCAw.AAAA"),
		get("an unknown base van to list by", "/v1/features?base_van=hovercraft"),
		get("a state there is not", "/v1/quotes?state=open"),
	}
}

// TestBadInput asks all of it, as golden text for a reader: what was sent,
// what came back. Nothing of it may leave a trace in the database.
func TestBadInput(t *testing.T) {
	w := newWorld(t)
	before := w.rows(t)
	var told strings.Builder
	for _, in := range badInputs() {
		c := call{method: in.method, path: in.path, of: w.Ours, role: in.role, header: in.header, broken: true}
		if c.method == "" {
			c.method = http.MethodPost
		}
		if c.path == "" {
			c.path = "/v1/quotes"
		}
		if c.role == "" {
			c.role = auth.Sales
		}
		if in.body != "" || c.method == http.MethodPost {
			c.body = []byte(in.body)
		}
		g := w.exchange(t, c)
		if g.status < 400 || g.status >= 500 {
			t.Errorf("%s: answers %d: %s", in.name, g.status, g.body)
		}
		if len(g.body) > 40_000 {
			t.Errorf("%s: a problem of %d bytes", in.name, len(g.body))
		}
		tell(&told, in.name, c, g.problem(t))
	}
	after := w.rows(t)
	for table, n := range before {
		if after[table] != n {
			t.Errorf("table %s had %d rows and has %d", table, n, after[table])
		}
	}
	golden(t, "bad_input.golden", told.String())
}

// tell writes a problem as text, at most five fields of it.
func tell(b *strings.Builder, name string, c call, p openapi.Problem) {
	fmt.Fprintf(b, "%s\n", name)
	if c.path != "/v1/quotes" || c.method != http.MethodPost {
		fmt.Fprintf(b, "  %s %.80s\n", c.method, c.path)
	}
	fmt.Fprintf(b, "  %d %s: %s\n  → %s\n", p.Status, p.Code, p.Detail, p.Remedy)
	for i, e := range p.Errors {
		if i == 5 {
			fmt.Fprintf(b, "  • and %d more in the answer, %d cut\n", len(p.Errors)-i, p.ErrorsCut)
			break
		}
		fmt.Fprintf(b, "  • %s %s: %s → %s\n", e.Field, e.Code, e.Reason, e.Remedy)
	}
	b.WriteByte('\n')
}

// golden holds text against a file; -update writes it anew.
func golden(t testing.TB, name, text string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Equal(want, []byte(text)) {
		return
	}
	is, was := strings.Split(text, "\n"), strings.Split(string(want), "\n")
	for i := range is {
		if i >= len(was) || is[i] != was[i] {
			t.Errorf("%s differs from line %d on; -update writes it anew:\n is  %s\n was %s", path, i+1, is[i], append(was, "")[min(i, len(was))])
			return
		}
	}
	t.Errorf("%s is longer than what was told; -update writes it anew", path)
}

// rows counts the rows of every table.
func (w *world) rows(t testing.TB) map[string]int {
	t.Helper()
	counts, err := storetest.Rows(t.Context(), w.Address)
	if err != nil {
		t.Fatal(err)
	}
	if counts["quotes"]+counts["people"] == 0 {
		t.Fatal("no rows counted at all")
	}
	return counts
}
