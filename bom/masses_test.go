package bom

import (
	"cmp"
	"fmt"
	"math/big"
	"testing"

	"pgregory.net/rapid"

	"wainscot/bom/catalogue"
)

// seated adds positions, and loads that sit at them, to a random catalogue.
func seated(t *rapid.T, c *catalogue.Catalogue) {
	mm := func() string { return fmt.Sprint(rapid.IntRange(-900, 4500).Draw(t, "behind the front axle")) }
	c.Positions = []catalogue.Position{
		{Code: "nose", Name: "Nose", FromFrontAxleMM: mm()},
		{Code: "tail", Name: "Tail", FromFrontAxleMM: "van.wheelbase_mm + " + fmt.Sprint(rapid.IntRange(0, 900).Draw(t, "overhang")), RightOfCentreMM: "-van.width_mm / 2", AboveGroundMM: "800"},
	}
	for i := range c.Parts {
		if c.Parts[i].Provision == catalogue.Consumable {
			c.Parts[i].MassKG = dec("0.01")
		}
	}
	at := func(label string) string { return anyOf(t, label, []string{"", "nose", "tail"}) }
	c.Groups[0].Position = at("group at")
	for i := range c.Features {
		c.Features[i].Position = at("feature at")
		for k := range c.Features[i].Lines {
			c.Features[i].Lines[k].Position = at("line at")
		}
	}
	c.Stages[1].Lines[0].Position = at("stage's line at")
	c.Loads = []catalogue.Load{
		{Code: "driver", Name: "Driver", Kind: catalogue.DriverLoad, MassKG: "75", Position: "nose", RunningOrderPercent: dec("100")},
		{Code: "water", Name: "Water", Kind: catalogue.WaterLoad, MassKG: anyOf(t, "water", []string{"3.7 * twice_count", "fit.f1", "0"}), Position: "tail", RunningOrderPercent: dec("90")},
	}
	for i := range c.BaseVans {
		c.BaseVans[i].Facts = append(c.BaseVans[i].Facts, catalogue.Fact{Name: catalogue.CabSeatsFromFrontAxleMM, Kind: catalogue.NumberFact, Number: dec("1080")})
		if i == 0 && rapid.Bool().Draw(t, "load space placed") {
			c.BaseVans[i].Facts = append(c.BaseVans[i].Facts, catalogue.Fact{Name: catalogue.LoadFromFrontAxleMM, Kind: catalogue.NumberFact, Number: dec("1375")})
		}
	}
}

// TestMassesByMoments holds the ledger against moments taken line by line with
// fractions: what rests on the axles is what there is, and where it rests
// follows from where it sits, to half a gram a line.
func TestMassesByMoments(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := randomCatalogue(t)
		seated(t, c)
		for i := range c.Features {
			for k := range c.Features[i].Lines {
				c.Features[i].Lines[k].Position = "" // tested below
			}
		}
		r, faults := Compile(c)
		if len(faults) > 0 {
			t.Fatalf("does not compile: %v", faults)
		}
		s := randomSpecification(t, c)
		sheet := Expand(r, s)
		m := sheet.Mass
		if len(sheet.Broken) > 0 {
			return // its lines are not all there
		}
		rear, lines := new(big.Rat), 0
		e := r.sheet.begin(r, &s)
		defer e.end()
		e.count()
		for i := range e.given {
			g := &e.given[i]
			kg := new(big.Rat).Mul(g.needed.decimal().Rat(), e.p.cells[g.cell].mass.decimal().Rat())
			position := ""
			switch {
			case g.feature < 0 && g.rate == nil:
				position = c.Stages[1].Lines[0].Position
			case g.feature >= 0:
				position = cmp.Or(c.Features[g.feature].Position, c.Groups[0].Position)
			}
			x := r.sheet.vans[0].positions[r.positionOf(position)].where.FromFrontAxleMM
			rear.Add(rear, kg.Mul(kg, new(big.Rat).Quo(x.Rat(), c.BaseVans[0].Facts.Number("wheelbase_mm").Rat())))
			lines++
		}
		added := m.After.TotalKG().Sub(m.Before.TotalKG())
		if !added.Equal(m.AddedKG.Sub(m.RemovedKG)) {
			t.Fatalf("the axles bear %s kg more, added are %s", added, m.AddedKG)
		}
		got := m.After.RearKG.Sub(m.Before.RearKG)
		if off := new(big.Rat).Sub(got.Rat(), rear); off.Abs(off).Cmp(big.NewRat(int64(lines+1), 1000)) > 0 {
			t.Fatalf("the rear axle bears %s kg more, by moments %s", got, rear.FloatString(3))
		}
		placed := m.UnplacedKG
		for _, p := range m.Positions {
			placed = placed.Add(p.AddedKG)
		}
		if !placed.Equal(m.AddedKG) {
			t.Fatalf("%s kg by position, %s added", placed, m.AddedKG)
		}
		if m.Most.FrontKG.LessThan(m.After.FrontKG) || m.Most.RearKG.LessThan(m.After.RearKG) ||
			m.Most.FrontKG.LessThan(m.Laden.FrontKG) || m.Most.RearKG.LessThan(m.Laden.RearKG) {
			t.Fatalf("the most is not the most: %+v", m)
		}
	})
}

