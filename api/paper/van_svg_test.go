package paper_test

import (
	"bytes"
	"cmp"
	"encoding/xml"
	"errors"
	"fmt"
	"math"
	"math/big"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/api/paper"
)

func kilograms(s string) decimal.Decimal { return decimal.RequireFromString(s) }

// loads are unladen, in running order and the worst there is.
func loads(plated, unladen, running, worst string, near bool) paper.AxleDrawing {
	return paper.AxleDrawing{PlatedKG: kilograms(plated), Loads: []paper.LoadDrawing{
		{Name: "Unladen after the work", KG: kilograms(unladen)},
		{Name: "In running order", KG: kilograms(running)},
		{Name: "Tanks full, everyone aboard", KG: kilograms(worst), Near: near},
	}}
}

// aVan is a van with every kind of mass, one axle near its plate and one over.
func aVan() paper.VanDrawing {
	v := paper.VanDrawing{
		Title: "Quote 1042, revision 2", Van: "Short panel van, WT24 DMO",
		LengthMM: 4905, WidthMM: 1905, HeightMM: 1975, WheelbaseMM: 3000, FrontOverhangMM: 935,
		Whole: loads("3000", "2301.4", "2402", "2874", true),
		Front: loads("1600", "1105", "1160", "1220", false),
		Rear:  loads("1650", "1196.4", "1242", "1671", false),
	}
	mass := func(kind paper.MassKind, name, kg string, x, y, z int) {
		v.Masses = append(v.Masses, paper.MassDrawing{Kind: kind, Name: name, KG: kilograms(kg), XMM: x, YMM: y, ZMM: z, HeightKnown: z > 0})
	}
	mass(paper.Fitted, "Kitchen unit", "38", 1900, 620, 820)
	mass(paper.Fitted, "Two-burner gas hob", "4.2", 1700, 620, 1180)
	mass(paper.Fitted, "Compressor fridge, 49 l", "19.5", 2150, 620, 800)
	mass(paper.Fitted, "Gel leisure battery, 100 Ah", "31", 1150, 500, 560)
	mass(paper.Fitted, "Elevating roof <standard> & \"bed\"", "95", 1600, 0, 1990)
	mass(paper.Fitted, "Slide bed with its frame and cushions", "62", 2700, -100, 700)
	mass(paper.Fitted, "Ply floor", "28.8", 2100, 0, 0)
	mass(paper.Fitted, "Gas locker", "9.4", 3450, 650, 700)
	mass(paper.Fitted, "Diesel heater", "6", 900, 500, 520)
	mass(paper.Fitted, "Bicycle rack", "8", 4200, 0, 1100)
	for i := range 9 {
		mass(paper.Fitted, "Ceiling light", "0.12", 800+i*300, 300, 1850)
	}
	mass(paper.Fitted, "Mains socket", "0.3", 1500, 700, 0)
	mass(paper.TakenOut, "Bulkhead", "18.5", 760, 0, 1200)
	mass(paper.TakenOut, "Row of seats", "48", 2200, 0, 800)
	mass(paper.Carried, "Driver", "75", 500, 400, 900)
	mass(paper.Carried, "Passenger", "75", 500, -400, 900)
	mass(paper.Carried, "Water", "40", 3100, -600, 600)
	mass(paper.Carried, "Gas", "2.75", 3450, 650, 700)
	mass(paper.Carried, "Luggage", "120", 3300, 0, 900)
	return v
}

