package testdata_test

import (
	"io/fs"
	"path"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/engineering"
	"wainscot/testdata"
)

// TestAirAndGlue works vents, locker and glue of every choices file out again,
// by the functions themselves and the parts that are on the sheet.
func TestAirAndGlue(t *testing.T) {
	d := workshop(t)
	files, err := fs.Glob(testdata.Demo, "demo/choices/*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	vented, glued := 0, 0
	for _, name := range files {
		name = strings.TrimSuffix(path.Base(name), ".yaml")
		w := d.quote(t, name)
		plan, people := w.figure(t, "plan_area_m2"), w.figure(t, "people_count")
		unflued, flued := w.figure(t, "unflued_gas_kw"), w.figure(t, "flued_gas_kw")
		low, err1 := engineering.LowVentMM2(plan, unflued, people, flued)
		high, err2 := engineering.HighVentMM2(plan, unflued, people, flued)
		if err1 != nil || err2 != nil {
			t.Fatal(name, err1, err2)
		}
		if unflued.Add(flued).IsZero() {
			low, high = decimal.Decimal{}, decimal.Decimal{}
		} else {
			vented++
		}
		there, fit := w.counts()
		if there["floor_vents"] == fit["floor_vents"] { // none was there before
			justEnough(t, name+": low vents", w.drawn("floor_vent_2000"), number("2000"), low)
			justEnough(t, name+": high vents", w.drawn("high_vent_6000"), number("6000"), high)
		}
		if fit["locker_small"]+fit["locker_large"] > 0 {
			drop, err := engineering.DropVentMM2(w.figure(t, "locker_floor_area_m2"))
			if err != nil {
				t.Fatal(name, err)
			}
			justEnough(t, name+": drop vents", w.drawn("drop_vent"), number("10000"), drop)
		}
		glue := w.figure(t, "glass_glue_ml")
		if glue.Sign() > 0 {
			glued++
		}
		// Scrap is 8 % of what is issued, and so is what stays in the bags.
		used := w.drawnFor("bond_glass", "bonding_").Mul(number("0.92"))
		if used.Sub(glue).Abs().GreaterThan(number("0.01")) {
			t.Errorf("%s: %s ml of beads, %s ml on the lines", name, glue, used)
		}
		justEnough(t, name+": bags of glue", w.figure(t, "glass_bag_count"), number("552"), glue)
	}
	if vented < 4 || glued < 5 {
		t.Errorf("only %d are vented and %d are glued", vented, glued)
	}
}

// justEnough holds that so many of a thing reach what is needed, and one fewer
// would not.
func justEnough(t *testing.T, what string, count, each, needed decimal.Decimal) {
	t.Helper()
	reach, fewer := count.Mul(each), count.Sub(number("1")).Mul(each)
	if reach.LessThan(needed) || count.Sign() > 0 && fewer.GreaterThanOrEqual(needed) {
		t.Errorf("%s: %s of %s for %s", what, count, each, needed)
	}
}

// drawn is how much of a part is on the sheet.
func (w *worked) drawn(part string) decimal.Decimal {
	var sum decimal.Decimal
	for _, l := range w.sheet.Lines {
		if l.Kind == bom.PartLine && l.Code == part {
			sum = sum.Add(l.Quantity)
		}
	}
	return sum
}

// drawnFor is how much of a part kits ask for whose codes begin so, unrounded.
func (w *worked) drawnFor(part, kits string) decimal.Decimal {
	var sum decimal.Decimal
	for _, l := range w.sheet.Lines {
		if l.Kind != bom.PartLine || l.Code != part {
			continue
		}
		for _, b := range l.Because {
			for _, kit := range b.Via {
				if strings.HasPrefix(kit, kits) {
					sum = sum.Add(b.Quantity)
					break
				}
			}
		}
	}
	return sum
}

// TestMoreThatBurnsNeedsMoreVents: the same choices with and without the oven;
// and walls with insulation lose less than walls without.
func TestMoreThatBurnsNeedsMoreVents(t *testing.T) {
	d := workshop(t)
	with, without := d.quote(t, "full-conversion-short-van"), d.quote(t, "full-conversion-without-oven")
	for _, part := range []string{"floor_vent_2000", "high_vent_6000"} {
		if with.drawn(part).LessThan(without.drawn(part)) {
			t.Errorf("%s: %s with the oven, %s without", part, with.drawn(part), without.drawn(part))
		}
	}
	if !with.drawn("floor_vent_2000").GreaterThan(without.drawn("floor_vent_2000")) {
		t.Error("the oven needs no further floor vent")
	}
	insulated, bare := with.figure(t, "wall_u_w_per_m2k"), d.quote(t, "roof-only").figure(t, "wall_u_w_per_m2k")
	if !insulated.LessThan(bare) {
		t.Errorf("insulated walls lose %s W/(m2 K), bare ones %s", insulated, bare)
	}
}
