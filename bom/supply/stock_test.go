package supply_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/bom/catalogue"
	"wainscot/bom/supply"
)

func TestStockMoves(t *testing.T) {
	s := supply.Stock{OnHand: dec("10"), Kept: []supply.Kept{{Job: "a", Quantity: dec("4")}, {Job: "b", Quantity: dec("3")}}}
	for _, c := range []struct {
		kind     supply.MovementKind
		quantity string
		job      string
		knowing  bool
		want     string // fault, or on hand and kept
	}{
		{supply.Delivered, "2.5", "", false, "12.5 a4 b3"},
		{supply.Built, "1", "", false, "11 a4 b3"},
		{supply.PutBack, "1", "a", false, "11 a4 b3"},
		{supply.PutBack, "1", "", false, "no_job"},
		{supply.Issued, "3", "a", false, "7 a1 b3"},
		{supply.Issued, "5", "a", false, "5 b3"},
		{supply.Issued, "3", "c", false, "7 a4 b3"},
		{supply.Issued, "4", "c", false, "kept_for_jobs"},
		{supply.Issued, "4", "c", true, "6 a4 b3 short"},
		{supply.Issued, "8", "a", false, "kept_for_jobs"},
		{supply.Issued, "11", "a", false, "below_nothing"},
		{supply.Issued, "11", "a", true, "-1 b3 below short"},
		{supply.Issued, "1", "", false, "no_job"},
		{supply.BuiltIn, "3", "", false, "7 a4 b3"},
		{supply.Returned, "3.000001", "", false, "kept_for_jobs"},
		{supply.Scrapped, "3", "", false, "7 a4 b3"},
		{supply.Counted, "0", "", true, "0 a4 b3 short"},
		{supply.Counted, "6", "", false, "kept_for_jobs"},
		{supply.Counted, "12", "", false, "12 a4 b3"},
		{supply.Adjusted, "-3", "", false, "7 a4 b3"},
		{supply.Adjusted, "0.25", "", false, "10.25 a4 b3"},
		{supply.Adjusted, "0", "", false, "quantity"},
		{supply.Delivered, "0", "", false, "quantity"},
		{supply.Delivered, "-1", "", false, "quantity"},
		{supply.Delivered, "1000001", "", false, "quantity"},
		{supply.Delivered, "0.0000001", "", false, "quantity"},
		{"lost", "1", "", false, "kind"},
		{"", "1", "", false, "kind"},
	} {
		now, did, faults := s.Move(supply.Movement{Kind: c.kind, Quantity: dec(c.quantity), Job: c.job}, c.knowing)
		got := []string{now.OnHand.String()}
		for _, k := range now.Kept {
			got = append(got, k.Job+k.Quantity.String())
		}
		if did.Below {
			got = append(got, "below")
		}
		if did.Short {
			got = append(got, "short")
		}
		if len(faults) > 0 {
			got = []string{faults[0].Code}
			if !now.OnHand.Equal(s.OnHand) {
				t.Errorf("%s is refused and done", c.kind)
			}
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s %s of %q: %v, want %s", c.kind, c.quantity, c.job, got, c.want)
		}
	}
	if now, faults := s.Keep("b", dec("6")); len(faults) > 0 || now.KeptFor("b").String() != "6" || now.KeptInAll().String() != "10" {
		t.Errorf("%+v %v", now, faults)
	}
	if _, faults := s.Keep("b", dec("6.1")); len(faults) != 1 || faults[0].Code != "not_there" {
		t.Errorf("more than there is: %v", faults)
	}
	if now, faults := s.Keep("b", dec("0")); len(faults) > 0 || len(now.Kept) != 1 {
		t.Errorf("%+v %v", now, faults)
	}
	short := supply.Stock{OnHand: dec("5"), Kept: s.Kept}
	if got := fmt.Sprint(short.Holdings(supply.Part, "x")); got != "[{part x a 4} {part x b 1}]" {
		t.Errorf("holdings %s", got)
	}
	if got := fmt.Sprint(s.Holdings(supply.Part, "x")); got != "[{part x a 4} {part x b 3} {part x  3}]" {
		t.Errorf("holdings %s", got)
	}
}

// Whatever moves: what is on hand is the sum of what moved, it is below nothing
// only where somebody knew, and what is kept is in what can be netted.
func TestStockIsTheSumOfItsMovements(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s supply.Stock
		var sum decimal.Decimal
		below := false
		for range rapid.IntRange(1, 40).Draw(t, "movements") {
			job := rapid.SampledFrom([]string{"a", "b", "c"}).Draw(t, "job")
			q := decimal.New(int64(rapid.IntRange(-5, 400).Draw(t, "tenths")), -1)
			if rapid.IntRange(0, 4).Draw(t, "keep") == 0 {
				s, _ = s.Keep(job, q)
				continue
			}
			knowing := rapid.IntRange(0, 9).Draw(t, "knowing") == 0
			m := supply.Movement{Kind: supply.MovementKind(rapid.SampledFrom(supply.MovementKind("").Words()).Draw(t, "kind")), Quantity: q, Job: job}
			was := s
			now, did, faults := s.Move(m, knowing)
			s = now
			if len(faults) == 0 {
				sum = sum.Add(did.Change)
			}
			below = below && !s.OnHand.GreaterThanOrEqual(decimal.Zero) || did.Below
			if s.OnHand.Sign() < 0 && !below {
				t.Fatalf("%s are on hand, and nobody knew", s.OnHand)
			}
			if !s.OnHand.Equal(sum) {
				t.Fatalf("%s are on hand, %s have moved", s.OnHand, sum)
			}
			if did.Change.Sign() < 0 && !knowing && s.KeptInAll().GreaterThan(s.OnHand) {
				t.Fatalf("%v leaves %s, and %s were kept: %+v", m, s.OnHand, s.KeptInAll(), was)
			}
			var held decimal.Decimal
			for _, h := range s.Holdings(supply.Part, "x") {
				held = held.Add(h.Quantity)
			}
			if !held.Equal(decimal.Max(decimal.Zero, s.OnHand)) {
				t.Fatalf("%s are on hand, %s can be netted", s.OnHand, held)
			}
		}
	})
}

