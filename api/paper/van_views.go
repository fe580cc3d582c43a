package paper

import (
	"encoding/xml"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"
)

// The sheet a van is drawn on, in the units of its viewBox. All places are
// whole units (a van of five metres has one every 6 mm) and worked out in
// whole numbers, so they come out alike on every machine.
const (
	sheetWidth  = 1280
	drawLeft    = 70  // of what is drawn to scale
	drawWidth   = 870 // what is longest takes all of it
	besideLeft  = 1000
	blockWidth  = 280
	rowHeight   = 18
	loadHeight  = 56
	platedWidth = 200 // of a bar that is full
	barWidth    = 250 // a quarter more at most; the words say the rest
	largestMark = 49  // its radius
)

// vanSheet is a drawing on its way.
type vanSheet struct {
	*VanDrawing
	text  strings.Builder
	marks []mark
	// What is drawn to scale: mm behind the front axle at drawLeft, and how
	// many mm there are in drawWidth.
	fromMM, spanMM int
	// Circles have an area of 8π units a kg, less where one would be too large.
	perKG100 int64 // hundredths of r² a kg

	side, under []flag // labels above the side view and below the plan
	sideFoot    int    // where uprights begin
	ground      int
	bars        int
	planMiddle  int
	planFoot    int
	end         int
}

// lay finds where everything stands.
func (v *VanDrawing) lay() *vanSheet {
	d := &vanSheet{VanDrawing: v, marks: v.marks(), perKG100: 800}
	d.fromMM = -v.FrontOverhangMM
	to, top, offside, nearside := v.LengthMM-v.FrontOverhangMM, v.HeightMM, v.WidthMM/2, v.WidthMM/2
	for i := range d.marks {
		m := &d.marks[i]
		d.fromMM, to = min(d.fromMM, m.XMM), max(to, m.XMM)
		offside, nearside = max(offside, m.YMM), max(nearside, -m.YMM)
		if m.HeightKnown {
			top = max(top, m.ZMM)
		}
		d.perKG100 = min(d.perKG100, largestMark*largestMark*100*1000/m.grams)
	}
	d.spanMM = to - d.fromMM
	last := drawLeft + drawWidth + 30

	const title = 90
	d.side = flags(d.marks, func(m *mark) (int, int) { return d.at(m.XMM), -d.units(d.height(m)) }, -d.units(top)-40, last)
	d.sideFoot = title + rows(d.side)*rowHeight
	d.ground = d.sideFoot + 40 + d.units(top)
	for i := range d.side {
		d.side[i].y += d.ground
	}
	d.bars = d.ground + 62
	loads := max(len(v.Front.Loads), len(v.Rear.Loads), len(v.Whole.Loads))
	d.planMiddle = d.bars + loads*loadHeight + 70 + d.units(offside)
	d.planFoot = d.planMiddle + d.units(nearside) + 50
	d.under = flags(d.marks, func(m *mark) (int, int) { return d.at(m.XMM), d.planMiddle - d.units(m.YMM) }, d.planFoot, last)
	d.end = d.planFoot + rows(d.under)*rowHeight + 50
	return d
}

// units turns a length into units, halves away from nothing.
func (d *vanSheet) units(mm int) int {
	if mm < 0 {
		return -d.units(-mm)
	}
	return (2*mm*drawWidth + d.spanMM) / (2 * d.spanMM)
}

// at is where a place behind the front axle is.
func (d *vanSheet) at(xMM int) int { return drawLeft + d.units(xMM-d.fromMM) }

// height is where a mass is drawn above the ground: on the floor where nobody
// knows.
func (d *vanSheet) height(m *mark) int {
	if m.HeightKnown {
		return m.ZMM
	}
	return d.floorMM()
}

func (d *vanSheet) floorMM() int { return d.HeightMM * 26 / 100 }

// radius of a mark's circle, in tenths of a unit.
func (d *vanSheet) radius(grams int64) int64 {
	square := d.perKG100 * grams / 1000 // r² in hundredths, so its root is in tenths
	r := int64(0)
	for (r+1)*(r+1) <= square {
		r++
	}
	return max(r, 20)
}

func tenths(n int64) string { return fmt.Sprintf("%d.%d", n/10, n%10) }

// put writes a line.
func (d *vanSheet) put(format string, args ...any) {
	for i, a := range args {
		if s, ok := a.(string); ok {
			args[i] = escaped(s)
		}
	}
	fmt.Fprintf(&d.text, format+"\n", args...)
}

// escaped is text as it may stand in XML, in marks of quotation too.
func escaped(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a builder never fails
	return b.String()
}

