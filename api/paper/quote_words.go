package paper

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/quote"
)

// leaf is all that stands on a quote's paper, in words and in order. PDF and
// HTML set the same leaf, so they cannot tell two stories.
type leaf struct {
	Title      string // "Quote 1042", for the head of the file too
	Revision   string
	Draft      string // what it says on every page of a draft
	Letterhead quote.Letterhead
	To         []string
	EndTo      []string // a dealer's own customer
	Facts      []pair
	Lead       string
	Vans       []vanLeaf
	// Sums of the whole, where there is more than one van.
	Sums     []sum
	VATNotes []string
	Notes    []string
	// Payments are all of them, under PaymentsTitle; ChangePayments what a
	// change adds to them or takes off.
	Payments       []payment
	PaymentsTitle  string
	ChangePayments []payment
	Reference      string
	Bank           []string
	// Papers come with the van at handover.
	Papers       []string
	NotIncluded  []string
	Cautions     []string
	Cancellation []string
	Terms        []string
	TermsSHA256  string // its first 16 digits
	Accept       string // what is signed for
	Sign         []string
	Footer       string
}

// pair is a name and what it is.
type pair struct{ Name, Says string }

// Text is both as one line of words.
func (p pair) Text() string {
	if p.Name == "" {
		return p.Says
	}
	return p.Name + ": " + p.Says
}

// vanLeaf is one van, or several that are alike.
type vanLeaf struct {
	Title string
	Facts []pair
	Price string // what the prices of its table are
	VAT   bool   // each row says its own VAT
	Plain bool   // no row is of a number of things
	Parts []part
	Sums  []sum
	// Extras are offered beside the total, to be ticked.
	Extras    []row
	Open      []pair
	LeavesOut []string
	Remarks   []pair
	Weight    string
	// Axles say what rests on them and may, and what is reckoned with.
	Axles    []pair
	Evidence []pair // that others have to give
	Class    []classList
	// ClassNote goes with Class: that the authority decides.
	ClassNote   string
	ExtrasPrice string
}

// classList is one published list of what counts towards a van's class.
type classList struct {
	Heading string
	Met     []string // what the van has of it
	NotMet  []string
}

// part is some rows of a van's table under a heading.
type part struct {
	Heading string
	Rows    []row
	// Lists are what costs nothing by itself, named under the rows.
	Lists []pair
}

// row is one line of a price table.
type row struct {
	Name    string
	Details []string
	Count   string
	Each    string
	Price   string
	VAT     string
}

// sum is a line below a table; Strong for what is to be paid.
type sum struct {
	Name   string
	Amount string
	Strong bool
}

// payment is one step of the schedule.
type payment struct{ Name, When, Amount string }

// words puts a quote into words.
func (q Quote) words() (*leaf, error) {
	if err := q.check(); err != nil {
		return nil, err
	}
	d := q.Document
	l := letter(d.Paper.Letterhead, q.Customer)
	l.EndTo = address(q.EndCustomer)
	l.Title = "Quote"
	if d.Number > 0 {
		l.Title = fmt.Sprintf("Quote %d", d.Number)
	}
	if q.Draft {
		l.Draft = "Draft, not an offer"
	}
	q.head(l)
	t := teller{q: q, index: newIndex(q.Catalogue)}
	groups, err := alike(d)
	if err != nil {
		return nil, err
	}
	for _, g := range groups {
		l.Vans = append(l.Vans, t.van(g))
	}
	if len(d.Vans) > 1 {
		if l.Sums, err = t.sums(groups); err != nil {
			return nil, err
		}
	}
	t.foot(l)
	return l, nil
}

// address is how a letter begins.
func address(p Person) []string {
	if p.nobody() {
		return nil
	}
	lines := append(cleaned([]string{p.Name}), cleaned(p.Lines)...)
	if p.Country != "" {
		lines = append(lines, country(p.Country))
		if n := exact(p.VATNumber); n != "" {
			lines = append(lines, "VAT number "+n)
		}
	}
	for _, s := range []string{exact(p.Telephone), exact(p.Email)} {
		if s != "" {
			lines = append(lines, s)
		}
	}
	return lines
}

