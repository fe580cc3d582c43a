package quote

import (
	"fmt"
	"slices"
	"strings"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/options"
	"wainscot/pricing/money"
)

// extras works out what each extra alone would add to its van.
func (w *working) extras() error {
	w.unready = make([][]bom.NotReady, len(w.asked.Vans))
	for i := range w.asked.Vans {
		asked := w.asked.Vans[i].Extras
		if len(asked) > 0 {
			w.out.Vans[i].Extras = make([]Extra, 0, len(asked))
		}
		for k, e := range asked {
			if err := w.extra(i, k, e); err != nil {
				return err
			}
		}
	}
	return nil
}

func (w *working) extra(van, k int, e AskedExtra) error {
	path := fmt.Sprintf("extras/%d", k+1)
	asked, base := &w.asked.Vans[van], &w.out.Vans[van]
	f, known := w.offer.Book.Feature(e.Feature)
	if !known {
		w.fault("unknown_code", at(van, path+"/feature"), fmt.Sprintf("The catalogue has no feature %q.", e.Feature), "Use the code of a feature in the catalogue.")
		return nil
	}
	for _, before := range asked.Extras[:k] {
		if before.Feature == e.Feature {
			w.fault("given_twice", at(van, path), fmt.Sprintf("“%s” is offered twice.", f.Feature.Name), "Keep one of the two.")
			return nil
		}
	}
	choices := withExtra(w.offer.Release.Catalogue(), asked.Choices, e)
	resolution, faults, err := bom.Specify(w.offer.Release, asked.Facts, choices, asked.Settle)
	if err != nil {
		return fmt.Errorf("van %d with the extra %s: %w", van+1, e.Feature, err)
	}
	if len(faults) > 0 { // the rest of the choices has been read before
		w.fault(faults[0].Code, at(van, path), faults[0].Reason, faults[0].Remedy)
		return nil
	}
	if reason := doesNotFit(&base.Resolution, &resolution); reason != "" {
		w.fault("does_not_fit", at(van, path), fmt.Sprintf("“%s” does not fit. %s", f.Feature.Name, reason),
			"Leave the extra out, or what it conflicts with.")
		return nil
	}
	spec := resolution.Specification
	now, before := featureOf(&spec, e.Feature), featureOf(&base.Specification, e.Feature)
	if before != nil && (now == nil || now.Count <= before.Count) {
		w.fault("already_there", at(van, path), fmt.Sprintf("“%s” is in the specification without ticking anything.", f.Feature.Name),
			"Leave the extra out, or take it out of the choices.")
		return nil
	}
	sheet := bom.ExpandIn(w.offer.Room, w.offer.Release, spec)
	priced, err := w.priced(van, sheet, spec)
	if err != nil || len(w.faults) > 0 {
		return err
	}
	x := Extra{Code: e.Feature, Count: e.Count, Words: f.Feature.Name}
	for _, d := range []struct {
		into         *money.Amount
		with, before money.Amount
	}{
		{&x.Net, priced.Totals.Net, base.Priced.Totals.Net},
		{&x.VAT, priced.Totals.VAT, base.Priced.Totals.VAT},
		{&x.Gross, priced.Totals.Gross, base.Priced.Totals.Gross},
	} {
		if *d.into, err = d.with.Sub(d.before); err != nil {
			return fmt.Errorf("van %d with the extra %s: %w", van+1, e.Feature, err)
		}
	}
	x.Hours = sheet.Hours.Sub(base.Sheet.Hours).String()
	x.Mass = base.Sheet.Mass.LeftKG.Sub(sheet.Mass.LeftKG).String()
	x.Brings, x.TakesOff = comesAndGoes(&base.Specification, &spec, e.Feature)
	base.Extras = append(base.Extras, x)
	w.extraNotReady(van, f.Feature, base, spec, sheet, priceNotReady(&priced))
	return nil
}

