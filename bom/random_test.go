package bom

import (
	"fmt"
	"maps"
	"math/big"
	"slices"
	"sync"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/catalogue"
)

// formulas with what they come to, worked with fractions: so many of feature
// f1 are fitted.
var randomFormulas = []struct {
	source string
	value  func(fit int64) *big.Rat
}{
	{"", func(int64) *big.Rat { return big.NewRat(1, 1) }},
	{"2", func(int64) *big.Rat { return big.NewRat(2, 1) }},
	{"0.35", func(int64) *big.Rat { return big.NewRat(35, 100) }},
	{"1.5", func(int64) *big.Rat { return big.NewRat(3, 2) }},
	{"12", func(int64) *big.Rat { return big.NewRat(12, 1) }},
	{"2 / 3", func(int64) *big.Rat { return big.NewRat(2, 3) }},
	{"fit.f1", func(fit int64) *big.Rat { return big.NewRat(fit, 1) }},
	{"fit.f1 * 0.4 + 1", func(fit int64) *big.Rat { return big.NewRat(fit*4+10, 10) }},
	{"twice_count / 3", func(fit int64) *big.Rat { return big.NewRat(2*fit+1, 3) }},
}

var randomScraps = []string{"0", "0", "3", "7.5", "10", "33", "50"}

func anyOf[T any](t *rapid.T, label string, list []T) T {
	return list[rapid.IntRange(0, len(list)-1).Draw(t, label)]
}

// randomCatalogue has features f0 to f5 of which some are counted, in two
// stages, whose lines ask for parts, hours and kits up to four deep.
func randomCatalogue(t *rapid.T) *catalogue.Catalogue {
	c := blank()
	c.Stages = append(c.Stages, catalogue.Stage{Code: "later", Name: "Later", After: []string{"work"},
		Lines: []catalogue.Line{{Stage: "later", Part: "p0", Quantity: "3"}}})
	c.Trades = append(c.Trades, catalogue.Trade{Code: "joiner", Name: "Joiner"})
	c.Figures = []catalogue.Figure{
		{Code: "twice_count", Name: "Twice and one", Formula: "once_count + once_count + 1"},
		{Code: "once_count", Name: "Once", Formula: "fit.f1"},
	}
	for i := range 5 {
		p := part(fmt.Sprintf("p%d", i), anyOf(t, "unit", []string{"each", "m", "m2", "ml"}))
		if p.Unit != catalogue.Each {
			p.Decimals = rapid.IntRange(0, 3).Draw(t, "decimals")
		}
		p.ScrapPercent = dec(anyOf(t, "scrap", randomScraps))
		p.MassKG = dec(anyOf(t, "mass", []string{"0", "0.25", "1.333"}))
		c.Parts = append(c.Parts, p)
	}
	glue := part("glue", "ml")
	glue.Provision = catalogue.Consumable
	glue.Rates = []catalogue.Rate{{Trade: "joiner", PerHour: dec("12.5")}}
	c.Parts = append(c.Parts, glue)
	quantity := func() string { return anyOf(t, "quantity", randomFormulas).source }
	for level := range 4 {
		k := catalogue.Kit{Code: fmt.Sprintf("k%d", level), Name: fmt.Sprintf("Kit %d", level)}
		for range rapid.IntRange(1, 3).Draw(t, "items") {
			item := catalogue.KitItem{Part: anyOf(t, "part", c.Parts[:5]).Code, Quantity: quantity()}
			if level > 0 && rapid.Bool().Draw(t, "kit in kit") {
				item.Part, item.Kit = "", c.Kits[rapid.IntRange(0, level-1).Draw(t, "inner")].Code
			}
			if rapid.Bool().Draw(t, "own scrap") {
				s := dec(anyOf(t, "kit scrap", randomScraps))
				item.ScrapPercent = &s
			}
			k.Items = append(k.Items, item)
		}
		if rapid.Bool().Draw(t, "bench hours") {
			k.Hours = []catalogue.KitHours{{Trade: "joiner", Hours: "0.25"}}
		}
		c.Kits = append(c.Kits, k)
	}
	for i := range 6 {
		f := catalogue.Feature{Code: fmt.Sprintf("f%d", i), Name: fmt.Sprintf("Feature %d", i), Group: "all",
			Removal: &catalogue.Removal{MassKG: dec("2")}}
		if i%2 == 1 {
			f.Count = &catalogue.Count{Least: 1, Most: 5}
		}
		for range rapid.IntRange(0, 4).Draw(t, "lines") {
			line := catalogue.Line{Stage: anyOf(t, "stage", c.Stages).Code, Quantity: quantity(), Once: rapid.Bool().Draw(t, "once")}
			switch rapid.IntRange(0, 3).Draw(t, "target") {
			case 0:
				line.Trade = anyOf(t, "trade", c.Trades).Code
			case 1:
				line.Part = anyOf(t, "part", c.Parts[:5]).Code
			default:
				line.Kit = anyOf(t, "kit", c.Kits).Code
			}
			f.Lines = append(f.Lines, line)
		}
		c.Features = append(c.Features, f)
	}
	return c
}

