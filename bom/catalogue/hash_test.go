package catalogue_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"go.yaml.in/yaml/v3"
	"pgregory.net/rapid"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

// The hash of the sample, written down: a change of the canonical form, which
// would make every stored hash wrong, is seen here.
func TestHashStays(t *testing.T) {
	golden(t, "testdata/sample.hash", catalogue.Hash(sample(t))+"\n")
}

// Every value of a catalogue is in its hash: each is changed in turn.
func TestHashSeesEveryChange(t *testing.T) {
	c := sample(t)
	was := catalogue.Hash(c)
	changes := 0
	mutate(reflect.ValueOf(c).Elem(), "", func(at string) {
		changes++
		if catalogue.Hash(c) == was {
			t.Errorf("a change of %s leaves the hash as it was", at)
		}
	})
	if got := catalogue.Hash(c); got != was {
		t.Fatal("the changes were not taken back")
	}
	if changes < 800 {
		t.Errorf("only %d changes were made", changes)
	}
}

// mutate makes one change after another to v, calls changed while it stands,
// and takes it back.
func mutate(v reflect.Value, at string, changed func(at string)) {
	try := func(to reflect.Value, what string) {
		was := reflect.New(v.Type()).Elem()
		was.Set(v)
		v.Set(to)
		changed(at + what)
		v.Set(was)
	}
	if d, ok := reflect.TypeAssert[decimal.Decimal](v); ok {
		try(reflect.ValueOf(d.Add(decimal.New(1, -12))), "")
		return
	}
	switch v.Kind() {
	case reflect.String:
		try(reflect.ValueOf(v.String()+"x").Convert(v.Type()), "")
	case reflect.Int:
		try(reflect.ValueOf(int(v.Int())+1), "")
	case reflect.Uint8:
		try(reflect.ValueOf(uint8(v.Uint())+1).Convert(v.Type()), "")
	case reflect.Bool:
		try(reflect.ValueOf(!v.Bool()), "")
	case reflect.Pointer:
		if v.IsNil() {
			try(reflect.New(v.Type().Elem()), " given")
			return
		}
		try(reflect.Zero(v.Type()), " taken out")
		mutate(v.Elem(), at, changed)
	case reflect.Struct:
		for i := range v.NumField() {
			mutate(v.Field(i), at+"."+v.Type().Field(i).Name, changed)
		}
	case reflect.Slice:
		n := v.Len()
		longer := reflect.MakeSlice(v.Type(), n+1, n+1)
		reflect.Copy(longer, v)
		try(longer, " one longer")
		if n > 0 {
			try(v.Slice(0, n-1), " one shorter")
		}
		for i := range n {
			if i > 0 && !reflect.DeepEqual(v.Index(i).Interface(), v.Index(i-1).Interface()) {
				swapped := reflect.MakeSlice(v.Type(), n, n)
				reflect.Copy(swapped, v)
				reflect.Swapper(swapped.Interface())(i-1, i)
				try(swapped, fmt.Sprintf(" %d swapped", i))
			}
			mutate(v.Index(i), fmt.Sprintf("%s[%d]", at, i), changed)
		}
	default:
		panic("no way to change a " + v.Type().String())
	}
}

// Text cannot move from one field into the next unseen.
func TestHashKeepsFieldsApart(t *testing.T) {
	a, b := sample(t), sample(t)
	a.Trades[0].Code, a.Trades[0].Name = "joiner", "s4:nameJoiner"
	b.Trades[0].Code, b.Trades[0].Name = "joiners4:name", "Joiner"
	if catalogue.Hash(a) == catalogue.Hash(b) {
		t.Error("the hashes are equal")
	}
}

