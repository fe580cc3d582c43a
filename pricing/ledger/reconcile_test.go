package ledger_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/statement"
)

func line(tb testing.TB, amount, words string) statement.Line {
	tb.Helper()
	return statement.Line{Day: "2026-11-02", Amount: gbp(tb, amount), Words: words}
}

// told is a proposal as one can read it.
func told(list []ledger.Proposal) string {
	var all []string
	for _, p := range list {
		s := fmt.Sprintf("%s %d", p.Kind, p.Score)
		if p.Certain {
			s += " certain"
		}
		for _, part := range p.Parts {
			s += " " + part.Due + "=" + part.Amount.Fixed()
		}
		if !p.Left.IsZero() {
			s += " left " + p.Left.Fixed()
		}
		all = append(all, s)
	}
	return strings.Join(all, "; ")
}

// The references are published examples of ISO 11649 (RF18 5390 0754 7034 holds)
// and others made by its rule.
func TestMatch(t *testing.T) {
	one, two, three := "RF18539007547034", money.NewReference("000000104201"), money.NewReference("000000104301")
	dues := func() []ledger.Due {
		return []ledger.Due{
			{ID: "a1", Job: "a", Amount: gbp(t, "1000.00"), On: "2026-11-01", Reference: one, Names: []string{"Fairweather"}},
			{ID: "a2", Job: "a", Amount: gbp(t, "4000.00"), On: "2026-12-01", Reference: one, Names: []string{"Fairweather"}},
			{ID: "b1", Job: "b", Amount: gbp(t, "700.00"), On: "2026-11-05", Reference: two, Names: []string{"Aldous"}, Accounts: []string{"GB82WEST12345698765432"}},
			{ID: "c1", Job: "c", Amount: gbp(t, "700.00"), On: "2026-11-09", Reference: three, Names: []string{"Thornley Motor Yard"}},
			{ID: "c2", Job: "c", Amount: gbp(t, "55.50"), Reference: three, Names: []string{"Thornley Motor Yard"}},
			{ID: "refund", Job: "d", Amount: gbp(t, "-24.00"), Names: []string{"Quill"}},
			{ID: "owed", Job: "d", Amount: gbp(t, "100.00"), Names: []string{"Quill"}},
			{ID: "abroad", Job: "e", Amount: usd(t, "10.00"), Names: []string{"Foreign"}},
			{ID: "f1", Job: "f", Amount: gbp(t, "31.00"), Accounts: []string{"DE1", ""}},
			{ID: "f2", Job: "f", Amount: gbp(t, "32.00"), Accounts: []string{"DE1"}},
			{ID: "f3", Job: "f", Amount: gbp(t, "33.00"), Accounts: []string{"DE1"}},
			{ID: "f4", Job: "f", Amount: gbp(t, "30.00"), Accounts: []string{"DE1"}},
		}
	}
	from := func(l statement.Line, party, account string) statement.Line {
		l.Party, l.PartyAccount = party, account
		return l
	}
	spaced := money.PrintReference
	for name, c := range map[string]struct {
		line statement.Line
		want string
	}{
		"as asked":              {line(t, "1000.00", "deposit "+spaced(one)), "reference 100 certain a1=1000.00"},
		"all at once":           {line(t, "5000.00", one), "reference 100 certain a1=1000.00 a2=4000.00"},
		"a part":                {line(t, "400.00", strings.ToLower(one)), "reference 98 certain a1=400.00"},
		"one and a part":        {line(t, "1400.00", one), "reference 98 certain a1=1000.00 a2=400.00"},
		"more than is due":      {line(t, "5000.01", one), "reference 85 a1=1000.00 a2=4000.00 left 0.01"},
		"two jobs":              {line(t, "1455.50", two+" and "+three), "reference 100 certain b1=700.00 c1=700.00 c2=55.50"},
		"two jobs, not the sum": {line(t, "1000.00", two+" "+three), "reference 80 b1=700.00 c1=300.00"},
		"in its own field":      {statement.Line{Day: "2026-11-02", Amount: gbp(t, "700.00"), Reference: two}, "reference 100 certain b1=700.00"},
		"with dashes":           {line(t, "1000.00", strings.ReplaceAll(spaced(one), " ", "-")), "reference 100 certain a1=1000.00"},
		"run into other words":  {line(t, "1000.00", "VAN"+one), "reference 100 certain a1=1000.00"},
		"a wrong sign":          {line(t, "1000.00", "RF18539007547035"), "reference with a slip 95 certain a1=1000.00"},
		"one left out":          {line(t, "1000.00", "RF1853900754703"), "reference with a slip 95 certain a1=1000.00"},
		"one too many":          {line(t, "1000.00", "RF185390075470344"), "reference with a slip 95 certain a1=1000.00"},
		"two exchanged":         {line(t, "1000.00", "RF18539007547043"), "reference with a slip 95 certain a1=1000.00"},
		"a slip and a part":     {line(t, "999.00", "RF18539007547035"), "reference with a slip 70 a1=999.00"},
		"another's reference":   {line(t, "12.34", "RF1853900754707"+"0Y"[1:]), ""},
		"account and amount":    {from(line(t, "700.00", "van"), "W. A.", "GB82WEST12345698765432"), "account and amount 90 certain b1=700.00"},
		"name and amount":       {from(line(t, "1000.00", "van"), "MS O FAIRWEATHER", ""), "name and amount 75 a1=1000.00"},
		"a firm's name":         {from(line(t, "700.00", ""), "THORNLEY MOTOR YARD LTD", ""), "name and amount 75 c1=700.00"},
		"half a firm's name":    {from(line(t, "41.00", ""), "THORNLEY BAKERY", ""), ""},
		"several together":      {from(line(t, "755.50", ""), "Thornley Motor Yard", ""), "several together 55 c1=700.00 c2=55.50"},
		"the amount alone":      {line(t, "55.50", "thanks"), "amount alone 30 c2=55.50"},
		"an amount of two":      {line(t, "700.00", "thanks"), ""},
		"money out":             {from(line(t, "-24.00", "back"), "J Quill", ""), "name and amount 75 refund=-24.00"},
		"out, not in":           {line(t, "-1000.00", one), "reference 60 left -1000.00"},
		"two slips":             {line(t, "1000.00", "RF18530907547035"), "amount alone 30 a1=1000.00"},
		"two, one exchanged":    {line(t, "1000.00", "RF18593007547035"), "amount alone 30 a1=1000.00"},
		"a name twice":          {from(line(t, "700.00", "Aldous van"), "W ALDOUS", ""), "name and amount 75 b1=700.00"},
		"in and out together":   {from(line(t, "76.00", ""), "Quill", ""), ""},
		"of other money":        {from(line(t, "10.00", ""), "Foreign", ""), ""},
		"one of four":           {from(line(t, "31.00", ""), "", "DE1"), "account and amount 90 f1=31.00"},
		"two of four":           {from(line(t, "61.00", ""), "", "DE1"), "several together 70 f1=31.00 f4=30.00"},
		"two of four, two ways": {from(line(t, "63.00", ""), "", "DE1"), ""},
		"from no account":       {from(line(t, "64.00", ""), "", ""), ""},
		"nothing of it known":   {line(t, "3.21", "interest"), ""},
	} {
		m := ledger.NewMatcher(dues(), "GBP")
		if got := told(m.Match("x", &c.line)); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
	// Halfway between two of ours it is neither's; and one that holds is somebody
	// else's, however near.
	left, right, between := halfway(t)
	half := line(t, "9.00", between)
	m := ledger.NewMatcher([]ledger.Due{{ID: "l", Amount: gbp(t, "9.00"), Reference: left}, {ID: "r", Amount: gbp(t, "8.00"), Reference: right}}, "GBP")
	if got := told(m.Match("x", &half)); got != "amount alone 30 l=9.00" {
		t.Errorf("%s, halfway between %s and %s, is %q", between, left, right, got)
	}
	other := line(t, "1000.00", holdsToo(t, one))
	m = ledger.NewMatcher(dues(), "GBP")
	if got := told(m.Match("x", &other)); got != "amount alone 30 a1=1000.00" {
		t.Errorf("%s is %q", other.Words, got)
	}
	// Nothing is paid twice, and what was confirmed is gone.
	m = ledger.NewMatcher(dues(), "GBP")
	first, again := line(t, "700.00", two), line(t, "700.00", two)
	if got := told(m.Match("1", &first)); got != "reference 100 certain b1=700.00" {
		t.Error(got)
	}
	if got := told(m.Match("2", &again)); got != "reference 60 left 700.00" {
		t.Errorf("paid a second time it is %q", got)
	}
	more := from(line(t, "1000.00", ""), "Fairweather", "")
	m.Take(m.Match("3", &more)[0])
	if got := told(m.Match("4", &more)); got != "" {
		t.Errorf("confirmed, and still there: %q", got)
	}
}

// halfway finds two references that differ in two signs, and a text that differs
// from each in one.
func halfway(tb testing.TB) (left, right, between string) {
	tb.Helper()
	for a := 100; a < 1000; a++ {
		for b := a + 1; b < 1000; b++ {
			left, right = money.NewReference(fmt.Sprint(a)), money.NewReference(fmt.Sprint(b))
			var differ []int
			for i := range left {
				if left[i] != right[i] {
					differ = append(differ, i)
				}
			}
			if len(differ) == 2 {
				return left, right, left[:differ[0]] + right[differ[0]:differ[0]+1] + left[differ[0]+1:]
			}
		}
	}
	tb.Fatal("there are no two such references")
	return "", "", ""
}

// holdsToo finds a reference that holds and is another with a sign more.
func holdsToo(tb testing.TB, r string) string {
	tb.Helper()
	for i := 4; i < len(r); i++ {
		for _, c := range "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ" {
			if other := r[:i] + string(c) + r[i:]; money.ValidReference(other) {
				return other
			}
		}
	}
	tb.Fatal("there is none")
	return ""
}

func usd(tb testing.TB, s string) money.Amount {
	tb.Helper()
	a, err := money.Parse(s, "USD")
	if err != nil {
		tb.Fatal(err)
	}
	return a
}

// year is a generated year: what is due, what the bank says, and what each line
// truly is, as parts of dues by job; made from one seed.
type year struct {
	dues  []ledger.Due
	lines []statement.Line
	truth []map[string]int64 // minor units by job; nil for what is not ours
	how   []string
}

// madeYear has payments as customers make them: with the reference (62 %), a
// slip in it (8 %), two slips (1 %), somebody else's reference (1 %), none but a
// name (12 %) or neither (3 %), two jobs together (4 %), in parts (5 %), twice
// (2 %), too much (2 %); a third have a balance to pay later under the same
// reference. Of the lines that are not ours some come to what is due to the
// penny, some name a reference that holds and is nobody's here, some come from a
// customer's account.
func madeYear(jobs, lines int) year {
	r := rand.New(rand.NewPCG(2026, 11)) // the same year each time
	surnames := []string{"Aldous", "Fairweather", "Quill", "Penrose", "Hartnoll", "Ashby", "Merrick", "Sorrel", "Tamblyn", "Vane", "Wren", "Yarrow"}
	given := []string{"Ada", "Bram", "Clem", "Dora", "Esme", "Fitz", "Greta"}
	var y year
	say := func(minor int64, words, party, account, how string, truth map[string]int64) {
		amount, _ := money.FromMinor(minor, "GBP")
		y.lines = append(y.lines, statement.Line{Day: "2026-11-02", Amount: amount, Words: words, Party: party, PartyAccount: account})
		y.truth, y.how = append(y.truth, truth), append(y.how, how)
	}
	type owed struct {
		job, reference, name, account string
		minor                         int64
		more                          bool // is due later, under the same reference
	}
	var all []owed
	for i := range jobs {
		o := owed{job: fmt.Sprint("job ", i), reference: money.NewReference(fmt.Sprintf("%012d01", i+1)), minor: 50_00 * (20 + r.Int64N(400))}
		if r.IntN(3) > 0 { // most prices end in odd pounds or pence
			o.minor += r.Int64N(50_00)
		}
		surname := surnames[r.IntN(len(surnames))] + fmt.Sprint(r.IntN(40)) // some hundred names for thousands of people
		o.name, o.account = surname, fmt.Sprintf("GB%08d", r.IntN(1e8))
		all = append(all, o)
		d := ledger.Due{ID: fmt.Sprint("due ", i), Job: o.job, Reference: o.reference, Names: []string{surname}, On: fmt.Sprintf("2026-%02d-%02d", 1+i%12, 1+i%28)}
		d.Amount, _ = money.FromMinor(o.minor, "GBP")
		if r.IntN(3) == 0 {
			d.Accounts = []string{o.account}
		}
		y.dues = append(y.dues, d)
		if r.IntN(3) == 0 {
			balance := d
			balance.ID, balance.On = fmt.Sprint("balance ", i), "2026-12-31"
			balance.Amount, _ = money.FromMinor(50_00*(40+r.Int64N(400))+r.Int64N(50_00), "GBP")
			y.dues = append(y.dues, balance)
			all[i].more = true
		}
	}
	for i := 0; i < len(all); i++ {
		o := all[i]
		party := strings.ToUpper(given[r.IntN(len(given))][:1] + " " + o.name)
		whole := map[string]int64{o.job: o.minor}
		switch n := r.IntN(100); {
		case n < 62:
			say(o.minor, "deposit "+money.PrintReference(o.reference), party, o.account, "reference", whole)
		case n < 70:
			say(o.minor, slip(r, o.reference), party, o.account, "slip", whole)
		case n < 71:
			say(o.minor, slip(r, slip(r, o.reference)), party, o.account, "two slips", whole)
		case n < 72:
			say(o.minor, all[r.IntN(len(all))].reference, party, o.account, "another's reference", whole)
		case n < 84:
			say(o.minor, "for the van", party, o.account, "name", whole)
		case n < 87:
			say(o.minor, "for the van", "A FRIEND", "", "neither", whole)
		case n < 91 && i+1 < len(all):
			i++
			p := all[i]
			say(o.minor+p.minor, o.reference+" + "+p.reference, party, o.account, "together", map[string]int64{o.job: o.minor, p.job: p.minor})
		case n < 96:
			half := o.minor / 2
			say(half, o.reference, party, o.account, "part", map[string]int64{o.job: half})
			say(o.minor-half, o.reference, party, o.account, "part", map[string]int64{o.job: o.minor - half})
		case n < 98: // whichever comes first pays, and the other is to be looked at
			say(o.minor, o.reference, party, o.account, "twice", whole)
			say(o.minor, o.reference, party, o.account, "twice", whole)
		default:
			if o.more {
				whole[o.job] += 1000
			}
			say(o.minor+1000, o.reference, party, o.account, "too much", whole)
		}
	}
	for len(y.lines) < lines {
		minor := 1 + r.Int64N(500_000)
		if r.IntN(4) > 0 {
			minor = -minor
		}
		switch due := all[r.IntN(len(all))]; r.IntN(40) {
		case 0:
			say(due.minor, "thanks", "A STRANGER", "", "stranger", nil)
			continue
		case 1: // of another creditor's, from somebody who is a customer here
			say(due.minor, money.NewReference(fmt.Sprintf("9%011d", r.Int64N(1e9))), strings.ToUpper(due.name), due.account, "another creditor's", nil)
			continue
		case 2:
			say(minor, "for the cooker", strings.ToUpper(due.name), due.account, "customer's, for something else", nil)
			continue
		}
		say(minor, []string{"wages", "rent", "timber", "card payout", "interest"}[r.IntN(5)], "FIRM "+fmt.Sprint(r.IntN(500)), fmt.Sprintf("GB%08d", r.IntN(1e8)), "not ours", nil)
	}
	r.Shuffle(len(y.lines), func(i, j int) {
		y.lines[i], y.lines[j] = y.lines[j], y.lines[i]
		y.truth[i], y.truth[j] = y.truth[j], y.truth[i]
		y.how[i], y.how[j] = y.how[j], y.how[i]
	})
	return y
}

// slip is a reference with one sign wrong, left out, doubled or exchanged with
// its neighbour.
func slip(r *rand.Rand, s string) string {
	i := 2 + r.IntN(len(s)-3)
	switch r.IntN(4) {
	case 0:
		return s[:i] + fmt.Sprint((int(s[i]-'0')+1+r.IntN(9))%10) + s[i+1:]
	case 1:
		return s[:i] + s[i+1:]
	case 2:
		return s[:i] + s[i:i+1] + s[i:]
	}
	return s[:i] + s[i+1:i+2] + s[i:i+1] + s[i+2:]
}

// right says whether a proposal puts a line's money where it belongs: no job
// gets what is not its own.
func right(p ledger.Proposal, truth map[string]int64) bool {
	got := map[string]int64{}
	for _, part := range p.Parts {
		got[part.Job] += part.Amount.Minor()
	}
	for job, minor := range got {
		if truth[job] != minor {
			return false
		}
	}
	return true
}

// TestWhatOnlyLooksCertain: amount, name, account and even a reference that holds
// speak for something, and it is somebody else's, or was paid before.
func TestWhatOnlyLooksCertain(t *testing.T) {
	ours, other, later := money.NewReference("00000000001201"), money.NewReference("00000000001301"), money.NewReference("00000000001401")
	nobodys := money.NewReference("99000000001201")
	line := func(day, amount, words, party, account string) statement.Line {
		return statement.Line{Day: day, Amount: gbp(t, amount), Words: words, Party: party, PartyAccount: account}
	}
	for name, c := range map[string]struct {
		before []statement.Line
		line   statement.Line
		want   string
	}{
		"another's reference, own amount and name":    {nil, line("2026-03-02", "30.00", other, "M BARROW", ""), "reference 72 other=30.00"},
		"another's reference, own amount and account": {nil, line("2026-03-02", "30.00", other, "", "GB1"), "reference 72 other=30.00"},
		"a part, from whose it is":                    {nil, line("2026-03-02", "30.00", other, "P QUAYLE", ""), "reference 98 certain other=30.00"},
		"a part, from nobody known":                   {nil, line("2026-03-02", "30.00", other, "A FRIEND", ""), "reference 98 certain other=30.00"},
		"another creditor's reference":                {nil, line("2026-03-02", "30.00", nobodys, "M BARROW", "GB1"), "account and amount 90 ours=30.00"},
		"the account, for something else":             {nil, line("2026-03-02", "31.00", "cooker", "M BARROW", "GB1"), ""},
		"the deposit again, and more is due":          {[]statement.Line{line("2026-03-01", "20.00", later, "", "")}, line("2026-03-02", "20.00", later, "", ""), "reference 75 balance=20.00"},
		"again, longer after":                         {[]statement.Line{line("2026-02-01", "20.00", later, "", "")}, line("2026-03-02", "20.00", later, "", ""), "reference 98 certain balance=20.00"},
		"again, and that is what is due next":         {[]statement.Line{line("2026-03-01", "90.00", later, "", "")}, line("2026-03-02", "90.00", later, "", ""), "reference 100 certain balance=90.00"},
		"of the same amount, another's":               {[]statement.Line{line("2026-03-01", "30.00", other, "", "")}, line("2026-03-02", "30.00", ours, "", ""), "reference 100 certain ours=30.00"},
	} {
		m := ledger.NewMatcher([]ledger.Due{
			{ID: "ours", Amount: gbp(t, "30.00"), Reference: ours, Names: []string{"Barrow"}, Accounts: []string{"GB1"}},
			{ID: "other", Amount: gbp(t, "500.00"), Reference: other, Names: []string{"Quayle"}},
			{ID: "balance", Amount: gbp(t, "90.00"), Reference: later},
		}, "GBP")
		for i := range c.before {
			m.Remember(&c.before[i])
		}
		if got := told(m.Match("x", &c.line)); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
	// In parts of the same amount one due is paid, and nobody is asked.
	m := ledger.NewMatcher([]ledger.Due{{ID: "one", Amount: gbp(t, "60.00"), Reference: ours, On: "2026-04-01"}, {ID: "two", Amount: gbp(t, "70.00"), Reference: ours, On: "2026-05-01"}}, "GBP")
	for i, want := range []string{"reference 98 certain one=20.00", "reference 98 certain one=20.00", "reference 100 certain one=20.00", "reference 75 two=20.00"} {
		part := line("2026-03-02", "20.00", ours, "", "")
		if got := told(m.Match("x", &part)); got != want {
			t.Errorf("part %d: %q, want %q", i+1, got, want)
		}
	}
}

// TestAYearIsMatched: of what would be applied without asking at least 995 in
// 1,000 is right, and of our payments most are found.
func TestAYearIsMatched(t *testing.T) {
	y := madeYear(2_000, 8_000)
	m := ledger.NewMatcher(y.dues, "GBP")
	certain, sure, proposed, ours := 0, 0, 0, 0
	missed := map[string]int{}
	twice := map[string]bool{}
	for i := range y.lines {
		list := m.Match(fmt.Sprint(i), &y.lines[i])
		if y.how[i] == "twice" {
			if twice[y.lines[i].Words] {
				y.truth[i] = nil // the second time it is no payment of what is due
			}
			twice[y.lines[i].Words] = true
		}
		if y.truth[i] != nil {
			ours++
		}
		if len(list) == 0 {
			if y.truth[i] != nil {
				missed[y.how[i]]++
			}
			continue
		}
		ok := right(list[0], y.truth[i])
		if ok {
			proposed++
		}
		if list[0].Certain {
			certain++
			if ok {
				sure++
			} else {
				t.Logf("%s taken for sure: %q of %s, %s", y.how[i], y.lines[i].Words, y.lines[i].Amount, told(list))
			}
		}
	}
	t.Logf("%d lines, %d ours: %d certain, %d of them right (%.2f %%); %d right among all first proposals (%.1f %% of ours); without one %v",
		len(y.lines), ours, certain, sure, 100*float64(sure)/float64(certain), proposed, 100*float64(proposed)/float64(ours), missed)
	if 1000*sure < 995*certain {
		t.Errorf("%d of %d certain ones are right", sure, certain)
	}
	if 100*certain < 80*ours {
		t.Errorf("%d of our %d payments are certain", certain, ours)
	}
}

// BenchmarkMatch: 100,000 lines of a statement against 5,000 open dues.
func BenchmarkMatch(b *testing.B) {
	y := madeYear(5_000, 100_000)
	b.ReportAllocs()
	for b.Loop() {
		m := ledger.NewMatcher(y.dues, "GBP")
		for i := range y.lines {
			m.Match("", &y.lines[i])
		}
	}
}

// TestWholeQuotesReference: the reference on the quote's paper means each of its
// jobs, the longest due first; named beside a job's own, nothing is paid twice.
func TestWholeQuotesReference(t *testing.T) {
	whole, one, two := money.NewReference("000012"), money.NewReference("00000000001201"), money.NewReference("00000000001202")
	dues := []ledger.Due{
		{ID: "two", Amount: gbp(t, "30.00"), On: "2026-03-02", Reference: two, Also: []string{whole}},
		{ID: "one", Amount: gbp(t, "20.00"), On: "2026-03-01", Reference: one, Also: []string{whole}},
	}
	for words, want := range map[string]string{
		whole:             "one 20.00, two 10.00",
		two:               "two 30.00",
		whole + " " + one: "one 20.00, two 10.00",
		one + " " + whole: "one 20.00, two 10.00",
	} {
		m := ledger.NewMatcher(dues, "GBP")
		found := m.Match("line", &statement.Line{Day: "2026-03-03", Amount: gbp(t, "30.00"), Words: words})
		var told []string
		if len(found) > 0 {
			for _, p := range found[0].Parts {
				told = append(told, p.Due+" "+p.Amount.Fixed())
			}
		}
		if got := strings.Join(told, ", "); got != want {
			t.Errorf("%s pays %s, want %s", words, got, want)
		}
	}
}

// TestWhatWasEnteredIsNotMoneyAgain: a line that shows a receipt somebody entered
// is that, whatever is due under the same reference; only what is not entered
// pays.
func TestWhatWasEnteredIsNotMoneyAgain(t *testing.T) {
	one, two := money.NewReference("00000000001201"), money.NewReference("00000000001301")
	dues := []ledger.Due{
		{ID: "due", Amount: gbp(t, "100.00"), On: "2026-03-20", Reference: one},
		{ID: "hand", Amount: gbp(t, "40.00"), On: "2026-03-02", Also: []string{one}, Entered: true},
		{ID: "other", Amount: gbp(t, "40.00"), On: "2026-03-02", Also: []string{two}, Entered: true},
		{ID: "plain", Amount: gbp(t, "7.00"), On: "2026-03-02", Entered: true},
	}
	for name, c := range map[string]struct{ day, amount, words, want string }{
		"its reference":        {"2026-03-04", "40.00", one, "entered before hand certain"},
		"another's":            {"2026-03-04", "40.00", two, "entered before other certain"},
		"none":                 {"2026-03-04", "40.00", "van", "entered before hand, entered before other"},
		"a month later":        {"2026-04-04", "40.00", one, "reference due certain"},
		"another amount":       {"2026-03-04", "41.00", one, "reference due certain"},
		"no reference at all":  {"2026-03-04", "7.00", "cash", "entered before plain certain"},
		"its day is uncertain": {"2026-03-07", "7.00", "cash", "entered before plain"},
		"reference and plain":  {"2026-03-03", "7.00", one, "entered before plain, reference due"},
	} {
		m := ledger.NewMatcher(dues, "GBP")
		var told []string
		for _, p := range m.Match("line", &statement.Line{Day: c.day, Amount: gbp(t, c.amount), Words: c.words}) {
			if p.Kind == ledger.ByAmount || p.Kind == ledger.BySum {
				continue
			}
			one := fmt.Sprintf("%s %s", p.Kind, p.Parts[0].Due)
			if p.Certain {
				one += " certain"
			}
			told = append(told, one)
		}
		if got := strings.Join(told, ", "); got != c.want {
			t.Errorf("%s: %s, want %s", name, got, c.want)
		}
	}
	m := ledger.NewMatcher(dues, "GBP")
	for i, want := range []string{"hand", "due"} { // the same again is not the same money
		if got := m.Match("line", &statement.Line{Day: "2026-03-04", Amount: gbp(t, "40.00"), Words: one}); len(got) == 0 || got[0].Parts[0].Due != want {
			t.Errorf("the %dth time it is %v, want %s", i+1, got, want)
		}
	}
}
