package ledger

import (
	"cmp"
	"slices"

	"wainscot/pricing/money"
)

// Movement is what an entry changes of what customers owe.
type Movement struct {
	Entry    int64        `json:"entry"`
	Day      string       `json:"day"`
	Kind     Kind         `json:"kind"`
	Document Document     `json:"document"`
	Job      string       `json:"job"`
	Change   money.Amount `json:"change"`
	// Balance after it: above nothing they owe, below they have it here.
	Balance money.Amount `json:"balance"`
}

// StatementOf is what happened to the money of some jobs, whose entries these
// are among others, through a day, by the day it counts on: their deposits not yet earned and what is owed on their
// invoices, as one account. It begins at nothing.
func StatementOf(entries []Entry, jobs map[string]bool, through string, c money.Currency) []Movement {
	var list []Movement
	for i := range entries {
		e := &entries[i]
		if e.Day > through {
			continue
		}
		changes := map[string]int64{}
		for _, l := range e.Lines {
			if (l.Account == Debtors || l.Account == DepositsNotEarned) && jobs[l.Job] && l.Amount.Currency() == c {
				changes[l.Job] += l.Amount.Minor()
			}
		}
		for job, minor := range changes {
			if minor != 0 {
				list = append(list, Movement{Entry: e.Number, Day: e.Day, Kind: e.Kind, Document: e.Document, Job: job, Change: amountOf(minor, c)})
			}
		}
	}
	slices.SortFunc(list, func(a, b Movement) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Entry, b.Entry), cmp.Compare(a.Job, b.Job))
	})
	sum := int64(0)
	for i := range list {
		sum += list[i].Change.Minor()
		list[i].Balance = amountOf(sum, c)
	}
	return list
}
