package quote_test

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
	"wainscot/pricing/quote/quotetest"
)

// fatal is a test or one try of a property.
type fatal interface {
	Helper()
	Fatal(args ...any)
	Fatalf(format string, args ...any)
}

// What we write is what the standard library would.
func sameAsLibrary(tb fatal, to interface{ Encode() ([]byte, error) }) []byte {
	tb.Helper()
	text, err := to.Encode()
	want, wrong := json.Marshal(to)
	if (err == nil) != (wrong == nil) {
		tb.Fatalf("ours says %v, the library %v", err, wrong)
	}
	if err == nil && string(text) != string(want) {
		tb.Fatalf("the library would write otherwise:\n%s\n%s", text, want)
	}
	return text
}

func TestEncodeWritesWhatTheLibraryWould(t *testing.T) {
	o := quotetest.Offer("2026-10")
	names, _ := filepath.Glob("../../testdata/demo/choices/*.yaml")
	for _, path := range names {
		name := strings.TrimSuffix(filepath.Base(path), ".yaml")
		if name == "choices-that-clash" {
			continue
		}
		d := issue(t, o, asked(t, name), 1)
		text := sameAsLibrary(t, d)
		// In memory that has held another document.
		if again, err := d.EncodeInto(bytes.Repeat([]byte("x"), 50_000)[:0]); err != nil || !bytes.Equal(again, text) {
			t.Errorf("%s: written otherwise in memory used before: %v", name, err)
		}
	}
	sameAsLibrary(t, &quote.Document{}) // amounts without a currency cannot be written
}

func TestEncodeWritesAnythingAsTheLibraryWould(t *testing.T) {
	places := rapid.Int32Range(-12, 3)
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"<b>&amp;", "line\u2028end\u2029", "“quoted” £5", "\"\\\n\t\x00\x7f"}))
		amount := func() money.Amount {
			a, err := money.FromMinor(rapid.Int64Range(1-money.Largest, money.Largest-1).Draw(t, "minor"), money.Currency(rapid.SampledFrom([]string{"GBP", "JPY", "KWD"}).Draw(t, "currency")))
			if err != nil {
				t.Fatal(err)
			}
			return a
		}
		most := amount()
		unit, err := money.NewUnitPrice(number("1").Shift(-rapid.Int32Range(0, 6).Draw(t, "places")).Mul(number("1200345")), "GBP")
		if err != nil {
			t.Fatal(err)
		}
		percent := number("1").Mul(number(rapid.SampledFrom([]string{"0", "-0.5", "12.50", "100", "99999999999999999999.25", "0.000001"}).Draw(t, "percent"))).Shift(places.Draw(t, "shift"))
		d := quote.Document{
			Quote: text.Draw(t, "quote"), Number: rapid.Int64().Draw(t, "number"), Revision: rapid.Int().Draw(t, "revision"),
			Asked: quote.Asked{
				Terms: pricing.Terms{DiscountPercent: &percent, DiscountAmount: &most},
				Vans: []quote.AskedVan{{AtMost: &most, Choices: bom.Choices{Additions: []bom.Addition{{MassKG: percent, Words: text.Draw(t, "words"),
					Touches: []catalogue.Caution{"gas"}}}}}},
			},
			Totals: pricing.Totals{BeforeDiscount: amount(), Discount: amount(), Net: amount(), VAT: amount(), Gross: amount()},
			Vans: []quote.Van{{Priced: pricing.Priced{
				Lines:  []pricing.Line{{UnitPrice: unit, Amount: amount(), Net: amount(), VAT: amount(), Percent: percent, Today: &unit, Treatment: pricebook.Zero}},
				Totals: pricing.Totals{BeforeDiscount: amount(), Discount: amount(), Net: amount(), VAT: amount(), Gross: amount()},
			}}},
			Paper: quote.Paper{Terms: text.Draw(t, "terms"), Letterhead: quote.Letterhead{Lines: []string{text.Draw(t, "line")}}},
		}
		text1 := sameAsLibrary(t, &d)
		read, err := quote.Decode(text1)
		if err != nil {
			t.Fatal(err)
		}
		again, err := read.Encode()
		if err != nil || string(again) != string(text1) {
			t.Fatalf("read and written again it is another: %v\n%s\n%s", err, text1, again)
		}
	})
}

