package catalogue

import (
	"fmt"

	"github.com/shopspring/decimal"
)

func (v *checker) positions() {
	for i := range v.c.Positions {
		p := &v.c.Positions[i]
		at := v.member("positions", v.position, i, p.Code, label)
		v.name(at+"/name", p.Name)
		v.formula(at+"/from_front_axle_mm", p.FromFrontAxleMM, true)
		v.formula(at+"/right_of_centre_mm", p.RightOfCentreMM, false)
		v.formula(at+"/above_ground_mm", p.AboveGroundMM, false)
	}
}

// placed checks a position that need not be given.
func (v *checker) placed(at, code string) {
	if code != "" {
		v.refers(at, code, "position", v.position)
	}
}

func (v *checker) loads() {
	ix := indexed(v.c.Loads, func(l *Load) string { return l.Code })
	for i := range v.c.Loads {
		l := &v.c.Loads[i]
		at := v.member("loads", ix, i, l.Code, label)
		v.name(at+"/name", l.Name)
		v.word(at+"/kind", l.Kind, string(l.Kind))
		v.formula(at+"/mass_kg", l.MassKG, true)
		v.refers(at+"/position", l.Position, "position", v.position)
		v.upTo(at+"/running_order_percent", l.RunningOrderPercent, 100)
		v.sentence(at+"/cites", l.Cites, false)
	}
}

// upTo checks a percentage that may be nothing and at most so much.
func (v *checker) upTo(at string, d decimal.Decimal, most int64) {
	if d.Sign() < 0 || d.GreaterThan(decimal.NewFromInt(most)) {
		v.fault("out_of_range", at, fmt.Sprintf("%s per cent cannot be.", d), fmt.Sprintf("Give 0 to %d.", most))
	}
}

func (v *checker) classFeatures() {
	ix := indexed(v.c.ClassFeatures, func(f *ClassFeature) string { return f.Code })
	for i := range v.c.ClassFeatures {
		f := &v.c.ClassFeatures[i]
		at := v.member("class_features", ix, i, f.Code, label)
		v.name(at+"/name", f.Name)
		v.word(at+"/list", f.List, string(f.List))
		v.formula(at+"/when", f.When, false)
		v.formula(at+"/holds", f.Holds, true)
		v.sentence(at+"/cites", f.Cites, false)
	}
}

func (v *checker) evidence() {
	ix := indexed(v.c.Evidence, func(e *Evidence) string { return e.Code })
	for i := range v.c.Evidence {
		e := &v.c.Evidence[i]
		at := v.member("evidence", ix, i, e.Code, label)
		v.name(at+"/name", e.Name)
		v.sentence(at+"/by", e.By, true)
		v.word(at+"/due", e.Due, string(e.Due))
		v.formula(at+"/when", e.When, false)
		v.sentence(at+"/says", e.Says, true)
		v.sentence(at+"/cites", e.Cites, false)
	}
}