func randomSpecification(t *rapid.T, c *catalogue.Catalogue) Specification {
	s := specified("van")
	for _, f := range c.Features {
		if !rapid.Bool().Draw(t, "on "+f.Code) {
			continue
		}
		n := 1
		if f.Count != nil {
			n = rapid.IntRange(1, 5).Draw(t, "count")
		}
		s.Features = append(s.Features, SpecifiedFeature{Code: f.Code, Count: n, Fit: rapid.IntRange(0, n).Draw(t, "fit")})
	}
	return s
}

// witness explodes a catalogue the plain way: recursion and fractions.
type witness struct {
	c     *catalogue.Catalogue
	fit   int64 // of f1
	total map[string]*big.Rat
	need  map[string]*big.Rat // of parts, without scrap
}

func (w *witness) number(source string) *big.Rat {
	i := slices.IndexFunc(randomFormulas, func(f struct {
		source string
		value  func(int64) *big.Rat
	}) bool {
		return f.source == source
	})
	if i < 0 { // a plain number
		r, ok := new(big.Rat).SetString(source)
		if !ok {
			panic("no value for " + source)
		}
		return r
	}
	return randomFormulas[i].value(w.fit)
}

func (w *witness) add(key string, q *big.Rat) {
	if q.Sign() == 0 {
		return
	}
	if w.total[key] == nil {
		w.total[key] = new(big.Rat)
	}
	w.total[key].Add(w.total[key], q)
}

func issued(q *big.Rat, scrap decimal.Decimal) *big.Rat {
	left := new(big.Rat).Sub(big.NewRat(100, 1), scrap.Rat())
	return new(big.Rat).Quo(new(big.Rat).Mul(q, big.NewRat(100, 1)), left)
}

// part adds a part: q of it are asked for, need without the scrap of any kit.
func (w *witness) part(stage, code string, q, need *big.Rat, scrap *decimal.Decimal) {
	p := w.c.Parts[slices.IndexFunc(w.c.Parts, func(p catalogue.Part) bool { return p.Code == code })]
	if scrap == nil {
		scrap = &p.ScrapPercent
	}
	w.add(stage+"/part/"+code, issued(q, *scrap))
	w.wants(stage+"/part/"+code, need)
}

func (w *witness) wants(key string, q *big.Rat) {
	if w.need[key] == nil {
		w.need[key] = new(big.Rat)
	}
	w.need[key].Add(w.need[key], q)
}

func (w *witness) kit(stage, code string, q, need *big.Rat) {
	w.add(stage+"/kit/"+code, q)
	k := w.c.Kits[slices.IndexFunc(w.c.Kits, func(k catalogue.Kit) bool { return k.Code == code })]
	for _, item := range k.Items {
		n := new(big.Rat).Mul(q, w.number(item.Quantity))
		needed := new(big.Rat).Mul(need, w.number(item.Quantity))
		if item.Part != "" {
			w.part(stage, item.Part, n, needed, item.ScrapPercent)
			continue
		}
		if item.ScrapPercent != nil {
			n = issued(n, *item.ScrapPercent)
		}
		w.kit(stage, item.Kit, n, needed)
	}
	for _, h := range k.Hours {
		w.add(stage+"/hours/"+h.Trade, new(big.Rat).Mul(q, w.number(h.Hours)))
	}
}

func (w *witness) line(l catalogue.Line, n int) {
	q := w.number(l.Quantity)
	if !l.Once {
		q = new(big.Rat).Mul(q, big.NewRat(int64(n), 1))
	}
	switch {
	case l.Trade != "":
		w.add(l.Stage+"/hours/"+l.Trade, q)
	case l.Part != "":
		w.part(l.Stage, l.Part, q, q, nil)
	default:
		if q.Sign() != 0 {
			w.kit(l.Stage, l.Kit, q, q)
		}
	}
}

