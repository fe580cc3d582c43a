package api

import (
	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/bom"
	"wainscot/openapi"
)

// Build sheets as the contract has them.

func contractSheet(s bom.Sheet) openapi.Sheet {
	return openapi.Sheet{
		Lines: mapped(s.Lines, contractLine),
		Stages: mapped(s.Stages, func(t bom.StageTotal) openapi.StageTotal {
			return openapi.StageTotal{
				Stage: t.Stage, Name: t.Name, Hours: plain(t.Hours), StandingHours: plain(t.StandingHours), Lines: whole(t.Lines),
			}
		}),
		Trades: mapped(s.Trades, func(t bom.TradeTotal) openapi.TradeTotal {
			return openapi.TradeTotal{Trade: t.Trade, Name: t.Name, Hours: plain(t.Hours)}
		}),
		Figures: mapped(s.Figures, func(f bom.FigureValue) openapi.FigureValue {
			return openapi.FigureValue{Figure: f.Code, Name: f.Name, Value: plain(f.Value), Unit: f.Unit}
		}),
		Cautions: mapped(s.Cautions, func(n bom.CautionNote) openapi.CautionNote {
			return openapi.CautionNote{Caution: openapi.Caution(n.Caution), Says: n.Says, Features: n.Features}
		}),
		Certificates: mapped(s.Certificates, func(c bom.Certificate) openapi.Certificate {
			return openapi.Certificate{Name: c.Name, Outside: c.Outside}
		}),
		Evidence:      mapped(s.Evidence, contractEvidenceDue),
		ClassFeatures: mapped(s.ClassFeatures, contractClassFeature),
		Positions: mapped(s.Mass.Positions, func(p bom.PositionMass) openapi.PositionMass {
			return openapi.PositionMass{Position: p.Position, Name: p.Name, AddedKg: plain(p.AddedKG), RemovedKg: plain(p.RemovedKG), Where: contractWhere(p.Where)}
		}),
		Loads: mapped(s.Mass.Loads, func(l bom.LoadMass) openapi.LoadMass {
			return openapi.LoadMass{
				Load: l.Load, Name: l.Name, Kind: openapi.LoadMassKind(l.Kind), MassKg: plain(l.MassKG),
				InRunningOrderKg: plain(l.InRunningOrderKG), Position: l.Position, Where: contractWhere(l.Where),
			}
		}),
		LeavesOut: s.LeavesOut,
		Broken: mapped(s.Broken, func(b bom.BrokenFormula) openapi.BrokenFormula {
			return openapi.BrokenFormula{At: b.At, Reason: b.Reason}
		}),
	}
}

func contractLine(l bom.Line) openapi.Line {
	return openapi.Line{
		Stage:     l.Stage,
		Kind:      openapi.LineKind(l.Kind),
		Code:      l.Code,
		Finish:    l.Finish,
		Name:      l.Name,
		Quantity:  plain(l.Quantity),
		Unit:      l.Unit,
		MassKg:    plain(l.MassKG),
		Provision: openapi.LineProvision(l.Provision),
		Because: mapped(l.Because, func(b bom.Because) openapi.Because {
			return openapi.Because{Feature: b.Feature, Removal: b.Removal, Via: b.Via, Quantity: plain(b.Quantity), Says: b.Says}
		}),
	}
}

// contractChecks shows checks with their answers, as far as a role may see
// them.
func contractChecks(checks []bom.CheckResult, r auth.Role) []openapi.Check {
	return mapped(checks, func(c bom.CheckResult) openapi.Check {
		check := openapi.Check{
			Code: c.Code, Name: c.Name, Grade: openapi.CheckGrade(c.Grade), Met: c.Met, Standing: openapi.CheckStandingNotMet,
			Figure: plain(c.Figure), Sense: openapi.CheckSense(c.Sense), Limit: plain(c.Limit), Unit: c.Unit,
			Says: c.Says, Remedy: c.Remedy, Cites: c.Cites, Answered: c.Answered,
		}
		switch {
		case c.Near:
			check.Standing = openapi.CheckStandingNearTheLimit
		case c.Met:
			check.Standing = openapi.CheckStandingMet
		}
		if c.Answer != nil {
			check.Answer = contractCheckAnswer(*c.Answer, r)
		}
		return check
	})
}

func contractMass(m bom.Mass) openapi.Mass {
	return openapi.Mass{
		AddedKg: plain(m.AddedKG), RemovedKg: plain(m.RemovedKG), UnladenKg: plain(m.UnladenKG),
		Weighed: m.Weighed, PlatedKg: plain(m.PlatedKG), LeftKg: plain(m.LeftKG),
		Before: contractAxles(m.Before), After: contractAxles(m.After), InRunningOrder: contractAxles(m.InRunningOrder),
		Laden: contractAxles(m.Laden), Most: contractAxles(m.Most), Plated: contractAxles(m.Plated),
		UnplacedKg: plain(m.UnplacedKG),
	}
}

// contractAxles shows axle loads; none where a sheet is from before they were
// worked out.
func contractAxles(a bom.Axles) openapi.Axles {
	if a == (bom.Axles{}) {
		return openapi.Axles{}
	}
	return openapi.Axles{FrontKg: plain(a.FrontKG), RearKg: plain(a.RearKG)}
}

func contractWhere(w bom.Where) openapi.Where {
	return openapi.Where{
		FromFrontAxleMm: plain(w.FromFrontAxleMM), RightOfCentreMm: plain(w.RightOfCentreMM), AboveGroundMm: plainOrNone(w.AboveGroundMM),
	}
}

// mapped turns a list into another, never into nothing: an empty list is
// written as [].
func mapped[A, B any](list []A, one func(A) B) []B {
	out := make([]B, len(list))
	for i := range list {
		out[i] = one(list[i])
	}
	return out
}

// plain writes a decimal without an exponent.
func plain(d decimal.Decimal) string { return d.String() }

// plainOrNone writes a decimal that may be absent.
func plainOrNone(d *decimal.Decimal) string {
	if d == nil {
		return ""
	}
	return plain(*d)
}

// whole narrows a count, which the limits of a catalogue keep far below.
func whole(n int) int32 { return int32(min(max(n, -1<<31), 1<<31-1)) }

func contractEvidenceDue(e bom.EvidenceDue) openapi.EvidenceDue {
	return openapi.EvidenceDue{Code: e.Code, Name: e.Name, By: e.By, Due: openapi.EvidenceDueDue(e.Due), Says: e.Says, Cites: e.Cites}
}

func contractClassFeature(f bom.ClassFeature) openapi.ClassFeature {
	return openapi.ClassFeature{Code: f.Code, Name: f.Name, List: openapi.ClassFeatureList(f.List), Met: f.Met, Cites: f.Cites}
}
