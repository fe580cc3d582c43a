package paper

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"wainscot/bom/calendar"
	"wainscot/bom/schedule"
)

// FloorPlan is the places of a workshop by day.
type FloorPlan struct {
	Title    string
	From     string // YYYY-MM-DD
	Until    string
	Calendar calendar.Calendar
	Places   []schedule.Place
	Vans     []PlannedVan
}

// MostFloorDays are drawn.
const MostFloorDays = 121

// Measures of the drawing, in its units.
const (
	floorLeft  = 150 // where days begin
	floorDay   = 32
	floorTop   = 96 // where places begin
	floorLane  = 34
	floorGap   = 12 // between places
	floorRight = 16
	floorFoot  = 50
)

// FloorSVG draws places down and days across, with the vans in their slots: a
// firm one filled, a held one in outline. It needs no font, no script and no
// other file, prints in black and white, and tells in words all it shows. The
// same value gives the same bytes.
//
// A *NotDrawable says what cannot be drawn; other errors are the writer's.
func FloorSVG(w io.Writer, p FloorPlan) error {
	days, err := p.days()
	if err != nil {
		return err
	}
	d := floorSheet{FloorPlan: p, list: days}
	d.lay()
	d.open()
	d.heads()
	for i := range d.rows {
		d.row(&d.rows[i])
	}
	d.foot()
	_, err = io.WriteString(w, d.text.String())
	return err
}

func (p *FloorPlan) days() ([]string, error) {
	if !calendar.Valid(p.From) || !calendar.Valid(p.Until) || p.Until < p.From {
		return nil, notDrawable("Name a first day and a later last one.", "From %s to %s there are no days.", clean(p.From), clean(p.Until))
	}
	list := []string{}
	for day := p.From; day <= p.Until; {
		if len(list) == MostFloorDays {
			return nil, notDrawable("Ask for fewer.", "More than %d days cannot be drawn.", MostFloorDays)
		}
		list = append(list, day)
		if day == p.Until {
			break // which may be the last there is
		}
		day, _ = calendar.Add(day, 1)
	}
	return list, nil
}

type floorSheet struct {
	FloorPlan
	list []string
	rows []floorRow
	text strings.Builder
	high int
}

// floorRow is a place, with a lane for each van that stands in it at once.
type floorRow struct {
	name  string
	at    int
	lanes int
	bars  []floorBar
}

// floorBar is a van's stay, as far as it is on the days drawn.
type floorBar struct {
	van         *PlannedVan
	stay        schedule.Stay
	first, last int // days
	lane        int
	// begins and ends say whether the stay does on the days drawn.
	begins, ends bool
}

func (d *floorSheet) lay() {
	places := slices.Clone(d.Places)
	for i := range d.Vans { // a place that is gone is drawn for as long as a van is booked into it
		for _, s := range d.Vans[i].Days.Stays {
			if !slices.ContainsFunc(places, func(o schedule.Place) bool { return o.Code == s.Place }) {
				places = append(places, schedule.Place{Code: s.Place, Name: s.Place + " (gone)", Vans: 1})
			}
		}
	}
	at := floorTop
	for i := range places {
		r := floorRow{name: places[i].Name, at: at, bars: d.bars(places[i].Code)}
		r.lanes = max(lanes(r.bars), 1)
		if len(r.bars) == 0 && i >= len(d.Places) {
			continue
		}
		d.rows = append(d.rows, r)
		at += r.lanes*floorLane + floorGap
	}
	d.high = at + floorFoot
}

func (d *floorSheet) bars(place string) []floorBar {
	var bars []floorBar
	for i := range d.Vans {
		v := &d.Vans[i]
		for _, s := range v.Days.Stays {
			if s.Place != place || s.Until < d.From || s.From > d.Until {
				continue
			}
			bars = append(bars, floorBar{van: v, stay: s, first: slices.Index(d.list, max(s.From, d.From)), last: slices.Index(d.list, min(s.Until, d.Until)),
				begins: s.From >= d.From, ends: s.Until <= d.Until})
		}
	}
	slices.SortStableFunc(bars, func(a, b floorBar) int { return a.first - b.first })
	return bars
}

// lanes puts bars that share a day below each other, and counts.
func lanes(bars []floorBar) int {
	var until []int // the last day taken, by lane
	for i := range bars {
		lane := slices.IndexFunc(until, func(last int) bool { return last < bars[i].first })
		if lane < 0 {
			lane = len(until)
			until = append(until, 0)
		}
		until[lane], bars[i].lane = bars[i].last, lane
	}
	return len(until)
}

func (d *floorSheet) wide() int { return floorLeft + len(d.list)*floorDay + floorRight }

func (d *floorSheet) put(format string, args ...any) {
	fmt.Fprintf(&d.text, format+"\n", args...)
}

func (d *floorSheet) open() {
	d.put(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" width="%d" height="%d" role="graphics-document document" aria-labelledby="floor-title" aria-describedby="floor-desc" lang="en-GB" font-family="sans-serif" font-size="13" fill="#1b1b1b">`,
		d.wide(), d.high, d.wide(), d.high)
	d.put(`<title id="floor-title">%s</title>`, escaped(clean(d.title())))
	d.put(`<desc id="floor-desc">%s</desc>`, escaped(d.tells()))
	d.put(`<defs><pattern id="floor-closed" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="8" height="8" fill="#f3f3f0"/><path d="M0 0V8" stroke="#d8d8d2" stroke-width="2"/></pattern></defs>`)
	d.put(`<rect width="%d" height="%d" fill="#ffffff"/>`, d.wide(), d.high)
	d.put(`<text x="16" y="30" font-size="18" font-weight="bold">%s</text>`, escaped(clean(d.title())))
}

