package api

import (
	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/openapi"
	"wainscot/pricing/job"
)

// contractBoard is a job on the floor as a role may see it.
func contractBoard(b *build, r auth.Role) openapi.JobBoard {
	j := b.Content
	out := openapi.JobBoard{
		Id: b.ID.String(), Number: whole(int(b.Number)), Version: b.Version, State: openapi.JobState(j.State), Registration: b.plate,
		OnSite: j.OnSite(), HandedOverOn: j.HandedOverOn, CancelledOn: j.CancelledOn,
		Stages: contractStages(b), Show: contractShow(b), Papers: contractPapers(b), Removed: contractRemoved(b, r),
		InTheWay:    contractStops(j.Gate(&b.plan, b.today)),
		Attachments: mapped(j.Attachments, func(a job.Attachment) openapi.JobAttachment { return contractAttachment(j, a) }),
	}
	out.SureFrom, _ = j.Confirmed()
	if j.State == job.HandedOver {
		out.InTheWay = []openapi.Stops{}
	}
	contractEntries(&out, j)
	contractWhereabouts(&out, j)
	if told, ok := j.Masses(&b.plan); ok {
		out.Weighing = contractWeighing(&j.Weighed[len(j.Weighed)-1], &told)
	}
	if c, ok := j.Cleared(); ok {
		out.Balance = openapi.BoardBalance{How: openapi.BoardBalanceHow(c.How), On: c.On, By: c.By}
		if r.SeesCost() {
			out.Balance.Because = j.Said(c.Because)
		}
	}
	return out
}

func contractStops(list []job.Stops) []openapi.Stops {
	return mapped(list, func(s job.Stops) openapi.Stops {
		return openapi.Stops{Code: s.Code, About: s.About, Says: s.Says, Remedy: s.Remedy,
			Clears: mapped(s.Clears, func(role string) openapi.StopsClears { return openapi.StopsClears(role) })}
	})
}

// contractStages are the stages of the board, with what stops each that is not
// done.
func contractStages(b *build) []openapi.BoardStage {
	j := b.Content
	return mapped(j.Stages, func(s job.Stage) openapi.BoardStage {
		out := openapi.BoardStage{
			Code: s.Code, Name: s.Name, State: openapi.JobStageState(s.State), StandingHours: s.StandingHours.String(),
			Trades: []openapi.BoardTradeHours{}, Outside: []string{}, WaitsFor: []openapi.BoardHold{}, StoppedBy: contractStops(j.StoppedNow(&b.plan, s.Code)),
		}
		if p := b.plan.Stage(s.Code); p != nil {
			out.Outside = append(out.Outside, p.Outside...)
			for i := range p.Holds {
				h := &p.Holds[i]
				out.WaitsFor = append(out.WaitsFor, openapi.BoardHold{
					Code: h.Code, Until: openapi.BoardHoldUntil(h.Until), Says: h.Says, Caution: openapi.SafetyCaution(h.Caution), Lifted: j.Lifted(&b.plan, h),
				})
			}
		}
		for _, t := range b.plan.Trades {
			planned, worked := b.plan.HoursAt(s.Code, t.Code), j.HoursAt(s.Code, t.Code)
			if !planned.IsZero() || !worked.IsZero() {
				out.Trades = append(out.Trades, openapi.BoardTradeHours{Trade: t.Code, Hours: planned.String(), WorkedHours: worked.String()})
			}
		}
		return out
	})
}

func contractShow(b *build) []openapi.BoardShow {
	return mapped(b.plan.Show, func(s job.PlanShow) openapi.BoardShow {
		out := openapi.BoardShow{Code: s.Code, Says: s.Says}
		for _, d := range b.Content.Shown {
			if d.Code == s.Code {
				out.ShownOn = d.On
			}
		}
		return out
	})
}