// head fills in what stands above the first van.
func (q Quote) head(l *leaf) {
	d := q.Document
	if d.Number > 0 {
		l.Facts = append(l.Facts, pair{"Number", fmt.Sprint(d.Number)})
	}
	if d.Revision > 0 {
		l.Revision = fmt.Sprintf("revision %d", d.Revision)
		l.Facts = append(l.Facts, pair{"Revision", fmt.Sprint(d.Revision)})
	}
	l.Facts = append(l.Facts, pair{"Date", day(q.day())})
	if d.ValidUntil != "" {
		l.Facts = append(l.Facts, pair{"Valid until", day(d.ValidUntil)})
	}
	if d.Asked.SlotWanted != "" {
		l.Facts = append(l.Facts, pair{"Work wanted from", day(d.Asked.SlotWanted)})
	}
	what := "One van"
	if n := len(d.Vans); n > 1 {
		what = capital(number(n)) + " vans"
	}
	vat := ", at prices that include VAT"
	if q.net() {
		vat = ", at prices without VAT"
	}
	l.Lead = what + vat + "."
	if q.Draft {
		l.Lead += " Not issued yet: what is in it, and at what price, may still change."
	}
}

// day is the day of the paper.
func (q Quote) day() string {
	if q.Document.IssuedOn != "" {
		return q.Document.IssuedOn
	}
	return q.Document.Vans[0].Priced.Day
}

func (q Quote) net() bool { return q.Document.Vans[0].Priced.Basis == pricing.Net }

// group is vans of a document that are alike, by their places.
type group []int

// alike gathers vans that are told once: the same facts, choices, build sheet
// and price, to the byte.
func alike(d *quote.Document) ([]group, error) {
	if len(d.Vans) == 1 {
		return []group{{0}}, nil
	}
	var groups []group
	var seen [][]byte
	for i := range d.Vans {
		var told struct {
			Asked quote.AskedVan
			Van   quote.Van
		}
		told.Van = d.Vans[i]
		if len(d.Asked.Vans) > 0 {
			told.Asked = d.Asked.Vans[i]
		}
		// What names a vehicle does not tell it apart.
		told.Asked.Van = ""
		for _, v := range []*bom.Van{&told.Asked.Facts, &told.Van.Specification.Van} {
			v.Registration, v.VIN = "", ""
		}
		text, err := json.Marshal(told)
		if err != nil {
			return nil, fmt.Errorf("paper: van %d: %w", i+1, err)
		}
		at := slices.IndexFunc(seen, func(s []byte) bool { return bytes.Equal(s, text) })
		if at < 0 {
			at = len(seen)
			seen = append(seen, text)
			groups = append(groups, nil)
		}
		groups[at] = append(groups[at], i)
	}
	return groups, nil
}

// named says which vans of the quote a group is.
func (g group) named(of int) string {
	if of == 1 {
		return "The van"
	}
	if len(g) == 1 {
		return fmt.Sprintf("Van %d of %d", g[0]+1, of)
	}
	var numbers []string
	for from := 0; from < len(g); {
		to := from
		for to+1 < len(g) && g[to+1] == g[to]+1 {
			to++
		}
		switch to - from {
		case 0:
			numbers = append(numbers, fmt.Sprint(g[from]+1))
		case 1:
			numbers = append(numbers, fmt.Sprint(g[from]+1), fmt.Sprint(g[to]+1))
		default:
			numbers = append(numbers, fmt.Sprintf("%d to %d", g[from]+1, g[to]+1))
		}
		from = to + 1
	}
	if len(g) == of {
		return fmt.Sprintf("%d vans alike", of)
	}
	return fmt.Sprintf("%d vans alike: %s of %d", len(g), listed(numbers), of)
}

// teller tells a quote's vans.
type teller struct {
	q Quote
	index
}

// van tells one van, or several alike.
func (t *teller) van(g group) vanLeaf {
	d := t.q.Document
	v := &d.Vans[g[0]]
	out := vanLeaf{Title: g.named(len(d.Vans))}
	out.Facts = t.facts(g, v)
	out.VAT = rates(d) > 1
	unit := strings.TrimRight(symbol(v.Priced.Currency), noBreak)
	out.Price, out.ExtrasPrice = unit+" with VAT", "Adds "+unit+" with VAT"
	if t.q.net() {
		out.Price = unit + " without VAT"
	}
	out.Parts = t.parts(g[0])
	out.Sums = t.vanSums(g, v)
	out.Extras = t.extras(v)
	out.Open = openFinishes(v)
	out.LeavesOut = cleaned(v.Sheet.LeavesOut)
	out.Remarks = remarks(v, t.q.Draft)
	out.Weight, out.Axles = weight(v), axleWords(v)
	out.Evidence = evidence(v)
	if out.Class = classLists(v); len(out.Class) > 0 {
		out.ClassNote = classNote
	}
	return out
}

