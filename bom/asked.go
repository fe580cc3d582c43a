package bom

import (
	"fmt"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/engineering"
)

// Limits of what may be asked at once; more is refused, not cut short.
const (
	MaxChoices      = 2_000 // wants and refusals
	MaxFinishes     = 500   // finish choices
	MaxFittedItems  = 500   // fitted features of a van
	MaxParticulars  = 100   // particulars of a van
	MaxMassKG       = 100_000
	maxSuggestions  = 20 // each looks through all codes: enough for a slip, not for a flood
	earliestVanYear = 1900
	latestVanYear   = 2200
)

// asked is what the van and the choices say, read against a release: codes
// turned into indices, everything in range, nothing said twice differently.
type asked struct {
	base        int
	van         Van
	particulars []string    // by particular of the base van
	fittings    []fitting   // what the base van comes with first, then the rest
	fittingOf   map[int]int // by feature: index into fittings
	pack        int         // package, -1 for none
	said        []askedChoice
	saidOf      []int // by feature: 1 + its place in said, 0 for none
	finish      []int // by finish: its choice, -1 where none was made
	additions   []Addition
	answers     []CheckAnswer
}

// fitting is one feature the van has, or usually would have.
type fitting struct {
	feature  int
	standard int // so many the base van comes with
	kept     int
	removed  int
	replaced int
	absent   int
}

type askedChoice struct {
	feature int
	refuse  bool
	count   int // 0: at least one
}

type asking struct {
	r         *Release
	a         asked
	faults    document.Faults
	suggested int
}

// read checks a van and choices and turns their codes into indices. With any
// fault the result is not to be used.
func (r *Release) read(van Van, choices Choices, settle Settle) (asked, document.Faults) {
	q := asking{r: r, a: asked{van: van, base: -1, pack: -1, fittingOf: map[int]int{},
		saidOf: make([]int, len(r.featureCodes))}}
	if settle != SettleNothing && settle != SettleByDefaults {
		q.fault("unknown_word", "settle", fmt.Sprintf("There is no way of settling called %s.", quoted(string(settle))),
			fmt.Sprintf("Leave it out, or say %q.", SettleByDefaults))
	}
	base, ok := r.baseVans[van.BaseVan]
	if ok {
		q.a.base = base
	} else {
		q.unknown("van/base_van", "base van", van.BaseVan, codes(r.catalogue.BaseVans, func(b catalogue.BaseVan) string { return b.Code }))
	}
	q.vehicle()
	if ok {
		q.particulars()
	}
	q.fitted()
	q.features(choices)
	q.finishes(choices)
	q.replacements()
	q.additions(choices.Additions)
	q.answers(choices.Answers)
	return q.a, q.faults.Limit()
}

