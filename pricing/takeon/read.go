package takeon

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom/calendar"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/schedule"
	"wainscot/pricing"
	"wainscot/pricing/job"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
)

// Read reads the files and holds them against each other, the old list's figures
// and what is known. With any fault there is no TakeOn but its proofs.
func Read(files []File, k Known) (TakeOn, document.Faults) {
	r := &reader{k: k, rows: map[string][]row{}, broken: map[string]bool{}, customers: map[string]int{}, vans: map[string]int{}, jobs: map[string]int{},
		faulted: map[string]bool{}, held: map[string]int64{}, totals: map[string]row{}, out: TakeOn{On: k.On, Currency: k.Currency, Proofs: []Proof{}}}
	if !calendar.Valid(k.On) || k.On > k.Today {
		r.fault("", 0, "on", "day", fmt.Sprintf("%q is not a day that is over.", k.On), "Name the day at whose end the figures stand.")
	}
	known := Files()
	seen := map[string]bool{}
	for _, f := range files {
		at := slices.IndexFunc(known, func(c Columns) bool { return c.File == f.Name })
		if at < 0 || seen[f.Name] {
			r.fault("", 0, "files", "unknown_file", fmt.Sprintf("%q is none of the files, or is there twice.", shown(f.Name)), document.Suggest(f.Name, names(known), ""))
			continue
		}
		seen[f.Name] = true
		r.table(known[at], f.Text)
	}
	for _, read := range []struct {
		file string
		do   func(row)
	}{
		{"customers", r.customer}, {"vans", r.van}, {"jobs", r.job}, {"hours", r.hours}, {"papers", r.paper}, {"slots", r.slot},
	} {
		for _, w := range r.rows[read.file] {
			read.do(w)
		}
	}
	r.papers()
	r.slots()
	r.hold()
	r.prices()
	for _, w := range r.rows["deposits"] {
		r.deposit(w)
	}
	r.stock()
	for _, w := range r.rows["balances"] {
		r.balance(w)
	}
	r.whole()
	r.prove()
	faults := r.faults.Faults()
	if len(faults) > 0 {
		return TakeOn{On: k.On, Currency: k.Currency, Proofs: r.out.Proofs}, faults
	}
	return r.out, nil
}

func names(known []Columns) []string {
	list := make([]string, len(known))
	for i, c := range known {
		list[i] = c.File
	}
	return list
}