func (w *witness) sheet(s Specification) map[string]*big.Rat {
	w.total, w.need = map[string]*big.Rat{}, map[string]*big.Rat{}
	for _, f := range s.Features {
		if f.Code == "f1" {
			w.fit = int64(f.Fit)
		}
	}
	for _, f := range s.Features {
		at := slices.IndexFunc(w.c.Features, func(c catalogue.Feature) bool { return c.Code == f.Code })
		for _, l := range w.c.Features[at].Lines {
			if f.Fit > 0 {
				w.line(l, f.Fit)
			}
		}
	}
	w.additions(s.Additions)
	for _, stage := range w.c.Stages {
		worked := false
		for _, a := range s.Additions {
			worked = worked || a.Stage == stage.Code
		}
		for key := range w.total {
			worked = worked || len(key) > len(stage.Code) && key[:len(stage.Code)+1] == stage.Code+"/"
		}
		for _, l := range stage.Lines {
			if worked {
				w.line(l, 1)
			}
		}
		if hours := w.total[stage.Code+"/hours/joiner"]; hours != nil {
			glue := new(big.Rat).Mul(hours, big.NewRat(25, 2))
			w.add(stage.Code+"/part/glue", glue)
			w.wants(stage.Code+"/part/glue", glue)
		}
	}
	w.ownParts(s.Additions)
	return w.total
}

func (w *witness) additions(list []Addition) {
	for _, a := range list {
		for _, h := range a.Hours {
			w.add(a.Stage+"/hours/"+h.Trade, h.Hours.Rat())
		}
		w.add(a.Stage+"/"+string(a.Kind)+"/"+a.Code, big.NewRat(int64(max(a.Quantity, 1)), 1))
	}
}

// ownParts takes off what is brought: at its own stage first.
func (w *witness) ownParts(list []Addition) {
	for _, a := range list {
		left := big.NewRat(int64(max(a.Quantity, 1)), 1)
		stages := []string{a.Stage}
		for _, s := range w.c.Stages {
			stages = append(stages, s.Code)
		}
		for _, stage := range stages {
			key := stage + "/part/" + a.InPlaceOf
			need := w.need[key]
			if need == nil || need.Sign() == 0 || left.Sign() == 0 {
				continue
			}
			take := new(big.Rat).Set(left)
			if need.Cmp(take) < 0 {
				take.Set(need)
			}
			left = new(big.Rat).Sub(left, take)
			rest := new(big.Rat).Sub(need, take)
			w.total[key] = new(big.Rat).Mul(w.total[key], new(big.Rat).Quo(rest, need))
			w.need[key] = rest
			if rest.Sign() == 0 {
				delete(w.total, key)
			}
		}
	}
}

// roundedUp is the least multiple of 10^-places not below q, what lies beyond
// the sixth place left out: see noisePlaces.
func roundedUp(q *big.Rat, places int) decimal.Decimal {
	q, _ = new(big.Rat).SetString(q.FloatString(noisePlaces))
	scale := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(places)), nil)
	n := new(big.Int).Mul(q.Num(), scale)
	n.Add(n, q.Denom()).Sub(n, big.NewInt(1)).Quo(n, q.Denom())
	return decimal.NewFromBigInt(n, int32(-places))
}

// The sheet has exactly what plain recursion with fractions comes to, and the
// reasons of every line add up to it.
func TestExpandEqualsRecursion(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := randomCatalogue(t)
		r, faults := Compile(c)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		s := randomSpecification(t, c)
		if rapid.Bool().Draw(t, "with additions") {
			s.Additions = randomAdditions(t, c)
		}
		sheet := Expand(r, s)
		ledger(t, sheet)
		if len(sheet.Broken) > 0 {
			t.Fatalf("broken: %+v", sheet.Broken)
		}
		want := (&witness{c: c}).sheet(s)
		for _, l := range sheet.Lines {
			key := fmt.Sprintf("%s/%s/%s", l.Stage, l.Kind, l.Code)
			exact := want[key]
			if exact == nil {
				t.Fatalf("%s: %s, and nothing asks for it", key, l.Quantity)
			}
			delete(want, key)
			sum := decimal.Zero
			for _, b := range l.Because {
				sum = sum.Add(b.Quantity)
			}
			switch l.Kind {
			case PartLine:
				places := c.Parts[slices.IndexFunc(c.Parts, func(p catalogue.Part) bool { return p.Code == l.Code })].Decimals
				if up := roundedUp(exact, places); !l.Quantity.Equal(up) {
					t.Fatalf("%s: %s, recursion has %s = %s", key, l.Quantity, exact.FloatString(15), up)
				}
				if got := sum.Round(6).RoundCeil(int32(places)); !got.Equal(l.Quantity) {
					t.Fatalf("%s: the reasons add up to %s, the line has %s", key, sum, l.Quantity)
				}
			case HoursLine:
				if !near(sum, exact) || !sum.Round(2).Equal(l.Quantity) {
					t.Fatalf("%s: %s, recursion has %s, the reasons %s", key, l.Quantity, exact.FloatString(15), sum)
				}
			default:
				if !near(sum, exact) || !sum.Round(6).Equal(l.Quantity) {
					t.Fatalf("%s: %s, recursion has %s", key, l.Quantity, exact.FloatString(15))
				}
			}
		}
		if len(want) > 0 {
			t.Fatalf("not on the sheet: %v", slices.Sorted(maps.Keys(want)))
		}
	})
}

