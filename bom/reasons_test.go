package bom

import (
	"strings"
	"testing"
)

// What a salesperson reads: reasons with nothing to leave out.
func TestReasonsInWords(t *testing.T) {
	r := sample(t)
	van := Van{BaseVan: "short"}
	res := resolved(t, r, van, Choices{Features: append(wants("windows_only"), Choice{Want: "socket", Count: 3})}, SettleNothing)
	for feature, want := range map[string]string{
		"windows_only":    "Chosen: the windows only.",
		"gas_hob":         "Chosen: the windows only. Only one can be had of: Kind of work. Cooking goes with a whole conversion. So the gas hob cannot be had.",
		"leisure_battery": "Chosen: 3 of the USB socket. Sockets need a leisure battery. So the leisure battery comes with it.",
		"bench_seat":      "Bench seat can only be there when the van came with it. So the bench seat cannot be had.",
		"side_window":     "", // open
	} {
		e := explained(t, r, &res, About{Feature: feature})
		if got := sentences(e.Told); got != want || (e.Standing == "open") != (want == "") {
			t.Errorf("%s: %s, %q, want %q", feature, e.Standing, got, want)
		}
	}
	told := explained(t, r, &res, About{Feature: "gas_hob"}).Told
	if told.Causes[0].Kind != "group" || told.Causes[0].Code != "work" || len(told.Said) != 1 || !told.Minimal {
		t.Errorf("%+v", told)
	}

	res = resolved(t, r, van, Choices{Features: wants("whole_conversion", "lifting_roof")}, SettleNothing)
	most := explained(t, r, &res, About{MostOf: "side_window"})
	if got, want := sentences(most.Told), "Chosen: the lifting roof. Four windows leave too little wall to carry a lifting roof. So there can be at most 3 of the side window."; got != want {
		t.Errorf("at most: %q", got)
	}
	if e := explained(t, r, &res, About{MostOf: "socket"}); e.Told != nil {
		t.Errorf("there can be as many sockets as there are: %+v", e.Told)
	}
	res = resolved(t, r, van, Choices{Features: wants("whole_conversion", "gas_hob", "spirit_stove"), Finishes: []FinishChoice{{"worktop", "oak"}}}, SettleNothing)
	aside := res.Answer.PutAside[0].Choice
	if got, want := sentences(explained(t, r, &res, About{PutAside: &aside}).Told), "Chosen: the gas hob. Only one can be had of: Cooking. So the spirit stove cannot be had with it."; got != want {
		t.Errorf("put aside: %q", got)
	}
	for value, want := range map[string]string{
		"oak":   "ruled out: Chosen: the gas hob. An oak worktop is not to stand next to a flame. So worktop oak cannot be had.",
		"white": "open: ",
	} {
		e := explained(t, r, &res, About{Setting: "finish.worktop", Value: value})
		if got := e.Standing + ": " + sentences(e.Told); got != want {
			t.Errorf("worktop %s: %q", value, got)
		}
	}
	for value, want := range map[string]string{
		"right": "chosen: The van: steering right.",
		"left":  "ruled out: The van: steering right. There can be only one choice of steering. So steering left cannot be had.",
	} {
		e := explained(t, r, &res, About{Setting: "van.steering", Value: value})
		if got := e.Standing + ": " + sentences(e.Told); got != want {
			t.Errorf("steering %s: %q", value, got)
		}
	}
}

func explained(t *testing.T, r *Release, res *Resolution, about About) Explained {
	t.Helper()
	work := int64(ReasonWork)
	e, faults, err := Explain(r, res, about, &work)
	if err != nil || len(faults) > 0 || work >= ReasonWork && e.Told != nil && len(e.Told.Causes) > 0 {
		t.Fatal(faults, work, err)
	}
	return e
}

func sentences(told *Told) string {
	if told == nil {
		return ""
	}
	return strings.Join(told.Sentences, " ")
}

// What is asked about is read strictly, and where the work has ended there is
// still the valid reason.
func TestFaultsOfAbout(t *testing.T) {
	r := sample(t)
	res := resolved(t, r, Van{BaseVan: "short"}, Choices{Features: wants("whole_conversion", "gas_hob", "spirit_stove")}, SettleNothing)
	work, first := int64(ReasonWork), 0
	for _, test := range []struct {
		about About
		want  string
	}{
		{About{}, "not_exactly_one :"},
		{About{Feature: "bed", MostOf: "socket"}, "not_exactly_one :"},
		{About{Feature: "gas_hop"}, `unknown_code feature: Did you mean "gas_hob"?`},
		{About{MostOf: "sockets"}, `unknown_code most_of: Did you mean "socket"?`},
		{About{Setting: "van.stearing", Value: "left"}, `unknown_code setting: Did you mean "van.steering"?`},
		{About{Setting: "van.steering", Value: "lefd"}, `unknown_value value: Did you mean "left"?`},
		{About{Setting: "van.steering"}, "unknown_value value:"},
		{About{Value: "left"}, "unknown_code setting:"},
		{About{PutAside: &first}, "not_put_aside put_aside:"},
	} {
		_, faults, err := Explain(r, &res, test.about, &work)
		if err != nil || len(faults) != 1 || !strings.HasPrefix(faults[0].Code+" "+faults[0].At+": "+faults[0].Remedy, test.want) {
			t.Errorf("%+v: %v, %v", test.about, faults, err)
		}
	}
	aside := res.Answer.PutAside[0].Choice
	for _, about := range []About{{Feature: "gas_alarm"}, {PutAside: &aside}, {Setting: "van.steering", Value: "left"}} {
		none := int64(0)
		e, faults, err := Explain(r, &res, about, &none)
		if err != nil || len(faults) > 0 || e.Told == nil || e.Told.Minimal || len(e.Told.Causes) == 0 {
			t.Errorf("%+v without work: %+v, %v, %v", about, e.Told, faults, err)
		}
	}
}
