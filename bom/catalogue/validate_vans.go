package catalogue

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"wainscot/bom/document"
)

// This file checks base vans: their facts, particulars and what they come with.

func (v *checker) baseVans() {
	for i := range v.c.BaseVans {
		b := &v.c.BaseVans[i]
		at := v.member("base_vans", v.van, i, b.Code, label)
		v.name(at+"/name", b.Name)
		v.facts(at+"/facts", b)
		v.measures(at+"/facts", b)
		v.particulars(at+"/particulars", b)
		v.comesWith(at+"/fitted", b)
		if i > 0 {
			v.likeFirst(at, b)
		}
	}
}

func (v *checker) facts(at string, b *BaseVan) {
	v.listed(at, len(b.Facts), false, MaxFacts)
	seen := make(map[string]bool, len(b.Facts))
	for _, f := range b.Facts {
		at := at + "/" + f.Name
		v.code(at, f.Name, identifier)
		v.readable(at, f.Name)
		if seen[f.Name] {
			v.fault("duplicate_code", at, fmt.Sprintf("The fact %q is given twice.", short(f.Name)), "Keep one of the two.")
		}
		seen[f.Name] = true
		if f.Name == NewVan {
			v.fault("reserved_name", at, fmt.Sprintf("van.%s says whether the van in question is registered.", NewVan), "Give the fact another name.")
		}
		v.fact(at, f)
	}
	for _, name := range RequiredFacts {
		f, ok := b.Facts.Get(name)
		switch {
		case !ok:
			v.fault("missing_fact", at+"/"+name, fmt.Sprintf("The fact %q is missing.", name), "Measure it: every base van states it.")
		case f.Kind == NumberFact && f.Number.IsZero() && name != "seat_count":
			v.fault("out_of_range", at+"/"+name, "The measurement is zero.", "Measure it: no van has none.")
		}
	}
}

func (v *checker) fact(at string, f Fact) {
	required := slices.Contains(RequiredFacts, f.Name)
	if required && (f.Kind == TextFact) != (f.Name == "body") || required && f.Kind == YesNoFact {
		v.fault("wrong_kind", at, fmt.Sprintf("The fact %q is not of its kind.", f.Name),
			"body is a text, every other required fact a number.")
		return
	}
	if slices.Contains(MeasuredFacts, f.Name) && f.Kind != NumberFact {
		v.fault("wrong_kind", at, fmt.Sprintf("The fact %q is measured, so it is a number.", f.Name), "Write it without quotes.")
		return
	}
	switch f.Kind {
	case NumberFact:
		if identifier.fits(f.Name) && !endsInUnit(f.Name) {
			v.fault("no_unit", at, fmt.Sprintf("The number %q does not end in a unit.", f.Name), unitRemedy)
		}
		v.notNegative(at, f.Number)
		if unit := "_count"; len(f.Name) > len(unit) && f.Name[len(f.Name)-len(unit):] == unit && !f.Number.IsInteger() {
			v.fault("out_of_range", at, fmt.Sprintf("%s is not a whole number.", f.Number), "Count them.")
		}
	case TextFact:
		v.code(at, f.Text, value)
	case YesNoFact:
	default:
		v.fault("wrong_kind", at, fmt.Sprintf("The fact %q has no value.", short(f.Name)), "Give it a number, a text, or true or false.")
	}
}

// measures checks measured facts against each other.
func (v *checker) measures(at string, b *BaseVan) {
	for _, pair := range []struct{ less, more, says string }{
		{"wheelbase_mm", "length_mm", "The wheelbase is longer than the van."},
		{"load_length_mm", "length_mm", "The load space is longer than the van."},
		{"load_width_mm", "width_mm", "The load space is wider than the van."},
		{"load_height_mm", "height_mm", "The load space is higher than the van."},
		{"unladen_front_kg", "plated_front_kg", "The front axle is overloaded with the van empty."},
		{"unladen_rear_kg", "plated_rear_kg", "The rear axle is overloaded with the van empty."},
		{"plated_front_kg", "plated_kg", "The front axle may carry more than the whole van."},
		{"plated_rear_kg", "plated_kg", "The rear axle may carry more than the whole van."},
	} {
		less, more := b.Facts.Number(pair.less), b.Facts.Number(pair.more)
		if more.IsPositive() && less.GreaterThan(more) {
			v.fault("out_of_range", at+"/"+pair.less, pair.says+fmt.Sprintf(" (%s %s, %s %s)", pair.less, less, pair.more, more),
				"Measure both again.")
		}
	}
	plated := b.Facts.Number("plated_kg")
	unladen := decimal.Sum(b.Facts.Number("unladen_front_kg"), b.Facts.Number("unladen_rear_kg"))
	if plated.IsPositive() && unladen.GreaterThan(plated) {
		v.fault("out_of_range", at+"/plated_kg", fmt.Sprintf("The empty van weighs %s kg, more than the plated %s.", unladen, plated),
			"Measure both again.")
	}
}

