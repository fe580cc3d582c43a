package api

import (
	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/openapi"
)

// The van in question and the choices, from the contract and back to it.

func domainVan(v openapi.Van) (bom.Van, error) {
	van := bom.Van{
		BaseVan:      v.BaseVan,
		None:         v.None,
		New:          v.New,
		Registration: v.Registration,
		VIN:          v.Vin,
		Year:         int(v.Year),
		MileageMiles: int(v.MileageMiles),
	}
	for _, p := range v.Particulars {
		van.Particulars = append(van.Particulars, bom.ParticularValue{Name: p.Name, Value: p.Value})
	}
	for _, f := range v.Fitted {
		van.Fitted = append(van.Fitted, bom.FittedItem{Feature: f.Feature, Count: int(f.Count), Action: bom.Action(f.Action)})
	}
	van.WeighedDay, van.WeighedPeopleCount = v.WeighedDay, int(v.WeighedPeopleCount)
	if p := v.WeighedFuelPercent; p != nil {
		percent := int(*p)
		van.WeighedFuelPercent = &percent
	}
	for _, kg := range []struct {
		text, field string
		into        **decimal.Decimal
	}{
		{v.WeighedFrontKg, "weighed_front_kg", &van.WeighedFrontKG}, {v.WeighedRearKg, "weighed_rear_kg", &van.WeighedRearKG},
		{v.PlatedKg, "plated_kg", &van.PlatedKG}, {v.PlatedFrontKg, "plated_front_kg", &van.PlatedFrontKG}, {v.PlatedRearKg, "plated_rear_kg", &van.PlatedRearKG},
	} {
		var err error
		if *kg.into, err = optionalDecimal(kg.text, "/van/"+kg.field); err != nil {
			return van, err
		}
	}
	return van, nil
}

func contractVan(v bom.Van) openapi.Van {
	van := openapi.Van{
		BaseVan:      v.BaseVan,
		None:         v.None,
		New:          v.New,
		Registration: v.Registration,
		Vin:          v.VIN,
		Year:         whole(v.Year),
		MileageMiles: whole(v.MileageMiles),
	}
	for _, p := range v.Particulars {
		van.Particulars = append(van.Particulars, openapi.ParticularValue{Name: p.Name, Value: p.Value})
	}
	for _, f := range v.Fitted {
		van.Fitted = append(van.Fitted, openapi.FittedItem{Feature: f.Feature, Count: whole(f.Count), Action: openapi.FittedItemAction(f.Action)})
	}
	van.WeighedDay, van.WeighedPeopleCount = v.WeighedDay, whole(v.WeighedPeopleCount)
	if p := v.WeighedFuelPercent; p != nil {
		percent := whole(*p)
		van.WeighedFuelPercent = &percent
	}
	van.WeighedFrontKg, van.WeighedRearKg = plainOrNone(v.WeighedFrontKG), plainOrNone(v.WeighedRearKG)
	van.PlatedKg, van.PlatedFrontKg, van.PlatedRearKg = plainOrNone(v.PlatedKG), plainOrNone(v.PlatedFrontKG), plainOrNone(v.PlatedRearKG)
	return van
}

func domainChoices(c openapi.Choices) bom.Choices {
	choices := bom.Choices{Package: c.Package, Features: make([]bom.Choice, 0, len(c.Features))}
	for _, f := range c.Features {
		choices.Features = append(choices.Features, bom.Choice{Want: f.Want, Refuse: f.Refuse, Count: int(f.Count)})
	}
	for _, f := range c.Finishes {
		choices.Finishes = append(choices.Finishes, bom.FinishChoice{Finish: f.Finish, Choice: f.Choice})
	}
	return choices
}

func contractChoices(c bom.Choices) openapi.Choices {
	choices := openapi.Choices{Package: c.Package, Features: make([]openapi.Choice, 0, len(c.Features))}
	for _, f := range c.Features {
		choices.Features = append(choices.Features, openapi.Choice{Want: f.Want, Refuse: f.Refuse, Count: whole(f.Count)})
	}
	for _, f := range c.Finishes {
		choices.Finishes = append(choices.Finishes, openapi.FinishChoice{Finish: f.Finish, Choice: f.Choice})
	}
	return choices
}

func domainSettle(s openapi.Settle) bom.Settle {
	if s == openapi.SettleNothing {
		return bom.SettleNothing
	}
	return bom.Settle(s)
}

// optionalDecimal reads a decimal whose form the contract has checked; "" is
// absent.
func optionalDecimal(text, field string) (*decimal.Decimal, error) {
	if text == "" {
		return nil, nil //nolint:nilnil // absent, and rightly so
	}
	d, err := decimal.NewFromString(text)
	if err != nil {
		return nil, brokenField(field, "wrong_form", "It is not a decimal number.", "Write it in digits, like 1105.5.")
	}
	return &d, nil
}