// Whatever has to be escaped, alone.
func TestEncodeEscapes(t *testing.T) {
	nothing := pounds(t, "0")
	for _, text := range []string{"<", ">", "&", `"`, `\`, "\x00", "\x1f", "\x7f", "\u2028", "\u2029", "é", "\U0001F690", "a/b", "\ufffd"} {
		d := quote.Document{Quote: text, Totals: pricing.Totals{BeforeDiscount: nothing, Discount: nothing, Net: nothing, VAT: nothing, Gross: nothing}}
		written := sameAsLibrary(t, &d)
		if read, err := quote.Decode(written); err != nil || read.Quote != text {
			t.Errorf("%q comes back as %q: %v", text, read.Quote, err)
		}
	}
}

// A broken character is written as it will be read.
func TestEncodeMendsBrokenText(t *testing.T) {
	for _, text := range []string{"\x80 stray", "half \xe2\x82", "\xff\"<"} {
		d := quote.Document{Quote: text, Totals: pricing.Totals{BeforeDiscount: pounds(t, "1"), Discount: pounds(t, "0"), Net: pounds(t, "1"), VAT: pounds(t, "0"), Gross: pounds(t, "1")}}
		once := encoded(t, &d)
		read, err := quote.Decode([]byte(once))
		if err != nil || encoded(t, read) != once || !strings.Contains(once, "\ufffd") {
			t.Errorf("%q: %v\n%s", text, err, once)
		}
	}
}

func TestDecodeIsStrict(t *testing.T) {
	o := quotetest.Offer("2026-10")
	good := encoded(t, issue(t, o, asked(t, "windows-only"), 1))
	if _, err := quote.Decode([]byte(good)); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"empty": "", "null": "null", "another format": strings.Replace(good, quote.Format, "wainscot-quote/1", 1),
		"unknown field":   strings.Replace(good, `{"format"`, `{"extra":1,"format"`, 1),
		"something after": good + "{}",
		"cut":             good[:len(good)-1],
		"a float":         strings.Replace(good, `"revision":1`, `"revision":1.5`, 1),
	} {
		if d, err := quote.Decode([]byte(text)); err == nil || d != nil {
			t.Errorf("%s is read", name)
		}
	}
	d := issue(t, o, asked(t, "windows-only"), 1)
	d.Asked.Vans = append(d.Asked.Vans, d.Asked.Vans[0])
	if _, err := quote.Decode([]byte(encoded(t, d))); err == nil {
		t.Error("a document is read that has fewer vans than were asked for")
	}
	if _, err := quote.DecodeAsked([]byte(good)); err == nil {
		t.Error("a document is read as what is asked for")
	}
}

func FuzzDecode(f *testing.F) {
	f.Fuzz(func(t *testing.T, text []byte) {
		d, err := quote.Decode(text)
		if err != nil {
			return
		}
		once, err := d.Encode()
		if err != nil {
			return // an amount that was left out
		}
		again, err := quote.Decode(once)
		if err != nil {
			t.Fatalf("what was written is not read: %v\n%s", err, once)
		}
		if twice := encoded(t, again); twice != string(once) {
			t.Fatalf("written twice it differs:\n%s\n%s", once, twice)
		}
	})
}

func FuzzDecodeAsked(f *testing.F) {
	f.Fuzz(func(t *testing.T, text []byte) {
		a, err := quote.DecodeAsked(text)
		if err != nil {
			return
		}
		once, err := a.Encode()
		if err != nil {
			return
		}
		again, err := quote.DecodeAsked(once)
		if err != nil {
			t.Fatal(err)
		}
		if twice, err := again.Encode(); err != nil || string(twice) != string(once) {
			t.Fatalf("written twice it differs:\n%s\n%s", once, twice)
		}
		// Whatever is asked is worked out or refused with words.
		w, faults, err := quote.Work(quotetest.Offer("2026-10"), *a)
		for _, f := range faults {
			if f.Code == "" || f.Reason == "" || f.Remedy == "" {
				t.Errorf("a fault without words: %+v", f)
			}
		}
		if err == nil && len(faults) == 0 && len(w.Vans) != len(a.Vans) {
			t.Error("neither worked out nor refused")
		}
	})
}

func TestCorpora(t *testing.T) {
	for _, target := range []string{"FuzzDecode", "FuzzDecodeAsked"} {
		if entries, err := os.ReadDir("testdata/fuzz/" + target); err != nil || len(entries) == 0 {
			t.Errorf("%s has no corpus: %v", target, err)
		}
	}
}