// near says that what is rounded at the twelfth place on the way is what
// fractions have: what follows a rounding multiplies its error, so that of a
// large number less is known behind the point.
func near(d decimal.Decimal, r *big.Rat) bool {
	diff := new(big.Rat).Sub(d.Rat(), r)
	most := new(big.Rat).SetInt64(1)
	if r.Cmp(most) > 0 {
		most.Set(r)
	}
	return diff.Abs(diff).Cmp(most.Quo(most, big.NewRat(1_000_000_000, 1))) < 0
}

// Same inputs, same bytes: whatever ran before or runs beside it, and compiled
// once more.
func TestSameBytesAtOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := randomCatalogue(t)
		first, faults := Compile(c)
		again, _ := Compile(c)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		specs := []Specification{randomSpecification(t, c), randomSpecification(t, c)}
		var want [2]string
		for i, s := range specs {
			want[i] = CanonicalHash(Expand(first, s))
		}
		if got := CanonicalHash(Expand(again, specs[0])); got != want[0] {
			t.Fatalf("compiled again, the sheet is another: %s and %s", got, want[0])
		}
		var wait sync.WaitGroup
		got := make([]string, 8)
		for i := range got {
			wait.Go(func() { got[i] = CanonicalHash(Expand(first, specs[i%2])) })
		}
		wait.Wait()
		for i := range got {
			if got[i] != want[i%2] {
				t.Fatalf("side by side, the sheet is another: %s and %s", got[i], want[i%2])
			}
		}
	})
}

// Sheets made in one room are what they would be anywhere, whatever was made
// there before, and do not touch each other.
func TestSheetsInOneRoom(t *testing.T) {
	var room Room
	rapid.Check(t, func(t *rapid.T) {
		c := randomCatalogue(t)
		r, faults := Compile(c)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		var want []string
		var made []Sheet
		for range rapid.IntRange(1, 4).Draw(t, "sheets") {
			s := randomSpecification(t, c)
			if rapid.Bool().Draw(t, "with additions") {
				s.Additions = randomAdditions(t, c)
			}
			want = append(want, jsonText(Expand(r, s)))
			made = append(made, ExpandIn(&room, r, s))
		}
		for i := range made {
			if got := jsonText(made[i]); got != want[i] {
				t.Fatalf("sheet %d in the room is\n%s\nand elsewhere\n%s", i, got, want[i])
			}
		}
		room.Clear()
	})
}

// Leaving a feature out never adds a line, and nothing is there for its sake.
func TestRemovingAFeatureAddsNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := randomCatalogue(t)
		r, faults := Compile(c)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		s := randomSpecification(t, c)
		if len(s.Features) == 0 {
			return
		}
		with := quantities(Expand(r, s))
		gone := rapid.IntRange(0, len(s.Features)-1).Draw(t, "gone")
		code := s.Features[gone].Code
		s.Features = slices.Delete(slices.Clone(s.Features), gone, gone+1)
		without := Expand(r, s)
		for key, q := range quantities(without) {
			if was, ok := with[key]; !ok || dec(was).LessThan(dec(q)) {
				t.Fatalf("without %s: %s of %s, with it %q", code, q, key, was)
			}
		}
		for _, l := range without.Lines {
			for _, b := range l.Because {
				if b.Feature == code {
					t.Fatalf("without %s: %s is there because of it", code, l.Name)
				}
			}
		}
	})
}

// What the van has and keeps costs nothing.
func TestKeptFeaturesCostNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := randomCatalogue(t)
		r, faults := Compile(c)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		s := randomSpecification(t, c)
		kept := Expand(r, s)
		s.Features = slices.DeleteFunc(slices.Clone(s.Features), func(f SpecifiedFeature) bool { return f.Fit == 0 })
		without := Expand(r, s)
		if jsonText(kept.Lines) != jsonText(without.Lines) {
			t.Fatalf("keeping what is there changes the lines:\n%s\n%s", jsonText(kept.Lines), jsonText(without.Lines))
		}
	})
}
