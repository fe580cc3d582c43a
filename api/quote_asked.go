package api

import (
	"encoding/json"
	"errors"
	"strconv"
	"strings"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
)

// What a quote asks for, from the contract.

// needsOf is what a quote's content names. Each van is either one the workshop
// keeps or one that is described.
func needsOf(content openapi.QuoteContent) (needs, error) {
	var n needs
	n.day = content.Terms.Day
	p := &problem{
		code: openapi.ProblemCodeContractBroken, detail: "The request breaks the contract.",
		remedy: "Mend the fields named in errors; the contract is at /v1/openapi.yaml.",
	}
	id := func(field, text string) uuid.UUID {
		if text == "" {
			return uuid.Nil
		}
		id, err := uuid.Parse(text)
		if err != nil {
			p.errors = append(p.errors, openapi.FieldError{Field: field, Code: "wrong_form", Reason: "It is not an id.", Remedy: "Send an id as the server gave it."})
		}
		return id
	}
	n.customer, n.endCustomer, n.enquiry = id("/customer", content.Customer), id("/end_customer", content.EndCustomer), id("/enquiry", content.Enquiry)
	n.vans = make([]uuid.UUID, len(content.Vans))
	for i, v := range content.Vans {
		at := "/vans/" + strconv.Itoa(i)
		n.vans[i] = id(at+"/van_id", v.VanId)
		if (v.VanId == "") == (v.Van.BaseVan == "") {
			p.errors = append(p.errors, openapi.FieldError{Field: at, Code: "one_of_two", Reason: "A van is named either by van_id or by van.",
				Remedy: "Give the id of a van the workshop keeps, or describe it, not both."})
		}
	}
	if len(p.errors) > 0 {
		return n, p
	}
	return n, nil
}

// asking is a quote's content in the domain's types, and what of it stands
// beside what is asked for.
type asking struct {
	asked quote.Asked
	keep  store.QuoteContent // without Worked and Asked
}

// askedOf makes it of the contract's. before is what the draft asked until now,
// nil for none: what the foreman said yes to there and is still the same keeps
// the yes, and the cost that an owner gave it.
func askedOf(content openapi.QuoteContent, n needs, from *source, r auth.Role, currency money.Currency, before *quote.Asked) (asking, error) {
	a := asking{keep: store.QuoteContent{
		Customer: n.customer, EndCustomer: n.endCustomer, Enquiry: n.enquiry,
		SlotWanted: content.SlotWantedOn, FollowUpOn: content.FollowUpOn, Note: content.Note,
		Vans: make([]store.QuoteVan, len(content.Vans)),
	}}
	a.asked = quote.Asked{Format: quote.AskedFormat, SlotWanted: content.SlotWantedOn, Vans: make([]quote.AskedVan, len(content.Vans))}
	var err error
	if a.asked.Terms, err = quoteTerms(content.Terms, from.customer, r, currency, from.today); err != nil {
		return a, err
	}
	for i, v := range content.Vans {
		into, keep := &a.asked.Vans[i], &a.keep.Vans[i]
		if n.vans[i] != uuid.Nil {
			into.Van = n.vans[i].String()
			keep.Van = n.vans[i]
			into.Facts = from.vans[n.vans[i]].Facts
		} else if into.Facts, err = domainVan(v.Van); err != nil {
			return a, under(err, "/vans/"+strconv.Itoa(i))
		}
		if err := contradicting(into.Facts); err != nil {
			return a, under(err, "/vans/"+strconv.Itoa(i))
		}
		keep.BaseVan, keep.Plate, keep.VIN = into.Facts.BaseVan, into.Facts.Registration, into.Facts.VIN
		into.Facts.Registration, into.Facts.VIN = "", ""
		into.Choices, into.Settle = domainChoices(v.Choices), domainSettle(v.Settle)
		into.Choices.Answers = answersBefore(before, i, into)
		for k, addition := range v.Additions {
			work, price, err := domainAddition(addition, currency)
			if err != nil {
				return a, under(err, "/vans/"+strconv.Itoa(i)+"/additions/"+strconv.Itoa(k))
			}
			approved, was := additionBefore(before, i, into, work)
			work.Approved = approved
			if price.Cost == nil && !r.SeesCost() {
				price.Cost = was.Cost // who is not shown it cannot send it back
			}
			into.Choices.Additions = append(into.Choices.Additions, work)
			into.Additions = append(into.Additions, price)
		}
		for _, e := range v.Extras {
			into.Extras = append(into.Extras, quote.AskedExtra{Feature: e.Feature, Count: int(e.Count)})
		}
	}
	return a, nil
}

