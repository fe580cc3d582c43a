// Package receipt is money that came in, and what became of it: placed on jobs,
// taken back from them, given back, or lost again because the bank took it back.
//
// A Receipt is a value. What happens to it is a function that gives another and
// the faults that stand in the way; with any fault nothing has happened. What it
// does to the books is the ledger's, which papers are written the invoice's.
package receipt

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/statement"
)

// Format names the shape of a Receipt.
const Format = "wainscot-receipt/1"

// Receipt is money that came in.
type Receipt struct {
	Format string `json:"format"` // Format
	// Day it came in (YYYY-MM-DD): of a deposit the tax point.
	Day string `json:"day"`
	// Into which account that holds money, or the one of vans taken in part
	// exchange.
	Into   ledger.Account `json:"into"`
	Amount money.Amount   `json:"amount"` // above nothing
	// Payer is the id of who paid; "" while nobody knows. It need not be the
	// customer of the job.
	Payer string `json:"payer,omitempty"`
	// Foreign is what was paid in another currency, with its rate.
	Foreign *statement.Foreign `json:"foreign,omitempty"`
	// Line of the bank's statement that shows it, by its identity; "" for none.
	Line string `json:"line,omitempty"`
	// Entry of the books by which it came in.
	Entry      int64       `json:"entry"`
	Placements []Placement `json:"placements,omitempty"`
	Refunds    []Refund    `json:"refunds,omitempty"`
	// Lost says that the bank took it back, or that it never came; nil for money
	// that is here.
	Lost *Lost `json:"lost,omitempty"`
}

// Placement is a part of a receipt that is a job's.
type Placement struct {
	Number int          `json:"number"` // from 1 in the receipt
	Job    string       `json:"job"`    // id
	Amount money.Amount `json:"amount"`
	On     string       `json:"on"`
	Entry  int64        `json:"entry"`
	// DepositInvoice is the number of the paper that was written for it; 0 where
	// the job had been invoiced.
	DepositInvoice int64 `json:"deposit_invoice,omitempty"`
	// Back says that it was taken from the job again; nil while it is there.
	Back *Back `json:"back,omitempty"`
}

// Back is how a placement was taken back.
type Back struct {
	On    string `json:"on"`
	Entry int64  `json:"entry"`
	// CreditNote is the number of the paper that takes the deposit invoice back;
	// 0 for none.
	CreditNote int64 `json:"credit_note,omitempty"`
}

// Refund is a part of what was not placed that was given back.
type Refund struct {
	Amount money.Amount   `json:"amount"`
	From   ledger.Account `json:"from"`
	On     string         `json:"on"`
	Entry  int64          `json:"entry"`
	// Line of the bank's statement that shows it going out; "" for none yet.
	Line string `json:"line,omitempty"`
}

// Lost is a receipt that is not there any more.
type Lost struct {
	How   How    `json:"how"`
	On    string `json:"on"`
	Entry int64  `json:"entry"`
	// Fee that the bank took for it; FeeEntry is its entry.
	Fee      *money.Amount `json:"fee,omitempty"`
	FeeEntry int64         `json:"fee_entry,omitempty"`
}

// How a receipt was lost.
type How string

// The ways; zero is invalid.
const (
	Bounced     How = "bounced"      // a cheque or a debit that was not paid
	ChargedBack How = "charged back" // by the card company
	ByMistake   How = "by mistake"   // it never came, or was entered twice
)

// Words are the ways there are.
func (How) Words() []string { return []string{string(Bounced), string(ChargedBack), string(ByMistake)} }

// MaxPlacements of one receipt, and refunds of it.
const MaxPlacements = 200

