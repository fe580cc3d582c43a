package statement_test

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"wainscot/bom/document"
	"wainscot/pricing/money"
	"wainscot/pricing/statement"
)

// balanced is a statement of lines between two days with its balances.
func balanced(opening int64, lines []statement.Line, from, until string) statement.Statement {
	of := func(minor int64) *money.Amount {
		a, _ := money.FromMinor(minor, "GBP") // pence of a year of small sums
		return &a
	}
	s := statement.Statement{Account: "X", Currency: "GBP", From: from, Until: until, Lines: []statement.Line{}}
	for _, l := range lines {
		switch {
		case l.Day < from:
			opening += l.Amount.Minor()
		case l.Day <= until:
			s.Lines = append(s.Lines, l)
		}
	}
	s.Opening = of(opening)
	for _, l := range s.Lines {
		opening += l.Amount.Minor()
	}
	s.Closing = of(opening)
	return s
}

// TestAccountComesTogether: a year cut into statements that touch or overlap,
// brought in forwards, backwards or both ways from the middle, is the account
// that the year is at once; with one left out whose lines come to something,
// what lies beyond is refused.
func TestAccountComesTogether(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		day := func(n int) string { return fmt.Sprintf("2026-%02d-%02d", 1+n/28, 1+n%28) }
		var lines []statement.Line
		const days = 12 * 28
		for d := range days {
			for range rapid.IntRange(0, 2).Draw(t, "lines") {
				a, err := money.FromMinor(rapid.Int64Range(-500, 500).Filter(func(n int64) bool { return n != 0 }).Draw(t, "minor"), "GBP")
				if err != nil {
					t.Fatal(err)
				}
				lines = append(lines, statement.Line{Day: day(d), Amount: a, Words: fmt.Sprint(d)})
			}
		}
		opening := rapid.Int64Range(-1000, 1000).Draw(t, "opening")
		var pieces []statement.Statement
		said := rapid.Bool().Draw(t, "balances")
		for d := 0; d < days; {
			end := min(days-1, d+rapid.IntRange(0, 60).Draw(t, "days"))
			back := rapid.IntRange(0, min(d, 5)).Draw(t, "overlap")
			p := balanced(opening, lines, day(d-back), day(end))
			if !said && len(pieces) > 0 { // later ones give no balances
				p.Opening, p.Closing = nil, nil
			}
			pieces, d = append(pieces, p), end+1
		}
		whole := balanced(opening, lines, day(0), day(days-1))
		zero := money.Zero("GBP")
		a := statement.Account{Currency: "GBP", Sum: zero}
		known := map[string]bool{}
		bring := func(a statement.Account, s *statement.Statement) (statement.Account, string) {
			var come []statement.Line
			for i, name := range s.Identities() {
				if !known[name] {
					come = append(come, s.Lines[i])
				}
			}
			after, faults := a.With(s, come)
			if len(faults) > 0 {
				return after, faults[0].Code
			}
			for _, name := range s.Identities() {
				known[name] = true
			}
			return after, ""
		}
		down := 0 // the piece to begin with; without balances only onwards
		if said {
			down = rapid.IntRange(0, len(pieces)-1).Draw(t, "first")
		}
		order := []int{down}
		for up := down + 1; len(order) < len(pieces); {
			if down > 0 && (up == len(pieces) || rapid.Bool().Draw(t, "earlier")) {
				down--
				order = append(order, down)
			} else {
				order = append(order, up)
				up++
			}
		}
		for _, i := range order {
			var code string
			if a, code = bring(a, &pieces[i]); code != "" {
				t.Fatalf("piece %d of %d: %s", i, len(pieces), code)
			}
		}
		if *a.Opening != *whole.Opening || *a.Closing != *whole.Closing || a.From != whole.From || a.Until != whole.Until {
			t.Fatalf("it is %s %s to %s %s, want %s %s to %s %s", a.From, a.Opening, a.Until, a.Closing, whole.From, whole.Opening, whole.Until, whole.Closing)
		}
		if said != (a.Said == whole.Until) && len(pieces) > 1 {
			t.Errorf("the bank said its balance on %q", a.Said)
		}
		again, code := bring(a, &whole)
		if code != "" || again.Sum != a.Sum {
			t.Errorf("the whole year brings %s, %s", again.Sum, code)
		}
		if len(pieces) < 3 || !said {
			return
		}
		missing := 0
		for _, l := range pieces[1].Lines {
			if l.Day > pieces[0].Until && l.Day < pieces[2].From {
				missing += int(l.Amount.Minor())
			}
		}
		clear(known)
		b, _ := bring(statement.Account{Currency: "GBP", Sum: zero}, &pieces[0])
		if _, code = bring(b, &pieces[2]); (code == "does_not_follow") != (missing != 0) {
			t.Errorf("with %d missing in between it is %q", missing, code)
		}
	})
}