// contradicting checks what the domain never sees of a quote's van: what tells
// it from others is taken out before.
func contradicting(v bom.Van) error {
	var reason, remedy string
	switch {
	case v.New && v.Registration != "":
		reason, remedy = "A new van that is not registered yet has no registration.", "Leave out one of new and registration."
	case v.None && (v.Registration != "" || v.VIN != ""):
		reason, remedy = "It says that there is no van, and describes one.", "Leave out none, or leave out what describes the van."
	default:
		return nil
	}
	return &problem{
		code: openapi.ProblemCodeChoicesRefused, detail: "What is asked for contradicts itself.", remedy: remedy,
		errors: []openapi.FieldError{{Field: "/van", Code: "contradiction", Reason: reason, Remedy: remedy}},
	}
}

// quoteTerms are the terms with what a trade customer has of their own: prices
// without VAT, a price list, credit. A salesperson may give the list and the
// credit that the customer has; another list or more days are the owner's to
// give.
func quoteTerms(t openapi.Terms, customer *store.Customer, r auth.Role, currency money.Currency, today string) (pricing.Terms, error) {
	terms, err := domainTerms(t, t.Day, currency, r)
	if err != nil {
		return terms, err
	}
	if err := dayMayBe(terms.Day, today, r); err != nil {
		return terms, err
	}
	list, days := "", (*int)(nil)
	if customer != nil && customer.Kind == quote.Trade {
		list, days = customer.PriceList, customer.CreditDays
		if t.Basis == "" {
			terms.Basis = pricing.Net
		}
		if terms.PriceList == "" {
			terms.PriceList = list
		}
		if terms.CreditDays == nil {
			terms.CreditDays = days
		}
	}
	if r == auth.Owner {
		return terms, nil
	}
	p := &problem{code: openapi.ProblemCodeTermsRefused, detail: "These terms are the owner's to give.", remedy: "Mend the fields named in errors."}
	if terms.PriceList != list {
		p.errors = append(p.errors, openapi.FieldError{Field: "/terms/price_list", Code: "not_the_customers",
			Reason: "The customer has not that price list.", Remedy: "Leave it out, or ask an owner."})
	}
	if terms.CreditDays != nil && (days == nil || *terms.CreditDays > *days) {
		p.errors = append(p.errors, openapi.FieldError{Field: "/terms/credit_days", Code: "not_the_customers",
			Reason: "The customer has not so long a credit.", Remedy: "Leave it out, or ask an owner."})
	}
	if len(p.errors) > 0 {
		return terms, p
	}
	return terms, nil
}

// dayMayBe refuses a day that is over to all but an owner: it would bring the
// prices of an edition that is not in force any more.
func dayMayBe(day, today string, r auth.Role) error {
	if r == auth.Owner || day == "" || day >= today {
		return nil
	}
	const remedy = "Leave it out for the prices of today, or ask an owner."
	return &problem{
		code: openapi.ProblemCodeTermsRefused, detail: "Prices of a day that is over are the owner's to give.", remedy: remedy,
		errors: []openapi.FieldError{{Field: "/terms/day", Code: "day_over", Reason: "It is " + today + "; that day is over.", Remedy: remedy}},
	}
}

