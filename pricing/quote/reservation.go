package quote

import (
	"fmt"
	"slices"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/pricing/money"
)

// Reservation is a deposit that holds a place before the specification is
// agreed.
type Reservation struct {
	Deposit money.Amount `json:"deposit"`
	// AgreeBy is the last day (YYYY-MM-DD) to agree the specification; after
	// it the workshop need not hold the place any longer.
	AgreeBy    string           `json:"agree_by"`
	SlotWanted string           `json:"slot_wanted,omitempty"`
	State      ReservationState `json:"state"`
	// Reference to pay the deposit under: ISO 11649, without spaces.
	Reference string `json:"reference"`
}

// ReservationState is where a reservation is.
type ReservationState string

// The states; zero is invalid.
const (
	Held     ReservationState = "held"
	TakenUp  ReservationState = "taken up" // the specification was agreed
	Released ReservationState = "released" // the place is given up
)

// Words are the states there are.
func (ReservationState) Words() []string {
	return []string{string(Held), string(TakenUp), string(Released)}
}

// MayBecome says whether a reservation may go over into another state: what is
// held is taken up or released, and that is its end.
func (s ReservationState) MayBecome(next ReservationState) bool {
	return s == Held && (next == TakenUp || next == Released)
}

// Overdue says that the day to agree by has passed while the place is held.
func (r Reservation) Overdue(today string) bool { return r.State == Held && today > r.AgreeBy }

// Check finds what is wrong with a reservation made on a day, for a workshop
// with that currency.
func (r Reservation) Check(madeOn string, currency money.Currency) document.Faults {
	var faults document.Faults
	fault := func(code, at, reason, remedy string) {
		faults = append(faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	switch {
	case r.Deposit.Currency() != currency:
		fault("currency", "deposit/currency", fmt.Sprintf("The deposit is in %q, the workshop's money in %s.", r.Deposit.Currency(), currency), fmt.Sprintf("Give it in %s.", currency))
	case r.Deposit.Sign() <= 0:
		fault("amount", "deposit/amount", "A deposit of nothing holds no place.", "Name an amount above nothing.")
	}
	switch {
	case !calendar.Valid(r.AgreeBy):
		fault("day", "agree_by", fmt.Sprintf("%q is not a day.", r.AgreeBy), "Write it as year, month and day: 2027-01-11.")
	case r.AgreeBy < madeOn:
		fault("contradiction", "agree_by", fmt.Sprintf("The day to agree by, %s, is over.", r.AgreeBy), "Name a day that is still to come.")
	}
	switch {
	case r.SlotWanted == "":
	case !calendar.Valid(r.SlotWanted):
		fault("day", "slot_wanted", fmt.Sprintf("%q is not a day.", r.SlotWanted), "Write it as year, month and day: 2027-01-11.")
	case calendar.Valid(r.AgreeBy) && r.SlotWanted < r.AgreeBy:
		fault("contradiction", "slot_wanted", "Work would begin before the specification has to be agreed.", "Name an earlier day to agree by, or a later slot.")
	}
	if !slices.Contains(r.State.Words(), string(r.State)) {
		fault("unknown_word", "state", fmt.Sprintf("%q is no state of a reservation.", r.State), "Use one of held, taken up, released.")
	}
	if !money.ValidReference(r.Reference) {
		fault("does_not_hold", "reference", fmt.Sprintf("%q is no creditor reference.", r.Reference), "Have one made.")
	}
	return faults
}
