package api

import (
	"slices"

	"wainscot/bom/catalogue"
	"wainscot/openapi"
)

// What a catalogue offers, as the contract has it.

func contractBaseVan(b catalogue.BaseVan) openapi.BaseVan {
	return openapi.BaseVan{
		Code: b.Code,
		Name: b.Name,
		Facts: mapped(b.Facts, func(f catalogue.Fact) openapi.Fact {
			fact := openapi.Fact{Name: f.Name}
			switch f.Kind {
			case catalogue.NumberFact:
				fact.Number = plain(f.Number)
			case catalogue.TextFact:
				fact.Text = f.Text
			case catalogue.YesNoFact:
				fact.Yes = &f.Yes
			}
			return fact
		}),
		Particulars: mapped(b.Particulars, func(p catalogue.Particular) openapi.Particular {
			return openapi.Particular{Name: p.Name, Values: p.Values}
		}),
		Fitted: mapped(b.Fitted, contractCounted),
	}
}

// contractFeatures is everything there is to choose, or what one base van can
// have when van is not "".
func contractFeatures(k *catalogue.Catalogue, van string) openapi.Features {
	offered := func(vans []string) bool { return van == "" || len(vans) == 0 || slices.Contains(vans, van) }
	inGroup := make(map[string][]openapi.Feature, len(k.Groups))
	for _, f := range k.Features {
		if offered(f.Vans) {
			inGroup[f.Group] = append(inGroup[f.Group], contractFeature(f))
		}
	}
	features := openapi.Features{Groups: []openapi.Group{}, Packages: []openapi.Package{}}
	for _, g := range groupsByStage(k) {
		if van != "" && len(inGroup[g.Code]) == 0 {
			continue
		}
		features.Groups = append(features.Groups, openapi.Group{
			Code: g.Code, Name: g.Name, Stage: g.Stage, Pick: openapi.GroupPick(g.Pick), Says: g.Says,
			Defaults: mapped(g.Default, contractCounted), Features: inGroup[g.Code],
		})
	}
	features.Finishes = mapped(k.Finishes, func(f catalogue.Finish) openapi.Finish {
		return openapi.Finish{
			Code: f.Code, Name: f.Name, Default: f.Default,
			Choices: mapped(f.Choices, func(c catalogue.FinishChoice) openapi.Coded { return openapi.Coded{Code: c.Code, Name: c.Name} }),
		}
	})
	for _, p := range k.Packages {
		if offered(p.Vans) {
			features.Packages = append(features.Packages, contractPackage(p))
		}
	}
	return features
}

// groupsByStage are the groups in the order in which they are asked: by the
// stage they belong to, then as written.
func groupsByStage(k *catalogue.Catalogue) []catalogue.Group {
	at := make(map[string]int, len(k.Stages))
	for i, s := range k.Stages {
		at[s.Code] = i
	}
	groups := slices.Clone(k.Groups)
	slices.SortStableFunc(groups, func(a, b catalogue.Group) int { return at[a.Stage] - at[b.Stage] })
	return groups
}

func contractFeature(f catalogue.Feature) openapi.Feature {
	feature := openapi.Feature{
		Code: f.Code, Name: f.Name, Says: f.Says,
		Follower: f.Follower, NotSold: f.NotSold, SupplyOnly: f.SupplyOnly, Removable: f.Removal != nil,
		Cautions:  mapped(f.Caution, func(c catalogue.Caution) openapi.Caution { return openapi.Caution(c) }),
		LeavesOut: f.LeavesOut, BaseVans: f.Vans,
	}
	if f.Count != nil {
		feature.Count = openapi.Bounds{Least: whole(f.Count.Least), Most: whole(f.Count.Most)}
	}
	return feature
}

func contractPackage(p catalogue.Package) openapi.Package {
	return openapi.Package{
		Code: p.Code, Name: p.Name, Says: p.Says, BaseVans: p.Vans,
		Items: mapped(p.Items, contractCounted),
		Finishes: mapped(p.Finishes, func(f catalogue.PackageFinish) openapi.FinishChoice {
			return openapi.FinishChoice{Finish: f.Finish, Choice: f.Choice}
		}),
	}
}

// contractCounted: a count of 0 in a catalogue means one.
func contractCounted(f catalogue.Fitted) openapi.Counted {
	return openapi.Counted{Feature: f.Feature, Count: whole(max(f.Count, 1))}
}
