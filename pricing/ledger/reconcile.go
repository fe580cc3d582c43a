package ledger

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"wainscot/bom/calendar"
	"wainscot/pricing/money"
	"wainscot/pricing/statement"
)

// Due is something that money is waited for, or has to be paid: a step of a
// job's payments, a refund, a supplier's invoice. Amount is what is still
// open: above nothing to come in, below to go out.
type Due struct {
	ID     string       `json:"id"`
	Job    string       `json:"job,omitempty"`
	Amount money.Amount `json:"amount"`
	On     string       `json:"on,omitempty"` // the day it is due; "" for not yet known
	// Reference to pay under (ISO 11649), without spaces; dues of one job share
	// it.
	Reference string `json:"reference,omitempty"`
	// Also are other references that mean it: the whole quote's, for each of its
	// jobs.
	Also []string `json:"also,omitempty"`
	// Entered says that it stands in the books already, as On: a line with that
	// amount shows it, and is not money that has come besides.
	Entered bool `json:"entered,omitempty"`
	// Names that a payment may come under, surname or firm first in the list;
	// Accounts that the same payer has paid from before.
	Names    []string `json:"names,omitempty"`
	Accounts []string `json:"accounts,omitempty"`
}

// Proposal is what a line of a statement may be.
type Proposal struct {
	Line  string       `json:"line"` // its identity
	Parts []Part       `json:"parts"`
	Left  money.Amount `json:"left"` // of the line, that no part explains
	Kind  MatchKind    `json:"kind"`
	// Score from 1 to 100; Certain is what may be applied without asking.
	Score   int    `json:"score"`
	Certain bool   `json:"certain"`
	Says    string `json:"says"`
}

// Part of a line that pays a due.
type Part struct {
	Due    string       `json:"due"`
	Job    string       `json:"job,omitempty"`
	Amount money.Amount `json:"amount"`
}

// MatchKind is by what a line was recognised.
type MatchKind string

// The kinds, the surest first; zero is invalid.
const (
	ByReference MatchKind = "reference"
	ByTypo      MatchKind = "reference with a slip"
	ByAccount   MatchKind = "account and amount"
	ByName      MatchKind = "name and amount"
	BySum       MatchKind = "several together"
	ByAmount    MatchKind = "amount alone"
	ByPayout    MatchKind = "payout of card takings"
	ByEntry     MatchKind = "entered before"
)

// Words are the kinds there are.
func (MatchKind) Words() []string {
	return []string{string(ByReference), string(ByTypo), string(ByAccount), string(ByName), string(BySum), string(ByAmount), string(ByPayout), string(ByEntry)}
}

// mostTogether is how many dues of one payer a line without a reference is
// tried to be the sum of.
const mostTogether = 4

// Matcher recognises what lines pay. What a certain proposal takes of a due is
// gone for the lines after it, so that nothing is reconciled twice; an
// uncertain one takes nothing.
type Matcher struct {
	dues []Due
	open []int64 // minor units still open of each
	// By reference, in the order they fall due; by reference with a sign left
	// out; by amount; by account; by a word of a name.
	byReference map[string][]int
	slips       map[string][]string
	byAmount    map[int64][]int
	byAccount   map[string][]int
	byName      map[string][]int
	byID        map[string]int
	before      map[paidUnder][]string // days of lines that named a reference of ours
	currency    money.Currency
}

// paidUnder is an amount under a reference.
type paidUnder struct {
	reference string
	minor     int64
}

