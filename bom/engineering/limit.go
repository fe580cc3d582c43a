package engineering

import "github.com/shopspring/decimal"

// LimitError says that something lies outside the range a formula holds for, so
// that there is no number. Its parts are in the words of people, figures with
// their units.
type LimitError struct {
	Quantity string // what it is, to begin a sentence with: "The plan area"
	Given    string // what it is given as: "0 m2"
	Allowed  string // what would do: "above 0 m2"
	Remedy   string // a whole sentence: what to do about it
}

// Error gives the limit as one sentence, without the remedy.
func (e *LimitError) Error() string {
	return e.Quantity + " is " + e.Given + " where " + e.Allowed + " is wanted."
}

// quantity is a number on its way into a formula, with what to say of it.
type quantity struct {
	name  string
	value decimal.Decimal
	unit  string
}

func (q quantity) limit(allowed, remedy string) *LimitError {
	return &LimitError{q.name, withUnit(q.value.String(), q.unit), allowed, remedy}
}

func withUnit(value, unit string) string {
	if unit == "" {
		return value
	}
	return value + " " + unit
}

// within refuses a quantity below least or above most.
func (q quantity) within(least, most int64, remedy string) error {
	if q.value.LessThan(decimal.New(least, 0)) || q.value.GreaterThan(decimal.New(most, 0)) {
		return q.limit(decimal.New(least, 0).String()+" to "+withUnit(decimal.New(most, 0).String(), q.unit), remedy)
	}
	return nil
}

// above refuses a quantity that is not above nothing, or above most.
func (q quantity) above(most int64, remedy string) error {
	if q.value.Sign() <= 0 || q.value.GreaterThan(decimal.New(most, 0)) {
		return q.limit("something above 0 and up to "+withUnit(decimal.New(most, 0).String(), q.unit), remedy)
	}
	return nil
}

// inOrder gives the first of some limits that is not kept.
func inOrder(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
