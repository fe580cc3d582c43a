package store

import (
	"errors"
	"fmt"
	"testing"

	"github.com/google/uuid"

	"wainscot/pricing/job"
)

// builtWith fits numbers to a job, and hands checks on.
func builtWith(tx WriteTx, id uuid.UUID, version int64) error {
	j := aJob()
	j.Serials = []job.Serial{
		{Number: 1, Part: "battery", Stage: "floor", Kind: job.OfOne, Value: "GB-9"},
		{Number: 2, Part: "glue", Stage: "floor", Kind: job.OfBatch, Value: "L 0012"},
	}
	document, err := PackJob(j)
	if err != nil {
		return err
	}
	if _, err := tx.ChangeJob(id, version, j, document); err != nil {
		return err
	}
	return tx.KeepChecksDue(id, []job.CheckDue{{Name: "Gas check", EveryMonths: 12, DueOn: "2027-04-04"}, {Name: "Habitation check", EveryMonths: 12, DueOn: "2027-05-04"}})
}

func TestSerialsAndChecks(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p, other := workshop(t, s, "fenland"), workshop(t, s, "moorside")
	q := addQuote(t, s, p, "agreed")
	var id uuid.UUID
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
		list, _, err := tx.Jobs(JobFilter{})
		if err != nil {
			return err
		}
		id = list[0].ID
		return builtWith(tx, id, 1)
	})
	// One is replaced, and another fitted.
	write(t, s, p, func(tx WriteTx) error {
		found, err := tx.Job(id)
		if err != nil {
			return err
		}
		j, err := found.Content()
		if err != nil {
			return err
		}
		j.Serials[0].ReplacedBy = 3
		j.Serials = append(j.Serials, job.Serial{Number: 3, Part: "battery", Stage: "floor", Kind: job.OfOne, Value: "GB-10"})
		document, err := PackJob(j)
		if err != nil {
			return err
		}
		_, err = tx.ChangeJob(id, found.Version, j, document)
		return err
	})
	told := func(part, from, until string) (text string) {
		read(t, s, p, func(tx ReadTx) error {
			list, err := tx.SerialsBetween(part, from, until, 10)
			for _, f := range list {
				text += fmt.Sprint(f.Value, " ", f.ReplacedBy, ";")
				if f.ID != id {
					t.Errorf("%s is of job %s", f.Value, f.ID)
				}
			}
			return err
		})
		return text
	}
	for _, test := range []struct{ part, from, until, want string }{
		{"", "gb 9", "gb 10", "GB-9 3;GB-10 0;"}, {"", "GB-10", "GB-99", "GB-10 0;"}, {"glue", "L1", "L99", "L 0012 0;"},
		{"battery", "L1", "L99", ""}, {"", "GB-1", "GB-8", ""},
	} {
		if got := told(test.part, test.from, test.until); got != test.want {
			t.Errorf("%s from %s to %s: %q, want %q", test.part, test.from, test.until, got, test.want)
		}
	}
	read(t, s, other, func(tx ReadTx) error {
		if list, err := tx.SerialsBetween("", "A", "Z", 10); err != nil || len(list) > 0 {
			t.Errorf("the other workshop finds %v, %v", list, err)
		}
		if list, err := tx.ChecksDueUntil("2099-01-01", 10); err != nil || len(list) > 0 {
			t.Errorf("the other workshop's checks are %v, %v", list, err)
		}
		return nil
	})
	write(t, s, p, func(tx WriteTx) error {
		if list, err := tx.ChecksDueUntil("2027-04-30", 10); err != nil || len(list) != 1 || list[0].Name != "Gas check" {
			t.Errorf("due in April are %v, %v", list, err)
		}
		if c, err := tx.CheckMade(id, "Gas check", "2027-04-10", "2028-04-10"); err != nil || c.MadeOn != "2027-04-10" {
			t.Errorf("made %+v, %v", c, err)
		}
		if list, err := tx.ChecksDueUntil("2027-12-31", 10); err != nil || len(list) != 1 || list[0].Name != "Habitation check" {
			t.Errorf("after it was made, due are %v, %v", list, err)
		}
		if _, err := tx.CheckMade(id, "Oil check", "2027-04-10", "2028-04-10"); !errors.Is(err, ErrNotFound) {
			t.Errorf("a check it has not: %v", err)
		}
		list, err := tx.ChecksOf(id)
		if len(list) != 2 {
			t.Errorf("its checks are %v", list)
		}
		return err
	})
	sound(t, s, p)
}