func (d *floorSheet) title() string {
	return d.Title + ": " + calendar.Said(d.From) + " to " + calendar.Said(d.Until)
}

// tells is the drawing in words.
func (d *floorSheet) tells() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Places down, days across, from %s to %s.", calendar.Said(d.From), calendar.Said(d.Until))
	for i := range d.rows {
		r := &d.rows[i]
		fmt.Fprintf(&b, " %s:", clean(r.name))
		for j := range r.bars {
			if j > 0 {
				b.WriteByte(';')
			}
			b.WriteString(" " + r.bars[j].says())
		}
		if len(r.bars) == 0 {
			b.WriteString(" nothing")
		}
		b.WriteByte('.')
	}
	return b.String()
}

func (o *floorBar) says() string {
	sure := "held"
	if o.van.Firm {
		sure = "firm"
	}
	return fmt.Sprintf("%s, %s to %s, %s", clean(o.van.Name), calendar.Said(o.stay.From), calendar.Said(o.stay.Until), sure)
}

// heads writes months and days, and marks those on which nobody works.
func (d *floorSheet) heads() {
	low := d.high - floorFoot
	month := ""
	for i, day := range d.list {
		x := floorLeft + i*floorDay
		if works, _ := d.Calendar.Works(day); !works {
			closed, shut := d.Calendar.WhyNot(day)
			name := "Nobody works"
			if shut {
				name = closed.Name
			}
			d.put(`<rect x="%d" y="%d" width="%d" height="%d" fill="url(#floor-closed)"><title>%s, %s</title></rect>`,
				x, floorTop-38, floorDay, low-floorTop+38, escaped(clean(name)), calendar.Said(day))
		}
		if day[:7] != month {
			month = day[:7]
			if name := d.month(i); name != "" {
				d.put(`<text x="%d" y="%d" font-weight="bold">%s</text>`, x+3, floorTop-44, name)
			}
			d.put(`<path d="M%d %dV%d" stroke="#777777"/>`, x, floorTop-56, low)
		} else {
			d.put(`<path d="M%d %dV%d" stroke="#e2e2dd"/>`, x, floorTop-38, low)
		}
		weekday, _ := calendar.WeekdayOf(day)
		d.put(`<text x="%d" y="%d" text-anchor="middle" font-size="11" fill="#555555">%s</text>`, x+floorDay/2, floorTop-24, strings.ToUpper(string(weekday[:1]))+string(weekday[1:2]))
		d.put(`<text x="%d" y="%d" text-anchor="middle">%s</text>`, x+floorDay/2, floorTop-8, strings.TrimPrefix(day[8:], "0"))
	}
}

// month is what the month of a day is called in the room its days leave: "" in
// none.
func (d *floorSheet) month(i int) string {
	days := 0
	for _, day := range d.list[i:] {
		if day[:7] == d.list[i][:7] {
			days++
		}
	}
	_, name, _ := strings.Cut(calendar.Said(d.list[i]), " ")
	for _, short := range []string{name, name[:3]} {
		if labelWidth(short) <= days*floorDay+8 {
			return short
		}
	}
	return ""
}

func (d *floorSheet) row(r *floorRow) {
	d.put(`<path d="M0 %dH%d" stroke="#999999"/>`, r.at-floorGap/2, d.wide())
	d.put(`<text x="16" y="%d" font-weight="bold">%s</text>`, r.at+floorLane/2+4, escaped(narrow(clean(r.name), floorLeft-8)))
	for i := range r.bars {
		d.bar(r, &r.bars[i])
	}
}

func (d *floorSheet) bar(r *floorRow, o *floorBar) {
	x, y := floorLeft+o.first*floorDay, r.at+o.lane*floorLane
	wide, high := (o.last-o.first+1)*floorDay, floorLane-6
	from, until := x, x+wide
	if o.begins {
		from += 2
	}
	if o.ends {
		until -= 2
	}
	fill, ink, stroke := "#ffffff", "#1b1b1b", ` stroke-dasharray="6 3"`
	if o.van.Firm {
		fill, ink, stroke = "#1f4e5f", "#ffffff", ""
	}
	d.put(`<g><title>%s</title>`, escaped(o.says()))
	d.put(`<rect x="%d" y="%d" width="%d" height="%d" rx="4" fill="%s" stroke="#1f4e5f" stroke-width="1.5"%s/>`, from, y, until-from, high, fill, stroke)
	name := clean(o.van.Name)
	if labelWidth(name) > until-from+8 && until-from < 4*floorDay { // a number whole rather than a name cut
		name = clean(o.van.Short)
	}
	if name = narrow(name, until-from+10); name != "" {
		d.put(`<text x="%d" y="%d" fill="%s">%s</text>`, from+6, y+high/2+5, ink, escaped(name))
	}
	d.put(`</g>`)
}

func (d *floorSheet) foot() {
	y := d.high - floorFoot + 16
	d.put(`<path d="M0 %dH%d" stroke="#999999"/>`, d.high-floorFoot, d.wide())
	d.put(`<rect x="16" y="%d" width="28" height="16" rx="4" fill="#1f4e5f"/><text x="52" y="%d">firm: the van is here, or confirmed to come</text>`, y, y+13)
	d.put(`<rect x="350" y="%d" width="28" height="16" rx="4" fill="#ffffff" stroke="#1f4e5f" stroke-width="1.5" stroke-dasharray="6 3"/><text x="386" y="%d">held</text>`, y, y+13)
	d.put(`<rect x="440" y="%d" width="28" height="16" fill="url(#floor-closed)" stroke="#d8d8d2"/><text x="476" y="%d">nobody works</text>`, y, y+13)
	d.put(`</svg>`)
}