// open begins the drawing, with what patterns and words it has.
func (d *vanSheet) open() {
	title := "Masses and axle loads"
	for _, s := range []string{clean(d.Title), clean(d.Van)} {
		if s != "" {
			title += ", " + s
		}
	}
	d.put(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" role="graphics-document document" aria-labelledby="van-title" aria-describedby="van-desc" lang="en-GB" font-family="sans-serif" font-size="13" fill="#111">`,
		sheetWidth, d.end)
	d.put(`<title id="van-title">%s</title>`, title)
	d.put(`<desc id="van-desc">%s</desc>`, d.tells())
	d.text.WriteString(`<defs>
<pattern id="van-hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="6" height="6" fill="#fff"/><path d="M0 0V6" stroke="#111" stroke-width="2"/></pattern>
<pattern id="van-dots" width="7" height="7" patternUnits="userSpaceOnUse"><rect width="7" height="7" fill="#fff"/><circle cx="3.5" cy="3.5" r="1.3"/></pattern>
<pattern id="van-lines" width="5" height="5" patternUnits="userSpaceOnUse"><rect width="5" height="5" fill="#fff"/><path d="M0 0V5" stroke="#111" stroke-width="1.5"/></pattern>
</defs>
`)
	d.put(`<rect width="%d" height="%d" fill="#fff"/>`, sheetWidth, d.end)
	d.put(`<text x="20" y="40" font-size="22" font-weight="bold">Masses and axle loads</text>`)
	var whose []string
	for _, s := range []string{d.Title, d.Van} {
		if s = clean(s); s != "" {
			whose = append(whose, s)
		}
	}
	d.put(`<text x="20" y="64" font-size="15">%s</text>`, cut(strings.Join(whose, " · "), 140))
}

// sideView draws the van from its nearside, front to the left, with the key
// beside it.
func (d *vanSheet) sideView() {
	d.put(`<g role="graphics-object group" aria-label="Side view">`)
	d.put(`<text x="%d" y="%d" font-size="15" font-weight="bold">Side view</text>`, besideLeft, d.ground-d.units(d.HeightMM)+4)
	d.put(`<g aria-hidden="true" fill="none" stroke="#111" stroke-width="1.5">`)
	x := func(thousandth int) int { return d.at(d.LengthMM*thousandth/1000 - d.FrontOverhangMM) }
	y := func(thousandth int) int { return d.ground - d.units(d.HeightMM*thousandth/1000) }
	d.put(`<path stroke-width="2.5" d="M%d %dV%dL%d %dL%d %dL%d %dQ%d %d %d %dH%dQ%d %d %d %dV%d%s%sZ"/>`,
		x(0), y(150), y(380), x(35), y(440), x(190), y(540), x(315), y(940), x(330), y(1000), x(385), y(1000),
		x(955), x(1000), y(1000), x(1000), y(890), y(150), d.arch(d.WheelbaseMM), d.arch(0))
	d.put(`<path d="M%d %dL%d %dH%dV%dZ"/>`, x(225), y(560), x(330), y(910), x(400), y(560))
	d.put(`<path stroke-dasharray="8 4" d="M%d %dH%d"/>`, x(330), d.ground-d.units(d.floorMM()), x(985))
	for _, axle := range []int{0, d.WheelbaseMM} {
		wheel := d.units(330)
		d.put(`<circle cx="%d" cy="%d" r="%d" stroke-width="5"/>`, d.at(axle), d.ground-wheel, wheel-3)
		d.put(`<circle cx="%d" cy="%d" r="4" fill="#111"/>`, d.at(axle), d.ground-wheel)
	}
	d.put(`<path d="M%d %dH%d"/>`, drawLeft-40, d.ground, drawLeft+drawWidth+40)
	d.put(`</g>`)
	d.flags(d.side, d.sideFoot, -1)
	d.key()
	d.put(`</g>`)
}

// arch is the way of the body's lower edge over a wheel, from rear to front,
// as far as the body has room for it.
func (d *vanSheet) arch(axleMM int) attributes {
	r := d.units(min(410, axleMM+d.FrontOverhangMM, d.LengthMM-d.FrontOverhangMM-axleMM))
	return attributes(fmt.Sprintf("H%da%d %d 0 0 0 %d 0", d.at(axleMM)+r, r, r, -2*r))
}

