package options

type explanation struct{}

// Why gives the reason for the standing of a feature that is not open; for a
// counted feature, the reason for its Least (or for being ruled out).
func (a *Answer) Why(feature int) *Reason { return nil }

// WhyMost gives the reason for a Most below the feature's own.
func (a *Answer) WhyMost(feature int) *Reason { return nil }