// NewMatcher is a matcher for what is open in one currency; dues in another are
// left out, as are those of nothing.
func NewMatcher(dues []Due, c money.Currency) *Matcher {
	m := &Matcher{byReference: map[string][]int{}, slips: map[string][]string{}, byAmount: map[int64][]int{}, byAccount: map[string][]int{}, byName: map[string][]int{}, byID: map[string]int{}, before: map[paidUnder][]string{}, currency: c}
	m.dues = slices.DeleteFunc(slices.Clone(dues), func(d Due) bool { return d.Amount.Currency() != c || d.Amount.IsZero() })
	slices.SortStableFunc(m.dues, func(a, b Due) int {
		if a.On == "" || b.On == "" { // what has no day yet comes last
			return cmp.Compare(b.On, a.On)
		}
		return cmp.Compare(a.On, b.On)
	})
	m.open = make([]int64, len(m.dues))
	for i, d := range m.dues {
		m.open[i], m.byID[d.ID] = d.Amount.Minor(), i
		m.byAmount[d.Amount.Minor()] = append(m.byAmount[d.Amount.Minor()], i)
		for _, a := range d.Accounts {
			if a != "" {
				m.byAccount[a] = append(m.byAccount[a], i)
			}
		}
		for _, n := range d.Names {
			if words := nameWords(n); len(words) > 0 {
				m.byName[words[0]] = append(m.byName[words[0]], i)
			}
		}
		for _, reference := range d.references() {
			if d.Entered {
				break // it is known by day and amount first
			}
			if m.byReference[reference] == nil {
				for _, s := range shortened(reference) {
					m.slips[s] = append(m.slips[s], reference)
				}
				m.slips[reference] = append(m.slips[reference], reference)
			}
			m.byReference[reference] = append(m.byReference[reference], i)
		}
	}
	return m
}

// Match says what a line may be, the likeliest first; none where nothing is
// known of it. identity is the line's.
func (m *Matcher) Match(identity string, l *statement.Line) []Proposal {
	if l.Amount.IsZero() || l.Amount.Currency() != m.currency {
		return nil
	}
	var list []Proposal
	add := func(p *Proposal) {
		if p != nil {
			p.Line = identity
			list = append(list, *p)
		}
	}
	found := l.References()
	entered := m.matchEntered(l, found)
	for i := range entered {
		entered[i].Line = identity
	}
	if len(entered) == 1 && entered[0].Certain {
		m.paid(l, found)
		m.Take(entered[0])
		return entered
	}
	add(m.matchReferences(l, found))
	if len(list) == 0 {
		add(m.matchSlip(l, found))
	}
	if len(list) == 0 {
		for _, p := range m.matchPayer(l) {
			add(&p)
		}
	}
	if len(list) == 0 {
		add(m.matchAmount(l))
	}
	if len(entered) > 0 { // the same money may have been entered: somebody has to look
		for i := range list {
			list[i].Certain, list[i].Score = false, min(list[i].Score, entered[0].Score-1)
		}
		list = append(entered, list...)
	}
	slices.SortStableFunc(list, func(a, b Proposal) int { return b.Score - a.Score })
	m.paid(l, found)
	if len(list) > 0 && list[0].Certain {
		m.Take(list[0])
		return list[:1]
	}
	return list
}

// references are all that mean the due.
func (d *Due) references() []string {
	list := make([]string, 0, 1+len(d.Also))
	for _, r := range append([]string{d.Reference}, d.Also...) {
		if r != "" {
			list = append(list, r)
		}
	}
	return list
}

// How many days a bank's line and what was entered by hand may lie apart, and how
// many where neither names a reference and it is to be certain.
const (
	enteredWithin = 7
	enteredSurely = 3
)

// matchEntered: what stands in the books already with the amount of the line, and
// about its day. One whose reference the line names, or the only one where nobody
// names any, is certain. One that names another's reference is not it.
func (m *Matcher) matchEntered(l *statement.Line, found []string) []Proposal {
	var agree, silent []int
	for _, i := range m.byAmount[l.Amount.Minor()] {
		d := &m.dues[i]
		if !d.Entered || m.open[i] != l.Amount.Minor() || daysApart(l.Day, d.On) > enteredWithin {
			continue
		}
		ours := d.references()
		switch {
		case slices.ContainsFunc(found, func(r string) bool { return slices.Contains(ours, r) }):
			agree = append(agree, i)
		case len(ours) == 0 || len(found) == 0:
			silent = append(silent, i)
		}
	}
	list, certain := agree, len(agree) == 1
	if len(agree) == 0 {
		list = silent
		certain = len(silent) == 1 && len(found) == 0 && len(m.dues[silent[0]].references()) == 0 && daysApart(l.Day, m.dues[silent[0]].On) <= enteredSurely
	}
	out := make([]Proposal, len(list))
	for k, i := range list {
		d := &m.dues[i]
		out[k] = Proposal{Parts: []Part{{d.ID, d.Job, l.Amount}}, Left: money.Zero(m.currency), Kind: ByEntry, Score: 90, Certain: certain,
			Says: fmt.Sprintf("It was entered on %s with this amount.", d.On)}
		if certain {
			out[k].Score = 97
		}
	}
	return out
}

