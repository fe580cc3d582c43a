package catalogue

import (
	"fmt"
	"slices"

	"wainscot/bom/document"
)

// This file checks the workshop's side: trades, stages, lines, parts, kits,
// outside work.

func (v *checker) trades() {
	for i := range v.c.Trades {
		t := &v.c.Trades[i]
		at := v.member("trades", v.trade, i, t.Code, identifier)
		v.readable(at+"/code", t.Code)
		v.name(at+"/name", t.Name)
	}
}

func (v *checker) stages() {
	holds := map[string]bool{}
	for i := range v.c.Stages {
		s := &v.c.Stages[i]
		at := v.member("stages", v.stage, i, s.Code, identifier)
		v.readable(at+"/code", s.Code)
		v.name(at+"/name", s.Name)
		for j, code := range s.After {
			at := document.Join(at, "after", j+1)
			if v.refers(at, code, "stage", v.stage) && slices.Index(s.After, code) < j {
				v.fault("duplicate_code", at, fmt.Sprintf("%q is listed twice.", code), "List each once.")
			}
		}
		if s.MostPeople < 0 || s.MostPeople > MaxMostPeople {
			v.fault("out_of_range", at+"/most_people", fmt.Sprintf("%d people cannot work at one van.", s.MostPeople),
				fmt.Sprintf("Give 1 to %d, or leave it out for two.", MaxMostPeople))
		}
		if s.Where != "" {
			v.word(at+"/where", s.Where, string(s.Where))
		}
		v.lines(at+"/lines", s.Lines, func(at string, l *Line) {
			if l.Stage != "" && l.Stage != s.Code {
				v.fault("wrong_stage", at+"/stage", fmt.Sprintf("A line of stage %q asks for stage %q.", s.Code, short(l.Stage)),
					"Leave the stage out here: it is the one the line stands in.")
			}
			if l.Once {
				v.fault("not_allowed_here", at+"/once", "A stage is there once anyway.", "Leave once out.")
			}
		})
		v.stageHolds(at+"/holds", s, holds)
	}
	v.cycles("stages", "stage_cycle", len(v.c.Stages), func(i int) []int {
		return v.found(v.stage, v.c.Stages[i].After)
	}, func(i int) string { return v.c.Stages[i].Code },
		"Each of these stages comes after the next", "Take one of them out of an after list.")
}

// stageHolds checks the holds of a stage; seen are the codes of those before,
// which are unlike in the whole catalogue, for tests are recorded by them.
func (v *checker) stageHolds(at string, s *Stage, seen map[string]bool) {
	v.listed(at, len(s.Holds), false, MaxHolds)
	own := indexed(s.Holds, func(h *StageHold) string { return h.Code })
	for i := range s.Holds {
		h := &s.Holds[i]
		at := v.member(at, own, i, h.Code, label)
		if seen[h.Code] && h.Code != "" && own.first[h.Code] == i {
			v.fault("duplicate_code", at+"/code", fmt.Sprintf("There is another hold %q.", short(h.Code)), "Give each hold a code of its own.")
		}
		seen[h.Code] = true
		v.word(at+"/until", h.Until, string(h.Until))
		v.holdOf(at, s, h)
		v.sentence(at+"/says", h.Says, true)
	}
}

// holdOf checks what a hold waits for.
func (v *checker) holdOf(at string, s *Stage, h *StageHold) {
	if h.Stage != "" && v.refers(at+"/stage", h.Stage, "stage", v.stage) && !slices.Contains(s.After, h.Stage) {
		v.fault("wrong_stage", at+"/stage", fmt.Sprintf("Stage %q does not come after %q.", s.Code, short(h.Stage)),
			"Name one of the stages in after.")
	}
	switch {
	case h.Outside != "":
		if v.refers(at+"/outside", h.Outside, "outside work", v.outside) && h.Until == UntilCertificate &&
			v.c.OutsideWork[v.outside.first[h.Outside]].Certificate == "" {
			v.fault("no_certificate", at+"/outside", fmt.Sprintf("%q returns no certificate.", h.Outside), "Name outside work that does, or hold until a test.")
		}
	case h.Until == UntilCertificate:
		v.fault("missing_value", at+"/outside", "Nothing says which certificate.", "Name the outside work that returns it.")
	case h.Stage == "":
		v.fault("missing_value", at+"/stage", "Nothing says what is tested.", "Name the stage or the outside work.")
	}
}

// found are the members with these codes, those that are not there left out.
func (v *checker) found(ix index, codes []string) []int {
	list := make([]int, 0, len(codes))
	for _, code := range codes {
		if i, ok := ix.first[code]; ok {
			list = append(list, i)
		}
	}
	return list
}

