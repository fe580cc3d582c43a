package statement_test

import (
	"fmt"
	"testing"

	"wainscot/pricing/money"
	"wainscot/pricing/statement"
)

func amount(tb testing.TB, s string) money.Amount {
	tb.Helper()
	a, err := money.Parse(s, "GBP")
	if err != nil {
		tb.Fatal(err)
	}
	return a
}

func TestRuleTakes(t *testing.T) {
	most := func(s string) *money.Amount { a := amount(t, s); return &a }
	line := func(minor, words, party, account string) statement.Line {
		return statement.Line{Day: "2026-11-02", Amount: amount(t, minor), Words: words, Party: party, PartyAccount: account}
	}
	wages := line("-1850.00", "Wages Nov.", "T CARDEW", "GB63WITH00000020155555")
	for name, c := range map[string]struct {
		rule statement.Rule
		line statement.Line
		want bool
	}{
		"a word":                    {statement.Rule{Words: "wages"}, wages, true},
		"words in a row":            {statement.Rule{Words: "WAGES nov"}, wages, true},
		"marks do not count":        {statement.Rule{Words: "wages/nov."}, wages, true},
		"not in a row":              {statement.Rule{Words: "nov wages"}, wages, false},
		"part of a word":            {statement.Rule{Words: "rent"}, line("900.00", "Brentford", "", ""), false},
		"across words and name":     {statement.Rule{Words: "nov t"}, wages, false},
		"the name":                  {statement.Rule{Words: "cardew"}, wages, true},
		"the account":               {statement.Rule{PartyAccount: "GB63WITH00000020155555"}, wages, true},
		"another account":           {statement.Rule{PartyAccount: "GB36WITH00000020155556"}, wages, false},
		"word, not the account":     {statement.Rule{Words: "wages", PartyAccount: "X"}, wages, false},
		"going out":                 {statement.Rule{Words: "wages", Side: statement.Out}, wages, true},
		"coming in":                 {statement.Rule{Words: "wages", Side: statement.In}, wages, false},
		"came in":                   {statement.Rule{Words: "interest", Side: statement.In}, line("1.20", "Interest", "", ""), true},
		"came in, not out":          {statement.Rule{Words: "interest", Side: statement.Out}, line("1.20", "Interest", "", ""), false},
		"at the least":              {statement.Rule{Words: "wages", Least: most("1850.00")}, wages, true},
		"under the least":           {statement.Rule{Words: "wages", Least: most("1850.01")}, wages, false},
		"at the most":               {statement.Rule{Words: "wages", Most: most("1850.00")}, wages, true},
		"over the most":             {statement.Rule{Words: "wages", Most: most("1849.99")}, wages, false},
		"names a reference":         {statement.Rule{Words: "wages"}, line("20.00", "wages RF18 5390 0754 7034", "", ""), false},
		"a reference with a slip":   {statement.Rule{Words: "wages"}, line("20.00", "wages RF18 5390 0754 7035", "", ""), true},
		"a reference in its own":    {statement.Rule{Words: "wages"}, statement.Line{Amount: amount(t, "20.00"), Words: "wages", Reference: "RF18539007547034"}, false},
		"letters other than latin":  {statement.Rule{Words: "miete é"}, line("-5.00", "MIETE É 11", "", ""), true},
		"no words, account of none": {statement.Rule{PartyAccount: "X"}, line("-5.00", "", "", ""), false},
	} {
		if got := c.rule.Takes(&c.line); got != c.want {
			t.Errorf("%s: %t", name, got)
		}
		if faults := c.rule.Check(); len(faults) > 0 {
			t.Errorf("%s: %v", name, faults)
		}
	}
	if i := statement.NewRules([]statement.Rule{{Words: "rent"}, {Words: "wages"}, {Words: "nov"}}).Taking(&wages); i != 1 {
		t.Errorf("taken by %d, want the first that takes it", i)
	}
	if i := statement.NewRules([]statement.Rule{{Words: "rent"}}).Taking(&wages); i != -1 {
		t.Errorf("taken by %d, want none", i)
	}
}

func TestRuleCheck(t *testing.T) {
	few, many := amount(t, "1.00"), amount(t, "2.00")
	less := few.Neg()
	usd, err := money.Parse("3.00", "USD")
	if err != nil {
		t.Fatal(err)
	}
	long := make([]byte, 101)
	for i := range long {
		long[i] = 'a'
	}
	for want, r := range map[string]statement.Rule{
		"[missing words]":             {Least: &few},
		"[missing words] of marks":    {Words: "//"},
		"[bad_text words]":            {Words: string(long)},
		"[bad_text words] of control": {Words: "a\x01b"},
		"[bad_text party_account]":    {PartyAccount: "gb 12"},
		"[unknown_word side]":         {Words: "a", Side: "up"},
		"[contradiction most]":        {Words: "a", Least: &many, Most: &few},
		"[currency most]":             {Words: "a", Least: &few, Most: &usd},
		"[out_of_range least]":        {Words: "a", Least: &less},
	} {
		var got []string
		for _, f := range r.Check() {
			got = append(got, f.Code+" "+f.At)
		}
		if s := fmt.Sprint(got); len(want) < len(s) || want[:len(s)] != s {
			t.Errorf("%v: %s, want %s", r, s, want)
		}
	}
}