func (v *checker) particulars(at string, b *BaseVan) {
	ix := indexed(b.Particulars, func(p *Particular) string { return p.Name })
	for i := range b.Particulars {
		p := &b.Particulars[i]
		at := document.Join(at, i+1)
		v.code(at+"/name", p.Name, identifier)
		v.readable(at+"/name", p.Name)
		if ix.first[p.Name] != i {
			v.fault("duplicate_code", at+"/name", fmt.Sprintf("The particular %q is given twice.", short(p.Name)), "Keep one of the two.")
		}
		if p.Name == NewVan {
			v.fault("reserved_name", at+"/name", fmt.Sprintf("van.%s says whether the van in question is registered.", NewVan), "Give the particular another name.")
		}
		if _, taken := b.Facts.Get(p.Name); taken {
			v.fault("duplicate_code", at+"/name", fmt.Sprintf("There is also a fact %q.", short(p.Name)),
				"Formulas read both as van."+p.Name+": give one of the two another name.")
		}
		v.listed(at+"/values", len(p.Values), true, MaxListed)
		for j, s := range p.Values {
			at := document.Join(at, "values", j+1)
			v.code(at, s, value)
			if slices.Index(p.Values, s) < j {
				v.fault("duplicate_code", at, fmt.Sprintf("%q is listed twice.", short(s)), "List each once.")
			}
		}
	}
	for _, name := range RequiredParticulars {
		if !ix.has(name) {
			v.fault("missing_particular", at, fmt.Sprintf("The particular %q is missing.", name),
				"List the values there are for this base van, the standard one first; one value if all are alike.")
		}
	}
}

func (v *checker) comesWith(at string, b *BaseVan) {
	fitted := v.picks(at, b.Fitted)
	v.onePerGroup(at, fitted)
	for i, f := range fitted {
		if f == nil {
			continue
		}
		at := document.Join(at, i+1, "feature")
		if _, missing := v.missingVan([]string{b.Code}, f); missing {
			v.fault("not_offered", at, fmt.Sprintf("%q is not for this base van.", f.Code), "Add the base van to the feature's vans, or take it out here.")
		}
	}
}

// likeFirst checks that a base van has the facts and particulars of the first
// one: formulas may read any of them on any van.
func (v *checker) likeFirst(at string, b *BaseVan) {
	first := &v.c.BaseVans[0]
	same := func(at, name string, has, firstHas bool) {
		switch {
		case has && !firstHas:
			v.fault("uneven_vans", at, fmt.Sprintf("The first base van, %q, has no %q.", short(first.Code), short(name)),
				"Give it on every base van, or on none.")
		case firstHas && !has:
			v.fault("uneven_vans", at, fmt.Sprintf("%q is missing, which base van %q has.", short(name), short(first.Code)),
				"Give it on every base van, or on none.")
		}
	}
	for _, f := range b.Facts {
		other, ok := first.Facts.Get(f.Name)
		same(at+"/facts/"+f.Name, f.Name, true, ok)
		if ok && other.Kind != f.Kind {
			v.fault("uneven_vans", at+"/facts/"+f.Name, fmt.Sprintf("On base van %q this fact is of another kind.", short(first.Code)),
				"Let it be a number, a text, or true or false on all of them.")
		}
	}
	for _, f := range first.Facts {
		_, ok := b.Facts.Get(f.Name)
		if !slices.Contains(RequiredFacts, f.Name) {
			same(at+"/facts/"+f.Name, f.Name, ok, true)
		}
	}
	has := func(b *BaseVan, name string) bool {
		return slices.ContainsFunc(b.Particulars, func(p Particular) bool { return p.Name == name })
	}
	for _, p := range b.Particulars {
		same(at+"/particulars", p.Name, true, has(first, p.Name))
	}
	for _, p := range first.Particulars {
		if !slices.Contains(RequiredParticulars, p.Name) {
			same(at+"/particulars", p.Name, has(b, p.Name), true)
		}
	}
}
