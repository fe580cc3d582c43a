package money_test

import (
	"errors"
	"testing"

	"wainscot/pricing/money"
)

// ISO 11649 examples as published: RF18 5390 0754 7034 and RF18 5390 0754 70Y
// hold, RF17 5390 0754 7034 does not.
func TestReferencesOfOthers(t *testing.T) {
	for text, want := range map[string]string{
		"RF18 5390 0754 7034":          "RF18539007547034",
		"rf18 5390 0754 70y":           "RF185390075470Y",
		"RF17 5390 0754 7034":          "",
		"RF18 5390 0754 7043":          "", // two digits changed places
		"RF185390075470340":            "",
		"RF18":                         "",
		"":                             "",
		"RF1A 5390 0754 7034":          "",
		"RF18 5390-0754-7034":          "",
		"FR18 5390 0754 7034":          "",
		"RF18 5390 0754 7034 00000000": "",
		"RF18 5390 0754 703é":          "",
	} {
		got, err := money.ReadReference(text)
		if got != want || (err == nil) != (want != "") || err != nil && !errors.Is(err, money.ErrReference) {
			t.Errorf("%q: %q, %v", text, got, err)
		}
	}
	if got := money.PrintReference("RF18539007547034"); got != "RF18 5390 0754 7034" {
		t.Error(got)
	}
	if got := money.PrintReference("RF185390075470Y"); got != "RF18 5390 0754 70Y" {
		t.Error(got)
	}
}
