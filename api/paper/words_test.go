package paper_test

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"golang.org/x/net/html"
	"pgregory.net/rapid"

	"wainscot/api/paper"
	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing/quote"
)

// hostile are words that papers have been broken by.
var hostile = []string{
	"",
	" ",
	"<script>alert(1)</script>",
	"</style><script>alert(1)</script>",
	"\" onmouseover=\"alert(1)",
	"{{.}} {{template \"van\" .}}",
	"=cmd|' /C calc'!A0",
	"@SUM(1+1)*cmd",
	strings.Repeat("W", 300),
	strings.Repeat("unbreakable", 60),
	strings.Repeat("many words ", 120),
	"שלום עולם, הצעת מחיר 1042 לרכב",
	"مرحبا بالعالم",
	"\u202ereversed\u202c and \u2066isolated\u2069",
	"🚐 camper 👨\u200d👩\u200d👧 family 🇬🇧",
	"e\u0301le\u0300ve, Žižkov, Łódź, Øresund, Ελλάδα, Москва",
	"\x00\x01\x02 control \x1b[31m\x7f",
	"line\nbreak\r\nand\ttab\fform\vfeed",
	"not UTF-8: \xff\xfe\x80",
	"\ufeff\u200b\u00ad\u2028\u2029zero width",
	"“quotes” ‘and’ it's \"straight\" 5' 6\"",
	"£1,234.50 and €2 and 20 %",
	"漢字かな交じり文 한국어",
	"\\) Tj ET Q (\\",
	strings.Repeat("Y.\u05d0", 200),
	strings.Repeat("Y.\u05d0 ", 200),
	"a\u00a0b\u00a0" + strings.Repeat("no\u00a0break\u00a0", 40),
	"𝔘𝔫𝔦𝔠𝔬𝔡𝔢 \U0010ffff",
}

// said is a quote with other words in every place that people write in.
func said(tb testing.TB, word func() string) paper.Quote {
	tb.Helper()
	q := quoted(tb, "windows-only")
	d := *q.Document
	d.Vans = slices.Clone(d.Vans)
	v := &d.Vans[0]
	v.Priced.Lines = slices.Clone(v.Priced.Lines)
	for i := range v.Priced.Lines {
		v.Priced.Lines[i].Words = word()
		v.Priced.Lines[i].Code = []string{v.Priced.Lines[i].Code, word()}[i%2]
	}
	v.Extras = []quote.Extra{{Code: word(), Words: word(), Gross: v.Priced.Totals.Gross, Net: v.Priced.Totals.Net, VAT: v.Priced.Totals.VAT, Brings: []string{word(), word()}, TakesOff: []string{word()}}}
	v.OpenFinishes = []quote.OpenFinish{{Name: word(), Says: word()}, {Name: word(), ChooseBy: word()}}
	v.Sheet.LeavesOut = []string{word(), word()}
	v.Sheet.Cautions = []bom.CautionNote{{Says: word()}}
	v.Sheet.Certificates = []bom.Certificate{{Name: word()}}
	v.Sheet.Checks = []bom.CheckResult{{Name: word(), Says: word(), Remedy: word()}}
	v.Specification.Van.Particulars = []bom.ParticularValue{{Name: word(), Value: word()}}
	v.Specification.Van.BaseVan = word()
	d.ValidUntil, d.Asked.SlotWanted = word(), word()
	d.Payments = slices.Clone(d.Payments)
	for i := range d.Payments {
		d.Payments[i].Name = word()
	}
	d.Paper = quote.Paper{
		Letterhead: quote.Letterhead{Name: word(), Lines: []string{word(), word()}, Telephone: word(), Email: word(), Web: word(),
			CompanyNumber: word(), VATNumber: word(), Bank: []string{word()}},
		Terms: word() + "\n" + word(), TermsSHA256: word(), NotIncluded: []string{word()}, Reference: word(),
	}
	q.Document = &d
	q.Customer = paper.Person{Name: word(), Lines: []string{word(), word()}, Telephone: word(), Email: word()}
	q.EndCustomer = paper.Person{Name: word()}
	q.Vans = []paper.VanWords{{Registration: word(), VIN: word(), Keeper: word()}}
	q.Cancellation = []string{word(), word()}
	return q
}

// TestWhateverTheWords: nothing breaks, nothing runs, nothing stands outside
// the margins, whatever people write.
func TestWhateverTheWords(t *testing.T) {
	for _, word := range hostile {
		holds(t, said(t, func() string { return word }))
	}
	rapid.Check(t, func(rt *rapid.T) {
		words := rapid.OneOf(rapid.SampledFrom(hostile), rapid.String(), rapid.StringN(200, 300, -1))
		q := said(t, func() string { return words.Draw(rt, "words") })
		q.Draft = rapid.Bool().Draw(rt, "draft")
		holds(t, q)
	})
}