// flags draws circles with their leaders and labels; up is -1, down 1.
func (d *vanSheet) flags(list []flag, foot, way int) {
	d.put(`<g class="leaders" aria-hidden="true" fill="none" stroke="#555" stroke-width="0.8">`)
	for i := range list {
		f := &list[i]
		dash := attributes("")
		if !f.mark.HeightKnown && way < 0 {
			dash = ` stroke-dasharray="2 3"`
		}
		d.put(`<path d="M%d %dL%d %dV%d"%s/>`, f.x, f.y, f.slot, foot, foot+way*(f.row*rowHeight+12), dash)
	}
	d.put(`</g>`)
	for i := range d.marks {
		k := slices.IndexFunc(list, func(f flag) bool { return f.mark == &d.marks[i] })
		f := &list[k]
		d.put(`<g role="graphics-symbol img" aria-label="%s"><title>%s</title>`, f.mark.whole, f.mark.whole)
		d.circle(f.x, f.y, d.radius(f.mark.grams), f.mark.Kind)
		base := foot + way*(f.row*rowHeight+12)
		if way < 0 {
			base += 5
		}
		d.put(`<text x="%d" y="%d">%s</text>`, f.slot+5, base, f.label)
		d.put(`</g>`)
	}
}

// circle is a mass, told from other kinds by its fill and its edge.
func (d *vanSheet) circle(x, y int, tenthsRadius int64, k MassKind) {
	style := map[MassKind]attributes{
		Fitted:   `fill="#bbb" fill-opacity="0.8" stroke="#111"`,
		TakenOut: `fill="url(#van-hatch)" fill-opacity="0.8" stroke="#111" stroke-dasharray="5 3"`,
		Carried:  `fill="url(#van-dots)" fill-opacity="0.8" stroke="#111" stroke-width="2"`,
	}[k]
	d.put(`<circle cx="%d" cy="%d" r="%s" %s/>`, x, y, tenths(tenthsRadius), style)
}

// key says what circles and leaders mean, and how long a metre is.
func (d *vanSheet) key() {
	x, y := besideLeft, d.ground-d.units(d.HeightMM)+34
	for k := Fitted; k < massKinds; k++ {
		d.circle(x+12, y-4, 100, k)
		says := capital(k.words())
		if sum := d.sum(k); sum.IsPositive() {
			says += ", " + kg(sum)
		}
		d.put(`<text x="%d" y="%d">%s</text>`, x+34, y, says)
		y += 28
	}
	fifty := d.radius(50_000)
	d.circle(x+40, y+18, fifty, Fitted)
	d.put(`<text x="%d" y="%d">50 kg</text>`, x+90, y+22)
	y += 62
	if slices.ContainsFunc(d.marks, func(m mark) bool { return !m.HeightKnown }) {
		d.put(`<path d="M%d %dH%d" stroke="#555" stroke-width="0.8" stroke-dasharray="2 3" aria-hidden="true"/>`, x, y-4, x+26)
		d.put(`<text x="%d" y="%d">height not known</text>`, x+34, y)
		y += 28
	}
	d.put(`<path d="M%d %dv8h%dv-8" fill="none" stroke="#111" aria-hidden="true"/>`, x, y-6, d.units(1000))
	d.put(`<text x="%d" y="%d">1 m</text>`, x+d.units(1000)+8, y+2)
}

// axles draws what each axle bears below it, and the whole van beside.
func (d *vanSheet) axles() {
	front, rear := d.at(0), d.at(d.WheelbaseMM)
	y := d.ground + 22
	d.put(`<path d="M%d %dv12m0 -6H%dm0 -6v12" fill="none" stroke="#111" aria-hidden="true"/>`, front, y-6, rear)
	d.put(`<text x="%d" y="%d" text-anchor="middle" stroke="#fff" stroke-width="6" paint-order="stroke">wheelbase %s mm</text>`,
		(front+rear)/2, y+5, grouped(fmt.Sprint(d.WheelbaseMM)))
	frontLeft := min(max(front-blockWidth/2, 20), 400)
	rearLeft := min(max(rear-blockWidth/2, frontLeft+blockWidth+20), 700)
	left := [...]int{frontLeft, rearLeft, besideLeft}
	for i, b := range d.bears() {
		d.block(b, left[i])
	}
}

// block is an axle's name and its loads as bars, each said in words beside it.
func (d *vanSheet) block(b bearing, left int) {
	heading := b.name + ", plated " + kg(b.PlatedKG)
	d.put(`<g role="graphics-object group" aria-label="%s">`, heading)
	d.put(`<text x="%d" y="%d" font-weight="bold">%s</text>`, left, d.bars, heading)
	y := d.bars
	for _, l := range b.Loads {
		y += loadHeight
		d.put(`<text x="%d" y="%d">%s</text>`, left, y-36, cut(clean(l.Name), 34))
		d.put(`<text x="%d" y="%d"%s>%s</text>`, left, y-20, weightOf(l.Near || l.KG.GreaterThan(b.PlatedKG)), b.says(l))
		d.bar(left, y-14, b.PlatedKG, l)
	}
	d.put(`</g>`)
}