func TestAccountWith(t *testing.T) {
	pence := func(minor int64) *money.Amount {
		a, _ := money.FromMinor(minor, "GBP")
		return &a
	}
	line := func(day string, minor int64) statement.Line { return statement.Line{Day: day, Amount: *pence(minor)} }
	of := func(from, until string, opening, closing *money.Amount, lines ...statement.Line) statement.Statement {
		return statement.Statement{Currency: "GBP", From: from, Until: until, Opening: opening, Closing: closing, Lines: lines}
	}
	for name, c := range map[string]struct {
		statements []statement.Statement
		want       string
	}{
		"nothing said": {[]statement.Statement{of("2026-11-02", "2026-11-03", nil, nil, line("2026-11-02", 5))}, "2026-11-02 ? 2026-11-03 ? said  sum 5"},
		"said later": {[]statement.Statement{of("2026-11-02", "2026-11-03", nil, nil, line("2026-11-02", 5)),
			of("2026-11-04", "2026-11-04", pence(7), pence(10), line("2026-11-04", 3))}, "2026-11-02 2 2026-11-04 10 said 2026-11-04 sum 8"},
		"the same day again, later": {[]statement.Statement{of("2026-11-02", "2026-11-02", pence(1), pence(6), line("2026-11-02", 5)),
			of("2026-11-02", "2026-11-02", pence(1), pence(9), line("2026-11-02", 3))}, "2026-11-02 1 2026-11-02 9 said 2026-11-02 sum 8"},
		"a day of nothing": {[]statement.Statement{of("2026-11-02", "2026-11-02", pence(1), pence(6), line("2026-11-02", 5)),
			of("2026-11-03", "2026-11-03", pence(6), pence(6))}, "2026-11-02 1 2026-11-03 6 said 2026-11-03 sum 5"},
		"worked out since": {[]statement.Statement{of("2026-11-02", "2026-11-02", pence(1), pence(6), line("2026-11-02", 5)),
			of("2026-11-03", "2026-11-04", nil, nil, line("2026-11-04", -2))}, "2026-11-02 1 2026-11-04 4 said 2026-11-02 sum 3"},
		"a file of nothing": {[]statement.Statement{of("2026-11-02", "2026-11-02", pence(1), pence(6), line("2026-11-02", 5)),
			of("", "", nil, nil)}, "2026-11-02 1 2026-11-02 6 said 2026-11-02 sum 5"},
		"other money": {[]statement.Statement{{Currency: "USD"}}, "currency"},
		"a gap":       {[]statement.Statement{of("2026-11-02", "2026-11-02", pence(1), pence(6), line("2026-11-02", 5)), of("2026-11-04", "2026-11-04", pence(7), pence(7))}, "does_not_follow"},
	} {
		a := statement.Account{Currency: "GBP", Sum: *pence(0)}
		got := ""
		for i := range c.statements {
			after, faults := a.With(&c.statements[i], c.statements[i].Lines)
			if len(faults) > 0 {
				got = faults[0].Code
				break
			}
			a = after
			show := func(a *money.Amount) string {
				if a == nil {
					return "?"
				}
				return fmt.Sprint(a.Minor())
			}
			got = fmt.Sprintf("%s %s %s %s said %s sum %d", a.From, show(a.Opening), a.Until, show(a.Closing), a.Said, a.Sum.Minor())
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s", name, got, c.want)
		}
	}
}

// TestPieces: a statement brought in piece by piece is what it is at once, under
// the same names.
func TestPieces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var lines []statement.Line
		for i := range rapid.IntRange(0, 30).Draw(t, "lines") {
			a, _ := money.FromMinor(rapid.Int64Range(-9, 9).Draw(t, "minor"), "GBP")
			lines = append(lines, statement.Line{Day: fmt.Sprintf("2026-11-%02d", 1+i/3), Amount: a, Words: rapid.SampledFrom([]string{"a", "b"}).Draw(t, "words"),
				BankID: rapid.SampledFrom([]string{"", "1", "2", "3"}).Draw(t, "id")})
		}
		whole := balanced(7, lines, "2026-11-01", "2026-11-30")
		if rapid.Bool().Draw(t, "no balances") {
			whole.Opening, whole.Closing = nil, nil
		}
		zero := money.Zero("GBP")
		at, piecewise := statement.Account{Currency: "GBP", Sum: zero}, statement.Account{Currency: "GBP", Sum: zero}
		at, faults := at.With(&whole, whole.Lines)
		most := rapid.IntRange(1, 9).Draw(t, "most")
		var names []string
		for i, p := range whole.Pieces(most) {
			var more []document.Fault
			if piecewise, more = piecewise.With(&p, p.Lines); len(more) > 0 {
				t.Fatalf("piece %d: %v", i, more)
			}
			if len(p.Lines) > most+2 {
				t.Errorf("a piece of %d lines, not %d", len(p.Lines), most)
			}
			names = append(names, p.Identities()...)
		}
		if len(faults) > 0 || !slices.Equal(names, whole.Identities()) {
			t.Errorf("other lines, %v", faults)
		}
		if fmt.Sprint(show(at)) != fmt.Sprint(show(piecewise)) {
			t.Errorf("at once %v, in pieces %v", show(at), show(piecewise))
		}
	})
	mixed := statement.Statement{Lines: []statement.Line{{Day: "2026-11-02"}, {Day: "2026-11-01"}}}
	if n := len(mixed.Pieces(1)); n != 1 {
		t.Errorf("out of order it is %d pieces", n)
	}
}

func show(a statement.Account) []any {
	all := []any{a.From, a.Until, a.Said, a.Sum}
	for _, b := range []*money.Amount{a.Opening, a.Closing} {
		if b == nil {
			all = append(all, "?")
		} else {
			all = append(all, *b)
		}
	}
	return all
}
