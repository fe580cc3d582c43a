package catalogue_test

import (
	"encoding/json"
	"strings"
	"testing"

	"wainscot/bom/catalogue"
)

// A catalogue that has no safety rules has the hash it had before there were
// any (TestHashStays holds it), is written as it was, and reads the same from
// a list that is there and empty.
func TestSafetyRulesLeaveOtherCataloguesAlone(t *testing.T) {
	c := sample(t)
	was := catalogue.Hash(c)
	text, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(text), "safety_rules") {
		t.Error("a catalogue without safety rules is written with some")
	}
	c.SafetyRules = []catalogue.SafetyRule{}
	if catalogue.Hash(c) != was {
		t.Error("an empty list changes the hash")
	}
	c.SafetyRules = []catalogue.SafetyRule{{Code: "gas_means_vent", If: "hob", Holds: "floor_vent", Says: "Gas means a vent."}}
	if faults := c.Validate(); len(faults) > 0 {
		t.Fatal(faults)
	}
	with := catalogue.Hash(c)
	if with == was {
		t.Error("a safety rule leaves the hash as it was")
	}
	if text, err = json.Marshal(c); err != nil {
		t.Fatal(err)
	}
	again, _, faults := catalogue.DecodeJSON(text)
	if len(faults) > 0 || catalogue.Hash(again) != with {
		t.Errorf("read again from JSON: %v", faults)
	}
	for _, change := range []func(*catalogue.SafetyRule){
		func(s *catalogue.SafetyRule) { s.Code = "other" },
		func(s *catalogue.SafetyRule) { s.If = "" },
		func(s *catalogue.SafetyRule) { s.Holds = "hob" },
		func(s *catalogue.SafetyRule) { s.Says += "!" },
		func(s *catalogue.SafetyRule) { s.Cites = "EN 1949" },
	} {
		kept := c.SafetyRules[0]
		change(&c.SafetyRules[0])
		if catalogue.Hash(c) == with {
			t.Errorf("%+v has the hash of %+v", c.SafetyRules[0], kept)
		}
		c.SafetyRules[0] = kept
	}
}
