package api

import (
	"wainscot/bom"
	"wainscot/openapi"
)

// Specifications as the contract has them.

func contractSpecification(s bom.Specification) openapi.Specification {
	return openapi.Specification{
		Package: s.Package,
		Features: mapped(s.Features, func(f bom.SpecifiedFeature) openapi.SpecifiedFeature {
			return openapi.SpecifiedFeature{
				Feature: f.Code, Name: f.Name, Standing: openapi.Standing(f.Standing), Settled: f.Settled, InPackage: f.InPackage,
				Count: whole(f.Count), Fit: whole(f.Fit), Why: f.Why,
			}
		}),
		Removed: mapped(s.Removed, func(r bom.RemovedFeature) openapi.RemovedFeature {
			return openapi.RemovedFeature{Feature: r.Code, Name: r.Name, Count: whole(r.Count), Replaced: r.Replaced}
		}),
		Finishes: mapped(s.Finishes, func(f bom.SpecifiedFinish) openapi.SpecifiedFinish {
			return openapi.SpecifiedFinish{Finish: f.Finish, Choice: f.Choice, InPackage: f.InPackage, Settled: f.Settled}
		}),
		PackageChanges: mapped(s.PackageChanges, func(c bom.PackageChange) openapi.PackageChange {
			return openapi.PackageChange{Item: c.Item, Count: whole(c.Count), SwapFor: c.SwapFor, AlreadyThere: c.AlreadyThere}
		}),
	}
}