// lines checks a list of lines; more checks what only its place can say.
func (v *checker) lines(at string, lines []Line, more func(at string, l *Line)) {
	v.listed(at, len(lines), false, MaxLines)
	for i := range lines {
		v.line(at, i, &lines[i], more)
	}
}

func (v *checker) line(list string, i int, l *Line, more func(at string, l *Line)) {
	at := document.Join(list, i+1)
	v.one(at, given{"part", l.Part != ""}, given{"kit", l.Kit != ""}, given{"finish", l.Finish != ""},
		given{"trade", l.Trade != ""}, given{"outside", l.Outside != ""}, given{"standing", l.Standing})
	if l.Part != "" {
		v.counted(at+"/part", l.Part)
	}
	if l.Kit != "" {
		v.refers(at+"/kit", l.Kit, "kit", v.kit)
	}
	if l.Finish != "" {
		v.refers(at+"/finish", l.Finish, "finish", v.finish)
	}
	if l.Trade != "" {
		v.refers(at+"/trade", l.Trade, "trade", v.trade)
	}
	if l.Outside != "" {
		v.refers(at+"/outside", l.Outside, "outside work", v.outside)
	}
	v.formula(at+"/quantity", l.Quantity, false)
	v.formula(at+"/when", l.When, false)
	v.placed(at+"/position", l.Position)
	v.sentence(at+"/says", l.Says, false)
	more(at, l)
}

// staged checks a line of a feature, which says its stage.
func (v *checker) staged(at string, l *Line) {
	v.refers(at+"/stage", l.Stage, "stage", v.stage)
}

// counted checks a reference to a part whose quantity is asked for.
func (v *checker) counted(at, code string) {
	if v.refers(at, code, "part", v.part) && v.c.Parts[v.part.first[code]].Provision == Consumable {
		v.fault("consumable_counted", at, fmt.Sprintf("%q is a consumable: its use comes from its rates.", code),
			"Take the line out, or make the part topped up or for the job.")
	}
}

func (v *checker) parts() {
	for i := range v.c.Parts {
		p := &v.c.Parts[i]
		at := v.member("parts", v.part, i, p.Code, stock)
		v.name(at+"/name", p.Name)
		v.word(at+"/unit", p.Unit, string(p.Unit))
		v.word(at+"/provision", p.Provision, string(p.Provision))
		if p.Decimals < 0 || p.Decimals > MaxPartDecimals {
			v.fault("out_of_range", at+"/decimals", fmt.Sprintf("Quantities cannot be rounded to %d decimals.", p.Decimals),
				fmt.Sprintf("Give 0 to %d.", MaxPartDecimals))
		}
		if p.Unit == Each && p.Decimals > 0 && p.Provision != Consumable {
			v.fault("unit_mismatch", at+"/decimals", "A part counted each is had whole.", "Leave decimals out, or use another unit.")
		}
		v.notNegative(at+"/mass_kg", p.MassKG)
		v.percent(at+"/scrap_percent", p.ScrapPercent)
		v.months(at+"/warranty_months", p.WarrantyMonths, 0)
		v.rates(at+"/rates", p)
	}
}

func (v *checker) rates(at string, p *Part) {
	switch {
	case p.Provision == Consumable && len(p.Rates) == 0:
		v.fault("rates", at, "A consumable without rates is never used.", "Say how much of it an hour of a trade uses.")
	case p.Provision != Consumable && len(p.Rates) > 0:
		v.fault("rates", at, "Only a consumable has rates.", "Take them out, or make the part a consumable.")
	}
	seen := map[string]bool{}
	for i, r := range p.Rates {
		at := document.Join(at, i+1)
		if v.refers(at+"/trade", r.Trade, "trade", v.trade) && seen[r.Trade] {
			v.fault("duplicate_code", at+"/trade", fmt.Sprintf("There is another rate for %q.", r.Trade), "Give one rate a trade.")
		}
		seen[r.Trade] = true
		if !r.PerHour.IsPositive() {
			v.fault("out_of_range", at+"/per_hour", fmt.Sprintf("%s is not above zero.", r.PerHour), "Give what one hour uses.")
		}
	}
}