// rates counts the treatments and rates that occur.
func rates(d *quote.Document) int {
	var seen []string
	for i := range d.Vans {
		for _, r := range d.Vans[i].Priced.VAT {
			if words := vatWords(r.Treatment, r.Percent); !slices.Contains(seen, words) {
				seen = append(seen, words)
			}
		}
	}
	return len(seen)
}

// facts say what a van is.
func (t *teller) facts(g group, v *quote.Van) []pair {
	van := v.Specification.Van
	facts := []pair{{"Base van", t.baseVan(van.BaseVan)}}
	if len(g) > 1 {
		facts = append(facts, pair{"Prices", "for each of the " + number(len(g)) + " vans"})
	}
	facts = append(facts, t.named(g)...)
	switch {
	case van.None:
		facts = append(facts, pair{"Work", "supplied only; nothing is fitted"})
	case van.New:
		facts = append(facts, pair{"Age", "new, not registered yet"})
	case van.Year != 0:
		facts = append(facts, pair{"Year", fmt.Sprint(van.Year)})
	}
	if van.MileageMiles != 0 {
		facts = append(facts, pair{"Mileage", grouped(fmt.Sprint(van.MileageMiles)) + " miles"})
	}
	for _, p := range van.Particulars {
		facts = append(facts, pair{capital(plain(p.Name)), plain(p.Value)})
	}
	var fitted []string
	for _, f := range van.Fitted {
		fitted = append(fitted, times(f.Count, t.feature(f.Feature))+" ("+plain(string(f.Action))+")")
	}
	if len(fitted) > 0 {
		facts = append(facts, pair{"Already fitted", strings.Join(fitted, "; ")})
	}
	return facts
}

// named says which vehicles a group is: in one row where registrations are
// all that is known.
func (t *teller) named(g group) []pair {
	var registrations []string
	var rows []pair
	more := false
	for _, i := range g {
		if i >= len(t.q.Vans) {
			break
		}
		w := t.q.Vans[i]
		var says []string
		if r := exact(w.Registration); r != "" {
			says = append(says, r)
			registrations = append(registrations, strings.ReplaceAll(r, " ", noBreak))
		}
		if vin := exact(w.VIN); vin != "" {
			says, more = append(says, "VIN "+vin), true
		}
		if k := clean(w.Keeper); k != "" {
			says, more = append(says, "kept by "+k), true
		}
		if len(says) > 0 {
			rows = append(rows, pair{fmt.Sprintf("Van %d", i+1), strings.Join(says, ", ")})
		}
	}
	switch {
	case len(g) == 1 && len(rows) == 1:
		rows[0].Name = "Registration"
		if len(registrations) == 0 {
			rows[0].Name = "Vehicle"
		}
	case !more && len(registrations) == len(g):
		return []pair{{"Registrations", strings.Join(registrations, ", ")}}
	}
	return rows
}

// vanSums are the lines below a van's table.
func (t *teller) vanSums(g group, v *quote.Van) []sum {
	p := &v.Priced
	var sums []sum
	if !p.Totals.Discount.IsZero() {
		sums = append(sums, sum{Name: "Before discount", Amount: figures(p.Totals.BeforeDiscount)})
		for _, l := range p.Lines {
			if l.Kind == pricing.DiscountLine || l.Kind == pricing.PromiseLine {
				name := clean(l.Words)
				if rates(t.q.Document) > 1 {
					name += ", VAT " + vatWords(l.Treatment, l.Percent)
				}
				sums = append(sums, sum{Name: name, Amount: figures(l.Amount)})
			}
		}
	}
	with, without := "Total with VAT", "Total without VAT"
	switch {
	case len(g) > 1:
		with, without = "Each van with VAT", "Each van without VAT"
	case len(t.q.Document.Vans) > 1:
		with, without = "This van with VAT", "This van without VAT"
	}
	var rows []vatRow
	for _, r := range p.VAT {
		rows = append(rows, vatRow{vatWords(r.Treatment, r.Percent), r.Net, r.VAT})
	}
	sums = append(sums, totalled(p.Totals, rows, t.q.net(), with, without)...)
	if p.SettledSoFar {
		sums[len(sums)-1].Name += ", as far as it is settled"
	}
	return sums
}

// vatRow is the VAT at one rate.
type vatRow struct {
	words    string
	net, vat money.Amount
}