// attributes is a piece of a tag: put does not take it for text.
type attributes string

func weightOf(strong bool) attributes {
	if strong {
		return ` font-weight="bold"`
	}
	return ""
}

// bar is as long as the load's share of what is plated: grey, striped where it
// is near the plate, and hatched beyond it.
func (d *vanSheet) bar(x, y int, plated decimal.Decimal, l LoadDrawing) {
	share := l.KG.Mul(decimal.NewFromInt(platedWidth)).DivRound(plated, 0)
	width := int(decimal.Min(decimal.Max(share, decimal.Zero), decimal.NewFromInt(barWidth)).IntPart())
	over := l.KG.GreaterThan(plated)
	fill := attributes("#bbb")
	if l.Near || over {
		fill = attributes("url(#van-lines)")
	}
	d.put(`<g aria-hidden="true" stroke="#111"><rect x="%d" y="%d" width="%d" height="9" fill="%s"/>`, x, y, min(width, platedWidth), fill)
	if over {
		d.put(`<rect x="%d" y="%d" width="%d" height="9" fill="url(#van-hatch)" stroke-width="2"/>`, x+platedWidth, y, max(width-platedWidth, 4))
	}
	d.put(`<path d="M%d %dv17" stroke-width="2"/></g>`, x+platedWidth, y-4)
}

// plan draws the van from above, front to the left, so that the offside is up.
func (d *vanSheet) plan() {
	half := d.units(d.WidthMM) / 2
	d.put(`<g role="graphics-object group" aria-label="Plan">`)
	d.put(`<text x="%d" y="%d" font-size="15" font-weight="bold">Plan</text>`, besideLeft, d.planMiddle-half+4)
	hand, side := "right-hand drive", -1
	if d.LeftHandDrive {
		hand, side = "left-hand drive", 1
	}
	for i, s := range []string{"front to the left, " + hand, grouped(fmt.Sprint(d.LengthMM)) + " mm long, " + grouped(fmt.Sprint(d.WidthMM)) + " mm wide", grouped(fmt.Sprint(d.HeightMM)) + " mm high"} {
		d.put(`<text x="%d" y="%d">%s</text>`, besideLeft, d.planMiddle-half+26+i*20, s)
	}
	d.put(`<g aria-hidden="true" fill="none" stroke="#111" stroke-width="1.5">`)
	x := func(thousandth int) int { return d.at(d.LengthMM*thousandth/1000 - d.FrontOverhangMM) }
	y := func(thousandth int) int { return d.planMiddle - half*thousandth/1000 }
	d.put(`<path stroke-width="2.5" d="M%d %dH%dQ%d %d %d %dV%dQ%d %d %d %dH%dQ%d %d %d %dV%dQ%d %d %d %dZ"/>`,
		x(70), y(1000), x(965), x(1000), y(1000), x(1000), y(880), y(-880), x(1000), y(-1000), x(965), y(-1000),
		x(70), x(0), y(-960), x(0), y(-640), y(640), x(0), y(960), x(70), y(1000))
	d.put(`<path d="M%d %dQ%d %d %d %d"/>`, x(215), y(860), x(165), y(0), x(215), y(-860))
	d.put(`<ellipse cx="%d" cy="%d" rx="%d" ry="%d" stroke-width="3"/>`, x(255), d.planMiddle+side*half*45/100, d.units(50), d.units(190))
	for _, axle := range []int{0, d.WheelbaseMM} {
		d.put(`<path stroke-dasharray="14 4 3 4" stroke-width="1" d="M%d %dV%d"/>`, d.at(axle), y(1080), y(-1080))
		for _, edge := range []int{y(960), y(-960) - d.units(200)} {
			d.put(`<rect stroke-dasharray="4 3" x="%d" y="%d" width="%d" height="%d"/>`, d.at(axle)-d.units(330), edge, d.units(660), d.units(200))
		}
	}
	d.put(`</g>`)
	d.put(`<text x="20" y="%d">offside</text>`, y(1000)+4)
	d.put(`<text x="20" y="%d">nearside</text>`, y(-1000)+4)
	d.flags(d.under, d.planFoot, 1)
	d.put(`</g>`)
}

// foot ends the drawing with the standing caution.
func (d *vanSheet) foot() {
	d.put(`<text x="20" y="%d" font-size="15" font-weight="bold">%s</text>`, d.end-20, vanCaution)
	d.put(`</svg>`)
}