// TestAftIsHeavierBehind: what moves aft never lightens the rear axle, and what
// both axles bear together stays.
func TestAftIsHeavierBehind(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := randomCatalogue(t)
		seated(t, c)
		s := randomSpecification(t, c)
		mass := func(behind int) Mass {
			c.Positions[0].FromFrontAxleMM = fmt.Sprint(behind)
			r, faults := Compile(c)
			if len(faults) > 0 {
				t.Fatalf("does not compile: %v", faults)
			}
			return Expand(r, s).Mass
		}
		ahead := rapid.IntRange(-1000, 4000).Draw(t, "ahead")
		before, after := mass(ahead), mass(ahead+rapid.IntRange(0, 2000).Draw(t, "moved aft"))
		for _, pair := range [][2]Axles{{before.After, after.After}, {before.InRunningOrder, after.InRunningOrder}, {before.Laden, after.Laden}} {
			if pair[1].RearKG.LessThan(pair[0].RearKG) || !pair[1].TotalKG().Equal(pair[0].TotalKG()) {
				t.Fatalf("%+v, moved aft %+v", pair[0], pair[1])
			}
		}
	})
}

// massed is a van of 1,000 and 800 kg with one feature of a part that weighs
// 100 kg, and the positions and loads given.
func massed(t *testing.T, change func(*catalogue.Catalogue)) *Release {
	t.Helper()
	c := blank()
	p := part("ballast", "each")
	p.MassKG = dec("100")
	c.Parts = append(c.Parts, p)
	c.Features = append(c.Features, catalogue.Feature{Code: "aa", Name: "A", Group: "all", Position: "there",
		Lines: []catalogue.Line{{Stage: "work", Part: "ballast"}}})
	for i := range c.BaseVans[0].Facts {
		f := &c.BaseVans[0].Facts[i]
		for name, is := range map[string]string{"wheelbase_mm": "3250", "length_mm": "6000", "unladen_front_kg": "1000", "unladen_rear_kg": "800",
			"plated_kg": "3000", "plated_front_kg": "1600", "plated_rear_kg": "1700", "load_length_mm": "3000"} {
			if f.Name == name {
				f.Number = dec(is)
			}
		}
	}
	c.Positions = []catalogue.Position{{Code: "there", Name: "There", FromFrontAxleMM: "4500"}, {Code: "axle", Name: "On the rear axle", FromFrontAxleMM: "van.wheelbase_mm"}}
	change(c)
	return compiled(t, c)
}

func shownAxles(a Axles) string { return a.FrontKG.String() + "+" + a.RearKG.String() }

