package job

import (
	"wainscot/bom/calendar"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// Due is a payment of a job as it stands.
type Due struct {
	pricing.Payment
	// Paid + Open = Amount.
	Paid money.Amount `json:"paid"`
	Open money.Amount `json:"open"`
	// On is the day it is due (YYYY-MM-DD); "" while that is not known.
	On    string   `json:"on,omitempty"`
	State DueState `json:"state"`
}

// DueState is where a payment is.
type DueState string

// The states; zero is invalid.
const (
	DuePaid   DueState = "paid"
	DueToCome DueState = "to come"
	DueNow    DueState = "due"
	Overdue   DueState = "overdue"
)

// Words are the states there are.
func (DueState) Words() []string {
	return []string{string(DuePaid), string(DueToCome), string(DueNow), string(Overdue)}
}

// DueDays are the days a job's payments go by, YYYY-MM-DD; "" for what is not
// known.
type DueDays struct {
	Today    string
	Agreed   string
	Slot     string // its first day
	Handover string // when it was, or else the slot's last day
}

// on is the day a payment is due. A day that a calendar has not is not known.
func (d DueDays) on(p *pricing.Payment) string {
	from, days := d.Agreed, 0
	switch p.When {
	case pricebook.BeforeSlot:
		from, days = d.Slot, -p.Days
	case pricebook.OnHandover:
		from, days = d.Handover, p.Days
	}
	if from == "" {
		return ""
	}
	on, err := calendar.Add(from, days)
	if err != nil {
		return ""
	}
	return on
}

// Dues are a job's payments when so much of them is paid: money pays the first
// that is open before the next, whatever was said with it, so that what is paid
// early is never missing where it was asked for first. Payments come to what was
// agreed; one below nothing is open as a credit.
func Dues(payments []pricing.Payment, paid money.Amount, d DueDays) ([]Due, error) {
	list := make([]Due, len(payments))
	left := paid.Minor()
	for i, p := range payments {
		takes := min(max(left, 0), max(p.Amount.Minor(), 0))
		left -= takes
		due := Due{Payment: p, On: d.on(&p)}
		var err error
		if due.Paid, err = p.Amount.WithMinor(takes); err != nil {
			return nil, err
		}
		if due.Open, err = p.Amount.Sub(due.Paid); err != nil {
			return nil, err
		}
		switch {
		case due.Open.Sign() <= 0:
			due.State = DuePaid
		case due.On == "" || due.On > d.Today:
			due.State = DueToCome
		case due.On == d.Today:
			due.State = DueNow
		default:
			due.State = Overdue
		}
		list[i] = due
	}
	return list, nil
}

// AtAcceptance says whether it is due with the customer's yes.
func (d *Due) AtAcceptance() bool { return d.When == pricebook.OnAcceptance }