// totalled writes totals: with VAT and what of it is VAT, or without and VAT
// put on.
func totalled(p pricing.Totals, rows []vatRow, net bool, with, without string) []sum {
	var sums []sum
	if net {
		sums = append(sums, sum{Name: without, Amount: priced(p.Net)})
		for _, r := range rows {
			sums = append(sums, sum{Name: fmt.Sprintf("VAT %s on %s", r.words, figures(r.net)), Amount: figures(r.vat)})
		}
		return append(sums, sum{Name: with, Amount: priced(p.Gross), Strong: true})
	}
	sums = append(sums, sum{Name: with, Amount: priced(p.Gross), Strong: true})
	for _, r := range rows {
		sums = append(sums, sum{Name: fmt.Sprintf("of which VAT %s on %s", r.words, figures(r.net)), Amount: figures(r.vat)})
	}
	return sums
}

// sums of the whole quote: each van or group of vans, VAT by rate, the total.
func (t *teller) sums(groups []group) ([]sum, error) {
	d := t.q.Document
	currency := d.Vans[0].Priced.Currency
	var sums []sum
	var rows []vatRow
	for _, g := range groups {
		each := d.Vans[g[0]].Priced.Totals
		amount := each.Gross
		if t.q.net() {
			amount = each.Net
		}
		name := capital(g.named(len(d.Vans)))
		if len(g) > 1 {
			name += ", " + figures(amount) + " each"
		}
		whole := money.Zero(currency)
		for range g {
			var err error
			if whole, err = whole.Add(amount); err != nil {
				return nil, fmt.Errorf("paper: the vans together: %w", err)
			}
		}
		sums = append(sums, sum{Name: name, Amount: figures(whole)})
	}
	for i := range d.Vans {
		for _, r := range d.Vans[i].Priced.VAT {
			words := vatWords(r.Treatment, r.Percent)
			at := slices.IndexFunc(rows, func(have vatRow) bool { return have.words == words })
			if at < 0 {
				at = len(rows)
				rows = append(rows, vatRow{words, money.Zero(currency), money.Zero(currency)})
			}
			net, err := rows[at].net.Add(r.Net)
			if err != nil {
				return nil, fmt.Errorf("paper: VAT together: %w", err)
			}
			vat, err := rows[at].vat.Add(r.VAT)
			if err != nil {
				return nil, fmt.Errorf("paper: VAT together: %w", err)
			}
			rows[at].net, rows[at].vat = net, vat
		}
	}
	return append(sums, totalled(d.Totals, rows, t.q.net(), "Total with VAT", "Total without VAT")...), nil
}

// extras are the rows with a box to tick.
func (t *teller) extras(v *quote.Van) []row {
	var rows []row
	for _, x := range v.Extras {
		r := row{Name: times(x.Count, clean(x.Words)), Price: figures(x.Gross)}
		if says := t.says(x.Code); says != "" {
			r.Details = append(r.Details, says)
		}
		if t.q.net() {
			r.Details = append(r.Details, figures(x.Net)+" without VAT.")
		}
		if brings := cleaned(x.Brings); len(brings) > 0 {
			r.Details = append(r.Details, "Comes with "+listed(brings)+".")
		}
		if off := cleaned(x.TakesOff); len(off) > 0 {
			r.Details = append(r.Details, "Takes the place of "+listed(off)+".")
		}
		rows = append(rows, r)
	}
	return rows
}

// openFinishes are those still to be chosen, each with its last day.
func openFinishes(v *quote.Van) []pair {
	var open []pair
	for _, f := range v.OpenFinishes {
		says := "to be chosen"
		switch {
		case f.Says != "":
			says = uncapital(clean(f.Says))
		case f.ChooseBy != "":
			says = "to be chosen by " + day(f.ChooseBy)
		case f.LeadDays > 0:
			says = fmt.Sprintf("to be chosen at least %d working days before the work begins", f.LeadDays)
		}
		open = append(open, pair{clean(f.Name), says})
	}
	return open
}

