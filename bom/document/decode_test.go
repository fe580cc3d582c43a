package document

import (
	"testing"

	"github.com/shopspring/decimal"
)

type shelf struct {
	Title string   `yaml:"title" json:"title"`
	Boxes []box    `yaml:"boxes" json:"boxes,omitempty"`
	Tags  []string `yaml:"tags" json:"tags,omitempty"`
}

type box struct {
	Code     string           `yaml:"code" json:"code"`
	MassKG   decimal.Decimal  `yaml:"mass_kg" json:"mass_kg,omitzero"`
	Spare    *decimal.Decimal `yaml:"spare" json:"spare,omitempty"`
	Count    int              `yaml:"count" json:"count,omitempty"`
	Open     bool             `yaml:"open" json:"open,omitempty"`
	Quantity string           `yaml:"quantity" json:"quantity,omitempty" document:"formula"`
}

func TestDecodeReadsBothWritings(t *testing.T) {
	for name, text := range map[string]string{
		"yaml": "format: shelf/1\ntitle: >\n  Oak\n  shelf\nboxes:\n  - code: tin\n    mass_kg: 1.50\n    spare: 0\n    count: 3\n    open: true\n    quantity: 2\ntags: [a, 'b']\n",
		"json": `{"format":"shelf\/1","title":"Oak shelf","boxes":[{"code":"tin","mass_kg":1.50,"spare":"0","count":3,"open":true,"quantity":2}],"tags":["a","b"]}`,
	} {
		var s shelf
		p, faults := Decode(File{Name: "x." + name, Data: []byte(text)}, &s, "shelf/1")
		if len(faults) > 0 {
			t.Fatal(name, faults)
		}
		b := s.Boxes[0]
		if s.Title != "Oak shelf" || b.Code != "tin" || b.MassKG.String() != "1.5" || b.Spare == nil || b.Count != 3 || !b.Open || b.Quantity != "2" || len(s.Tags) != 2 {
			t.Errorf("%s: %+v", name, s)
		}
		if at, ok := p.At("boxes/tin/count"); !ok || name == "yaml" && at.Line != 9 {
			t.Errorf("%s: boxes/tin/count at %v, %v", name, at, ok)
		}
	}
}
