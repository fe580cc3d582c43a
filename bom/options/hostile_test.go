package options

import (
	"errors"
	"fmt"
	"testing"

	"wainscot/bom/formula"
)

// pigeonholes is the classic hard case: so many pigeons, each in one of too few
// holes, no two together. Deciding it takes conflict-driven search time that
// grows beyond any bound (Haken, "The intractability of resolution", 1985).
// With gate, nothing is asked unless the feature "gate" is on.
func pigeonholes(pigeons, holes int, gate bool) Model {
	var m Model
	feature := func(code string, group int) {
		m.Features = append(m.Features, Feature{Code: code, Name: code, Group: group, Least: 1, Most: 1})
	}
	required := formula.True
	if gate {
		feature("gate", -1)
		required = formula.On("gate", 1)
	}
	for p := range pigeons {
		m.Groups = append(m.Groups, Group{
			Code: fmt.Sprintf("pigeon%d", p), Name: fmt.Sprintf("Pigeon %d", p),
			AtMostOne: true, When: formula.True, Required: required,
		})
		for h := range holes {
			feature(fmt.Sprintf("p%d_h%d", p, h), p)
		}
	}
	for h := range holes {
		for p := range pigeons {
			for o := range p {
				m.Rules = append(m.Rules, Rule{
					Code: fmt.Sprintf("clash_%d_%d_%d", h, o, p), Says: "One pigeon a hole.",
					If:   formula.On(fmt.Sprintf("p%d_h%d", o, h), 1),
					Then: formula.Not(formula.On(fmt.Sprintf("p%d_h%d", p, h), 1)),
				})
			}
		}
	}
	return m
}

// TestHostileRulesEnd shows that rules made to take for ever end with a clear
// answer, at compiling and at resolving.
func TestHostileRulesEnd(t *testing.T) {
	if _, err := Compile(pigeonholes(5, 4, false)); !errors.Is(err, ErrNothingAllowed) {
		t.Errorf("five pigeons in four holes: %v", err)
	}
	if _, err := Compile(pigeonholes(14, 13, false)); !errors.Is(err, ErrBudget) {
		t.Errorf("fourteen pigeons in thirteen holes: %v", err)
	}
	rules, err := Compile(pigeonholes(14, 13, true))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := rules.Resolve([]Choice{{Verb: Want, Feature: "gate", Source: FromCustomer}}); !errors.Is(err, ErrBudget) {
		t.Errorf("the gate to fourteen pigeons: %v", err)
	}
	// What is spent on one question is not missing from the next.
	a, err := rules.Resolve([]Choice{{Verb: Refuse, Feature: "gate", Source: FromCustomer}})
	if err != nil || a.Options[1].Standing != Open {
		t.Errorf("after a spent budget: %v, %v", a.Options[1], err)
	}
}

func TestResolveRefusesWhatItDoesNotKnow(t *testing.T) {
	m := Model{
		Features: []Feature{
			{Code: "hob", Name: "Hob", Group: -1, Least: 1, Most: 1},
			{Code: "sockets", Name: "Sockets", Group: -1, Least: 2, Most: 6},
		},
		Settings: []Setting{{Name: "van.steering", Label: "steering", Values: []string{"left", "right"}, Exact: true}},
	}
	rules, err := Compile(m)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []Choice{
		{Verb: Want, Feature: "hobb"},
		{Feature: "hob"},
		{Verb: Number, Feature: "sockets", N: 7},
		{Verb: Number, Feature: "sockets", N: 1},
		{Verb: Number, Feature: "sockets", N: -1},
		{Verb: AtLeast, Feature: "sockets", N: 0},
		{Verb: Pick, Feature: "van.steering", Value: "middle"},
		{Verb: Pick, Feature: "van.stearing", Value: "left"},
	} {
		if _, err := rules.Resolve([]Choice{c}); err == nil {
			t.Errorf("%+v was taken", c)
		}
	}
	if _, err := rules.Resolve(nil); err != nil {
		t.Error(err)
	}
}