// TestVanSVGGolden holds a drawing as text one can read; go test ./api/paper
// -update rewrites it.
func TestVanSVGGolden(t *testing.T) {
	got := written(t, paper.VanSVG, aVan())
	file := filepath.Join("testdata", "van.svg")
	if *update {
		if err := os.WriteFile(file, got, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s is drawn otherwise now; look at it, and if it is right: go test ./api/paper -update", file)
	}
}

// drawn is what a drawing shows, read back.
type drawn struct {
	width, height int
	title, desc   string
	texts         []string
	views         [2][]symbol // side view, plan
}

// symbol is a mass with its leader and label.
type symbol struct {
	name         string
	cx, cy       int
	r            float64
	slot, foot   int
	tip          int // where the upright ends
	labelX, base int
	label        string
}

type element struct {
	XMLName  xml.Name
	Attr     []xml.Attr `xml:",any,attr"`
	Text     string     `xml:",chardata"`
	Elements []element  `xml:",any"`
}

func (e *element) get(name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func (e *element) whole(tb rapidTB, name string) int {
	n, err := strconv.Atoi(e.get(name))
	if err != nil {
		tb.Fatalf("%s of %s: %v", name, e.XMLName.Local, err)
	}
	return n
}

type rapidTB interface {
	Fatalf(format string, args ...any)
}

// readDrawing reads a drawing with the standard library's reader of XML.
func readDrawing(tb rapidTB, text []byte) drawn {
	var root element
	if err := xml.Unmarshal(text, &root); err != nil {
		tb.Fatalf("the drawing is no XML: %v", err)
	}
	var d drawn
	if _, err := fmt.Sscanf(root.get("viewBox"), "0 0 %d %d", &d.width, &d.height); err != nil {
		tb.Fatalf("viewBox %q: %v", root.get("viewBox"), err)
	}
	view := -1
	var walk func(e *element)
	walk = func(e *element) {
		switch {
		case e.XMLName.Local == "text":
			d.texts = append(d.texts, e.Text)
		case e.XMLName.Local == "title" && d.title == "":
			d.title = e.Text
		case e.XMLName.Local == "desc":
			d.desc = e.Text
		case e.get("class") == "leaders":
			view++
			for i := range e.Elements {
				var m symbol
				if _, err := fmt.Sscanf(e.Elements[i].get("d"), "M%d %dL%d %dV%d", &m.cx, &m.cy, &m.slot, &m.foot, &m.tip); err != nil {
					tb.Fatalf("leader %q: %v", e.Elements[i].get("d"), err)
				}
				d.views[view] = append(d.views[view], m)
			}
		case strings.HasPrefix(e.get("role"), "graphics-symbol"):
			circle, label := &e.Elements[1], &e.Elements[2]
			x := label.whole(tb, "x")
			k := slices.IndexFunc(d.views[view], func(m symbol) bool { return m.slot+5 == x })
			if k < 0 {
				tb.Fatalf("the label %q stands at no leader", label.Text)
			}
			m := &d.views[view][k]
			m.name, m.label, m.labelX, m.base = e.get("aria-label"), label.Text, x, label.whole(tb, "y")
			m.r, _ = strconv.ParseFloat(circle.get("r"), 64)
			if circle.whole(tb, "cx") != m.cx || circle.whole(tb, "cy") != m.cy {
				tb.Fatalf("the leader of %q does not begin in its circle", m.name)
			}
		}
		for i := range e.Elements {
			walk(&e.Elements[i])
		}
	}
	walk(&root)
	return d
}

// find is the symbol of a mass in a view.
func (d drawn) find(t *testing.T, view int, name string) symbol {
	t.Helper()
	for _, m := range d.views[view] {
		if strings.HasPrefix(m.name, name) {
			return m
		}
	}
	t.Fatalf("%s is not drawn", name)
	return symbol{}
}

// TestVanSVGIsToScale: 4905 mm of van stand on 870 units, so a unit is 5.638
// mm; places of masses follow by hand.
func TestVanSVGIsToScale(t *testing.T) {
	d := readDrawing(t, written(t, paper.VanSVG, aVan()))
	const mm = 870.0 / 4905
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1 {
			t.Errorf("%s: %.1f, want %.1f", what, got, want)
		}
	}
	battery, roof := d.find(t, 0, "Gel leisure"), d.find(t, 0, "Elevating roof")
	near("battery to roof, along", float64(roof.cx-battery.cx), (1600-1150)*mm)
	near("battery to roof, up", float64(battery.cy-roof.cy), (1990-560)*mm)
	near("battery behind the foremost point", float64(battery.cx-70), (935+1150)*mm)
	driver, passenger := d.find(t, 1, "Driver"), d.find(t, 1, "Passenger")
	near("driver to passenger, across", float64(passenger.cy-driver.cy), 800*mm)
	near("same mass in both views", float64(d.find(t, 0, "Water").cx), float64(d.find(t, 1, "Water").cx))
	// Areas are as masses: 120 kg to 75 kg.
	luggage := d.find(t, 1, "Luggage")
	near("areas", 100*luggage.r*luggage.r/(driver.r*driver.r), 160)
	// 9 lights, the socket, the heater, the rack and gas are small; gas is
	// carried and alone in its place.
	if m := d.find(t, 0, "Gas, carried"); m.label != "Gas · 2.8\u00a0kg" {
		t.Errorf("gas is labelled %q", m.label)
	}
	middle := d.find(t, 0, "and 9 more in the middle")
	if middle.name != "and 9 more in the middle, fitted, 11\u00a0kg" {
		t.Errorf("put together as %q", middle.name)
	}
}

// TestVanSVGTells: what bars and patterns show stands in words, on the drawing
// and for those who do not see it.
func TestVanSVGTells(t *testing.T) {
	d := readDrawing(t, written(t, paper.VanSVG, aVan()))
	plain := func(s string) string { return strings.ReplaceAll(s, "\u00a0", " ") }
	all := plain(strings.Join(d.texts, "\n"))
	for _, want := range []string{
		"Front axle, plated 1,600 kg", "1,105 kg, 69 %", "1,671 kg, 101 %, over by 21 kg", "2,874 kg, 96 %, near the limit",
		"right-hand drive", "wheelbase 3,000 mm", "height not known", "Taken out, 67 kg",
		"only a weighbridge tells", "must not be exceeded",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not on the drawing", want)
		}
	}
	for _, want := range []string{
		"Rear axle, plated 1,650 kg: unladen after the work 1,196 kg, 73 %; in running order 1,242 kg, 75 %; tanks full, everyone aboard 1,671 kg, 101 %, over by 21 kg.",
		"Fitted: 303 kg. Taken out: 67 kg. Carried: 313 kg.",
		"only a weighbridge tells",
	} {
		if !strings.Contains(plain(d.desc), want) {
			t.Errorf("%q is not in the description:\n%s", want, d.desc)
		}
	}
	v := aVan()
	v.LeftHandDrive = true
	if d := readDrawing(t, written(t, paper.VanSVG, v)); !strings.Contains(strings.Join(d.texts, "\n"), "left-hand drive") {
		t.Error("left-hand drive is not told")
	}
}

