package store

import (
	"errors"
	"testing"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/bom/calendar"
	"wainscot/bom/schedule"
)

func aFloor() schedule.Floor {
	return schedule.Floor{
		Calendar: calendar.Calendar{Closed: []calendar.Closed{{From: "2026-12-25", Until: "2026-12-25", Name: "Christmas Day", Why: calendar.Holiday}}, HolidaysUntil: "2026-12-31"},
		Places:   []schedule.Place{{Code: "bay_1", Name: "Bay 1", Kind: schedule.Bay, Vans: 1}}, MostIdleDays: 1,
	}
}

func aCrewMember(name string) CrewContent {
	return CrewContent{Name: name, Member: schedule.Member{
		Trades: []schedule.MemberTrade{{Trade: "fitter", Alone: true}},
		Hours:  []schedule.WeekdayHours{{Weekday: calendar.Monday, Hours: decimal.New(75, -1)}},
	}}
}

func aSlot(from, until string) SlotContent {
	return SlotContent{State: schedule.Held, Days: schedule.Slot{
		Stays: []schedule.Stay{{Place: "bay_1", From: from, Until: until}}, Stages: []schedule.StageDays{{Stage: "frame", From: from, Until: until}},
		Hours: []schedule.DayHours{{Day: from, Stage: "frame", Trade: "fitter", Hours: decimal.New(2, 0)}},
	}}
}

// planFor puts a floor, somebody and a slot of a job into a workshop.
func planFor(tx WriteTx, job uuid.UUID) error {
	if _, err := tx.ChangeFloor(1, aFloor()); err != nil {
		return err
	}
	if _, err := tx.AddCrewMember(aCrewMember("Bo Larkin")); err != nil {
		return err
	}
	c := aSlot("2026-06-01", "2026-06-04")
	c.State, c.ConfirmedOn = schedule.Firm, "2026-05-20"
	_, err := tx.PutSlot(job, 0, c)
	return err
}

func TestFloorCrewAndSlots(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	other := workshop(t, s, "moorside")
	id := agreedJob(t, s, p)
	numbers := func() (n PlanNumbers) {
		read(t, s, p, func(tx ReadTx) (err error) { n, err = tx.PlanNumbers(); return err })
		return n
	}
	if n := numbers(); n != (PlanNumbers{}) {
		t.Errorf("before anything is planned: %+v", n)
	}
	read(t, s, p, func(tx ReadTx) error {
		f, err := tx.Floor()
		if f.Version != 1 || len(f.Content.Places) != 0 || f.Content.MostIdleDays != DefaultIdleDays {
			t.Errorf("a floor of which nothing was said: %+v", f)
		}
		return err
	})
	write(t, s, p, func(tx WriteTx) error {
		if _, err := tx.ChangeFloor(2, aFloor()); !errors.Is(err, ErrStale) {
			t.Errorf("a floor nobody has seen: %v", err)
		}
		return planFor(tx, id)
	})
	was := numbers()
	if was.Plan == 0 || was.Floor == 0 || was.Floor >= was.Plan {
		t.Errorf("after a slot was put: %+v", was)
	}
	read(t, s, p, func(tx ReadTx) error {
		f, err := tx.Floor()
		if f.Version != 2 || f.Content.Places[0].Code != "bay_1" || f.Content.Calendar.HolidaysUntil != "2026-12-31" {
			t.Errorf("the floor is %+v", f)
		}
		return err
	})
	write(t, s, p, func(tx WriteTx) error {
		if _, err := tx.PutSlot(id, 0, aSlot("2026-06-08", "2026-06-09")); !errors.Is(err, ErrStale) {
			t.Errorf("a second first slot: %v", err)
		}
		if _, err := tx.PutSlot(uuid.Must(uuid.NewV7()), 0, aSlot("2026-06-08", "2026-06-09")); !errors.Is(err, ErrNotFound) {
			t.Errorf("a slot of no job: %v", err)
		}
		moved, err := tx.PutSlot(id, 1, aSlot("2026-06-08", "2026-06-09"))
		if err == nil && (moved.Version != 2 || moved.State != schedule.Held || moved.Days.From() != "2026-06-08") {
			t.Errorf("moved: %+v", moved)
		}
		return err
	})
	if n := numbers(); n.Floor != was.Floor || n.Plan <= was.Plan {
		t.Errorf("a slot was moved: %+v, before %+v", n, was)
	}
	read(t, s, p, func(tx ReadTx) error {
		since, err := tx.SlotsSince(was.Plan)
		if len(since) != 1 || since[0].Job != id || !since[0].Days.Hours[0].Hours.Equal(decimal.New(2, 0)) {
			t.Errorf("since: %+v", since)
		}
		for days, want := range map[[2]string]int{{"2026-06-01", "2026-06-07"}: 0, {"2026-06-09", "2026-06-09"}: 1, {"2026-06-10", "2026-06-30"}: 0} {
			if on, _ := tx.SlotsOn(days[0], days[1]); len(on) != want {
				t.Errorf("%v: %d slots; want %d", days, len(on), want)
			}
		}
		return err
	})
	write(t, s, p, func(tx WriteTx) error {
		crew, err := tx.Crew()
		if err != nil || len(crew) != 1 || crew[0].Member.ID != crew[0].ID.String() {
			t.Fatalf("crew: %+v, %v", crew, err)
		}
		c := crew[0].CrewContent
		c.LeftOn = "2026-07-01"
		if _, err := tx.ChangeCrewMember(crew[0].ID, 7, c); !errors.Is(err, ErrStale) {
			t.Errorf("changed from a version there never was: %v", err)
		}
		changed, err := tx.ChangeCrewMember(crew[0].ID, 1, c)
		if m := changed.Leaving(); len(m.Leave) != 1 || m.Leave[0].From != "2026-07-01" {
			t.Errorf("who has left works on: %+v", m)
		}
		return err
	})
	if n := numbers(); n.Floor != n.Plan {
		t.Errorf("the crew changed last: %+v", n)
	}
	released := aSlot("2026-06-08", "2026-06-09")
	released.State = SlotReleased
	write(t, s, p, func(tx WriteTx) error { _, err := tx.PutSlot(id, 2, released); return err })
	read(t, s, p, func(tx ReadTx) error {
		if on, _ := tx.SlotsOn("2026-01-01", "2026-12-31"); len(on) != 0 {
			t.Errorf("a slot given up takes days: %+v", on)
		}
		_, err := tx.VerifyJournal()
		return err
	})
	read(t, s, other, func(tx ReadTx) error {
		if _, err := tx.Slot(id); !errors.Is(err, ErrNotFound) {
			t.Errorf("another workshop sees the slot: %v", err)
		}
		crew, err := tx.Crew()
		if len(crew) != 0 {
			t.Error("another workshop sees the crew")
		}
		return err
	})
}

// agreedJob is the job of a quote that was accepted.
func agreedJob(t *testing.T, s *Store, p auth.Principal) (id uuid.UUID) {
	t.Helper()
	q := addQuote(t, s, p, "agreed")
	write(t, s, p, func(tx WriteTx) error {
		if _, err := tx.IssueQuote(q.ID, 1, frozenText("agreed")); err != nil {
			return err
		}
		head, kept, err := tx.AcceptQuote(q.ID, 2, yesTo(1), nil)
		if err != nil {
			return err
		}
		if err := addJob(tx, head, kept.Revision); err != nil {
			return err
		}
		jobs, _, err := tx.Jobs(JobFilter{Quote: q.ID})
		if err == nil {
			id = jobs[0].ID
		}
		return err
	})
	return id
}