func holds(tb testing.TB, q paper.Quote) {
	tb.Helper()
	inMargins(tb, written(tb, paper.QuotePDF, q))
	harmlessPage(tb, written(tb, paper.QuoteHTML, q))
}

// inMargins finds words of a PDF that stand outside what may be printed on,
// by the boxes that another program sees them in. Margins in points of A4
// upright: 22 mm left, 20 mm right, 12 mm above and 10 mm below.
func inMargins(tb testing.TB, pdf []byte) {
	tb.Helper()
	const mm = 72 / 25.4
	in := xml.NewDecoder(strings.NewReader(pdftotext(tb, pdf, "-bbox")))
	in.Strict = false
	in.Entity = xml.HTMLEntity
	words := 0
	for {
		token, err := in.Token()
		if err != nil {
			break
		}
		start, ok := token.(xml.StartElement)
		if !ok || start.Name.Local != "word" {
			continue
		}
		words++
		at := map[string]float64{}
		for _, a := range start.Attr {
			at[a.Name.Local], _ = strconv.ParseFloat(a.Value, 64)
		}
		if at["xMin"] < 22*mm-0.6 || at["xMax"] > (210-20)*mm+0.6 || at["yMin"] < 10*mm || at["yMax"] > (297-10)*mm {
			word, _ := in.Token()
			tb.Fatalf("%.40q stands outside the margins: %v", word, at)
		}
	}
	if words < 40 {
		tb.Fatalf("only %d words are seen", words)
	}
}

// harmlessPage finds what a page must not have.
func harmlessPage(tb testing.TB, page []byte) {
	tb.Helper()
	if !utf8.Valid(page) {
		tb.Fatal("the page is not UTF-8")
	}
	for _, r := range string(page) {
		if unicode.IsControl(r) && r != '\n' || unicode.Is(unicode.Bidi_Control, r) {
			tb.Fatalf("%q is in the page", r)
		}
	}
	root, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		tb.Fatal(err)
	}
	styles := 0
	for n := range root.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		switch n.Data {
		case "script", "img", "iframe", "a", "form", "input", "svg":
			tb.Fatalf("words became <%s>", n.Data)
		case "style":
			styles++
		}
		for _, a := range n.Attr {
			if strings.HasPrefix(a.Key, "on") {
				tb.Fatalf("words became %s=%q", a.Key, a.Val)
			}
		}
	}
	if styles != 1 {
		tb.Fatalf("there are %d styles", styles)
	}
}

// FuzzWords puts one text everywhere: into the page, which must stay harmless,
// and into the CSV, where no cell may begin like a formula.
func FuzzWords(f *testing.F) {
	for _, word := range hostile {
		f.Add(word)
	}
	for _, word := range dangerous {
		f.Add(word)
	}
	f.Fuzz(func(t *testing.T, word string) {
		harmlessPage(t, written(t, paper.QuoteHTML, said(t, func() string { return word })))
		b := paper.BuildSheet{Title: word, Sheet: bom.Sheet{Stages: []bom.StageTotal{{Stage: "s", Name: word}}, Lines: []bom.Line{{
			Stage: "s", Kind: bom.LineKind(word), Code: word, Name: word, Unit: word, Provision: catalogue.Provision(word), Because: []bom.Because{{Says: word}}}}}}
		records, err := csv.NewReader(bytes.NewReader(written(t, paper.SheetCSV, b))).ReadAll()
		if err != nil || len(records) != 2 {
			t.Fatalf("%d records, %v", len(records), err)
		}
		for _, cell := range records[1] {
			if cell != "" && strings.ContainsRune("=+-@\t\r\n", rune(cell[0])) {
				t.Errorf("a cell is %q", cell)
			}
		}
	})
}

// TestQuotationMarks: apostrophes and quotation marks are curved, feet and
// inches and the words of the terms are not.
func TestQuotationMarks(t *testing.T) {
	q := quoted(t, "windows-only")
	d := *q.Document
	d.Paper.NotIncluded = []string{`It's "not" in ('at all'), the travellers' 6' 2" bed`}
	d.Paper.Terms = `It's as it's written.`
	q.Document = &d
	page := string(written(t, paper.QuoteHTML, q))
	for _, want := range []string{`It’s “not” in (‘at all’), the travellers’ 6&#39; 2&#34; bed`, `It&#39;s as it&#39;s written.`} {
		if !strings.Contains(page, want) {
			t.Errorf("%s is not in the page", want)
		}
	}
}
