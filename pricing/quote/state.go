package quote

import "slices"

// State of a revision as it is stored. That an offer has lapsed is not a state:
// it follows from its last day, see Lapsed.
type State string

// The states; zero is invalid.
const (
	Draft    State = "draft"    // worked on; nothing is promised
	Issued   State = "issued"   // frozen and offered until its last day
	Accepted State = "accepted" // the customer's yes
	Declined State = "declined" // the customer's no
	// Superseded: a later revision was issued, or holds the extras that were
	// ticked when this one was accepted.
	Superseded State = "superseded"
)

// Words are the states there are.
func (State) Words() []string {
	return []string{string(Draft), string(Issued), string(Accepted), string(Declined), string(Superseded)}
}

// mayFollow says what each state may become. A revision with ticked extras
// begins as accepted: it is made by the yes itself. After a yes a change is a
// variation of the job, not of the quote.
var mayFollow = []struct {
	from State
	to   []State
}{
	{"", []State{Draft, Issued, Accepted}}, // how a revision may begin
	{Draft, []State{Issued, Declined}},
	{Issued, []State{Accepted, Declined, Superseded}},
	{Declined, []State{Superseded}},
	{Accepted, nil},
	{Superseded, nil},
}

// MayBecome says whether a revision in one state may go over into another; ""
// is one that is not there yet. Accepting is only open to an offer that has not
// lapsed, which is asked of Lapsed.
func (s State) MayBecome(next State) bool {
	for _, row := range mayFollow {
		if row.from == s {
			return slices.Contains(row.to, next)
		}
	}
	return false
}

// Lapsed says whether an issued offer has come to its end: it stands through
// its last day. Days are YYYY-MM-DD in the workshop's time zone, which sort as
// they follow each other.
func Lapsed(validUntil, today string) bool { return today > validUntil }
