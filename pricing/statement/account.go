package statement

import (
	"fmt"

	"wainscot/bom/document"
	"wainscot/pricing/money"
)

// Account is what all statements of an account so far come to. The zero Account
// with a Currency is one of which nothing is known yet.
type Account struct {
	Currency money.Currency `json:"currency"`
	// From and Until are the first and last day of what is known; "" for none.
	From  string `json:"from,omitempty"`
	Until string `json:"until,omitempty"`
	// Opening before the first line and Closing after the last; nil where no
	// statement has given a balance yet.
	Opening *money.Amount `json:"opening,omitempty"`
	Closing *money.Amount `json:"closing,omitempty"`
	// Said is the last day whose closing balance the bank gave itself; a later
	// Closing was worked out from the lines.
	Said string `json:"said,omitempty"`
	// Sum of all lines.
	Sum money.Amount `json:"sum"`
}

// With is the account when a statement of it came in. come are the lines of the
// statement that were not known yet. Whatever comes in whatever order, opening
// and lines come to the closing balance: a statement that would break that is
// refused, since one between is missing or the same lines came under other
// names.
func (a Account) With(s *Statement, come []Line) (Account, document.Faults) {
	fault := func(code, reason, remedy string) (Account, document.Faults) {
		return a, document.Faults{{Code: code, At: "statements", Reason: reason, Remedy: remedy}}
	}
	if s.Currency != a.Currency {
		return fault("currency", fmt.Sprintf("The statement is in %s, the account in %s.", s.Currency, a.Currency), "Add the account in the other currency.")
	}
	after := a
	minor := a.Sum.Minor()
	for i := range come {
		minor += come[i].Amount.Minor()
	}
	const tooMuch = "The lines of the account come to more than can be kept."
	var err error
	if after.Sum, err = money.FromMinor(minor, a.Currency); err != nil {
		return fault("out_of_range", tooMuch, "Look whether the file is whole.")
	}
	if s.From != "" && (a.From == "" || s.From < a.From) {
		after.From, after.Opening = s.From, s.Opening
	}
	if s.Until > a.Until || s.Until == a.Until && len(come) > 0 {
		after.Until, after.Closing = s.Until, s.Closing
		if s.Closing != nil {
			after.Said = s.Until
		}
	}
	if after.Opening != nil && after.Closing == nil {
		after.Closing, err = shifted(*after.Opening, minor)
	} else if after.Opening == nil && after.Closing != nil {
		after.Opening, err = shifted(*after.Closing, -minor)
	}
	if err != nil {
		return fault("out_of_range", tooMuch, "Look whether the file is whole.")
	}
	if after.Opening == nil {
		return after, nil
	}
	if comes := after.Opening.Minor() + minor; comes != after.Closing.Minor() {
		return fault("does_not_follow",
			fmt.Sprintf("With the lines that are new the account would close on %s with %s, and not with %s.", after.Until, amountIn(comes, a.Currency), after.Closing),
			"Import first what lies between; or leave it, if the same lines came from a file of another form.")
	}
	return after, nil
}

func shifted(a money.Amount, minor int64) (*money.Amount, error) {
	moved, err := a.WithMinor(a.Minor() + minor)
	return &moved, err
}

// amountIn is an amount for a sentence.
func amountIn(minor int64, c money.Currency) string {
	if a, err := money.FromMinor(minor, c); err == nil {
		return a.String()
	}
	return "more than can be kept"
}