// daysApart of two days; many where one is none.
func daysApart(a, b string) int {
	days, err := calendar.Days(a, b)
	if err != nil {
		return math.MaxInt
	}
	return max(days, -days)
}

// Remember says that a line was dealt with before: the same again soon after may
// have been paid twice.
func (m *Matcher) Remember(l *statement.Line) { m.paid(l, l.References()) }

// paid remembers the day of a line by each of its references and its amount.
func (m *Matcher) paid(l *statement.Line, references []string) {
	for _, r := range references {
		if m.byReference[r] != nil {
			at := paidUnder{r, l.Amount.Minor()}
			m.before[at] = append(m.before[at], l.Day)
		}
	}
}

// twiceWithin so many days the same amount under the same reference is asked
// about.
const twiceWithin = 14

// again is the day on which the same came under one of these references, not
// long before or after; "" for none.
func (m *Matcher) again(l *statement.Line, references []string) string {
	for _, r := range references {
		for _, day := range m.before[paidUnder{r, l.Amount.Minor()}] {
			if daysApart(day, l.Day) <= twiceWithin {
				return day
			}
		}
	}
	return ""
}

// untouched says whether nothing was taken yet of the first due that is paid.
func (m *Matcher) untouched(p *Proposal) bool {
	i := m.byID[p.Parts[0].Due]
	return m.open[i] == m.dues[i].Amount.Minor()
}

// anothers says whether payer and amount are those of something else that is
// due, and the payer is not whose dues are paid.
func (m *Matcher) anothers(l *statement.Line, p *Proposal) bool {
	theirs := append(slices.Clone(m.byAccount[l.PartyAccount]), m.named(l)...)
	paysOwn := slices.ContainsFunc(p.Parts, func(part Part) bool { return slices.Contains(theirs, m.byID[part.Due]) })
	return !paysOwn && slices.ContainsFunc(theirs, func(i int) bool { return m.open[i] == l.Amount.Minor() })
}

// Take takes what a proposal pays off what is open, as when somebody confirmed
// it.
func (m *Matcher) Take(p Proposal) {
	for _, part := range p.Parts {
		if i, ok := m.byID[part.Due]; ok {
			m.open[i] -= part.Amount.Minor()
		}
	}
}

// matchReferences: one reference that is ours, or several.
func (m *Matcher) matchReferences(l *statement.Line, found []string) *Proposal {
	var ours []string
	for _, r := range found {
		if m.byReference[r] != nil && !slices.Contains(ours, r) {
			ours = append(ours, r)
		}
	}
	if len(ours) == 0 {
		return nil
	}
	p := m.allot(l, ours)
	if p == nil { // no guess at another's: it says whose it is
		return &Proposal{Parts: []Part{}, Left: l.Amount, Kind: ByReference, Score: 60,
			Says: "It names the reference " + strings.Join(ours, " and ") + ", of which nothing is open any more: it may have been paid twice."}
	}
	p.Kind = ByReference
	p.Says = "It names the reference " + strings.Join(ours, " and ") + "."
	switch {
	case len(ours) > 1 && (!p.Left.IsZero() || !m.whole(p)):
		p.Score = 80
		p.Says += " Together they do not come to what was paid; say how it is parted."
	case p.Left.IsZero():
		p.Score, p.Certain = 100, true
		if m.whole(p) {
			break
		}
		p.Score, p.Says = 98, p.Says+" It is a part of what is due."
		if day := m.again(l, ours); day != "" && m.untouched(p) {
			p.Score, p.Certain, p.Says = 75, false, p.Says+" The same came on "+day+": it may have been paid twice."
		} else if m.anothers(l, p) {
			p.Score, p.Certain, p.Says = 72, false, p.Says+" But payer and amount are those of something else that is due."
		}
	default:
		p.Score = 85
		p.Says += fmt.Sprintf(" It is %s more than is due.", p.Left)
	}
	return p
}