// anyVan is any van that can be drawn, masses in and about it, names of any
// kind; places often coincide.
func anyVan() *rapid.Generator[paper.VanDrawing] {
	return rapid.Custom(func(rt *rapid.T) paper.VanDrawing {
		length := rapid.IntRange(2000, 9000).Draw(rt, "length")
		v := paper.VanDrawing{
			LengthMM: length, WidthMM: rapid.IntRange(1000, min(3000, length)).Draw(rt, "width"),
			HeightMM:    rapid.IntRange(1000, min(3500, length)).Draw(rt, "height"),
			WheelbaseMM: rapid.IntRange((length*4+9)/10, length).Draw(rt, "wheelbase"),
			Title:       rapid.StringN(0, 9, -1).Draw(rt, "title"),
		}
		v.FrontOverhangMM = rapid.IntRange(0, length-v.WheelbaseMM).Draw(rt, "overhang")
		axle := func() paper.AxleDrawing {
			a := paper.AxleDrawing{PlatedKG: decimal.NewFromInt(rapid.Int64Range(1, 4000).Draw(rt, "plated"))}
			for range rapid.IntRange(0, 4).Draw(rt, "loads") {
				a.Loads = append(a.Loads, paper.LoadDrawing{Name: rapid.StringN(0, 40, -1).Draw(rt, "load"), Near: rapid.Bool().Draw(rt, "near"),
					KG: decimal.New(rapid.Int64Range(-1000, 60_000).Draw(rt, "kg"), -1)})
			}
			return a
		}
		v.Whole, v.Front, v.Rear = axle(), axle(), axle()
		step := rapid.SampledFrom([]int{1, 500, 5000}).Draw(rt, "step")
		for range rapid.IntRange(0, 60).Draw(rt, "masses") {
			v.Masses = append(v.Masses, paper.MassDrawing{
				Name:        rapid.OneOf(rapid.Just("Tank"), rapid.StringN(0, 40, -1)).Draw(rt, "name"),
				KG:          decimal.New(rapid.OneOf(rapid.Just(int64(2000)), rapid.Int64Range(1, 300_000)).Draw(rt, "grams"), -3),
				XMM:         rapid.IntRange(-length/4/step, length*5/4/step).Draw(rt, "x") * step,
				YMM:         rapid.IntRange(-length/2/step, length/2/step).Draw(rt, "y") * step,
				ZMM:         rapid.IntRange(0, length/2/step).Draw(rt, "z") * step,
				Kind:        rapid.SampledFrom([]paper.MassKind{paper.Fitted, paper.TakenOut, paper.Carried}).Draw(rt, "kind"),
				HeightKnown: rapid.Bool().Draw(rt, "known"),
			})
		}
		return v
	})
}