func domainAddition(a openapi.Addition, currency money.Currency) (bom.Addition, pricing.AdditionPrice, error) {
	work := bom.Addition{
		Code: a.Code, Kind: bom.AdditionKind(a.Kind), Words: a.Words, Quantity: int(a.Quantity), Stage: a.Stage,
		Position: a.Position, InPlaceOf: a.InPlaceOf, DueBy: a.DueBy,
	}
	price := pricing.AdditionPrice{Code: a.Code, Treatment: pricebook.Treatment(a.Treatment), Evidence: a.Evidence}
	p := &problem{code: openapi.ProblemCodeContractBroken, detail: "The request breaks the contract.", remedy: "Mend the fields named in errors."}
	fault := func(field, code, reason, remedy string) {
		p.errors = append(p.errors, openapi.FieldError{Field: field, Code: code, Reason: reason, Remedy: remedy})
	}
	number := func(field, text string) (d decimal.Decimal) {
		d, err := decimal.NewFromString(text)
		if err != nil {
			fault(field, "wrong_form", "It is not a decimal number.", "Write it in digits, like 2.5.")
		}
		return d
	}
	amount := func(field string, m openapi.Money) (d decimal.Decimal) {
		parsed, err := money.Parse(m.Amount, currency)
		switch {
		case m == (openapi.Money{}):
			fault(field, "missing", "Nothing says what it is sold for.", "Give the price of all of it; 0 where it costs nothing.")
		case m.Currency != string(currency):
			fault(field+"/currency", "currency", "The price-book is in "+string(currency)+".", "Give it in "+string(currency)+".")
		case err != nil:
			fault(field+"/amount", "not_money", notMoney(err), "Write an amount of "+string(currency)+" with as many decimals as it has.")
		default:
			return number(field+"/amount", parsed.Fixed())
		}
		return d
	}
	work.MassKG, price.Price = number("/mass_kg", a.MassKg), amount("/price", a.Price)
	for i, h := range a.Hours {
		work.Hours = append(work.Hours, bom.AdditionHours{Trade: h.Trade, Hours: number("/hours/"+strconv.Itoa(i)+"/hours", h.Hours)})
	}
	for _, t := range a.Touches {
		work.Touches = append(work.Touches, catalogue.Caution(t))
	}
	if a.Cost != (openapi.Money{}) {
		cost := amount("/cost", a.Cost)
		price.Cost = &cost
	}
	if len(p.errors) > 0 {
		return work, price, p
	}
	return work, price, nil
}

// contractAddition shows an addition; its cost only to those who see costs, its
// price to those who see prices.
func contractAddition(a bom.Addition, p pricing.AdditionPrice, currency money.Currency, r auth.Role) openapi.Addition {
	shown := openapi.Addition{
		Code: a.Code, Kind: openapi.AdditionKind(a.Kind), Words: a.Words, Quantity: whole(a.Quantity), Stage: a.Stage,
		MassKg: plain(a.MassKG), Position: a.Position, InPlaceOf: a.InPlaceOf, DueBy: a.DueBy, Approved: a.Approved,
		Treatment: openapi.Treatment(p.Treatment),
	}
	for _, h := range a.Hours {
		shown.Hours = append(shown.Hours, openapi.AdditionHours{Trade: h.Trade, Hours: plain(h.Hours)})
	}
	for _, t := range a.Touches {
		shown.Touches = append(shown.Touches, openapi.Caution(t))
	}
	show := func(d decimal.Decimal) openapi.Money {
		amount, err := money.Parse(d.String(), currency)
		if err != nil {
			return openapi.Money{}
		}
		return contractAmount(amount)
	}
	if seesPrices(r) {
		shown.Price, shown.Evidence = show(p.Price), p.Evidence
	}
	if r.SeesCost() && p.Cost != nil {
		shown.Cost = show(*p.Cost)
	}
	return shown
}

// sameText compares two values by their JSON.
func sameText(a, b any) bool {
	x, err := json.Marshal(a)
	y, err2 := json.Marshal(b)
	return err == nil && err2 == nil && string(x) == string(y)
}

// askedRefused makes a problem of faults of what is asked for, with the
// contract's names for its fields.
func askedRefused(faults document.Faults) *problem {
	p := &problem{code: openapi.ProblemCodeChoicesRefused, detail: "What is asked for is not of this catalogue or price-book.", remedy: "Mend the fields named in errors."}
	terms := true
	for _, f := range faults {
		at := strings.Split(f.At, "/")
		if at[0] != "terms" {
			terms = false
		}
		if len(at) > 2 && at[0] == "vans" {
			switch {
			case at[2] == "facts":
				at[2] = "van"
			case at[2] == "van":
				at[2] = "van_id"
			case at[2] == "choices" && len(at) > 3 && at[3] == "additions":
				at = append(at[:2], at[3:]...)
			}
		}
		if at[0] == "slot_wanted" {
			at[0] = "slot_wanted_on"
		}
		p.errors = append(p.errors, openapi.FieldError{Field: fieldOf(strings.Join(at, "/")), Code: f.Code, Reason: f.Reason, Remedy: f.Remedy})
	}
	if terms {
		p.code, p.detail = openapi.ProblemCodeTermsRefused, "The terms are not for this price-book."
	}
	return p
}

// under puts a prefix before the fields a problem names.
func under(err error, prefix string) error {
	var p *problem
	if !errors.As(err, &p) {
		return err
	}
	moved := *p
	moved.errors = make([]openapi.FieldError, len(p.errors))
	for i, e := range p.errors {
		e.Field = prefix + e.Field
		moved.errors[i] = e
	}
	return &moved
}