// allot parts a line among the dues of references, what falls due first first.
// nil where nothing of theirs is open on that side.
func (m *Matcher) allot(l *statement.Line, references []string) *Proposal {
	left := l.Amount.Minor()
	var parts []Part
	taken := map[int]bool{} // one that two of the references mean pays once
	for _, r := range references {
		for _, i := range m.byReference[r] {
			if taken[i] {
				continue
			}
			taken[i] = true
			take := within(m.open[i], left)
			if take == 0 {
				continue
			}
			parts = append(parts, Part{m.dues[i].ID, m.dues[i].Job, amountOf(take, m.currency)})
			left -= take
		}
	}
	if len(parts) == 0 {
		return nil
	}
	return &Proposal{Parts: parts, Left: amountOf(left, m.currency)}
}

// within is as much of what is open as there is, of the same sign.
func within(open, left int64) int64 {
	switch {
	case open > 0 && left > 0:
		return min(open, left)
	case open < 0 && left < 0:
		return max(open, left)
	}
	return 0
}

// whole says whether every part pays all that is open of its due.
func (m *Matcher) whole(p *Proposal) bool {
	return !slices.ContainsFunc(p.Parts, func(part Part) bool {
		return m.open[m.byID[part.Due]] != part.Amount.Minor()
	})
}

// matchSlip: a reference that is nobody's but one sign away from one of ours.
// The check digits (ISO 11649) catch every single wrong sign, so one that holds
// is another's and no slip. Certain only with what is due to the penny.
func (m *Matcher) matchSlip(l *statement.Line, found []string) *Proposal {
	var near []string
	for _, r := range found {
		if money.ValidReference(r) {
			continue
		}
		for _, s := range append(shortened(r), r) {
			for _, ours := range m.slips[s] {
				if oneSlip(r, ours) && !slices.Contains(near, ours) {
					near = append(near, ours)
				}
			}
		}
	}
	if len(near) != 1 {
		return nil
	}
	p := m.allot(l, near)
	if p == nil {
		return nil
	}
	p.Kind, p.Score = ByTypo, 70
	p.Says = "It names a reference with a slip in it; the nearest is " + near[0] + "."
	if p.Left.IsZero() && m.whole(p) {
		p.Score, p.Certain = 95, true
		p.Says += " The amount is what is due."
	}
	return p
}

// matchPayer: who paid, by the account or the name, and the amount of one of
// their dues or of several together.
func (m *Matcher) matchPayer(l *statement.Line) []Proposal {
	theirs := func(found []int) (open []int) {
		for _, i := range found {
			if m.open[i] != 0 && (m.open[i] > 0) == (l.Amount.Sign() > 0) && !slices.Contains(open, i) {
				open = append(open, i)
			}
		}
		return open
	}
	known := theirs(m.byAccount[l.PartyAccount])
	named := theirs(m.named(l))
	for _, c := range []struct {
		open  []int
		kind  MatchKind
		score int
		says  string
	}{{known, ByAccount, 90, "It comes from an account that paid for this customer before"}, {named, ByName, 75, "It comes under the customer's name"}} {
		var same []int
		for _, i := range c.open {
			if m.open[i] == l.Amount.Minor() {
				same = append(same, i)
			}
		}
		switch {
		case len(same) == 1:
			p := m.paying(same)
			p.Kind, p.Score, p.Says = c.kind, c.score, c.says+", and the amount is what is due."
			// The same account, with nothing else it could be for: neither of ours
			// nor under somebody else's reference.
			p.Certain = c.kind == ByAccount && len(known) == 1 && !slices.ContainsFunc(l.References(), money.ValidReference)
			return []Proposal{p}
		case len(same) > 1:
			var list []Proposal
			for _, i := range same {
				p := m.paying([]int{i})
				p.Kind, p.Score, p.Says = c.kind, c.score/2, c.says+"; the amount is that of several."
				list = append(list, p)
			}
			return list
		}
		if sum := m.together(c.open, l.Amount.Minor()); sum != nil {
			p := m.paying(sum)
			p.Kind, p.Score, p.Says = BySum, c.score-20, c.says+fmt.Sprintf(", and %d of what is due come to it together.", len(sum))
			return []Proposal{p}
		}
	}
	return nil
}