// TestVanSVGLeadersAreClear: whatever masses there are, no two leaders cross,
// no leader runs through a label, no two labels lie on each other, and all is
// on the sheet.
func TestVanSVGLeadersAreClear(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		v := anyVan().Draw(rt, "van")
		var b bytes.Buffer
		if err := paper.VanSVG(&b, v); err != nil {
			rt.Fatalf("%v", err)
		}
		d := readDrawing(rt, b.Bytes())
		for _, view := range d.views {
			for i := range view {
				m := &view[i]
				if m.cx < 0 || m.cx > d.width || m.cy < 0 || m.cy > d.height || m.labelX < 0 || m.right() > d.width || m.base > d.height {
					rt.Fatalf("%q is not on the sheet", m.label)
				}
				for k := range i {
					apart(rt, m, &view[k])
				}
			}
		}
	})
}

// right is where a label ends in a common typeface, which has 7 units a letter
// at this size, and 13 for letters as wide as high.
func (m *symbol) right() int {
	end := m.labelX
	for _, r := range m.label {
		if r >= 0x1100 {
			end += 6
		}
		end += 7
	}
	return end
}

func apart(rt *rapid.T, a, b *symbol) {
	// Both leaders reach the foot; they cross between it and the nearer of
	// the centres just where they are the other way round there.
	level := a.cy
	if (b.cy-b.foot)*(b.cy-b.foot) < (a.cy-a.foot)*(a.cy-a.foot) {
		level = b.cy
	}
	at := func(m *symbol) *big.Rat {
		x := big.NewRat(int64(level-m.cy)*int64(m.slot-m.cx), int64(m.foot-m.cy))
		return x.Add(x, big.NewRat(int64(m.cx), 1))
	}
	if same := a.cx == b.cx && a.cy == b.cy; !same && at(a).Cmp(at(b)) != cmp.Compare(a.slot, b.slot) {
		rt.Fatalf("the leaders of %q and %q cross", a.label, b.label)
	}
	if a.slot > b.slot {
		a, b = b, a
	}
	if a.right() < b.slot {
		return
	}
	if beyond := (a.base-b.tip)*(a.base-a.foot) > 0; a.slot == b.slot || !beyond {
		rt.Fatalf("the leader of %q runs through %q", b.label, a.label)
	}
	if rows := a.base - b.base; rows > -14 && rows < 14 {
		rt.Fatalf("%q and %q lie on each other", a.label, b.label)
	}
}