func contractPapers(b *build) []openapi.BoardPaper {
	return mapped(b.plan.Papers, func(p job.PlanPaper) openapi.BoardPaper {
		out := openapi.BoardPaper{
			Code: p.Code, Name: p.Name, Certificate: p.Certificate, Weighing: p.Weighing, Due: openapi.BoardPaperDue(p.Due), GivenBy: p.By,
			There: b.Content.Has(&p),
		}
		if kept, ok := b.Content.Paper(p.Code); ok {
			out.On, out.Signatory, out.ExpiresOn = kept.On, kept.Signatory, kept.ExpiresOn
			out.Attachment, out.Sha256 = whole(kept.Attachment), kept.SHA256
		}
		return out
	})
}

// contractRemoved: what the workshop bought something for is not its people's.
func contractRemoved(b *build, r auth.Role) []openapi.BoardRemoved {
	list := make([]openapi.BoardRemoved, len(b.plan.Removed))
	for i := range b.plan.Removed {
		f := &b.plan.Removed[i]
		list[i] = openapi.BoardRemoved{Feature: f.Code, Name: f.Name}
		if went, ok := b.Content.WentTo(f.Code); ok {
			list[i].To, list[i].Number = openapi.RemovedTo(went.To), whole(went.Number)
			list[i].Shelved = mapped(went.Shelved, func(s job.Shelved) openapi.ShelvedPart {
				return openapi.ShelvedPart{Part: s.Part, Quantity: plain(s.Quantity)}
			})
			if went.Price != nil && seesPrices(r) {
				list[i].Price = contractAmount(*went.Price)
			}
		}
	}
	return list
}

// contractEntries are the lists of what happened.
func contractEntries(out *openapi.JobBoard, j *job.Job) {
	out.Steps = mapped(j.Steps, func(s job.Step) openapi.BoardStep {
		return openapi.BoardStep{Number: whole(s.Number), Stage: s.Stage, To: openapi.JobStageState(s.To), On: s.On, By: s.By, Because: j.Said(s.Because)}
	})
	out.Holds = mapped(j.Holds, func(h job.Hold) openapi.PlacedHold {
		return openapi.PlacedHold{
			Number: whole(h.Number), Code: h.Code, Stage: h.Stage, Says: j.Said(h.Says), Caution: openapi.SafetyCaution(h.Caution), Since: h.Since, By: h.By,
			LiftedOn: h.LiftedOn, LiftedBy: h.LiftedBy, LiftedBecause: j.Said(h.LiftedBecause),
		}
	})
	out.Tests = mapped(j.Tests, func(t job.Test) openapi.BoardTest {
		return openapi.BoardTest{
			Number: whole(t.Number), Of: t.Of, Hold: whole(t.Hold), On: t.On, By: t.By, Signatory: t.Signatory, ExpiresOn: t.ExpiresOn, Crew: t.Crew,
			Passed: t.Passed, Says: j.Said(t.Says), Attachment: whole(t.Attachment),
		}
	})
	out.Hours = mapped(j.Hours, func(h job.Worked) openapi.WorkedHours {
		return openapi.WorkedHours{Number: whole(h.Number), Crew: h.Crew, Stage: h.Stage, Trade: h.Trade, On: h.On, By: h.By,
			Hours: h.Hours.String(), Corrects: whole(h.Corrects), Because: j.Said(h.Because)}
	})
	out.Parts = mapped(j.Parts, func(p job.PartUsed) openapi.PartUsed {
		return openapi.PartUsed{Number: whole(p.Number), Part: p.Part, Stage: p.Stage, On: p.On, By: p.By, Quantity: p.Quantity.String(), Because: j.Said(p.Because)}
	})
	out.Serials = mapped(j.Serials, func(s job.Serial) openapi.SerialKept {
		return openapi.SerialKept{Number: whole(s.Number), Part: s.Part, Stage: s.Stage, Kind: openapi.SerialKind(s.Kind), Value: s.Value, On: s.On, By: s.By,
			Crew: s.Crew, ReplacedBy: whole(s.ReplacedBy)}
	})
	out.TakenBack = mapped(j.TakenBack, func(t job.TakenBack) openapi.TakenBackEntry {
		what, code := j.Entry(t.Entry)
		return openapi.TakenBackEntry{Number: whole(t.Number), Entry: whole(t.Entry), What: openapi.TakenBackEntryWhat(what), Code: code,
			On: t.On, By: t.By, Because: j.Said(t.Because)}
	})
	out.Snags = mapped(j.Snags, func(s job.Snag) openapi.SnagKept {
		return openapi.SnagKept{
			Number: whole(s.Number), Stage: s.Stage, Says: j.Said(s.Says), On: s.On, By: s.By, Caution: openapi.SafetyCaution(s.Caution), PromisedBy: s.PromisedBy,
			ClosedOn: s.ClosedOn, ClosedBy: s.ClosedBy, ClosedBecause: j.Said(s.ClosedBecause),
		}
	})
}