// However a catalogue is laid out, in whichever files, its hash is the same.
func TestHashIgnoresLayout(t *testing.T) {
	original := files(t, "testdata/sample/*.yaml")
	c, _, faults := catalogue.Decode(original)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	want := catalogue.Hash(c)
	rapid.Check(t, func(t *rapid.T) {
		// One draw alone, so that a failure is told in one line.
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		var laidOut []document.File
		for _, f := range original {
			for i, part := range split(t, r, f.Data) {
				restyle(r, "", part)
				var text bytes.Buffer
				e := yaml.NewEncoder(&text)
				e.SetIndent(2 + r.IntN(5))
				if err := e.Encode(part); err != nil {
					t.Fatal(err)
				}
				laidOut = append(laidOut, document.File{Name: fmt.Sprintf("%s-%02d", f.Name, i), Data: text.Bytes()})
			}
		}
		c, _, faults := catalogue.Decode(laidOut)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		if got := catalogue.Hash(c); got != want {
			t.Errorf("hash %s, want %s", got, want)
		}
	})
}

// split spreads the sections of a file over several, lists also in pieces.
func split(t *rapid.T, r *rand.Rand, data []byte) []*yaml.Node {
	var whole yaml.Node
	if err := yaml.Unmarshal(data, &whole); err != nil {
		t.Fatal(err)
	}
	top := whole.Content[0]
	var parts []*yaml.Node
	add := func(key string, value *yaml.Node) {
		parts = append(parts, &yaml.Node{Kind: yaml.MappingNode, Content: []*yaml.Node{
			{Kind: yaml.ScalarNode, Value: "format"}, {Kind: yaml.ScalarNode, Value: catalogue.Format},
			{Kind: yaml.ScalarNode, Value: key}, value,
		}})
	}
	for i := 0; i < len(top.Content); i += 2 {
		key, value := top.Content[i].Value, top.Content[i+1]
		switch {
		case key == "format":
		case value.Kind == yaml.SequenceNode:
			for from := 0; from < len(value.Content); {
				to := from + 1 + r.IntN(len(value.Content)-from)
				piece := *value
				piece.Content = value.Content[from:to]
				add(key, &piece)
				from = to
			}
		default:
			add(key, value)
		}
	}
	return parts
}

func restyle(r *rand.Rand, key string, n *yaml.Node) {
	switch {
	case n.Kind != yaml.ScalarNode:
		n.Style = []yaml.Style{0, yaml.FlowStyle}[r.IntN(2)]
	case n.Tag == "!!str":
		n.Style = []yaml.Style{0, yaml.SingleQuotedStyle, yaml.DoubleQuotedStyle, yaml.LiteralStyle}[r.IntN(4)]
	case n.Tag == "!!float" && strings.Contains(key, "_"): // a measure, not a formula
		n.Value += "0" // the same number
	}
	for i, c := range n.Content {
		if n.Kind == yaml.MappingNode && i%2 == 1 {
			key = n.Content[i-1].Value
		}
		restyle(r, key, c)
	}
}

// Whatever bytes come, there is an answer; what is accepted comes back from
// JSON with the same hash.
func FuzzDecode(f *testing.F) {
	whole := files(f, "testdata/sample/*.yaml")
	for _, pattern := range []string{"testdata/sample/*.yaml", "testdata/faults/*.yaml"} {
		for _, file := range files(f, pattern) {
			f.Add(file.Data, false)
		}
	}
	text, err := json.Marshal(sample(f))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text, true)
	f.Add([]byte("format: "+catalogue.Format+"\nfeatures:\n- {code: x, name: X, group: seating, lines: [{stage: roof, trade: joiner, quantity: 0x1F}]}\n"), false)
	f.Fuzz(func(t *testing.T, data []byte, asJSON bool) {
		own := document.File{Name: "own", Data: data, JSON: asJSON}
		for _, list := range [][]document.File{{own}, append(slices.Clip(whole), own)} {
			c, _, faults := catalogue.Decode(list)
			if (c == nil) != (len(faults) > 0) {
				t.Fatalf("catalogue %v with faults %v", c != nil, faults)
			}
			if c == nil {
				continue
			}
			text, err := json.Marshal(c)
			if err != nil {
				t.Fatal(err)
			}
			again, _, faults := catalogue.DecodeJSON(text)
			if len(faults) > 0 {
				t.Fatalf("not accepted again: %v\n%s", faults, text)
			}
			if catalogue.Hash(again) != catalogue.Hash(c) {
				t.Fatalf("another hash after JSON:\n%s", text)
			}
		}
	})
}
