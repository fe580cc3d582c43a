package api

import (
	"strings"

	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/bom/schedule"
	"wainscot/openapi"
)

func domainSlotDays(d openapi.SlotDays) schedule.Slot {
	s := schedule.Slot{}
	for _, o := range d.Stays {
		s.Stays = append(s.Stays, schedule.Stay{Place: o.Place, From: o.From, Until: o.Until})
	}
	for _, h := range d.Hours {
		s.Hours = append(s.Hours, schedule.DayHours{Day: h.Day, Stage: h.Stage, Trade: h.Trade, Hours: askedHours(h.Hours)})
	}
	return s
}

func contractSlotDays(s schedule.Slot) openapi.SlotDays {
	return openapi.SlotDays{
		Stays: mapped(s.Stays, contractStay),
		Stages: mapped(s.Stages, func(o schedule.StageDays) openapi.StageDays {
			return openapi.StageDays{Stage: o.Stage, From: o.From, Until: o.Until}
		}),
		Hours: mapped(s.Hours, func(o schedule.DayHours) openapi.SlotHours {
			return openapi.SlotHours{Day: o.Day, Stage: o.Stage, Trade: o.Trade, Hours: plain(o.Hours)}
		}),
	}
}

func contractStay(o schedule.Stay) openapi.Stay {
	return openapi.Stay{Place: o.Place, From: o.From, Until: o.Until}
}

func contractSlot(s store.Slot) openapi.Slot {
	return openapi.Slot{
		Job: s.Job.String(), Version: s.Version, CreatedAt: s.CreatedAt, ChangedAt: s.ChangedAt, State: openapi.SlotState(s.State),
		From: s.Days.From(), Until: s.Days.Until(), ConfirmedOn: s.ConfirmedOn, Days: contractSlotDays(s.Days),
		PlanAgain: contractSlotAgain(s.Again),
	}
}

func contractEarliest(e schedule.Earliest, days calendar.Calendar) openapi.EarliestSlot {
	out := openapi.EarliestSlot{Found: e.Found, WhyNotEarlier: mapped(e.WhyNot, contractWhyNot)}
	if e.Found {
		out.From, out.Until, out.Days, out.Estimate = e.Slot.From(), e.Slot.Until(), contractSlotDays(e.Slot), days.Estimate(e.Slot.Until())
	}
	return out
}

func contractWhyNot(r schedule.Reason) openapi.WhyNot {
	out := openapi.WhyNot{
		Kind: openapi.WhyNotKind(r.Kind), From: r.From, Until: r.Until, Day: r.Day, Stage: r.Stage, Trade: r.Trade,
		Places: append([]string{}, r.Places...), TakenUntil: r.TakenUntil, ReadyOn: r.ReadyOn, Says: r.Says,
	}
	if r.Trade != "" {
		out.LeftHours, out.OfHours = plain(r.LeftHours), plain(r.OfHours)
	}
	return out
}

// reasonCode is a kind of reason as errors have codes.
func reasonCode(k schedule.ReasonKind) string { return strings.ReplaceAll(string(k), " ", "_") }

func contractMove(m schedule.Move) openapi.SlotMove {
	return openapi.SlotMove{
		ComesLaterDays: whole(m.ComesLater), LeavesLaterDays: whole(m.LeavesLater),
		StaysGone: mapped(m.StaysGone, contractStay), StaysNew: mapped(m.StaysNew, contractStay),
		Stages: mapped(m.Stages, func(o schedule.StageMove) openapi.StageMove {
			return openapi.StageMove{Stage: o.Stage, LaterDays: whole(o.Later),
				Was: openapi.Period{From: o.Was.From, Until: o.Was.Until}, Is: openapi.Period{From: o.Is.From, Until: o.Is.Until}}
		}),
	}
}

func contractNetwork(n schedule.Network) openapi.Network {
	return openapi.Network{Hours: plain(n.Hours), Critical: append([]string{}, n.Critical...),
		Stages: mapped(n.Stages, func(s schedule.NetworkStage) openapi.NetworkStage {
			return openapi.NetworkStage{
				Stage: s.Stage, Name: s.Name, After: append([]string{}, s.After...), Hours: plain(s.Hours), Standing: plain(s.Standing),
				EarliestStart: plain(s.EarliestStart), EarliestFinish: plain(s.EarliestFinish),
				LatestStart: plain(s.LatestStart), LatestFinish: plain(s.LatestFinish), Float: plain(s.Float),
			}
		})}
}
