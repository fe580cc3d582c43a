package paper_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"wainscot/api/paper"
	"wainscot/bom"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

// papers are the quotes that most tests look at.
func papers(tb testing.TB) map[string]paper.Quote {
	tb.Helper()
	return map[string]paper.Quote{
		"the couple":       theCouple(tb),
		"touring package":  drafted(tb, "package-touring"),
		"dealer":           quoted(tb, "dealer-own-heater"),
		"kit supplied":     quoted(tb, "roof-kit-supplied"),
		"second owner":     quoted(tb, "second-owner-refit"),
		"fleet of several": fleet(tb, 3),
	}
}

// onPaper writes an amount as it should stand on paper; this is not the
// package's own way of doing it.
func onPaper(a money.Amount, symbol string) string {
	text, sign := a.Fixed(), ""
	if text[0] == '-' {
		text, sign = text[1:], "−"
	}
	whole, part, _ := strings.Cut(text, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	return sign + symbol + whole + "." + part
}

// curled has printer's apostrophes, as far as the demo's words need them.
func curled(s string) string { return strings.ReplaceAll(s, "'", "’") }

// expected are all amounts a document must show, worked out from the document
// alone: each priced line of each kind of van once, the sums, the extras, the
// payments.
func expected(q paper.Quote) []entry {
	d := q.Document
	var list []entry
	add := func(name, amount string) { list = append(list, entry{name, amount}) }
	told := map[string]int{}
	for i := range d.Vans {
		p := &d.Vans[i].Priced
		key := fmt.Sprintf("%v %v", p.Lines, p.Totals)
		told[key]++
		if told[key] > 1 {
			continue
		}
		for _, l := range p.Lines {
			switch {
			case l.Kind == pricing.InPackageLine || l.Kind == pricing.IncludedLine:
			case l.Kind == pricing.FinishLine && l.Amount.IsZero():
				add(curled(l.Words), "included")
			case l.Quantity > 1:
				each, _ := money.New(l.UnitPrice.Decimal().Round(2), p.Currency)
				add(fmt.Sprintf("%s | %d | %s", curled(l.Words), l.Quantity, onPaper(each, "")), onPaper(l.Amount, ""))
			default:
				add(curled(l.Words), onPaper(l.Amount, ""))
			}
		}
		if !p.Totals.Discount.IsZero() {
			add("Before discount", onPaper(p.Totals.BeforeDiscount, ""))
		}
		for _, x := range d.Vans[i].Extras {
			add(curled(x.Words), onPaper(x.Gross, ""))
		}
	}
	for _, pay := range d.Payments {
		add(pay.Name, onPaper(pay.Amount, "£"))
	}
	add("Total with VAT", onPaper(d.Totals.Gross, "£"))
	return list
}

// TestEveryAmountIsOnPaper: each amount of the document stands in the PDF, as
// another program reads it, and on the page, beside its own words.
func TestEveryAmountIsOnPaper(t *testing.T) {
	for name, q := range papers(t) {
		t.Run(name, func(t *testing.T) {
			for form, found := range map[string][]entry{
				"PDF":  entriesOfPDF(t, written(t, paper.QuotePDF, q)),
				"HTML": entriesOfHTML(t, written(t, paper.QuoteHTML, q)),
			} {
				for _, want := range expected(q) {
					at := slices.IndexFunc(found, func(e entry) bool {
						name, _, _ := strings.Cut(e.Name, " | "+want.Name)
						return e.Amount == want.Amount && (e.Name == want.Name || strings.HasPrefix(e.Name, want.Name+" | ") || name == "")
					})
					if at < 0 {
						t.Errorf("%s: %q at %s is missing", form, want.Name, want.Amount)
						continue
					}
					found = slices.Delete(found, at, at+1)
				}
				// What is left may only be sums and VAT.
				for _, e := range found {
					if !regexp.MustCompile(`VAT|^\d+ vans alike|^Van \d+ of \d+`).MatchString(e.Name) {
						t.Errorf("%s: %q at %s is in no document", form, e.Name, e.Amount)
					}
				}
			}
		})
	}
}

// TestPDFAndPageTellTheSame: line by line, in the same order.
func TestPDFAndPageTellTheSame(t *testing.T) {
	for name, q := range papers(t) {
		pdf, page := entriesOfPDF(t, written(t, paper.QuotePDF, q)), entriesOfHTML(t, written(t, paper.QuoteHTML, q))
		if len(pdf) < 10 {
			t.Errorf("%s: only %d amounts are read in the PDF", name, len(pdf))
		}
		for i := range max(len(pdf), len(page)) {
			if i >= len(pdf) || i >= len(page) || !alikeEntries(pdf[i], page[i]) {
				t.Errorf("%s: amount %d: the PDF has %v, the page %v", name, i+1, pdf[min(i, len(pdf)-1)], page[min(i, len(page)-1)])
				break
			}
		}
	}
}

// alikeEntries allows that a name is broken over lines in the PDF.
func alikeEntries(pdf, page entry) bool {
	return pdf.Amount == page.Amount && strings.HasPrefix(strings.ReplaceAll(page.Name, " | ", " "), strings.ReplaceAll(pdf.Name, " | ", " "))
}

// TestVATOnPaper: VAT by rate and the net and gross totals, both bases.
func TestVATOnPaper(t *testing.T) {
	for name, want := range map[string][]string{
		"windows-only":    {"Total without VAT", "VAT 20 % on ", "Total with VAT"},
		"package-touring": {"Before discount", "Discount of 2 %", "Total with VAT", "of which VAT 20 % on "},
	} {
		q := quoted(t, name)
		got := entriesOfPDF(t, written(t, paper.QuotePDF, q))
		at := 0
		for _, e := range got {
			if at < len(want) && strings.HasPrefix(e.Name, want[at]) {
				at++
			}
		}
		if at != len(want) {
			t.Errorf("%s: %q is missing or out of order in %v", name, want[at], got)
		}
		for _, r := range q.Document.Vans[0].Priced.VAT {
			words := fmt.Sprintf("VAT %s %% on %s", r.Percent, onPaper(r.Net, ""))
			if !slices.ContainsFunc(got, func(e entry) bool {
				return strings.HasSuffix(e.Name, words) && e.Amount == onPaper(r.VAT, "")
			}) {
				t.Errorf("%s: %s at %s is missing", name, words, onPaper(r.VAT, ""))
			}
		}
	}
}

// TestGolden holds two quotes' papers as text one can read; go test
// ./api/paper -update rewrites them.
func TestGolden(t *testing.T) {
	for name, q := range map[string]paper.Quote{"the_couple": theCouple(t), "touring_draft": drafted(t, "package-touring")} {
		got := pdftotext(t, written(t, paper.QuotePDF, q), "-layout")
		got = strings.ReplaceAll(strings.ReplaceAll(got, "\f", "\n======== next page ========\n"), "\u00a0", " ")
		file := filepath.Join("testdata", name+".golden")
		if *update {
			if err := os.MkdirAll("testdata", 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		// Spaces between columns are the reader's guess, and differ from one
		// version of it to the next.
		if a, b := squeezed(got), squeezed(string(want)); a != b {
			t.Errorf("%s differs:\n%s", file, firstDifference(a, b))
		}
	}
}

func squeezed(s string) string {
	var lines []string
	for line := range strings.Lines(s) {
		if line = strings.Join(strings.Fields(line), " "); line != "" {
			lines = append(lines, line)
		}
	}
	return strings.Join(lines, "\n")
}

func firstDifference(got, want string) string {
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range max(len(g), len(w)) {
		if i >= len(g) || i >= len(w) || g[i] != w[i] {
			return fmt.Sprintf("line %d\n got %q\nwant %q", i+1, g[min(i, len(g)-1)], w[min(i, len(w)-1)])
		}
	}
	return ""
}

// TestPapersAreTheSameEachTime: the same quote, the same bytes.
func TestPapersAreTheSameEachTime(t *testing.T) {
	q := theCouple(t)
	pdf, page := written(t, paper.QuotePDF, q), written(t, paper.QuoteHTML, q)
	for range 5 {
		if !bytes.Equal(written(t, paper.QuotePDF, q), pdf) || !bytes.Equal(written(t, paper.QuoteHTML, q), page) {
			t.Fatal("the bytes differ from one time to the next")
		}
	}
}

// TestPDFSaysWhatItIs: title and language are there for a screen reader, the
// day is the document's, and nobody's name is outside the pages.
func TestPDFSaysWhatItIs(t *testing.T) {
	q := theCouple(t)
	pdf := written(t, paper.QuotePDF, q)
	for _, want := range []string{"/Lang", "/CreationDate (D:20261125", "/ModDate (D:20261125"} {
		if !bytes.Contains(pdf, []byte(want)) {
			t.Errorf("%q is not in the file", want)
		}
	}
	wide := func(s string) []byte {
		var b []byte
		for _, r := range s {
			b = append(b, byte(r>>8), byte(r))
		}
		return b
	}
	if !bytes.Contains(pdf, wide("Quote 1042")) {
		t.Error("the file has no title")
	}
	for _, secret := range []string{"Quayle", "Aldmoor", "WT24", "XXX0000"} {
		if bytes.Contains(pdf, wide(secret)) || bytes.Contains(pdf, []byte(secret)) {
			t.Errorf("%q is outside the pages", secret)
		}
	}
}

// TestCustomersSeeNoCostOnPaper: even where a document still has the inside of
// the price, no paper shows it, nor a supplier, nor what an addition costs.
func TestCustomersSeeNoCostOnPaper(t *testing.T) {
	w := demo(t)
	o := w.offers["2026-10"]
	for _, name := range []string{"full-conversion-short-van", "dealer-own-heater"} {
		q := quoted(t, name)
		inside := work(t, o, asked(t, name)).Vans[0].Priced
		if inside.Inside == nil {
			t.Skip("working a quote out leaves the inside out already")
		}
		q.Document.Vans[0].Priced = inside
		secrets := []string{onPaper(inside.Inside.Cost, ""), onPaper(inside.Inside.Margin, ""), "118.40"}
		for _, s := range o.Book.Edition().Suppliers {
			secrets = append(secrets, s.Name)
		}
		text := pdftotext(t, written(t, paper.QuotePDF, q), "-layout") + string(written(t, paper.QuoteHTML, q))
		for _, s := range secrets {
			if s != "" && strings.Contains(text, s) {
				t.Errorf("%s: %q is on paper", name, s)
			}
		}
	}
}

// TestDraftsSayTheyAreNone: on every page, with nothing to sign; and what is
// issued has both the other way round.
func TestDraftsSayTheyAreNone(t *testing.T) {
	const mark, sign = "Draft, not an offer", "I accept this quote"
	for _, draft := range []bool{true, false} {
		q := theCouple(t)
		q.Draft = draft
		pages := strings.Split(strings.TrimSuffix(pdftotext(t, written(t, paper.QuotePDF, q), "-layout"), "\f"), "\f")
		for i, page := range pages {
			if strings.Contains(page, mark) != draft {
				t.Errorf("draft %v, page %d: the mark is wrong", draft, i+1)
			}
			if !strings.Contains(page, fmt.Sprintf("%d of %d", i+1, len(pages))) {
				t.Errorf("page %d does not say which it is of %d", i+1, len(pages))
			}
		}
		html := string(written(t, paper.QuoteHTML, q))
		if strings.Contains(html, mark) != draft || strings.Contains(html, sign) == draft || strings.Contains(strings.Join(pages, ""), sign) == draft {
			t.Errorf("draft %v: the page or the signature is wrong", draft)
		}
	}
}

// TestVansAlikeAreToldOnce: twelve of a hire fleet in one table, each
// registration named; the odd one by itself.
func TestVansAlikeAreToldOnce(t *testing.T) {
	q := fleet(t, 12)
	for form, text := range map[string]string{
		"PDF":  pdftotext(t, written(t, paper.QuotePDF, q), "-layout"),
		"HTML": string(written(t, paper.QuoteHTML, q)),
	} {
		text = strings.ReplaceAll(text, "\u00a0", " ")
		if n := strings.Count(text, "Roof bed, boards and foam"); n != 1 {
			t.Errorf("%s: the roof bed is told %d times", form, n)
		}
		for _, v := range q.Vans {
			if strings.Count(text, v.Registration) != 1 {
				t.Errorf("%s: %s is there %d times", form, v.Registration, strings.Count(text, v.Registration))
			}
		}
		if !strings.Contains(text, "12 vans alike: 1 to 12 of 13") || !strings.Contains(text, "Van 13 of 13") {
			t.Errorf("%s: the vans are not named", form)
		}
	}
	pages := strings.Count(pdftotext(t, written(t, paper.QuotePDF, q), "-layout"), "\f")
	if pages > 8 {
		t.Errorf("13 vans of two kinds take %d pages", pages)
	}
	// One choice more makes a van another.
	q.Document.Vans[3].Priced.Lines = slices.Clone(q.Document.Vans[3].Priced.Lines)
	q.Document.Vans[3].Priced.Lines[0].Words += ", with a brass plate"
	if text := string(written(t, paper.QuoteHTML, q)); !strings.Contains(text, "11 vans alike: 1 to 3 and 5 to 12 of 13") {
		t.Error("a van that differs is told as one of those alike")
	}
}

// TestTotalsAreNeverAlone: wherever the table ends on a page, the total has a
// line of the table above it, and the table's head above that.
func TestTotalsAreNeverAlone(t *testing.T) {
	q := quoted(t, "full-conversion-short-van")
	v := &q.Document.Vans[0]
	lines := v.Priced.Lines
	last := len(lines) - 1 // a finish; finishes stand last
	broken := 0
	for n := range 30 { // each moves the end of the table down by a line; it ends in a row or a list
		v.Priced.Lines = lines[:13]
		if n >= 15 {
			v.Priced.Lines = append(slices.Clone(lines[:12]), lines[last-1], lines[last])
		}
		if n == 15 {
			v.Specification.Van.Particulars = nil
		}
		v.Specification.Van.Particulars = append(v.Specification.Van.Particulars, bom.ParticularValue{Name: "remark", Value: "none"})
		pages := strings.Split(pdftotext(t, written(t, paper.QuotePDF, q), "-layout"), "\f")
		for i, page := range pages {
			total := strings.Index(page, "Total with VAT")
			head := strings.Index(page, "£ with VAT")
			if total < 0 {
				continue
			}
			if i > 0 {
				broken++
			}
			if head < 0 || strings.TrimSpace(page[head+len("£ with VAT"):total]) == "" {
				t.Errorf("on page %d the total stands alone:\n%s", i+1, page)
			}
		}
	}
	if broken == 0 || broken == 30 {
		t.Errorf("the total stands on the second page %d times of 30: the end of the page is never met", broken)
	}
}

// TestDraftsNameWhatIsNotDecided: a gap in the price is told, one in the cost
// is not the customer's.
func TestDraftsNameWhatIsNotDecided(t *testing.T) {
	q := drafted(t, "windows-only")
	v := &q.Document.Vans[0]
	v.Priced.Gaps = []pricing.Gap{
		{Code: pricing.NoPrice, Says: "The film has no price for this van.", Remedy: "Ask the books."},
		{Code: pricing.NoCost, Says: "No supplier holds a cost for the film.", Inside: true},
	}
	v.NotReady = []bom.NotReady{
		{Code: bom.NotSettled, Says: "Something is still to choose."},
		{Code: quote.PriceGap, Says: "No supplier holds a cost for the film."},
	}
	for _, draft := range []bool{true, false} {
		q.Draft = draft
		page := string(written(t, paper.QuoteHTML, q))
		for _, says := range []string{"The film has no price for this van.", "Something is still to choose."} {
			if strings.Contains(page, says) != draft {
				t.Errorf("draft %v: %q", draft, says)
			}
		}
		if strings.Contains(page, "No supplier holds") {
			t.Errorf("draft %v: what is missing of the cost is told", draft)
		}
	}
}

// TestPageIsSafeAndAccessible: nothing runs, nothing is loaded, and a screen
// reader finds language, title, headings and the heads of tables.
func TestPageIsSafeAndAccessible(t *testing.T) {
	for name, q := range papers(t) {
		page := written(t, paper.QuoteHTML, q)
		root, err := html.Parse(bytes.NewReader(page))
		if err != nil {
			t.Fatal(err)
		}
		count := map[string]int{}
		var headings []int
		style := ""
		for n := range root.Descendants() {
			if n.Type != html.ElementNode {
				continue
			}
			count[n.Data]++
			for _, a := range n.Attr {
				if strings.HasPrefix(a.Key, "on") || a.Key == "style" || a.Key == "src" || a.Key == "href" {
					t.Errorf("%s: <%s %s>", name, n.Data, a.Key)
				}
			}
			switch n.Data {
			case "h1", "h2", "h3":
				headings = append(headings, int(n.Data[1]-'0'))
			case "th":
				if attribute(n, "scope") == "" {
					t.Errorf("%s: a table's head says not what it is the head of: %s", name, textOf(n, ""))
				}
			case "style":
				style = textOf(n, "")
			case "html":
				if attribute(n, "lang") != "en-GB" {
					t.Errorf("%s: the language is %q", name, attribute(n, "lang"))
				}
			}
		}
		for _, never := range []string{"script", "img", "link", "iframe", "object", "form", "a", "svg"} {
			if count[never] > 0 {
				t.Errorf("%s: has <%s>", name, never)
			}
		}
		if count["title"] != 1 || count["h1"] != 1 || count["main"] != 1 || count["style"] != 1 {
			t.Errorf("%s: %v", name, count)
		}
		for i := 1; i < len(headings); i++ {
			if headings[i] > headings[i-1]+1 {
				t.Errorf("%s: a heading of level %d below one of level %d", name, headings[i], headings[i-1])
			}
		}
		sum := sha256.Sum256([]byte(style))
		if !strings.Contains(paper.QuotePolicy(), "'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'") {
			t.Errorf("%s: the policy %q does not allow the page's own style", name, paper.QuotePolicy())
		}
	}
}

// TestBadlyPutTogether: a paper of nothing is an error, not a panic.
func TestBadlyPutTogether(t *testing.T) {
	whole := quoted(t, "windows-only")
	for name, change := range map[string]func(*paper.Quote){
		"there is no document":  func(q *paper.Quote) { q.Document = nil },
		"the document is of no": func(q *paper.Quote) { d := *q.Document; d.Vans = nil; q.Document = &d },
		"2 vans are named and":  func(q *paper.Quote) { q.Vans = append(q.Vans, q.Vans...) },
		"3 vans were asked for ": func(q *paper.Quote) {
			d := *q.Document
			d.Asked.Vans = append(d.Asked.Vans, d.Asked.Vans[0], d.Asked.Vans[0])
			q.Document = &d
		},
	} {
		q := whole
		change(&q)
		var b bytes.Buffer
		for form, err := range map[string]error{"PDF": paper.QuotePDF(&b, q), "HTML": paper.QuoteHTML(&b, q)} {
			if err == nil || !strings.Contains(err.Error(), name) {
				t.Errorf("%s: %v, want %q", form, err, name)
			}
		}
		if b.Len() > 0 {
			t.Errorf("%s: %d bytes are written", name, b.Len())
		}
	}
}

// TestRemarksAreThoseOfThePage: what a program is told of the figures is what
// the customer reads.
func TestRemarksAreThoseOfThePage(t *testing.T) {
	q := quoted(t, "package-touring")
	list := paper.Remarks(&q.Document.Vans[0])
	if len(list) == 0 {
		t.Fatal("a check that is not met has no remark")
	}
	page := string(written(t, paper.QuoteHTML, q))
	for _, r := range list {
		if !strings.Contains(page, html.EscapeString(r.Name)) || !strings.Contains(page, html.EscapeString(r.Says)) {
			t.Errorf("%q, %q is not on the page", r.Name, r.Says)
		}
	}
}
