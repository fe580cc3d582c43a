package formula

import "fmt"

// Error is what is wrong with a formula, or what went wrong in working one
// out, said so that its writer can mend it.
type Error struct {
	// Column is where in the formula, in characters from 1.
	Column int
	// Reason says what is wrong, Remedy what would put it right; both are
	// whole sentences.
	Reason string
	Remedy string
}

// Error gives the fault as one line.
func (e *Error) Error() string {
	return fmt.Sprintf("column %d: %s %s", e.Column, e.Reason, e.Remedy)
}

func fault(column int, reason, remedy string) *Error {
	return &Error{Column: column, Reason: reason, Remedy: remedy}
}