func (v *checker) kits() {
	for i := range v.c.Kits {
		k := &v.c.Kits[i]
		at := v.member("kits", v.kit, i, k.Code, stock)
		if v.part.has(k.Code) && k.Code != "" {
			v.fault("duplicate_code", at+"/code", fmt.Sprintf("There is a part %q.", short(k.Code)),
				"Parts and kits share their codes: give one of the two another.")
		}
		v.name(at+"/name", k.Name)
		v.listed(at+"/items", len(k.Items), true, MaxLines)
		for j := range k.Items {
			v.kitItem(document.Join(at, "items", j+1), &k.Items[j])
		}
		if k.BenchDays < 0 || k.BenchDays > MaxBenchDays {
			v.fault("bench_days", at+"/bench_days", fmt.Sprintf("%d working days at the bench make no sense.", k.BenchDays),
				fmt.Sprintf("Write 0 to %d.", MaxBenchDays))
		}
		for j, h := range k.Hours {
			at := document.Join(at, "hours", j+1)
			v.refers(at+"/trade", h.Trade, "trade", v.trade)
			v.formula(at+"/hours", h.Hours, true)
		}
	}
	cyclic := v.cycles("kits", "kit_cycle", len(v.c.Kits), v.kitsIn, func(i int) string { return v.c.Kits[i].Code },
		"Each of these kits holds the next", "Take one of them out of the other's items.")
	if !cyclic {
		v.kitLevels()
	}
}

func (v *checker) kitItem(at string, item *KitItem) {
	v.one(at, given{"part", item.Part != ""}, given{"kit", item.Kit != ""}, given{"finish", item.Finish != ""})
	if item.Part != "" {
		v.counted(at+"/part", item.Part)
	}
	if item.Kit != "" {
		v.refers(at+"/kit", item.Kit, "kit", v.kit)
	}
	if item.Finish != "" {
		v.refers(at+"/finish", item.Finish, "finish", v.finish)
	}
	v.formula(at+"/quantity", item.Quantity, false)
	if item.ScrapPercent != nil {
		v.percent(at+"/scrap_percent", *item.ScrapPercent)
	}
}

func (v *checker) kitsIn(i int) []int {
	var list []int
	for _, item := range v.c.Kits[i].Items {
		if item.Kit != "" {
			if k, ok := v.kit.first[item.Kit]; ok {
				list = append(list, k)
			}
		}
	}
	return list
}

// kitLevels checks how deep kits go and what they come to; there are no
// cycles. A kit of parts alone is one level.
func (v *checker) kitLevels() {
	levels := make([]int, len(v.c.Kits))
	components := make([]int, len(v.c.Kits))
	var visit func(i int)
	visit = func(i int) {
		if levels[i] > 0 {
			return
		}
		most, sum := 0, len(v.c.Kits[i].Items)
		for _, k := range v.kitsIn(i) {
			visit(k)
			most = max(most, levels[k])
			sum = min(sum+components[k], MaxComponents+1)
		}
		levels[i], components[i] = most+1, sum
	}
	for i := range v.c.Kits {
		visit(i)
		at := "kits/" + v.c.Kits[i].Code
		// Each only where its limit is passed, not all the way up from there.
		if levels[i] == MaxKitLevels+1 {
			v.fault("too_deep", at, fmt.Sprintf("Kits lie %d deep inside each other here.", levels[i]),
				fmt.Sprintf("At most %d levels are allowed.", MaxKitLevels))
		}
		if components[i] > MaxKitComponents && !slices.ContainsFunc(v.kitsIn(i), func(k int) bool { return components[k] > MaxKitComponents }) {
			v.fault("too_many", at, fmt.Sprintf("With all kits inside it, it has more than %d components.", MaxKitComponents),
				"Buy some of it as one part.")
		}
	}
	v.components(components)
}

// components checks what all lines of the catalogue come to together, so that
// a build sheet can be worked out in bounded time whatever is chosen.
func (v *checker) components(ofKit []int) {
	sum := 0
	count := func(lines []Line) {
		for i := range lines {
			sum++
			if k, ok := v.kit.first[lines[i].Kit]; ok {
				sum += ofKit[k]
			}
		}
	}
	for i := range v.c.Stages {
		count(v.c.Stages[i].Lines)
	}
	for i := range v.c.Features {
		f := &v.c.Features[i]
		count(f.Lines)
		if f.Removal != nil {
			count(f.Removal.Lines)
		}
		if sum > MaxComponents {
			v.fault("too_many", "features", fmt.Sprintf("With all kits taken apart, the lines come to more than %d.", MaxComponents),
				"Buy some kits as one part.")
			return
		}
	}
}

func (v *checker) outsideWork() {
	for i := range v.c.OutsideWork {
		w := &v.c.OutsideWork[i]
		at := v.member("outside_work", v.outside, i, w.Code, label)
		v.name(at+"/name", w.Name)
		if w.Certificate != "" {
			v.name(at+"/certificate", w.Certificate)
		}
		v.cautions(at+"/caution", w.Caution)
	}
}