// The forms are those that customers and vans have everywhere else.
var (
	telephone    = regexp.MustCompile(`^[0-9+() ./-]*[0-9][0-9+() ./xX#-]*$`)
	email        = regexp.MustCompile(`^[^@\s]{1,200}@[^@\s]+$`)
	postcode     = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9 -]*$`)
	country      = regexp.MustCompile(`^[A-Z]{2}$`)
	registration = regexp.MustCompile(`^[\p{L}\p{N}][\p{L}\p{N} .·-]*$`)
	vin          = regexp.MustCompile(`^[A-HJ-NPR-Z0-9]{17}$`)
	hook         = regexp.MustCompile(`^[\p{L}\p{N} .-]{1,20}$`)
)

func (r *reader) customer(w row) {
	c := Customer{Line: w.line, Name: w.text("name", 100, true), GivenNames: w.text("given_names", 100, false), Notes: w.text("notes", 1000, false),
		Kind:      quote.CustomerKind(w.word("kind", []string{string(quote.Private), string(quote.Trade)}, string(quote.Private))),
		Telephone: w.form("telephone", 40, telephone, "telephone number", "Write it in digits."),
		Email:     w.form("email", 254, email, "e-mail address", "Write it whole, or leave it out."),
		Postcode:  w.form("postcode", 20, postcode, "postcode", "Write it as it is printed."),
		Country:   w.form("country", 2, country, "country", "Write its two letters (ISO 3166-1): GB."),
	}
	for _, at := range []string{"street", "town"} {
		if s := w.text(at, 100, false); s != "" {
			c.AddressLines = append(c.AddressLines, s)
		}
	}
	var ok bool
	if c.Key, ok = w.key("customer", r.customers); ok {
		r.customers[c.Key] = len(r.out.Customers)
		r.out.Customers = append(r.out.Customers, c)
	}
}

func (r *reader) van(w row) {
	v := Van{Line: w.line, Customer: -1,
		BaseVan:      w.word("base_van", codes(r.k.Catalogue.BaseVans, func(b *catalogue.BaseVan) string { return b.Code }), ""),
		Registration: w.form("registration", 16, registration, "registration mark", "Write it as it is on the plate."),
		VIN:          w.form("vin", 17, vin, "vehicle identification number", "Write its 17 signs (ISO 3779), or leave it out."),
	}
	if w.cells["customer"] != "" {
		if i, ok := w.of("customer", "customers", r.customers); ok {
			v.Customer = i
		}
	}
	var ok bool
	if v.Key, ok = w.key("van", r.vans); ok {
		r.vans[v.Key] = len(r.out.Vans)
		r.out.Vans = append(r.out.Vans, v)
	}
}

func codes[T any](list []T, of func(*T) string) []string {
	out := make([]string, len(list))
	for i := range list {
		out[i] = of(&list[i])
	}
	return out
}

func (r *reader) stages() []string {
	return codes(r.k.Catalogue.Stages, func(s *catalogue.Stage) string { return s.Code })
}

func (r *reader) job(w row) {
	j := Job{Line: w.line, Words: w.text("words", 400, true), AgreedOn: w.day("agreed_on", true, r.k.On), ArrivedOn: w.day("arrived_on", false, r.k.On),
		KeyHook: w.form("key_hook", 20, hook, "hook", "Give its number."), PromisedOn: w.day("promised_on", false, "")}
	if w.cells["stage"] != "" {
		j.Stage = w.word("stage", r.stages(), "")
	}
	j.Customer, _ = w.of("customer", "customers", r.customers)
	var known bool
	if j.Van, known = w.of("van", "vans", r.vans); known {
		if i := slices.IndexFunc(r.out.Jobs, func(o Job) bool { return o.Van == j.Van }); i >= 0 {
			w.fault("van", "twice", fmt.Sprintf("The van is already that of the job in line %d.", r.out.Jobs[i].Line), "Take a van on in one job.")
		}
	} else {
		j.Van = -1
	}
	switch {
	case j.ArrivedOn == "" && j.KeyHook != "":
		w.fault("key_hook", "contradiction", "The van has not come, and its keys hang here.", "Give the day it came, or leave the hook out.")
	case j.ArrivedOn == "" && j.Stage != "":
		w.fault("stage", "contradiction", "The van has not come, and a stage is under way.", "Give the day it came, or leave the stage out.")
	}
	var ok bool
	if j.Key, ok = w.key("job", r.jobs); ok {
		r.jobs[j.Key] = len(r.out.Jobs)
		r.out.Jobs = append(r.out.Jobs, j)
	}
}

// maxHours left of one trade at one stage.
const maxHours = 1_000

func (r *reader) hours(w row) {
	h := job.ReturnHours{Stage: w.word("stage", r.stages(), ""), Trade: w.word("trade", codes(r.k.Catalogue.Trades, func(t *catalogue.Trade) string { return t.Code }), "")}
	var good bool
	if h.Hours, good = w.decimal("hours", 2, maxHours); good && h.Hours.IsZero() {
		w.fault("hours", "out_of_range", "No hours are left.", "Leave the line out.")
	}
	i, ok := w.of("job", "jobs", r.jobs)
	if !ok {
		return
	}
	j := &r.out.Jobs[i]
	if slices.ContainsFunc(j.Hours, func(o job.ReturnHours) bool { return o.Stage == h.Stage && o.Trade == h.Trade }) {
		w.fault("trade", "twice", "The hours of that trade at that stage are there already.", "Write them once, all together.")
	}
	j.Hours = append(j.Hours, h)
}

func (r *reader) slot(w row) {
	stay := schedule.Stay{Place: w.word("place", r.k.Places, ""), From: w.day("from", true, ""), Until: w.day("until", true, "")}
	i, ok := w.of("job", "jobs", r.jobs)
	if !ok {
		return
	}
	switch {
	case stay.From == "" || stay.Until == "":
		return
	case stay.Until < stay.From:
		w.fault("until", "day", "It ends before it begins.", "Give the last day the van is there.")
	case stay.Until <= r.k.On:
		w.fault("until", "day", "The stay is over.", "Leave it out; a slot is what is still promised.")
	}
	j := &r.out.Jobs[i]
	if n := len(j.Stays); n == 0 {
		j.SlotLine = w.line
	} else if stay.From <= j.Stays[n-1].Until {
		w.fault("from", "stays_overlap", fmt.Sprintf("Through %s the van is in %s.", calendar.Said(j.Stays[n-1].Until), j.Stays[n-1].Place), "Write the stays of a van in their order, none before the other has ended.")
	}
	if len(j.Stays) >= schedule.MaxStays {
		w.fault("job", "too_many", "The van is in too many places.", fmt.Sprintf("Give at most %d stays.", schedule.MaxStays))
		return
	}
	j.Stays = append(j.Stays, stay)
}

// slots: what is promised has work to be done in it.
func (r *reader) slots() {
	for i := range r.out.Jobs {
		j := &r.out.Jobs[i]
		switch {
		case len(j.Stays) > 0 && len(j.Hours) == 0 && !r.broken["hours"]:
			r.fault("slots.csv", j.SlotLine, "job", "nothing_to_do", "The job has no hours left.", "Leave the slot out, or write the hours that are left.")
		case j.Stage != "" && !r.broken["hours"] && !slices.ContainsFunc(j.Hours, func(h job.ReturnHours) bool { return h.Stage == j.Stage }):
			r.fault("jobs.csv", j.Line, "stage", "nothing_to_do", "The stage is under way, and no hours are left at it.", "Write the hours that are left, or leave the stage out.")
		}
	}
}

// priced is a line of a price with the VAT the old list has for it.
type pricedLine struct {
	w    row
	line pricing.AgreedLine
	vat  money.Amount
}

// prices works out what the jobs come to, and holds the VAT of the old list
// against it, by treatment and rate.
func (r *reader) prices() {
	lines := make([][]pricedLine, len(r.out.Jobs))
	bad := make([]bool, len(r.out.Jobs))
	for _, w := range r.rows["prices"] {
		p := pricedLine{w: w, line: pricing.AgreedLine{Words: w.text("words", 400, true), Quantity: 1, Evidence: w.text("evidence", 400, false)}}
		var ok, vatted, rated bool
		var amount money.Amount
		amount, ok = w.amount("amount", -1<<62)
		p.vat, vatted = w.amount("vat", -1<<62)
		p.line.Treatment, p.line.Percent, rated = w.rate()
		i, there := w.of("job", "jobs", r.jobs)
		if !there {
			continue
		}
		unit, err := money.NewUnitPrice(amount.Decimal(), r.k.Currency)
		if !ok || !vatted || !rated || p.line.Words == "" || err != nil {
			bad[i] = true
			continue
		}
		p.line.UnitPrice = unit
		lines[i] = append(lines[i], p)
	}
	for i := range r.out.Jobs {
		j := &r.out.Jobs[i]
		switch {
		case bad[i]:
		case len(lines[i]) == 0 && !r.broken["prices"]:
			r.fault("jobs.csv", j.Line, "job", "no_price", "prices.csv does not say what was agreed for it.", "Write its price there, with VAT.")
		case len(lines[i]) > 0:
			r.price(j, lines[i])
		}
	}
}

// rate is the treatment and rate of a line.
func (w row) rate() (pricebook.Treatment, decimal.Decimal, bool) {
	t := pricebook.Treatment(w.word("treatment", pricebook.Standard.Words(), string(pricebook.Standard)))
	percent, ok := w.decimal("vat_percent", 4, 100)
	if ok && t != "" && t != pricebook.Standard && t != pricebook.Reduced && !percent.IsZero() {
		w.fault("vat_percent", "out_of_range", fmt.Sprintf("What is %s has no rate.", t), "Write 0, or another treatment.")
		ok = false
	}
	return t, percent, ok && t != ""
}

func (r *reader) price(j *Job, lines []pricedLine) {
	agreed := make([]pricing.AgreedLine, len(lines))
	for i, p := range lines {
		agreed[i] = p.line
	}
	paid := []pricing.AgreedPayment{}
	if held := r.held[j.Key]; held > 0 {
		if amount, err := money.FromMinor(held, r.k.Currency); err == nil {
			paid = append(paid, pricing.AgreedPayment{Code: "deposit", Name: "Deposit", Amount: &amount, When: pricebook.OnAcceptance})
		}
	}
	paid = append(paid, pricing.AgreedPayment{Code: "balance", Name: "Balance", When: pricebook.OnHandover})
	priced, faults := pricing.Agree(pricing.Gross, r.k.Currency, r.k.On, agreed, paid)
	for _, f := range faults {
		w, at := lines[0].w, f.At
		if parts := strings.Split(f.At, "/"); len(parts) > 2 && parts[0] == "lines" {
			if n, err := strconv.Atoi(parts[1]); err == nil && n >= 1 && n <= len(lines) {
				w, at = lines[n-1].w, strings.ReplaceAll(parts[2], "unit_price", "amount")
			}
		}
		if parts := strings.Split(f.At, "/"); parts[0] == "payments" {
			w.fault("amount", "more_than_due", "Its deposits are more than its price.", "Look at both; what was paid too much goes back first.")
			continue
		}
		w.fault(at, f.Code, f.Reason, f.Remedy)
	}
	if len(faults) > 0 {
		return
	}
	j.Price = priced
	for _, row := range priced.VAT {
		sum, first := int64(0), -1
		for i, p := range lines {
			if p.line.Treatment == row.Treatment && p.line.Percent.Equal(row.Percent) {
				sum += p.vat.Minor()
				if first < 0 {
					first = i
				}
			}
		}
		if sum != row.VAT.Minor() {
			said, err := money.FromMinor(sum, r.k.Currency)
			if err != nil {
				said = money.Zero(r.k.Currency)
			}
			lines[first].w.fault("vat", "does_not_agree", fmt.Sprintf("Of this job %s of VAT is written at %s per cent, and in %s there are %s.", said, row.Percent, row.Gross, row.VAT),
				"Write the VAT in the price, its fraction by the rate, worked once on all lines of a rate.")
		}
	}
}

// hold adds up the deposits by job, as far as they can be read: by them a price
// is paid in two parts.
func (r *reader) hold() {
	for _, w := range r.rows["deposits"] {
		if a, err := money.Parse(w.cells["amount"], r.k.Currency); err == nil && a.Sign() > 0 {
			r.held[w.cells["job"]] += a.Minor()
		}
	}
}

func (r *reader) deposit(w row) {
	d := Deposit{Line: w.line, Day: w.day("day", true, r.k.On)}
	how, reference := w.text("how", 100, false), w.text("reference", 140, false)
	d.Words = strings.Trim(how+", "+reference, ", ")
	var ok, vatted, rated bool
	d.Amount, ok = w.amount("amount", 1)
	vat, vatted := w.amount("vat", 0)
	d.VAT.Treatment, d.VAT.Percent, rated = w.rate()
	i, there := w.of("job", "jobs", r.jobs)
	if !ok || !vatted || !rated || !there {
		return
	}
	fraction, err := money.FractionOfGross(d.Amount, d.VAT.Percent, money.HalfUp)
	net, err2 := d.Amount.Sub(vat)
	if err := errors.Join(err, err2); err != nil {
		w.fault("amount", "too_large", "It is too large to be money.", "Look for a digit too many.")
		return
	}
	d.VAT.VAT, d.VAT.Net = vat, net
	if off := vat.Minor() - fraction.Minor(); off < -1 || off > 1 {
		w.fault("vat", "does_not_agree", fmt.Sprintf("%s of VAT was declared, and at %s per cent there are %s in %s.", vat, d.VAT.Percent, fraction, d.Amount),
			"Write what was declared and its rate; of a deposit at several rates, a line for each.")
	}
	j := &r.out.Jobs[i]
	if len(j.Price.VAT) > 0 && !slices.ContainsFunc(j.Price.VAT, func(v pricing.VATRow) bool {
		return v.Treatment == d.VAT.Treatment && v.Percent.Equal(d.VAT.Percent)
	}) {
		w.fault("vat_percent", "no_such_rate", fmt.Sprintf("Nothing in the job's price is %s at %s per cent.", d.VAT.Treatment, d.VAT.Percent), "Part the price as the invoice will have it.")
	}
	j.Deposits = append(j.Deposits, d)
}

func (r *reader) stock() {
	seen := map[string]bool{}
	at := map[string]int{}
	known := slices.Concat(codes(r.k.Catalogue.Parts, func(p *catalogue.Part) string { return p.Code }), codes(r.k.Catalogue.Kits, func(k *catalogue.Kit) string { return k.Code }))
	for _, w := range r.rows["stock"] {
		part := w.cells["part"]
		if !slices.Contains(known, part) {
			w.fault("part", "unknown_code", fmt.Sprintf("The catalogue has no part %q.", shown(part)), document.Suggest(part, known, "Add it to the catalogue first, or leave it out."))
		}
		place := w.text("place", 40, false)
		if seen[part+"\n"+place] {
			w.fault("place", "twice", "That part in that place is there already.", "Write it once.")
		}
		seen[part+"\n"+place] = true
		places := int32(6)
		if i := slices.IndexFunc(r.k.Catalogue.Parts, func(p catalogue.Part) bool { return p.Code == part }); i >= 0 {
			places = int32(r.k.Catalogue.Parts[i].Decimals)
		}
		quantity, counted := w.decimal("quantity", places, 1_000_000)
		cost, costed := w.decimal("unit_cost", 6, 10_000_000)
		if !counted || !costed {
			continue
		}
		value, err := money.Times(quantity, cost, r.k.Currency, money.HalfUp)
		if err != nil {
			w.fault("unit_cost", "too_large", "It is too large to be money.", "Look for a digit too many.")
			continue
		}
		i, there := at[part]
		if !there {
			i = len(r.out.Stock)
			at[part] = i
			r.out.Stock = append(r.out.Stock, Stock{Part: part, Value: money.Zero(r.k.Currency)})
		}
		s := &r.out.Stock[i]
		s.Quantity = s.Quantity.Add(quantity)
		if s.Value, err = s.Value.Add(value); err != nil {
			w.fault("unit_cost", "too_large", "It is too large to be money.", "Look for a digit too many.")
		}
	}
}

func (r *reader) balance(w row) {
	var holds []string
	for _, a := range ledger.Accounts() {
		if a.HoldsMoney() {
			holds = append(holds, string(a))
		}
	}
	b := Balance{Line: w.line, Account: ledger.Account(w.word("account", holds, ""))}
	var one, other bool
	b.Books, one = w.amount("books", -1<<62)
	b.Shown, other = w.amount("statement", -1<<62)
	if slices.ContainsFunc(r.out.Balances, func(o Balance) bool { return o.Account == b.Account }) {
		w.fault("account", "twice", "The account is there already.", "Write it once.")
		return
	}
	if one && other && b.Account != "" {
		r.out.Balances = append(r.out.Balances, b)
	}
}
