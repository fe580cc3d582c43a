package formula

import (
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/catalogue"
)

// Whatever the values in between, a formula that can be worked out comes to
// something in its bounds.
func TestBetweenBounds(t *testing.T) {
	s := guessScope(t)
	base := testValues(t, s)
	tight, wide := 0, 0
	rapid.Check(t, func(r *rapid.T) {
		least, most, v := s.NewValues(), s.NewValues(), s.NewValues()
		least.CopyOf(base)
		most.CopyOf(base)
		for _, name := range []string{"sockets", "fit.sockets", "guess", "hob", "oven", "van.rib_count"} {
			slot, ok := s.Slot(name)
			if !ok || rapid.IntRange(0, 2).Draw(r, "leave "+name) == 0 {
				continue
			}
			if slot.kind == Truth {
				from := rapid.Bool().Draw(r, name)
				least.SetTruth(slot, from)
				most.SetTruth(slot, from || rapid.Bool().Draw(r, "may be"))
				continue
			}
			from := rapid.IntRange(-9, 9).Draw(r, name)
			least.SetCount(slot, from)
			most.SetCount(slot, from+rapid.IntRange(0, 9).Draw(r, "wide"))
		}
		v.CopyOf(least)
		source := expressions{r}.number(rapid.IntRange(0, 3).Draw(r, "depth"))
		if len(source) > catalogue.MaxFormula {
			return
		}
		f, err := s.Compile(source, Number)
		if err != nil {
			return
		}
		from, to, ok := f.Between(least, most)
		if !ok {
			return
		}
		for range 5 {
			for at := range v.numbers {
				x, y := least.numbers[at], most.numbers[at]
				if x == unset || x == y {
					continue
				}
				if d := x.decimal(); y == one && x == zero {
					v.numbers[at] = truth(rapid.Bool().Draw(r, "is"))
				} else {
					n, _ := fromDecimal(d.Add(decimal.NewFromInt(int64(rapid.IntRange(0, int(y.decimal().Sub(d).IntPart())).Draw(r, "more")))))
					v.numbers[at] = n
				}
			}
			got, err := f.Number(v)
			if err != nil {
				continue
			}
			if got.LessThan(from) || got.GreaterThan(to) {
				r.Fatalf("%s came to %s, and is to be from %s to %s", source, got, from, to)
			}
			if from.Equal(to) {
				tight++
			} else {
				wide++
			}
		}
	})
	if tight == 0 || wide == 0 {
		t.Errorf("%d certain, %d between", tight, wide)
	}
}
