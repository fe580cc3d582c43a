package paper

import (
	"fmt"
	"io"
	"strings"

	"github.com/shopspring/decimal"
)

// VanDrawing is what the drawing of a van with its masses is made of. Lengths
// are in mm: X behind the front axle, Y from the centre line with the offside
// positive, Z above the ground.
type VanDrawing struct {
	// Title says whose it is, "Quote 1042, revision 2"; Van which van, "Short
	// panel van, WT24 DMO".
	Title string
	Van   string

	LengthMM        int
	WidthMM         int // without mirrors
	HeightMM        int
	WheelbaseMM     int
	FrontOverhangMM int // from the foremost point to the front axle
	// LeftHandDrive draws the steering wheel on the nearside.
	LeftHandDrive bool

	Whole AxleDrawing
	Front AxleDrawing
	Rear  AxleDrawing

	// Masses may stand in any order; the drawing is the same.
	Masses []MassDrawing
}

// AxleDrawing is what an axle, or the whole van, bears in each case and may
// bear by its plate.
type AxleDrawing struct {
	PlatedKG decimal.Decimal
	Loads    []LoadDrawing
}

// LoadDrawing is one case: "Unladen", "In running order", the worst there is.
type LoadDrawing struct {
	Name string
	KG   decimal.Decimal
	// Near: within the plate and near it, by the measure of whoever asks. Over
	// is seen from the masses.
	Near bool
}

// MassDrawing is one mass and where it sits.
type MassDrawing struct {
	Name string
	KG   decimal.Decimal // above zero; a mass that is taken out too
	XMM  int
	YMM  int
	ZMM  int
	// HeightKnown says that ZMM means something.
	HeightKnown bool
	Kind        MassKind
}

// MassKind is what becomes of a mass.
type MassKind uint8

// The kinds of mass.
const (
	noMass    MassKind = iota
	Fitted             // goes in with the work
	TakenOut           // leaves the van with the work
	Carried            // people, water, gas, luggage
	massKinds          // how many
)

// The bounds of what can be drawn.
const (
	leastVanMM, mostVanMM = 1_000, 20_000
	mostDrawn             = 2_000
	mostLoads             = 8
	mostKG                = 100_000
)

// VanSVG draws a side view and a plan of a van with its masses, and below each
// axle what it bears. The outline is nobody's; lengths, wheels, axles and the
// places of masses are to scale, and the areas of the circles are as the
// masses. It needs no font, no script and no other file, prints in black and
// white, and tells in words all it shows. The same value gives the same bytes.
//
// A *NotDrawable says which measure cannot be drawn.
func VanSVG(w io.Writer, v VanDrawing) error {
	if err := v.check(); err != nil {
		return err
	}
	d := v.lay()
	d.open()
	d.sideView()
	d.axles()
	d.plan()
	d.foot()
	_, err := io.WriteString(w, d.text.String())
	return err
}

// check finds what cannot be drawn.
func (v *VanDrawing) check() error {
	const look = "Look at the measures of the base van again."
	for _, m := range []struct {
		name string
		mm   int
	}{{"length", v.LengthMM}, {"width", v.WidthMM}, {"height", v.HeightMM}} {
		if m.mm < leastVanMM || m.mm > mostVanMM {
			return notDrawable(look, "A van's %s of %d mm cannot be drawn.", m.name, m.mm)
		}
	}
	// Below 0.4 of the length the figures of both axles would have no room.
	if v.WheelbaseMM*10 < v.LengthMM*4 || v.FrontOverhangMM < 0 || v.FrontOverhangMM+v.WheelbaseMM > v.LengthMM {
		return notDrawable(look, "A wheelbase of %d mm, %d mm behind the front, cannot be drawn on a van of %d mm.",
			v.WheelbaseMM, v.FrontOverhangMM, v.LengthMM)
	}
	if v.WidthMM > v.LengthMM || v.HeightMM > v.LengthMM {
		return notDrawable(look, "A van that is wider or higher than long cannot be drawn.")
	}
	for _, a := range []*AxleDrawing{&v.Whole, &v.Front, &v.Rear} {
		if !a.PlatedKG.IsPositive() || len(a.Loads) > mostLoads {
			return notDrawable("Look at the loads again.", "An axle is drawn with a plated mass and at most %d loads.", mostLoads)
		}
	}
	if len(v.Masses) > mostDrawn {
		return notDrawable("Put some together.", "%d masses are more than the %d that are drawn.", len(v.Masses), mostDrawn)
	}
	most := decimal.NewFromInt(mostKG)
	for i := range v.Masses {
		m := &v.Masses[i]
		if !m.KG.IsPositive() || m.KG.GreaterThan(most) || m.Kind <= noMass || m.Kind >= massKinds {
			return notDrawable("Look at it again.", "Mass %d (%s) is of no kind or cannot be drawn.", i+1, clean(m.Name))
		}
		behind := m.XMM + v.FrontOverhangMM
		if behind < -v.LengthMM || behind > 2*v.LengthMM || max(m.YMM, -m.YMM) > v.LengthMM ||
			m.HeightKnown && (m.ZMM < 0 || m.ZMM > v.LengthMM) {
			return notDrawable("Look at its position again.", "Mass %d (%s) is too far from the van to be drawn.", i+1, clean(m.Name))
		}
	}
	return nil
}

