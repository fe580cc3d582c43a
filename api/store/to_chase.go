package store

import (
	"fmt"
	"slices"
	"strings"

	"wainscot/bom/calendar"
)

// LapsesSoonDays is how many days before an offer ends it is to be chased.
const LapsesSoonDays = 7

// ChaseWhy says why something is to be chased.
type ChaseWhy string

// Why something is to be chased.
const (
	ChaseEnquiry  ChaseWhy = "enquiry"
	ChaseFollowUp ChaseWhy = "follow up"
	ChaseLapses   ChaseWhy = "lapses soon"
)

// Chase is an enquiry or a quote that somebody should ask about: one of the
// two is set.
type Chase struct {
	// DueOn is the follow-up day, or the last day of an offer that lapses.
	DueOn   string
	Why     ChaseWhy
	Enquiry *Enquiry
	Quote   *QuoteEntry
}

// ToChase gives at most limit things to chase on a day (YYYY-MM-DD), those
// longest due first, and how many there are: open enquiries and issued quotes
// whose follow-up day has come, and issued quotes that end within a week.
func (t ReadTx) ToChase(day string, limit int) (list []Chase, all int, err error) {
	soon, err := calendar.Add(day, LapsesSoonDays)
	if err != nil {
		return nil, 0, fmt.Errorf("to chase: %w", err)
	}
	limit = bounded(limit)
	enquiries, all, err := t.EnquiriesToChase(day, limit)
	if err != nil {
		return nil, 0, err
	}
	followUps := func() rows[quoteRow] {
		return of[quoteRow](t).where("state = ? AND follow_up_on <> '' AND follow_up_on <= ?", string(Issued), day)
	}
	lapsing := func() rows[quoteRow] {
		return of[quoteRow](t).where("state = ? AND (follow_up_on = '' OR follow_up_on > ?) AND valid_until BETWEEN ? AND ?", string(Issued), day, day, soon)
	}
	quotes := make([][]quoteRow, 2)
	for i, which := range []func() rows[quoteRow]{followUps, lapsing} {
		n, err := which().count()
		if err != nil {
			return nil, 0, fmt.Errorf("quotes to chase: %w", err)
		}
		all += n
		if quotes[i], err = which().order([]string{"follow_up_on, id", "valid_until, id"}[i]).first(limit); err != nil {
			return nil, 0, fmt.Errorf("quotes to chase: %w", err)
		}
	}
	for i := range enquiries {
		list = append(list, Chase{DueOn: enquiries[i].FollowUpOn, Why: ChaseEnquiry, Enquiry: &enquiries[i]})
	}
	for i, why := range []ChaseWhy{ChaseFollowUp, ChaseLapses} {
		entries, err := t.entries(quotes[i])
		if err != nil {
			return nil, 0, err
		}
		for j := range entries {
			due := entries[j].FollowUpOn
			if why == ChaseLapses {
				due = entries[j].ValidUntil
			}
			list = append(list, Chase{DueOn: due, Why: why, Quote: &entries[j]})
		}
	}
	sortByDay(list)
	return list[:min(len(list), limit)], all, nil
}

// sortByDay puts what is longest due first; what is due the same day stays in
// its order.
func sortByDay(list []Chase) {
	slices.SortStableFunc(list, func(a, b Chase) int { return strings.Compare(a.DueOn, b.DueOn) })
}