func TestSubstituted(t *testing.T) {
	c := &catalogue.Catalogue{Parts: []catalogue.Part{{Code: "new", Name: "New", Provision: catalogue.ToppedUp}, {Code: "own", Name: "Own", Provision: catalogue.ForTheJob}}}
	wants := []supply.Want{
		{Job: "1", Kind: supply.Part, Code: "old", Day: "2027-01-04"}, {Job: "2", Kind: supply.Part, Code: "old", Day: "2027-01-05"},
		{Job: "3", Kind: supply.Part, Code: "old", Day: "2027-02-01"}, {Job: "4", Kind: supply.Part, Code: "old"},
		{Job: "1", Kind: supply.Kit, Code: "old", Day: "2027-01-04"}, {Job: "5", Kind: supply.Part, Code: "new", Day: "2027-01-04"},
	}
	codes := func(list ...supply.Substitute) (text string) {
		for _, w := range supply.Substituted(c, wants, list) {
			text += w.Code + ","
		}
		return text
	}
	for _, k := range []struct{ got, want string }{
		{codes(), "old,old,old,old,old,new,"},
		{codes(supply.Substitute{Part: "old", With: "new", Job: "2"}), "old,new,old,old,old,new,"},
		{codes(supply.Substitute{Part: "old", With: "new", From: "2027-01-05"}), "old,new,new,new,old,new,"},
		{codes(supply.Substitute{Part: "old", With: "new", From: "2027-01-05", Until: "2027-01-31"}), "old,new,old,old,old,new,"},
		{codes(supply.Substitute{Part: "old", With: "new", From: "2027-01-05"}, supply.Substitute{Part: "old", With: "own", Job: "3"}), "old,new,own,new,old,new,"},
		{codes(supply.Substitute{Part: "old", With: "new", From: "2027-01-01"}, supply.Substitute{Part: "new", With: "own", From: "2027-01-01"}), "new,new,new,new,old,own,"},
	} {
		if k.got != k.want {
			t.Errorf("got  %s\nwant %s", k.got, k.want)
		}
	}
	if w := supply.Substituted(c, wants, []supply.Substitute{{Part: "old", With: "new", Job: "2"}})[1]; w.Name != "New" || w.Provision != catalogue.ToppedUp {
		t.Errorf("%+v", w)
	}
}

func TestFitOf(t *testing.T) {
	c := demo().Catalogue()
	say := func(f supply.Fit) (list []string) {
		for _, u := range f.Unlike {
			list = append(list, fmt.Sprintf("%s: %s, %s (%v)", u.What, u.Was, u.Is, u.Stops))
		}
		return list
	}
	hob, ok := supply.FitOf(c, "hob_2", "hob_1")
	if !ok || !hob.Shows || hob.Stops() || hob.MassMoreKG.Sign() >= 0 {
		t.Errorf("%+v", hob)
	}
	if got := say(hob); !slices.ContainsFunc(got, func(s string) bool { return strings.HasPrefix(s, "certificate: ") }) ||
		!slices.ContainsFunc(got, func(s string) bool { return strings.HasPrefix(s, "caution: gas") }) {
		t.Errorf("a hob: %q", got)
	}
	if cable, ok := supply.FitOf(c, "strut_bracket", "fold_cord"); !ok || !cable.Stops() || cable.Shows {
		t.Errorf("a bracket and a cord: %+v", cable)
	}
	fabric := c.Finishes[0].Choices
	if f, ok := supply.FitOf(c, fabric[0].Part, fabric[1].Part); !ok || !f.Shows || f.Stops() {
		t.Errorf("a finish: %+v", f)
	}
	for _, pair := range [][2]string{{"hob_2", "hob_2"}, {"hob_2", "nothing"}, {"nothing", "hob_2"}} {
		if _, ok := supply.FitOf(c, pair[0], pair[1]); ok {
			t.Errorf("%v fit", pair)
		}
	}
	heavy := supply.Fit{MassMoreKG: dec("2.5")}
	if f := heavy.Loaded(dec("4"), dec("10")); f.Stops() || fmt.Sprint(say(f)) != "[load: 10 kg left, 0 kg left (false)]" {
		t.Errorf("%q", say(f))
	}
	if f := heavy.Loaded(dec("4"), dec("9.9")); !f.Stops() {
		t.Errorf("%q", say(f))
	}
}