// foot fills in what stands below the last van.
func (t *teller) foot(l *leaf) {
	d := t.q.Document
	add := func(list []string, says string) []string {
		if says = clean(says); says == "" || slices.Contains(list, says) {
			return list
		}
		return append(list, says)
	}
	for i := range d.Vans {
		v := &d.Vans[i]
		for _, r := range v.Priced.VAT {
			l.VATNotes = add(l.VATNotes, r.Says)
		}
		for _, c := range v.Sheet.Cautions {
			l.Cautions = add(l.Cautions, c.Says)
		}
		for _, c := range v.Sheet.Certificates {
			l.Papers = add(l.Papers, c.Name)
		}
	}
	for _, s := range d.Paper.NotIncluded {
		l.NotIncluded = add(l.NotIncluded, s)
	}
	l.Notes = cleaned([]string{t.held()})
	l.PaymentsTitle = "Payments"
	for _, p := range d.Payments {
		when := due(p)
		l.Payments = append(l.Payments, payment{clean(p.Name), when, priced(p.Amount)})
	}
	if l.Reference = exact(d.Paper.Reference); money.ValidReference(l.Reference) {
		l.Reference = strings.ReplaceAll(money.PrintReference(l.Reference), " ", noBreak)
	}
	l.Cancellation = cleaned(t.q.Cancellation)
	l.Terms = paragraphs(d.Paper.Terms)
	if len(l.Terms) > 0 {
		l.TermsSHA256 = firstDigits(d.Paper.TermsSHA256)
	}
	if !t.q.Draft {
		who := clean(t.q.Customer.Name)
		if who == "" {
			who = "the customer"
		}
		l.Accept = l.accept()
		l.Sign = []string{"For " + who, "For " + cmpOr(l.Letterhead.Name, "the workshop")}
	}
}

// accept is what a signature stands under.
func (l *leaf) accept() string {
	says := "I accept this quote"
	if slices.ContainsFunc(l.Vans, func(v vanLeaf) bool { return len(v.Extras) > 0 }) {
		says += ", with the extras ticked above"
	}
	if len(l.Terms) > 0 {
		says += ", under the terms of sale below (" + l.TermsSHA256 + ")"
	}
	return says + "."
}

// held says that prices of an earlier revision still hold, where any line is
// of them.
func (t *teller) held() string {
	d := t.q.Document
	from := HeldEditions(d)
	if len(from) == 0 {
		return ""
	}
	lists := "price list "
	if len(from) > 1 {
		lists = "price lists "
	}
	return fmt.Sprintf("What revision %d offered keeps its price, from %s; what is new is at price list %s. Each price that is held says so.",
		d.HeldRevision, lists+clean(listed(from)), clean(d.Edition.Code))
}

// HeldEditions are the codes of the editions that held prices of a document are
// from, the oldest code first. The revision that is held may itself hold what
// one before it offered, so they need not be the edition of that.
func HeldEditions(d *quote.Document) []string {
	var codes []string
	if d.Held == nil {
		return nil
	}
	for i := range d.Vans {
		for k := range d.Vans[i].Priced.Lines {
			if code := d.Vans[i].Priced.Lines[k].Edition; code != "" && !slices.Contains(codes, code) {
				codes = append(codes, code)
			}
		}
	}
	slices.Sort(codes)
	return codes
}

// firstDigits are enough of a hash to tell one text from another.
func firstDigits(hash string) string {
	digits := []rune(exact(hash))
	return string(digits[:min(16, len(digits))])
}

func cmpOr(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}

// index finds what a catalogue says by code; of no catalogue it finds nothing.
type index struct {
	*catalogue.Catalogue
	features map[string]*catalogue.Feature
	groups   map[string]*catalogue.Group
	stages   []string // headings: the kind of work, then the stages in order
}

func newIndex(c *catalogue.Catalogue) index {
	if c == nil {
		return index{Catalogue: &catalogue.Catalogue{}}
	}
	x := index{Catalogue: c, features: make(map[string]*catalogue.Feature, len(c.Features)), groups: make(map[string]*catalogue.Group, len(c.Groups))}
	for i := range c.Features {
		x.features[c.Features[i].Code] = &c.Features[i]
	}
	for i := range c.Groups {
		x.groups[c.Groups[i].Code] = &c.Groups[i]
	}
	x.stages = []string{headWork}
	for i := range c.Stages {
		x.stages = append(x.stages, clean(c.Stages[i].Name))
	}
	return x
}

// feature is the name of a feature; a code not known stands for itself.
func (x index) feature(code string) string {
	if f, ok := x.features[code]; ok {
		return clean(f.Name)
	}
	return plain(code)
}

// says is how the catalogue describes a feature or package.
func (x index) says(code string) string {
	if f, ok := x.features[code]; ok {
		return clean(f.Says)
	}
	for i := range x.Packages {
		if x.Packages[i].Code == code {
			return clean(x.Packages[i].Says)
		}
	}
	return ""
}

func (x index) baseVan(code string) string {
	for i := range x.BaseVans {
		if x.BaseVans[i].Code == code {
			return clean(x.BaseVans[i].Name)
		}
	}
	return plain(code)
}