// New is a receipt of a day not after today. Faults say what of it is wrong.
func New(r Receipt, today string) (Receipt, document.Faults) {
	var faults document.Faults
	fault := func(code, at, reason, remedy string) {
		faults = append(faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	switch {
	case !calendar.Valid(r.Day):
		fault("day", "day", fmt.Sprintf("%q is not a day.", r.Day), "Write it as year, month and day: 2027-01-11.")
	case r.Day > today:
		fault("day", "day", "That day is still to come.", "Enter money when it is there.")
	}
	if !r.Into.HoldsMoney() && r.Into != ledger.TakenIn {
		fault("account", "into", fmt.Sprintf("No money comes into %q.", r.Into), "Name the bank, cash, card takings or the customers' money.")
	}
	if r.Amount.Sign() <= 0 {
		fault("amount", "amount", "It is nothing, or less.", "Give what came in.")
	}
	r.Format, r.Placements, r.Refunds, r.Lost = Format, nil, nil, nil
	return r, faults
}

// Left is what of it is neither placed nor given back.
func (r *Receipt) Left() money.Amount {
	if r.Lost != nil {
		return money.Zero(r.Amount.Currency())
	}
	left := r.Amount.Minor()
	for i := range r.Placements {
		if r.Placements[i].Back == nil {
			left -= r.Placements[i].Amount.Minor()
		}
	}
	for i := range r.Refunds {
		left -= r.Refunds[i].Amount.Minor()
	}
	a, err := r.Amount.WithMinor(left)
	if err != nil {
		return money.Zero(r.Amount.Currency())
	}
	return a
}

// Place puts a part to a job. Entry and papers are filled in by whoever enters
// it.
func (r *Receipt) Place(job string, part money.Amount, on string) (Receipt, document.Faults) {
	if faults := r.takes(part, on, "amount"); len(faults) > 0 {
		return *r, faults
	}
	if len(r.Placements) >= MaxPlacements {
		return *r, document.Faults{{Code: "too_many", At: "placements", Reason: "It is in as many parts as a receipt may be.", Remedy: "Place larger parts."}}
	}
	now := *r
	now.Placements = append(slices.Clone(r.Placements), Placement{Number: len(r.Placements) + 1, Job: job, Amount: part, On: on})
	return now, nil
}

// GiveBack gives a part back that is not placed.
func (r *Receipt) GiveBack(part money.Amount, from ledger.Account, on string) (Receipt, document.Faults) {
	faults := r.takes(part, on, "amount")
	if !from.HoldsMoney() {
		faults = append(faults, document.Fault{Code: "account", At: "from", Reason: fmt.Sprintf("There is no money in %q.", from), Remedy: "Name the account it is paid from."})
	}
	if len(r.Refunds) >= MaxPlacements {
		faults = append(faults, document.Fault{Code: "too_many", At: "refunds", Reason: "It was given back in as many parts as may be.", Remedy: "Leave it."})
	}
	if len(faults) > 0 {
		return *r, faults
	}
	now := *r
	now.Refunds = append(slices.Clone(r.Refunds), Refund{Amount: part, From: from, On: on})
	return now, nil
}

// takes is what stands against a part being taken from what is left on a day.
func (r *Receipt) takes(part money.Amount, on, at string) document.Faults {
	var faults document.Faults
	left := r.Left()
	switch {
	case r.Lost != nil:
		faults = append(faults, document.Fault{Code: "lost", At: at, Reason: "The money is not there any more.", Remedy: "Enter it anew when it has come."})
	case part.Currency() != r.Amount.Currency() || part.Sign() <= 0:
		faults = append(faults, document.Fault{Code: "amount", At: at, Reason: "That is no part of it.", Remedy: fmt.Sprintf("Give more than nothing, in %s.", r.Amount.Currency())})
	case part.Minor() > left.Minor():
		faults = append(faults, document.Fault{Code: "more_than_there_is", At: at, Reason: fmt.Sprintf("%s of it is left.", left), Remedy: "Take no more than that, or take back what took the rest."})
	}
	if !calendar.Valid(on) || on < r.Day {
		faults = append(faults, document.Fault{Code: "day", At: "on", Reason: "That is before the money came.", Remedy: "Name a day on which it was there."})
	}
	return faults
}

// Here is a placement that is there, by its number.
func (r *Receipt) Here(number int) (*Placement, document.Faults) {
	if number < 1 || number > len(r.Placements) {
		return nil, document.Faults{{Code: "no_placement", At: "number", Reason: fmt.Sprintf("There is no placement %d.", number), Remedy: "Name one that there is."}}
	}
	if p := &r.Placements[number-1]; p.Back == nil {
		return p, nil
	}
	return nil, document.Faults{{Code: "taken_back", At: "number", Reason: fmt.Sprintf("Placement %d was taken back.", number), Remedy: "Leave it, or place it anew."}}
}

// TakeBack takes a placement from its job again.
func (r *Receipt) TakeBack(number int, on string) (Receipt, document.Faults) {
	if _, faults := r.Here(number); len(faults) > 0 {
		return *r, faults
	}
	now := *r
	now.Placements = slices.Clone(r.Placements)
	now.Placements[number-1].Back = &Back{On: on}
	return now, nil
}

// Lose says that the money is not there any more. Whatever of it was placed is
// to be taken back before; what was given back cannot be lost.
func (r *Receipt) Lose(how How, on string, fee *money.Amount) (Receipt, document.Faults) {
	var faults document.Faults
	fault := func(code, at, reason, remedy string) {
		faults = append(faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	if !slices.Contains(how.Words(), string(how)) {
		fault("unknown_word", "how", fmt.Sprintf("%q is no way to lose money.", how), "Use bounced, charged back or by mistake.")
	}
	if r.Into == ledger.TakenIn && how != ByMistake && slices.Contains(how.Words(), string(how)) {
		fault("contradiction", "how", "A van in part exchange neither bounces nor is it charged back.", "Say by mistake: what was entered is taken back, and the van leaves the stock book.")
	}
	if r.Lost != nil {
		fault("lost", "how", "It is lost already.", "Leave it.")
	} else if len(r.Refunds) > 0 || r.Left() != r.Amount {
		fault("in_use", "how", "Part of it is placed or was given back.", "Take that back first.")
	}
	if !calendar.Valid(on) || on < r.Day {
		fault("day", "on", "That is before the money came.", "Name the day on which it went.")
	}
	if fee != nil && (fee.Sign() <= 0 || fee.Currency() != r.Amount.Currency()) {
		fault("amount", "fee", "That is no fee.", fmt.Sprintf("Give more than nothing, in %s, or leave it out.", r.Amount.Currency()))
	}
	if len(faults) > 0 {
		return *r, faults
	}
	now := *r
	now.Lost = &Lost{How: how, On: on, Fee: fee}
	return now, nil
}

// Encode writes a receipt as it is kept.
func (r *Receipt) Encode() ([]byte, error) { return json.Marshal(r) }

// Decode reads a receipt as it is kept.
func Decode(text []byte) (*Receipt, error) {
	in := json.NewDecoder(bytes.NewReader(text))
	in.DisallowUnknownFields()
	var r Receipt
	if err := in.Decode(&r); err != nil {
		return nil, fmt.Errorf("receipt: %w", err)
	}
	if _, err := in.Token(); !errors.Is(err, io.EOF) || r.Format != Format {
		return nil, fmt.Errorf("receipt: the format %q is not %q, or more follows", r.Format, Format)
	}
	return &r, nil
}