// TestVanSVGKnowsNoOrder: masses in another order give the same bytes.
func TestVanSVGKnowsNoOrder(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		v := anyVan().Draw(rt, "van")
		var first, second bytes.Buffer
		if err := paper.VanSVG(&first, v); err != nil {
			rt.Fatalf("%v", err)
		}
		v.Masses = rapid.Permutation(v.Masses).Draw(rt, "order")
		if err := paper.VanSVG(&second, v); err != nil {
			rt.Fatalf("%v", err)
		}
		if !bytes.Equal(first.Bytes(), second.Bytes()) {
			rt.Fatalf("the drawing depends on the order of masses")
		}
	})
}

func TestVanSVGRefuses(t *testing.T) {
	for name, change := range map[string]func(v *paper.VanDrawing){
		"no length":                func(v *paper.VanDrawing) { v.LengthMM = 0 },
		"a length beyond the most": func(v *paper.VanDrawing) { v.LengthMM = 20_001 },
		"a short wheelbase":        func(v *paper.VanDrawing) { v.WheelbaseMM = 1961 },
		"an axle beyond the rear":  func(v *paper.VanDrawing) { v.FrontOverhangMM = 1906 },
		"an overhang below zero":   func(v *paper.VanDrawing) { v.FrontOverhangMM = -1 },
		"higher than long":         func(v *paper.VanDrawing) { v.HeightMM = 4906 },
		"nothing plated":           func(v *paper.VanDrawing) { v.Rear.PlatedKG = decimal.Zero },
		"too many loads":           func(v *paper.VanDrawing) { v.Front.Loads = make([]paper.LoadDrawing, 9) },
		"a mass of nothing":        func(v *paper.VanDrawing) { v.Masses[0].KG = decimal.Zero },
		"a mass of no kind":        func(v *paper.VanDrawing) { v.Masses[0].Kind = 0 },
		"a mass of another kind":   func(v *paper.VanDrawing) { v.Masses[0].Kind = 4 },
		"a mass far behind":        func(v *paper.VanDrawing) { v.Masses[0].XMM = 2*4905 - 935 + 1 },
		"a mass under the ground":  func(v *paper.VanDrawing) { v.Masses[0].ZMM = -1 },
		"too many masses":          func(v *paper.VanDrawing) { v.Masses = slices.Repeat(v.Masses[:1], 2001) },
	} {
		t.Run(name, func(t *testing.T) {
			v := aVan()
			change(&v)
			var b bytes.Buffer
			err := paper.VanSVG(&b, v)
			if no, ok := errors.AsType[*paper.NotDrawable](err); !ok || no.Remedy == "" || !strings.HasSuffix(no.Reason, ".") || b.Len() > 0 {
				t.Errorf("error %v, %d bytes", err, b.Len())
			}
		})
	}
	for name, change := range map[string]func(v *paper.VanDrawing){
		"the longest":              func(v *paper.VanDrawing) { v.LengthMM, v.WheelbaseMM = 20_000, 8_000 },
		"the shortest wheelbase":   func(v *paper.VanDrawing) { v.WheelbaseMM = 1962 },
		"an axle at the very rear": func(v *paper.VanDrawing) { v.FrontOverhangMM = 1905 },
		"the farthest mass":        func(v *paper.VanDrawing) { v.Masses[0].XMM = 2*4905 - 935 },
		"nothing to show":          func(v *paper.VanDrawing) { v.Masses = nil },
	} {
		t.Run(name, func(t *testing.T) {
			v := aVan()
			change(&v)
			readDrawing(t, written(t, paper.VanSVG, v))
		})
	}
}