// named are the dues whose payer's name stands in a line, every word of it.
func (m *Matcher) named(l *statement.Line) []int {
	said := nameWords(l.Party + " " + l.Words)
	var found []int
	for _, w := range said {
		for _, i := range m.byName[w] {
			if slices.ContainsFunc(m.dues[i].Names, func(n string) bool {
				words := nameWords(n)
				return len(words) > 0 && !slices.ContainsFunc(words, func(w string) bool { return !slices.Contains(said, w) })
			}) {
				found = append(found, i)
			}
		}
	}
	return found
}

// together finds at most mostTogether dues that come to an amount: the only
// ones that do, or nil.
func (m *Matcher) together(open []int, amount int64) []int {
	const mostOpen = 12 // a payer with more is asked
	if len(open) < 2 || len(open) > mostOpen {
		return nil
	}
	var found []int
	ways := 0
	var look func(from int, left int64, taken []int)
	look = func(from int, left int64, taken []int) {
		if left == 0 && len(taken) > 1 {
			ways++
			found = slices.Clone(taken)
			return
		}
		if len(taken) == mostTogether {
			return
		}
		for k := from; k < len(open) && ways < 2; k++ {
			look(k+1, left-m.open[open[k]], append(taken, open[k]))
		}
	}
	look(0, amount, nil)
	if ways != 1 {
		return nil
	}
	return found
}

// matchAmount: nothing but the amount speaks, and it is that of one due alone.
func (m *Matcher) matchAmount(l *statement.Line) *Proposal {
	var same []int
	for _, i := range m.byAmount[l.Amount.Minor()] {
		if m.open[i] == l.Amount.Minor() {
			same = append(same, i)
		}
	}
	if len(same) != 1 {
		return nil
	}
	p := m.paying(same)
	p.Kind, p.Score, p.Says = ByAmount, 30, "Nothing but the amount speaks for it, which nothing else that is due has."
	return &p
}

// paying pays all that is open of dues.
func (m *Matcher) paying(dues []int) Proposal {
	p := Proposal{Left: money.Zero(m.currency)}
	for _, i := range dues {
		p.Parts = append(p.Parts, Part{m.dues[i].ID, m.dues[i].Job, amountOf(m.open[i], m.currency)})
	}
	return p
}

// shortened are a text with each of its signs left out in turn.
func shortened(s string) []string {
	list := make([]string, 0, len(s))
	for i := range len(s) {
		if i > 0 && s[i] == s[i-1] {
			continue
		}
		list = append(list, s[:i]+s[i+1:])
	}
	return list
}

// oneSlip says whether one text is another with one sign wrong, left out, too
// many, or two neighbours exchanged.
func oneSlip(a, b string) bool {
	if a == b {
		return false
	}
	if len(a) > len(b) {
		a, b = b, a
	}
	i := 0
	for i < len(a) && a[i] == b[i] {
		i++
	}
	switch len(b) - len(a) {
	case 0:
		return a[i+1:] == b[i+1:] || i+1 < len(a) && a[i] == b[i+1] && a[i+1] == b[i] && a[i+2:] == b[i+2:]
	case 1:
		return a[i:] == b[i+1:]
	}
	return false
}

// nameWords are the words of a name as banks write them: letters and digits in
// capitals, no initials.
func nameWords(s string) []string {
	words := strings.FieldsFunc(strings.ToUpper(s), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	return slices.DeleteFunc(words, func(w string) bool { return len(w) < 2 })
}
