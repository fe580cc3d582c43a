package catalogue

import (
	"bytes"
	"encoding/json"
	"fmt"

	"github.com/shopspring/decimal"

	"wainscot/bom/document"
)

// Get finds a fact by name.
func (fs Facts) Get(name string) (Fact, bool) {
	for _, f := range fs {
		if f.Name == name {
			return f, true
		}
	}
	return Fact{}, false
}

// UnplacedMM is where what has no position counts, in mm behind the front axle:
// the middle of the load space, or midway between the axles where the base van
// does not state where that begins.
func (fs Facts) UnplacedMM() decimal.Decimal {
	two := decimal.NewFromInt(2)
	if from, ok := fs.Get(LoadFromFrontAxleMM); ok {
		return from.Number.Add(fs.Number("load_length_mm").Div(two))
	}
	return fs.Number("wheelbase_mm").Div(two)
}

// Number is the value of a numeric fact; zero if there is none.
func (fs Facts) Number(name string) decimal.Decimal {
	f, _ := fs.Get(name)
	return f.Number
}

// ReadDocument reads the facts from an object, in the order they are written.
func (fs *Facts) ReadDocument(v document.Value) {
	v.Entries(func(name string, value document.Value) {
		f := Fact{Name: name}
		ok := false
		switch value.Kind() {
		case document.NumberKind:
			f.Kind = NumberFact
			f.Number, ok = value.Decimal()
		case document.YesNoKind:
			f.Kind = YesNoFact
			f.Yes, ok = value.Yes()
		case document.TextKind:
			f.Kind = TextFact
			f.Text, ok = value.Text()
		default:
			value.Refuse("wrong_kind", fmt.Sprintf("A fact is a number, a text, or true or false, not %s.", value.Describe()),
				"Write the measured value, or leave the fact out of every base van.")
		}
		if ok {
			*fs = append(*fs, f)
		}
	})
}

// MarshalJSON writes the facts as an object, in their order.
func (fs Facts) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, f := range fs {
		if i > 0 {
			b.WriteByte(',')
		}
		name, err := json.Marshal(f.Name)
		if err != nil {
			return nil, err
		}
		b.Write(name)
		b.WriteByte(':')
		switch f.Kind {
		case NumberFact:
			b.WriteString(f.Number.String())
		case YesNoFact:
			fmt.Fprint(&b, f.Yes)
		case TextFact:
			text, err := json.Marshal(f.Text)
			if err != nil {
				return nil, err
			}
			b.Write(text)
		default:
			return nil, fmt.Errorf("catalogue: fact %s has no kind", f.Name)
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}