func (q *asking) fault(code, at, reason, remedy string) {
	q.faults = append(q.faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
}

func (q *asking) unknown(at, what, code string, known []string) {
	if code == "" {
		q.fault("missing_code", at, fmt.Sprintf("No %s is named.", what), "Give its code.")
		return
	}
	remedy := fmt.Sprintf("Use the code of a %s in the catalogue.", what)
	if q.suggested++; q.suggested <= maxSuggestions {
		remedy = document.Suggest(code, known, remedy)
	}
	q.fault("unknown_code", at, fmt.Sprintf("The catalogue has no %s %s.", what, quoted(code)), remedy)
}

// tooMany says whether a list is over its limit, so that nothing of it is read.
func (q *asking) tooMany(at string, n, most int) bool {
	if n <= most {
		return false
	}
	q.fault("too_many", at, fmt.Sprintf("There are %d entries.", n), fmt.Sprintf("Give at most %d.", most))
	return true
}

// vehicle checks what is said of the single van, apart from the catalogue.
func (q *asking) vehicle() {
	v := &q.a.van
	for _, t := range []struct {
		at, text string
		most     int
	}{{"van/registration", v.Registration, 20}, {"van/vin", v.VIN, 17}} {
		switch {
		case len(t.text) > t.most:
			q.fault("too_long", t.at, fmt.Sprintf("It has %d characters.", len(t.text)), fmt.Sprintf("Give at most %d.", t.most))
		case t.text != "" && document.TextFault(t.text) != "":
			q.fault("bad_text", t.at, document.TextFault(t.text), "Take it out.")
		}
	}
	if v.New && v.Registration != "" {
		q.fault("contradiction", "van/registration", "A new van that is not registered yet has no registration.",
			"Leave out one of new and registration.")
	}
	if v.Year != 0 && (v.Year < earliestVanYear || v.Year > latestVanYear) {
		q.fault("out_of_range", "van/year", fmt.Sprintf("%d is no year a van was made in.", v.Year),
			fmt.Sprintf("Give a year from %d to %d, or leave it out.", earliestVanYear, latestVanYear))
	}
	if v.MileageMiles < 0 || v.MileageMiles > 10_000_000 {
		q.fault("out_of_range", "van/mileage_miles", fmt.Sprintf("%d miles cannot be.", v.MileageMiles),
			"Give the mileage on the clock, or leave it out.")
	}
	q.weighed()
	q.plated()
	if v.None && (v.New || v.Registration != "" || v.VIN != "" || v.WeighedFrontKG != nil || v.WeighedRearKG != nil || v.hasPlate()) {
		q.fault("contradiction", "van/none", "It says that there is no van, and describes one.",
			"Leave out none, or leave out what describes the van.")
	}
}

func (q *asking) aDay(at, day string) {
	if !document.ValidDay(day) {
		q.fault("day", at, fmt.Sprintf("%s is not a day.", quoted(day)), "Write it as year, month and day: 2026-04-01.")
	}
}

// weighed checks what a weighbridge ticket says.
func (q *asking) weighed() {
	v := &q.a.van
	if (v.WeighedFrontKG == nil) != (v.WeighedRearKG == nil) {
		q.fault("contradiction", "van", "Only one axle was weighed.", "Give both weighed_front_kg and weighed_rear_kg, or neither.")
	}
	q.kilograms("van/weighed_front_kg", v.WeighedFrontKG, "That is no axle load.", "on the weighbridge ticket")
	q.kilograms("van/weighed_rear_kg", v.WeighedRearKG, "That is no axle load.", "on the weighbridge ticket")
	if v.WeighedFrontKG == nil && (v.WeighedDay != "" || v.WeighedFuelPercent != nil || v.WeighedPeopleCount != 0) {
		q.fault("contradiction", "van", "It says how the van was weighed, and not what it weighed.",
			"Give weighed_front_kg and weighed_rear_kg as well, or leave the rest of the ticket out.")
	}
	if v.WeighedDay != "" {
		q.aDay("van/weighed_day", v.WeighedDay)
	}
	if p := v.WeighedFuelPercent; p != nil && (*p < 0 || *p > 100) {
		q.fault("out_of_range", "van/weighed_fuel_percent", fmt.Sprintf("A tank cannot be %d per cent full.", *p), "Give 0 to 100, or leave it out for 90.")
	}
	if v.WeighedPeopleCount < 0 || v.WeighedPeopleCount > maxInCab {
		q.fault("out_of_range", "van/weighed_people_count", fmt.Sprintf("%d people were not in the cab.", v.WeighedPeopleCount),
			fmt.Sprintf("Give 0 to %d: the front seats, with everything else empty.", maxInCab))
	}
	if q.a.base >= 0 {
		facts := q.r.catalogue.BaseVans[q.a.base].Facts
		need := func(said bool, at string, names ...string) {
			for _, name := range names {
				if _, ok := facts.Get(name); said && !ok {
					q.fault("missing_fact", at, fmt.Sprintf("The catalogue does not state %s of this base van, so the ticket cannot be corrected for it.", name),
						"Have it measured, or weigh the van with nobody aboard and the tank nine tenths full.")
				}
			}
		}
		need(v.WeighedPeopleCount > 0, "van/weighed_people_count", catalogue.CabSeatsFromFrontAxleMM)
		need(v.WeighedFuelPercent != nil && *v.WeighedFuelPercent != engineering.RunningOrderPercent, "van/weighed_fuel_percent",
			catalogue.FuelTankL, catalogue.FuelTankFromFrontAxleMM)
	}
}

// maxInCab is how many people a ticket may have in the front seats.
const maxInCab = 3

// plated checks what the plate of the van says.
func (q *asking) plated() {
	v := &q.a.van
	q.kilograms("van/plated_kg", v.PlatedKG, "That is no plated mass.", "on the plate")
	q.kilograms("van/plated_front_kg", v.PlatedFrontKG, "That is no plated axle load.", "on the plate")
	q.kilograms("van/plated_rear_kg", v.PlatedRearKG, "That is no plated axle load.", "on the plate")
}

func (v *Van) hasPlate() bool {
	return v.PlatedKG != nil || v.PlatedFrontKG != nil || v.PlatedRearKG != nil
}

func (q *asking) kilograms(at string, said *decimal.Decimal, reason, where string) {
	if said == nil {
		return
	}
	if kg, ok := amountOf(*said); !ok || kg <= 0 || kg > MaxMassKG*oneUnit {
		q.fault("out_of_range", at, reason, fmt.Sprintf("Give the kilograms %s, above 0 and at most %d.", where, MaxMassKG))
	}
}

func (q *asking) particulars() {
	base := &q.r.catalogue.BaseVans[q.a.base]
	q.a.particulars = make([]string, len(base.Particulars))
	for i, p := range base.Particulars {
		q.a.particulars[i] = p.Values[0]
	}
	given := q.a.van.Particulars
	if q.tooMany("van/particulars", len(given), MaxParticulars) {
		return
	}
	seen := make([]bool, len(base.Particulars))
	for i, g := range given {
		at := document.Join("van/particulars", i+1)
		k := find(base.Particulars, func(p catalogue.Particular) bool { return p.Name == g.Name })
		if k < 0 {
			q.unknown(at+"/name", "particular of this base van", g.Name,
				codes(base.Particulars, func(p catalogue.Particular) string { return p.Name }))
			continue
		}
		if find(base.Particulars[k].Values, func(v string) bool { return v == g.Value }) < 0 {
			q.fault("unknown_value", at+"/value", fmt.Sprintf("The %s of this base van is never %s.", words(g.Name), quoted(g.Value)),
				document.Suggest(g.Value, base.Particulars[k].Values, "Use one of the values in the catalogue."))
			continue
		}
		if seen[k] {
			q.fault("given_twice", at, fmt.Sprintf("The %s is given twice.", words(g.Name)), "Keep one of the two.")
		}
		seen[k] = true
		q.a.particulars[k] = g.Value
	}
}

// fitted works out how many of each fitted feature are kept, removed and
// replaced. What the base van comes with is kept as far as nothing else is
// said; a keep says how many are kept in all.
func (q *asking) fitted() {
	if q.a.base >= 0 {
		for _, f := range q.r.catalogue.BaseVans[q.a.base].Fitted {
			if k, ok := q.r.features[f.Feature]; ok {
				q.fitting(k).standard += max(f.Count, 1)
			}
		}
	}
	items := q.a.van.Fitted
	if q.tooMany("van/fitted", len(items), MaxFittedItems) {
		return
	}
	kept := map[int]bool{}
	for i, item := range items {
		q.fittedItem(document.Join("van/fitted", i+1), item, kept)
	}
	for i := range q.a.fittings {
		f := &q.a.fittings[i]
		gone := f.removed + f.replaced + f.absent
		feature := &q.r.catalogue.Features[f.feature]
		if !kept[f.feature] {
			f.kept = max(f.standard-gone, 0)
		}
		if f.absent > f.standard && q.a.base >= 0 {
			q.fault("contradiction", "van/fitted", fmt.Sprintf("%s: %d are said to be absent, but the base van comes with %d.",
				feature.Name, f.absent, f.standard), "Use absent only for what the base van usually comes with.")
		}
		if least, most := leastOf(feature), mostOf(feature); f.kept > most || f.kept > 0 && f.kept < least {
			q.fault("out_of_range", "van/fitted", fmt.Sprintf("%s: %d would be kept, but there can only be from %d to %d.",
				feature.Name, f.kept, least, most), "Say how many are kept and how many are removed.")
		}
		if f.replaced > 0 && feature.NotSold {
			q.fault("not_sold", "van/fitted", fmt.Sprintf("%s is not sold, so there is no new one to replace it.", feature.Name),
				"Keep it or remove it.")
		}
	}
}

func (q *asking) fitting(feature int) *fitting {
	k, ok := q.a.fittingOf[feature]
	if !ok {
		k = len(q.a.fittings)
		q.a.fittings = append(q.a.fittings, fitting{feature: feature})
		q.a.fittingOf[feature] = k
	}
	return &q.a.fittings[k]
}

func (q *asking) fittedItem(at string, item FittedItem, kept map[int]bool) {
	k, ok := q.r.features[item.Feature]
	if !ok {
		q.unknown(at+"/feature", "feature", item.Feature, q.r.featureCodes)
		return
	}
	feature := &q.r.catalogue.Features[k]
	if item.Count < 0 || item.Count > catalogue.MaxCount || item.Count > 1 && feature.Count == nil {
		q.fault("out_of_range", at+"/count", fmt.Sprintf("There cannot be %d of %s.", item.Count, feature.Name), countRemedy(feature))
		return
	}
	f := q.fitting(k)
	n := item.Count
	if n == 0 {
		n = max(f.standard, 1)
	}
	var into *int
	switch item.Action {
	case Keep:
		into, kept[k] = &f.kept, true
	case Remove:
		into = &f.removed
	case Replace:
		into = &f.replaced
	case Absent:
		into = &f.absent
	default:
		q.fault("unknown_word", at+"/action", fmt.Sprintf("There is no action %s.", quoted(string(item.Action))),
			document.Suggest(string(item.Action), []string{string(Keep), string(Remove), string(Replace), string(Absent)}, ""))
		return
	}
	if *into > 0 {
		q.fault("given_twice", at, fmt.Sprintf("%s: %s is said twice.", feature.Name, item.Action), "Say it once, with the number.")
		return
	}
	*into = n
	if item.Action != Remove && item.Action != Replace {
		return
	}
	if feature.Removal == nil {
		q.fault("not_removable", at+"/action", fmt.Sprintf("%s cannot be taken out: the catalogue does not say what that takes.", feature.Name),
			"Keep it, or have its removal added to the catalogue.")
	}
	if q.a.van.None {
		q.fault("contradiction", at+"/action", "Nothing can be taken out where there is no van.", "Leave out none, or this entry.")
	}
}

func (q *asking) features(choices Choices) {
	r := q.r
	if choices.Package != "" {
		k, ok := r.packages[choices.Package]
		switch {
		case !ok:
			q.unknown("choices/package", "package", choices.Package, codes(r.catalogue.Packages, func(p catalogue.Package) string { return p.Code }))
		case q.a.base >= 0 && !offered(r.catalogue.Packages[k].Vans, q.a.van.BaseVan):
			q.fault("not_offered", "choices/package", fmt.Sprintf("%s is not offered for %s.", r.catalogue.Packages[k].Name,
				r.catalogue.BaseVans[q.a.base].Name), "Choose its features one by one, or another base van.")
		default:
			q.a.pack = k
		}
	}
	if q.tooMany("choices/features", len(choices.Features), MaxChoices) {
		return
	}
	for i, c := range choices.Features {
		q.choice(document.Join("choices/features", i+1), c)
	}
}

func (q *asking) choice(at string, c Choice) {
	code, field := c.Want, "/want"
	if c.Want == "" {
		code, field = c.Refuse, "/refuse"
	}
	if (c.Want == "") == (c.Refuse == "") {
		q.fault("not_exactly_one", at, "A choice wants a feature or refuses one.", "Give exactly one of want and refuse.")
		return
	}
	k, ok := q.r.features[code]
	if !ok {
		q.unknown(at+field, "feature", code, q.r.featureCodes)
		return
	}
	feature := &q.r.catalogue.Features[k]
	switch {
	case c.Refuse != "" && c.Count != 0:
		q.fault("contradiction", at+"/count", "A refusal has no count.", "Leave the count out.")
		return
	case c.Count < 0, c.Count > mostOf(feature), c.Count != 0 && c.Count < leastOf(feature):
		q.fault("out_of_range", at+"/count", fmt.Sprintf("There cannot be %d of %s.", c.Count, feature.Name), countRemedy(feature))
		return
	}
	if there := q.kept(k); feature.NotSold && c.Count > there {
		q.fault("not_sold", at+"/count", fmt.Sprintf("%s is not sold, and the van keeps %d.", feature.Name, there), "Leave the count out.")
		return
	}
	n := askedChoice{feature: k, refuse: c.Refuse != "", count: c.Count}
	if feature.Count == nil {
		n.count = 0
	}
	last, again := q.a.mention(k)
	if again {
		before := &q.a.said[last]
		switch {
		case before.refuse != n.refuse:
			q.fault("contradiction", at, fmt.Sprintf("%s is both wanted and refused.", feature.Name), "Keep one of the two choices.")
		case before.count != 0 && n.count != 0 && before.count != n.count:
			q.fault("contradiction", at, fmt.Sprintf("%s is wanted %d times and %d times.", feature.Name, before.count, n.count),
				"Keep one of the two choices.")
		case n.count != 0:
			before.count = n.count
		}
		return
	}
	q.a.said = append(q.a.said, n)
	q.a.saidOf[k] = len(q.a.said)
}

// mention is the place in said of a feature's choice; false where nothing was
// said of it.
func (a *asked) mention(feature int) (int, bool) {
	return a.saidOf[feature] - 1, a.saidOf[feature] > 0
}

// kept is how many of a feature the van has and keeps.
func (q *asking) kept(feature int) int {
	if k, ok := q.a.fittingOf[feature]; ok {
		return q.a.fittings[k].kept
	}
	return 0
}

func (q *asking) finishes(choices Choices) {
	r := q.r
	q.a.finish = make([]int, len(r.catalogue.Finishes))
	for i := range q.a.finish {
		q.a.finish[i] = -1
	}
	if q.tooMany("choices/finishes", len(choices.Finishes), MaxFinishes) {
		return
	}
	for i, c := range choices.Finishes {
		at := document.Join("choices/finishes", i+1)
		k, ok := r.finishes[c.Finish]
		if !ok {
			q.unknown(at+"/finish", "finish", c.Finish, codes(r.catalogue.Finishes, func(f catalogue.Finish) string { return f.Code }))
			continue
		}
		finish := &r.catalogue.Finishes[k]
		n := find(finish.Choices, func(f catalogue.FinishChoice) bool { return f.Code == c.Choice })
		switch {
		case n < 0:
			q.unknown(at+"/choice", "choice of "+finish.Name, c.Choice, codes(finish.Choices, func(f catalogue.FinishChoice) string { return f.Code }))
		case q.a.finish[k] >= 0 && q.a.finish[k] != n:
			q.fault("contradiction", at, fmt.Sprintf("%s is chosen twice, differently.", finish.Name), "Keep one of the two choices.")
		default:
			q.a.finish[k] = n
		}
	}
}

// replacements refuses what cannot be meant: a new one goes in, and none is
// wanted.
func (q *asking) replacements() {
	for _, f := range q.a.fittings {
		if k, ok := q.a.mention(f.feature); ok && f.replaced > 0 && q.a.said[k].refuse {
			q.fault("contradiction", "van/fitted", fmt.Sprintf("%s is to be replaced by a new one, and is refused.",
				q.r.catalogue.Features[f.feature].Name), "Remove it, or do not refuse it.")
		}
	}
}

func mostOf(f *catalogue.Feature) int {
	if f.Count == nil {
		return 1
	}
	return f.Count.Most
}

func leastOf(f *catalogue.Feature) int {
	if f.Count == nil {
		return 1
	}
	return f.Count.Least
}

func countRemedy(f *catalogue.Feature) string {
	if f.Count == nil {
		return "Leave the count out: it is there or not."
	}
	return fmt.Sprintf("Give a number from %d to %d.", f.Count.Least, f.Count.Most)
}

func offered(vans []string, van string) bool {
	return len(vans) == 0 || find(vans, func(v string) bool { return v == van }) >= 0
}

func find[T any](list []T, is func(T) bool) int {
	for i := range list {
		if is(list[i]) {
			return i
		}
	}
	return -1
}

func codes[T any](list []T, code func(T) string) []string {
	out := make([]string, len(list))
	for i := range list {
		out[i] = code(list[i])
	}
	return out
}

// quoted shows what somebody wrote, cut short so that a fault stays readable.
func quoted(s string) string {
	const most = 60
	if len(s) > most {
		s = strings.ToValidUTF8(s[:most], "") + "…"
	}
	return fmt.Sprintf("%q", s)
}

// words makes a name readable: sliding_doors is "sliding doors".
func words(name string) string { return strings.ReplaceAll(name, "_", " ") }