// contractWhereabouts is the van in and out.
func contractWhereabouts(out *openapi.JobBoard, j *job.Job) {
	out.Expected = mapped(j.Expected, func(e job.Expected) openapi.ExpectedVan {
		return openapi.ExpectedVan{Number: whole(e.Number), Day: e.Day, From: j.Said(e.From), Confirmed: e.Confirmed, On: e.On, By: e.By, Because: j.Said(e.Because)}
	})
	out.Trips = mapped(j.Trips, func(t job.Trip) openapi.VanTrip {
		return openapi.VanTrip{Number: whole(t.Number), Why: j.Said(t.Why), On: t.On, By: t.By, BackOn: t.BackOn, BackBy: t.BackBy}
	})
	out.Arrived, out.Left = contractCondition(j, j.Arrived), contractCondition(j, j.Left)
	out.Differences = mapped(j.Differences(j.Left), func(d job.Difference) openapi.VanDifference {
		return openapi.VanDifference{Code: openapi.VanDifferenceCode(d.Code), Says: d.Says}
	})
}

func contractCondition(j *job.Job, c *job.Condition) openapi.VanConditionKept {
	if c == nil {
		return openapi.VanConditionKept{}
	}
	return openapi.VanConditionKept{
		Number: whole(c.Number), On: c.On, By: c.By, MileageMiles: whole(c.MileageMiles), FuelPercent: whole(c.FuelPercent), KeyCount: whole(c.KeyCount), KeyHook: c.KeyHook,
		Photographs: mapped(c.Photographs, func(p job.Photograph) openapi.VanPhotograph {
			return openapi.VanPhotograph{Side: openapi.VanSide(p.Side), Attachment: whole(p.Attachment)}
		}),
		Marks: mapped(c.Marks, func(m job.Mark) openapi.VanMark {
			return openapi.VanMark{Side: openapi.VanSide(m.Side), Says: j.Said(m.Says), Attachment: whole(m.Attachment)}
		}),
		Belongings: mapped(c.Belongings, j.Said),
		Papers:     mapped(c.Papers, func(p job.VanPaper) openapi.VanPaper { return openapi.VanPaper(p) }),
		Signatures: mapped(c.Signatures, func(s job.Signature) openapi.VanSignature {
			return openapi.VanSignature{For: openapi.VanSignatureFor(s.For), Name: j.Said(s.Name), Attachment: whole(s.Attachment)}
		}),
	}
}

func contractWeighing(w *job.Weighing, told *job.MassTold) openapi.BoardWeighing {
	kg := func(d decimal.Decimal) string { return d.String() }
	return openapi.BoardWeighing{
		Number: whole(w.Number), On: w.On, FrontKg: kg(w.FrontKG), RearKg: kg(w.RearKG), FuelPercent: whole(w.FuelPercent), PeopleCount: whole(w.PeopleCount),
		Attachment: whole(w.Attachment), EmptyFrontKg: kg(w.Empty.FrontKG), EmptyRearKg: kg(w.Empty.RearKG),
		ReckonedFrontKg: kg(told.Reckoned.FrontKG), ReckonedRearKg: kg(told.Reckoned.RearKG),
		Beyond: append([]string{}, told.Beyond...), Over: append([]string{}, told.Over...),
	}
}

func contractAttachment(j *job.Job, a job.Attachment) openapi.JobAttachment {
	return openapi.JobAttachment{
		Number: whole(a.Number), On: a.On, By: a.By, MediaType: openapi.AttachmentMediaType(a.MediaType), Sha256: a.SHA256, Bytes: whole(a.Bytes),
		Stage: a.Stage, Says: j.Said(a.Says),
	}
}
