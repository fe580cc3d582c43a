package testdata_test

import (
	"io/fs"
	"path"
	"regexp"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/engineering"
	"wainscot/testdata"
)

// sized are the parts that come in the size worked out.
var sized = regexp.MustCompile(`^(mains_)?cable_[0-9]|^battery_lead_|^strip_fuse_[0-9]|^breaker_[0-9]`)

// TestNoCableIsTypedIn: a cable, a rated fuse and a breaker are only drawn from
// kits that ask a figure which size it is.
func TestNoCableIsTypedIn(t *testing.T) {
	c := workshop(t).catalogue
	for _, f := range c.Features {
		lines := f.Lines
		if f.Removal != nil {
			lines = append(lines[:len(lines):len(lines)], f.Removal.Lines...)
		}
		for _, l := range lines {
			if sized.MatchString(l.Part) {
				t.Errorf("%s asks for %s, whatever is worked out", f.Code, l.Part)
			}
		}
	}
	asked := 0
	for _, k := range c.Kits {
		for _, i := range k.Items {
			if !sized.MatchString(i.Part) {
				continue
			}
			asked++
			if !strings.Contains(i.Quantity, "_mm2 ") && !strings.Contains(i.Quantity, "_a ") {
				t.Errorf("the kit %s has %s without asking for a size: %s", k.Code, i.Part, i.Quantity)
			}
		}
	}
	if asked < 50 {
		t.Errorf("only %d items of a size", asked)
	}
}

// TestCircuits works every circuit of every choices file out again, by the
// functions themselves.
func TestCircuits(t *testing.T) {
	d := workshop(t)
	files, err := fs.Glob(testdata.Demo, "demo/choices/*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, name := range files {
		w := d.quote(t, strings.TrimSuffix(path.Base(name), ".yaml"))
		for _, c := range []struct {
			code, run, allowed, insulation string
			together                       int
		}{
			{"lights", "run_rear_m", "0.36", "70", 3}, {"sockets", "run_up_m", "1.2", "70", 3},
			{"fridge", "run_kitchen_m", "0.36", "70", 3}, {"heating", "run_kitchen_m", "0.36", "70", 3},
			{"pump", "run_rear_m", "0.6", "70", 3}, {"step", "run_rear_m", "1.2", "70", 3},
			{"control", "run_door_m", "0.36", "70", 3}, {"main", "run_beside_m", "0.12", "70", 1},
			{"charge", "run_engine_m", "0.6", "70", 1}, {"inverter", "run_beside_m", "0.36", "85", 1},
			{"solar", "run_up_m", "0.54", "70", 1}, {"charger", "run_beside_m", "0.36", "70", 1},
		} {
			current, area, fuse := w.figure(t, c.code+"_a"), w.figure(t, c.code+"_mm2"), w.figure(t, c.code+"_fuse_a")
			if current.IsZero() {
				if !area.IsZero() || !fuse.IsZero() {
					t.Errorf("%s: nothing is on %s, which has %s mm2 and %s A", name, c.code, area, fuse)
				}
				continue
			}
			seen[c.code] = true
			carries, err := engineering.CableA(area, number(c.insulation), c.together)
			lost, err2 := engineering.DropV(current, w.figure(t, c.run), area, number(c.insulation))
			if err != nil || err2 != nil || fuse.GreaterThan(carries) || fuse.LessThan(current.Mul(number("1.25"))) || lost.GreaterThan(number(c.allowed)) {
				t.Errorf("%s: %s of %s A: %s mm2 carry %s A and lose %s V, fuse %s A; %v, %v", name, c.code, current, area, carries, lost, fuse, err, err2)
			}
		}
		w.everyKitHasItsPart(t, name)
	}
	if len(seen) < 9 {
		t.Errorf("only %v are ever there", seen)
	}
}

// everyKitHasItsPart: whatever size is worked out, there is a part of it.
func (w *worked) everyKitHasItsPart(t *testing.T, name string) {
	t.Helper()
	drawn := map[string]bool{}
	for _, l := range w.sheet.Lines {
		for _, b := range l.Because {
			for _, kit := range b.Via {
				drawn[kit] = true
			}
		}
	}
	kits := 0
	for _, l := range w.sheet.Lines {
		if l.Kind == bom.KitLine && (strings.HasSuffix(l.Code, "_cable") || strings.HasSuffix(l.Code, "_strip_fuse") || l.Code == "battery_lead" || l.Code == "mains_breakers") {
			kits++
			if !drawn[l.Code] {
				t.Errorf("%s: %s draws no part", name, l.Code)
			}
		}
	}
	if strings.Contains(name, "full-conversion") && kits < 10 {
		t.Errorf("%s: only %d kits of cable", name, kits)
	}
}

// TestALongerVanHasNoThinnerCable: the same choices on the long van.
func TestALongerVanHasNoThinnerCable(t *testing.T) {
	d := workshop(t)
	short := d.quote(t, "full-conversion-short-van")
	long := &worked{choices: short.choices}
	long.choices.Van = bom.Van{BaseVan: "long_panel_van", Particulars: short.choices.Van.Particulars}
	long.work(t, d)
	thicker := 0
	for _, f := range short.sheet.Figures {
		if !strings.HasSuffix(f.Code, "_mm2") || strings.Contains(f.Code, "vent") || !isCircuit(short, f.Code) {
			continue
		}
		switch other := long.figure(t, f.Code); {
		case other.LessThan(f.Value):
			t.Errorf("%s: %s mm2 on the short van, %s on the long one", f.Code, f.Value, other)
		case other.GreaterThan(f.Value):
			thicker++
		}
	}
	if thicker == 0 {
		t.Error("no cable is thicker on the long van")
	}
}

func isCircuit(w *worked, code string) bool {
	current := strings.TrimSuffix(code, "mm2") + "a"
	for _, f := range w.sheet.Figures {
		if f.Code == current {
			return true
		}
	}
	return false
}

// TestTheSunOfTheDemo: the yield of each month falls from June to December and
// is that of PeakSunH.
func TestTheSunOfTheDemo(t *testing.T) {
	w := workshop(t).quote(t, "package-touring")
	panel := w.figure(t, "solar_panel_w")
	var before decimal.Decimal
	for i, month := range []string{"jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"} {
		got := w.figure(t, "solar_"+month+"_wh")
		if i > 0 && (i < 5 && !got.GreaterThan(before) || i > 6 && !got.LessThan(before)) {
			t.Errorf("%s: %s Wh after %s", month, got, before)
		}
		before = got
	}
	sun, err := engineering.PeakSunH(number("54"), 6, number("42"))
	if err != nil {
		t.Fatal(err)
	}
	yield, err := engineering.SolarWh(panel, sun, number("1.3"))
	if got := w.figure(t, "solar_jun_wh"); err != nil || panel.IsZero() || !yield.Round(0).Equal(got) {
		t.Errorf("June: %s Wh, want %s, %v", got, yield, err)
	}
}