// vanCaution stands at the foot of every drawing.
const vanCaution = "These masses are estimates; only a weighbridge tells. The plated masses must not be exceeded."

// kindWords are what the key calls each kind.
func (k MassKind) words() string {
	return [...]string{"", "fitted", "taken out", "carried"}[k]
}

// sum is all masses of a kind.
func (v *VanDrawing) sum(k MassKind) decimal.Decimal {
	total := decimal.Zero
	for i := range v.Masses {
		if v.Masses[i].Kind == k {
			total = total.Add(v.Masses[i].KG)
		}
	}
	return total
}

// tells is the drawing in words, for who does not see it.
func (v *VanDrawing) tells() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Side view and plan of a van %s mm long, %s mm wide and %s mm high, wheelbase %s mm, front to the left.",
		grouped(fmt.Sprint(v.LengthMM)), grouped(fmt.Sprint(v.WidthMM)), grouped(fmt.Sprint(v.HeightMM)), grouped(fmt.Sprint(v.WheelbaseMM)))
	for k := Fitted; k < massKinds; k++ {
		if sum := v.sum(k); sum.IsPositive() {
			fmt.Fprintf(&b, " %s: %s.", capital(k.words()), kg(sum))
		}
	}
	for _, a := range v.bears() {
		fmt.Fprintf(&b, " %s, plated %s:", a.name, kg(a.PlatedKG))
		for i, l := range a.Loads {
			if i > 0 {
				b.WriteByte(';')
			}
			fmt.Fprintf(&b, " %s %s", uncapital(clean(l.Name)), a.says(l))
		}
		b.WriteByte('.')
	}
	b.WriteString(" " + vanCaution)
	return b.String()
}

// bearing is an axle, or the whole van, with its name.
type bearing struct {
	*AxleDrawing
	name string
}

func (v *VanDrawing) bears() [3]bearing {
	return [3]bearing{{&v.Front, "Front axle"}, {&v.Rear, "Rear axle"}, {&v.Whole, "Whole van"}}
}

// says tells how much of the plated mass a load is: "1,520 kg, 95 %, near the
// limit".
func (a *AxleDrawing) says(l LoadDrawing) string {
	says := kg(l.KG) + ", " + percent(l.KG.Mul(decimal.NewFromInt(100)).DivRound(a.PlatedKG, 0))
	switch over := l.KG.Sub(a.PlatedKG); {
	case over.IsPositive():
		says += ", over by " + kg(over)
	case l.Near:
		says += ", near the limit"
	}
	return says
}

// kg writes a mass as people do: to a tenth below 10 kg, else whole. What is
// above nothing is never written as nothing.
func kg(d decimal.Decimal) string {
	places := int32(0)
	if d.Abs().LessThan(decimal.NewFromInt(10)) && !d.Equal(d.Truncate(0)) {
		places = 1
	}
	if !d.IsZero() && d.Round(places).IsZero() {
		return "under 0.1" + noBreak + "kg"
	}
	return grouped(d.StringFixed(places)) + noBreak + "kg"
}