// TestAxleLoads: by the worked example of an owner's manual, and what follows
// from it.
func TestAxleLoads(t *testing.T) {
	none := func(*catalogue.Catalogue) {}
	for _, test := range []struct {
		name   string
		change func(*catalogue.Catalogue)
		spec   func(*Specification)
		after  string
	}{
		// Owner's manual of a motor caravan, 2011: 100 kg at 4500 mm behind the
		// front axle, wheelbase 3250 mm: rear +138.5 kg, front -38.5 kg.
		{"behind the rear axle", none, nil, "961.538+938.462"},
		{"on the rear axle", func(c *catalogue.Catalogue) { c.Features[0].Position = "axle" }, nil, "1000+900"},
		{"by its line", func(c *catalogue.Catalogue) { c.Features[0].Lines[0].Position = "axle" }, nil, "1000+900"},
		{"by its group", func(c *catalogue.Catalogue) { c.Features[0].Position, c.Groups[0].Position = "", "axle" }, nil, "1000+900"},
		{"nowhere said", func(c *catalogue.Catalogue) { c.Features[0].Position = "" }, nil, "1050+850"},
		{"nowhere said, in the middle of the load space", func(c *catalogue.Catalogue) {
			c.Features[0].Position = ""
			c.BaseVans[0].Facts = append(c.BaseVans[0].Facts, catalogue.Fact{Name: catalogue.LoadFromFrontAxleMM, Kind: catalogue.NumberFact, Number: dec("1100")})
		}, nil, "1020+880"}, // 2600 mm of 3250: four fifths
		{"an addition on the rear axle", none, func(s *Specification) {
			s.Additions = []Addition{{Code: "rack", Kind: OneOff, Words: "Rack", Stage: "work", MassKG: dec("20"), Position: "axle"}}
		}, "961.538+958.462"},
		{"taken out on the rear axle", func(c *catalogue.Catalogue) {
			c.Features = append(c.Features, catalogue.Feature{Code: "bb", Name: "B", Group: "all", Position: "axle", Removal: &catalogue.Removal{MassKG: dec("30")}})
		}, func(s *Specification) { s.Removed = []RemovedFeature{{Code: "bb", Count: 2}} }, "961.538+938.462"}, // it is not in the base van's mass, so it comes and goes
		{"taken out on the rear axle, where the base van has it", func(c *catalogue.Catalogue) {
			c.Features = append(c.Features, catalogue.Feature{Code: "bb", Name: "B", Group: "all", Position: "axle", Removal: &catalogue.Removal{MassKG: dec("30")}})
			c.BaseVans[0].Fitted = []catalogue.Fitted{{Feature: "bb"}}
		}, func(s *Specification) { s.Removed = []RemovedFeature{{Code: "bb", Count: 1}} }, "961.538+908.462"},
		{"the customer's own for one of two", func(c *catalogue.Catalogue) {
			c.Features[0].Position, c.Features[0].Lines[0].Quantity = "axle", "2"
		}, func(s *Specification) {
			s.Additions = []Addition{{Code: "own", Kind: CustomersOwn, Words: "Ballast", Stage: "work", InPlaceOf: "ballast", DueBy: "2027-01-11", MassKG: dec("90"), Position: "axle"}}
		}, "1000+990"},
		{"weighed", none, func(s *Specification) {
			front, rear := dec("1100"), dec("900")
			s.Van.WeighedFrontKG, s.Van.WeighedRearKG = &front, &rear
		}, "1061.538+1038.462"},
		{"weighed with two aboard and a quarter of a tank", func(c *catalogue.Catalogue) {
			for name, mm := range map[string]string{catalogue.CabSeatsFromFrontAxleMM: "1300", catalogue.FuelTankFromFrontAxleMM: "1625", catalogue.FuelTankL: "80"} {
				c.BaseVans[0].Facts = append(c.BaseVans[0].Facts, catalogue.Fact{Name: name, Kind: catalogue.NumberFact, Number: dec(mm)})
			}
		}, func(s *Specification) {
			front, rear, quarter := dec("1100"), dec("900"), 25
			s.Van.WeighedFrontKG, s.Van.WeighedRearKG, s.Van.WeighedFuelPercent, s.Van.WeighedPeopleCount = &front, &rear, &quarter, 2
		}, "993.378+1000.302"}, // less 150 kg, 60 of it on the rear axle; 52 l of fuel, 43.68 kg, half on each
	} {
		t.Run(test.name, func(t *testing.T) {
			r := massed(t, test.change)
			s := specified("van", fitted("aa", 1))
			if test.spec != nil {
				test.spec(&s)
			}
			sheet := Expand(r, s)
			if got := shownAxles(sheet.Mass.After); got != test.after || len(sheet.Broken) > 0 {
				t.Errorf("%s, want %s; broken %v", got, test.after, sheet.Broken)
			}
		})
	}
}

// TestLoadingCases: running order, everything aboard, and the most of each axle.
func TestLoadingCases(t *testing.T) {
	r := massed(t, func(c *catalogue.Catalogue) {
		c.Positions = append(c.Positions, catalogue.Position{Code: "cab", Name: "Cab", FromFrontAxleMM: "1300"})
		c.Loads = []catalogue.Load{
			{Code: "driver", Name: "Driver", Kind: catalogue.DriverLoad, MassKG: "75", Position: "cab", RunningOrderPercent: dec("100")},
			{Code: "water", Name: "Water", Kind: catalogue.WaterLoad, MassKG: "100", Position: "there", RunningOrderPercent: dec("90")},
			{Code: "nothing", Name: "Nothing", Kind: catalogue.OtherLoad, MassKG: "0", Position: "cab"},
		}
		c.Checks = []catalogue.Check{{Code: "rear", Name: "Rear", Grade: catalogue.Must, Figure: "sheet.rear_most_kg", Sense: catalogue.AtMost,
			Limit: "van.plated_rear_kg", Unit: "kg", NearPercent: dec("2"), Says: "Too heavy.", Remedy: "Less."}}
	})
	s := specified("van", fitted("aa", 1))
	m := Expand(r, s).Mass
	for _, c := range []struct{ name, got, want string }{
		{"in running order", shownAxles(m.InRunningOrder), "971.923+1093.077"}, // 45 and 30; -34.615 and 124.615
		{"laden", shownAxles(m.Laden), "968.076+1106.924"},
		{"the most", shownAxles(m.Most), "1006.538+1106.924"}, // the front's without the water, which lifts it
		{"plated", shownAxles(m.Plated), "1600+1700"},
		{"loads that weigh anything", fmt.Sprint(len(m.Loads)), "2"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %s, want %s", c.name, c.got, c.want)
		}
	}
	for limit, want := range map[string]string{"1106.923": "not met", "1106.924": "near", "1129.5": "near", "1129.6": "met"} {
		plate := dec(limit)
		s.Van.PlatedRearKG = &plate
		sheet := Expand(r, s)
		k := sheet.Checks[0]
		got := "not met"
		if k.Met {
			got = "met"
		}
		if k.Near {
			got = "near"
		}
		if got != want || sheet.Mass.Plated.RearKG.String() != limit {
			t.Errorf("plated %s: %s, want %s: %+v", limit, got, want, k)
		}
	}
}
