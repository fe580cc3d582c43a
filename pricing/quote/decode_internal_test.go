package quote

import (
	"reflect"
	"strings"
	"testing"
)

// readBoth reads a text by ourselves, and as the library does.
func readBoth[T any](text []byte) (ours, library T, read bool, err error) {
	r := reading{text: text}
	read = readerOf(reflect.TypeFor[T]())(&r, reflect.ValueOf(&ours).Elem()) && r.at == len(text)
	err = strictly(text, &library)
	return ours, library, read, err
}

// What we read ourselves the library reads as the same, and what we cannot read
// is left to it.
func TestReadingAgreesWithTheLibrary(t *testing.T) {
	const m = `{"amount":"12.50","currency":"GBP"}`
	asked := func(terms, van string) string {
		return `{"format":"wainscot-asked/1","terms":{"basis":"gross"` + terms + `},"vans":[{"facts":{"base_van":"short_panel_van"` + van + `},"choices":{"features":[]}}]}`
	}
	for text, ours := range map[string]bool{
		asked(``, ``):                                                        true,
		asked(`,"day":"2026-11-25"`, ``):                                     true,
		asked(`,"discount_percent":"2.50"`, ``):                              true,
		asked(`,"discount_percent":"-0.5"`, ``):                              true,
		asked(`,"discount_percent":"0.0"`, ``):                               true,
		asked(`,"discount_percent":2.5`, ``):                                 false, // the library takes it
		asked(`,"discount_percent":"1e3"`, ``):                               false,
		asked(`,"discount_percent":".5"`, ``):                                false,
		asked(`,"discount_percent":"5."`, ``):                                false,
		asked(`,"discount_percent":""`, ``):                                  false,
		asked(`,"discount_percent":"123456789012345678"`, ``):                true,
		asked(`,"discount_percent":"1234567890123456789"`, ``):               false, // may leave 64 bits
		asked(`,"discount_percent":null`, ``):                                true,
		asked(`,"discount_amount":`+m, ``):                                   true,
		asked(`,"discount_amount":{"amount":"12.5","currency":"GBP"}`, ``):   false,
		asked(`,"discount_amount":{"amount":"12.500","currency":"GBP"}`, ``): false,
		asked(`,"discount_amount":{"amount":"12.50","currency":"XQX"}`, ``):  false,
		asked(`,"discount_amount":{"amount":"12.50","currency":"GB`, ``):     false,
		asked(`,"discount_amount":{"currency":"GBP","amount":"12.50"}`, ``):  false,
		asked(`,"credit_days":30`, ``):                                       true,
		asked(`,"credit_days":-30`, ``):                                      true,
		asked(`,"credit_days":030`, ``):                                      false,
		asked(`,"credit_days":3.0`, ``):                                      false,
		asked(`,"credit_days":99999999999999999999`, ``):                     false,
		asked(``, `,"none":true`):                                            true,
		asked(``, `,"none":false,"new":true`):                                true,
		asked(``, `,"none":tru`):                                             false,
		asked(``, `,"registration":"A\u0042 \"1\" £ \\"`):                    true,
		asked(``, `,"registration":"£–“”"`):                                  true,
		asked(``, "\x80"):                                                    false,
		asked(``, `,"registration":"`+"\x80"+`"`):                            false,
		asked(``, `,"registration":"`+"\n"+`"`):                              false,
		asked(``, `,"registration":"\x"`):                                    false,
		asked(``, `,"registration":"`):                                       false,
		asked(``, `,"year":2024,"year":2025`):                                false, // twice
		asked(``, `,"year":2024,"registration":"A"`):                         false, // in another order
		asked(``, `,"colour":"red"`):                                         false,
		asked(``, ` ,"year":2024`):                                           false,
		asked(``, ``) + " ":                                                  false,
		asked(``, ``) + "x":                                                  false,
		`{}`:                                                                 false, ``: false, `null`: false, `[]`: false,
		strings.Replace(asked(``, ``), `[]`, `null`, 1): true,
		strings.Replace(asked(``, ``), `[]`, `[,]`, 1):  false,
		strings.Replace(asked(``, ``), `[]`, `[{}`, 1):  false,
	} {
		got, want, read, err := readBoth[Asked]([]byte(text))
		if read != ours {
			t.Errorf("read by ourselves: %t, %s", read, text)
		}
		if read && (err != nil || !reflect.DeepEqual(got, want)) {
			t.Errorf("%v: the library reads %+v, not %+v, of %s", err, want, got, text)
		}
		if anew := new(Asked); decode([]byte(text), anew) == nil && !reflect.DeepEqual(*anew, want) {
			t.Errorf("half read: %+v of %s", anew, text)
		}
	}
}

func FuzzReading(f *testing.F) {
	f.Add([]byte(`{"format":"wainscot-asked/1","terms":{"basis":"gross","discount_percent":"2.5"},"vans":[{"facts":{"base_van":"x"},"choices":{"features":[{"want":"a"}]}}]}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		if got, want, read, err := readBoth[Asked](text); read && (err != nil || !reflect.DeepEqual(got, want)) {
			t.Fatalf("%v: the library reads %+v, not %+v", err, want, got)
		}
		if got, want, read, err := readBoth[Document](text); read && (err != nil || !reflect.DeepEqual(got, want)) {
			t.Fatalf("%v: the library reads %+v, not %+v", err, want, got)
		}
	})
}
