package paper

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"
)

// mostNamed is how many masses have a circle and a label of their own; what is
// lighter is put together by place.
const mostNamed = 12

// mark is one circle of the drawing: a mass, or small ones put together.
type mark struct {
	MassDrawing
	name  string
	whole string // for who points at it
	grams int64
}

// marks are the circles of a drawing, the heaviest first: so a light one lies
// on a heavy one and is seen.
func (v *VanDrawing) marks() []mark {
	masses := slices.Clone(v.Masses)
	slices.SortFunc(masses, func(a, b MassDrawing) int {
		return cmp.Or(b.KG.Cmp(a.KG), cmp.Compare(a.XMM, b.XMM), cmp.Compare(a.YMM, b.YMM), cmp.Compare(a.ZMM, b.ZMM),
			cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Name, b.Name), boolCompare(a.HeightKnown, b.HeightKnown))
	})
	list := make([]mark, 0, mostNamed+3*int(massKinds))
	places := map[place][]MassDrawing{}
	var order []place
	for i := range masses {
		if i < mostNamed {
			list = append(list, single(masses[i]))
			continue
		}
		p := v.placeOf(&masses[i])
		if len(places[p]) == 0 {
			order = append(order, p)
		}
		places[p] = append(places[p], masses[i])
	}
	for _, p := range order {
		if small := places[p]; len(small) == 1 {
			list = append(list, single(small[0]))
		} else {
			list = append(list, together(p, small))
		}
	}
	slices.SortStableFunc(list, func(a, b mark) int { return cmp.Compare(b.grams, a.grams) })
	return list
}

func boolCompare(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}

// place is a third of the van's length, for masses of one kind.
type place struct {
	third int
	kind  MassKind
}

func (v *VanDrawing) placeOf(m *MassDrawing) place {
	third := min(max((m.XMM+v.FrontOverhangMM)*3/v.LengthMM, 0), 2)
	return place{third, m.Kind}
}

// single is the mark of one mass.
func single(m MassDrawing) mark {
	name := cmpOr(clean(m.Name), "not named")
	return mark{MassDrawing: m, grams: grams(m.KG), name: name, whole: name + ", " + m.Kind.words() + ", " + m.signed()}
}

// together is the mark of several small masses, at their centre of mass.
func together(p place, small []MassDrawing) mark {
	all := MassDrawing{Kind: p.kind, HeightKnown: true}
	var x, y, z, known decimal.Decimal
	for i := range small {
		m := &small[i]
		all.KG = all.KG.Add(m.KG)
		x = x.Add(m.KG.Mul(decimal.NewFromInt(int64(m.XMM))))
		y = y.Add(m.KG.Mul(decimal.NewFromInt(int64(m.YMM))))
		if m.HeightKnown {
			known = known.Add(m.KG)
			z = z.Add(m.KG.Mul(decimal.NewFromInt(int64(m.ZMM))))
		}
	}
	centre := func(moment, kg decimal.Decimal) int { return int(moment.DivRound(kg, 0).IntPart()) }
	all.XMM, all.YMM = centre(x, all.KG), centre(y, all.KG)
	if all.HeightKnown = known.IsPositive(); all.HeightKnown {
		all.ZMM = centre(z, known)
	}
	all.Name = fmt.Sprintf("and %d more %s", len(small), [...]string{"at the front", "in the middle", "at the rear"}[p.third])
	return single(all)
}

// signed is a mass with a minus before what is taken out.
func (m *MassDrawing) signed() string {
	if m.Kind == TakenOut {
		return minus + kg(m.KG)
	}
	return kg(m.KG)
}

// grams are whole; anything that is drawn has one.
func grams(d decimal.Decimal) int64 { return max(d.Shift(3).Round(0).IntPart(), 1) }

// narrow shortens a name to so many units.
func narrow(s string, room int) string {
	letters := []rune(s)
	for most := len(letters); most > 0; most-- {
		if short := cut(s, most); labelWidth(short) <= room {
			return short
		}
	}
	return ""
}

// cut shortens a name to so many letters.
func cut(s string, most int) string {
	letters := []rune(s)
	if len(letters) <= most {
		return s
	}
	return strings.TrimRight(string(letters[:most-1]), " ,;:") + "…"
}

// A flag is a label beside the upright of its leader. Uprights stand in slots
// from left to right, and each label's row is above all uprights that it would
// lie on, so no leader runs through a label.
type flag struct {
	mark *mark
	// From the circle's centre straight to the foot of the upright.
	x, y  int
	slot  int
	row   int // 0 is nearest the van
	label string
}

// slotWidth is the least distance between two uprights.
const slotWidth = 14

// labelRoom is how wide a label may be where there is room: some 45 letters.
const labelRoom = 380

// flags gives each mark its slot and row. Leaders run from the centres, all on
// one side of the line foot, to slots on that line, and no two cross: while two
// do they change slots, which makes the leaders shorter together, so it ends.
func flags(marks []mark, at func(*mark) (x, y int), foot, last int) []flag {
	list := make([]flag, len(marks))
	for i := range marks {
		list[i].mark = &marks[i]
		list[i].x, list[i].y = at(&marks[i])
	}
	slices.SortStableFunc(list, func(a, b flag) int { return cmp.Or(cmp.Compare(a.x, b.x), cmp.Compare(a.y, b.y)) })
	for i := range list {
		list[i].slot = list[i].x
		if i > 0 {
			list[i].slot = max(list[i].slot, list[i-1].slot+slotWidth)
		}
	}
	for i := len(list) - 1; i >= 0; i-- {
		list[i].slot = min(list[i].slot, last)
		last = list[i].slot - slotWidth
	}
	for again := true; again; {
		again = false
		for i := range list {
			for k := range i {
				if crossing(&list[i], &list[k], foot) {
					list[i].slot, list[k].slot = list[k].slot, list[i].slot
					again = true
				}
			}
		}
	}
	slices.SortFunc(list, func(a, b flag) int { return cmp.Compare(a.slot, b.slot) })
	for i := range list {
		mass := " · " + list[i].mark.signed()
		room := min(labelRoom, sheetWidth-list[i].slot)
		list[i].label = narrow(list[i].mark.name, room-labelWidth(mass)) + mass
	}
	for i := len(list) - 2; i >= 0; i-- {
		end := list[i].slot + labelWidth(list[i].label)
		for k := i + 1; k < len(list) && list[k].slot <= end; k++ {
			list[i].row = max(list[i].row, list[k].row+1)
		}
	}
	return list
}

// crossing says whether two leaders meet anywhere but in a centre they share.
func crossing(a, b *flag, foot int) bool {
	if a.x == b.x && a.y == b.y {
		return false
	}
	side := func(px, py, qx, qy, rx, ry int) int { return cmp.Compare((qx-px)*(ry-py)-(qy-py)*(rx-px), 0) }
	return side(a.x, a.y, a.slot, foot, b.x, b.y)*side(a.x, a.y, a.slot, foot, b.slot, foot) <= 0 &&
		side(b.x, b.y, b.slot, foot, a.x, a.y)*side(b.x, b.y, b.slot, foot, a.slot, foot) <= 0
}

// labelWidth is the room that a label takes whatever the typeface.
func labelWidth(s string) int {
	width := 16
	for _, r := range s {
		if r < 0x1100 {
			width += 8
		} else {
			width += 14 // letters as wide as high
		}
	}
	return width
}

// rows is how many rows of labels there are.
func rows(list []flag) int {
	most := 0
	for i := range list {
		most = max(most, list[i].row+1)
	}
	return most
}