// extraNotReady keeps what would stand in the way of issuing if the extra were
// ticked and does not without it.
func (w *working) extraNotReady(van int, f *catalogue.Feature, base *WorkedVan, spec bom.Specification, sheet bom.Sheet, ofPrice []bom.NotReady) {
	without := append(bom.Ready(w.offer.Release, base.Specification, base.Sheet), priceNotReady(&base.Priced)...)
	for _, n := range append(bom.Ready(w.offer.Release, spec, sheet), ofPrice...) {
		known := slices.ContainsFunc(without, func(o bom.NotReady) bool { return o.Code == n.Code && o.About == n.About })
		if !known {
			w.unready[van] = append(w.unready[van], bom.NotReady{Code: ExtraNotReady, About: f.Code,
				Says: fmt.Sprintf("With the extra “%s”: %s", f.Name, n.Says)})
		}
	}
}

// withExtra is the choices with an extra wanted: in place of what was said of
// it, and of another pick of its group where there is only one.
func withExtra(c *catalogue.Catalogue, choices bom.Choices, e AskedExtra) bom.Choices {
	groupOf := func(code string) string {
		k := slices.IndexFunc(c.Features, func(f catalogue.Feature) bool { return f.Code == code })
		if k < 0 {
			return ""
		}
		return c.Features[k].Group
	}
	group := groupOf(e.Feature)
	one := slices.ContainsFunc(c.Groups, func(g catalogue.Group) bool { return g.Code == group && g.Pick != catalogue.AnyNumber })
	kept := make([]bom.Choice, 0, len(choices.Features)+1)
	first := false // the kind of work stays the first choice
	for i, said := range choices.Features {
		if said.Want == e.Feature || said.Refuse == e.Feature || one && said.Want != "" && groupOf(said.Want) == group {
			first = first || i == 0
			continue
		}
		kept = append(kept, said)
	}
	wanted := bom.Choice{Want: e.Feature, Count: e.Count}
	if first {
		choices.Features = append([]bom.Choice{wanted}, kept...)
	} else {
		choices.Features = append(kept, wanted)
	}
	return choices
}

// doesNotFit says why something the customer said had to be put aside that
// fitted before; "" when all of it fits.
func doesNotFit(before, with *bom.Resolution) string {
	aside := func(r *bom.Resolution, c options.Choice) *options.PutAside {
		for i, p := range r.Answer.PutAside {
			if said := r.Said[p.Choice]; said.Source == options.FromCustomer && said.Feature == c.Feature && said.Value == c.Value {
				return &r.Answer.PutAside[i]
			}
		}
		return nil
	}
	for i := range with.Answer.PutAside {
		p := &with.Answer.PutAside[i]
		said := with.Said[p.Choice]
		if said.Source != options.FromCustomer || aside(before, said) != nil {
			continue
		}
		var causes []string
		if p.Why != nil {
			for _, c := range p.Why.Causes {
				if s := strings.TrimSpace(c.Says); s != "" && !slices.Contains(causes, s) {
					causes = append(causes, s)
				}
			}
		}
		if len(causes) == 0 {
			return "It clashes with what else is chosen."
		}
		return strings.Join(causes, " ")
	}
	return ""
}

func featureOf(s *bom.Specification, code string) *bom.SpecifiedFeature {
	for i := range s.Features {
		if s.Features[i].Code == code {
			return &s.Features[i]
		}
	}
	return nil
}

// comesAndGoes names what else one specification has over another, and what it
// lacks.
func comesAndGoes(before, with *bom.Specification, but string) (brings, takesOff []string) {
	for i := range with.Features {
		f := &with.Features[i]
		if f.Code == but {
			continue
		}
		switch old := featureOf(before, f.Code); {
		case old == nil:
			brings = append(brings, numbered(f.Name, f.Count))
		case old.Count < f.Count:
			brings = append(brings, fmt.Sprintf("%s (%d in place of %d)", f.Name, f.Count, old.Count))
		case old.Count > f.Count:
			takesOff = append(takesOff, fmt.Sprintf("%s (%d in place of %d)", f.Name, f.Count, old.Count))
		}
	}
	for i := range before.Features {
		if f := &before.Features[i]; f.Code != but && featureOf(with, f.Code) == nil {
			takesOff = append(takesOff, numbered(f.Name, f.Count))
		}
	}
	return brings, takesOff
}

// numbered is a name with how many of it, where there are several.
func numbered(name string, n int) string {
	if n > 1 {
		return fmt.Sprintf("%d × %s", n, name)
	}
	return name
}
