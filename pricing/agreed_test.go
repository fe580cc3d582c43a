package pricing_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

func agreedLine(words string, quantity int, unit string, t pricebook.Treatment, percent, evidence string) pricing.AgreedLine {
	price, err := money.NewUnitPrice(decimal.RequireFromString(unit), "GBP")
	if err != nil {
		panic(err)
	}
	return pricing.AgreedLine{Words: words, Quantity: quantity, UnitPrice: price, Treatment: t, Percent: decimal.RequireFromString(percent), Evidence: evidence}
}

func pounds(text string) *money.Amount {
	a, err := money.Parse(text, "GBP")
	if err != nil {
		panic(err)
	}
	return &a
}

// TestAgreed: the examples of docs/money.md, agreed in words: a price without a
// feature behind it has its VAT as one with it.
func TestAgreed(t *testing.T) {
	for name, c := range map[string]struct {
		basis           pricing.Basis
		lines           []pricing.AgreedLine
		net, vat, gross string
	}{
		"three items at 995.00, gross": {pricing.Gross, []pricing.AgreedLine{agreedLine("Window", 3, "995.00", pricebook.Standard, "20", "")}, "2487.50", "497.50", "2985.00"},
		"the same three, net":          {pricing.Net, []pricing.AgreedLine{agreedLine("Window", 3, "829.1667", pricebook.Standard, "20", "")}, "2487.50", "497.50", "2985.00"},
		"a wheelchair lift, with evidence": {pricing.Gross, []pricing.AgreedLine{agreedLine("Awning", 1, "600", pricebook.Standard, "20", ""),
			agreedLine("Lift", 1, "2000", pricebook.Zero, "0", "Declaration of 3 May 2026")}, "2500.00", "100.00", "2600.00"},
		"a credit":        {pricing.Gross, []pricing.AgreedLine{agreedLine("Work", 1, "120", pricebook.Standard, "20", ""), agreedLine("Old rack kept", 1, "-60", pricebook.Standard, "20", "")}, "50.00", "10.00", "60.00"},
		"two rates":       {pricing.Net, []pricing.AgreedLine{agreedLine("Work", 1, "100", pricebook.Reduced, "5", ""), agreedLine("Work", 1, "100", pricebook.Standard, "20", "")}, "200.00", "25.00", "225.00"},
		"one rate of old": {pricing.Gross, []pricing.AgreedLine{agreedLine("Work", 1, "117.50", pricebook.Standard, "17.5", "")}, "100.00", "17.50", "117.50"},
	} {
		p, faults := pricing.Agree(c.basis, "GBP", "2026-11-25", c.lines, nil)
		if len(faults) > 0 || p.Totals.Net.Fixed() != c.net || p.Totals.VAT.Fixed() != c.vat || p.Totals.Gross.Fixed() != c.gross {
			t.Errorf("%s: %+v, %v", name, p.Totals, faults)
		}
		for i := 1; i < len(p.VAT); i++ {
			if order := pricebook.Standard.Words(); slices.Index(order, string(p.VAT[i-1].Treatment)) > slices.Index(order, string(p.VAT[i].Treatment)) {
				t.Errorf("%s: the summary begins with %s", name, p.VAT[i-1].Treatment)
			}
		}
		if len(p.Payments) != 1 || p.Payments[0].Amount != p.Totals.Gross || p.Payments[0].When != pricebook.OnHandover {
			t.Errorf("%s is paid by %+v", name, p.Payments)
		}
	}
}

func TestAgreedRefused(t *testing.T) {
	work := agreedLine("Work", 1, "120", pricebook.Standard, "20", "")
	rest := pricing.AgreedPayment{Code: "rest", Name: "Rest", When: pricebook.OnHandover}
	part := func(code, amount string) pricing.AgreedPayment {
		return pricing.AgreedPayment{Code: code, Name: "Part", Amount: pounds(amount), When: pricebook.OnAcceptance}
	}
	for name, c := range map[string]struct {
		lines    []pricing.AgreedLine
		payments []pricing.AgreedPayment
		want     string // code and place
	}{
		"nothing charged":        {nil, nil, "number_of_lines lines"},
		"no words":               {[]pricing.AgreedLine{agreedLine(" ", 1, "1", pricebook.Standard, "20", "")}, nil, "bad_text lines/1/words"},
		"none of it":             {[]pricing.AgreedLine{agreedLine("Work", 0, "1", pricebook.Standard, "20", "")}, nil, "out_of_range lines/1/quantity"},
		"no such treatment":      {[]pricing.AgreedLine{agreedLine("Work", 1, "1", "special", "0", "")}, nil, "unknown_word lines/1/treatment"},
		"zero without evidence":  {[]pricing.AgreedLine{work, agreedLine("Lift", 1, "1", pricebook.Zero, "0", "")}, nil, "no_evidence lines/2/evidence"},
		"evidence of nothing":    {[]pricing.AgreedLine{agreedLine("Work", 1, "1", pricebook.Standard, "20", "A letter")}, nil, "contradiction lines/1/evidence"},
		"VAT on what has none":   {[]pricing.AgreedLine{agreedLine("Work", 1, "1", pricebook.Exempt, "20", "")}, nil, "out_of_range lines/1/vat_percent"},
		"more VAT than there is": {[]pricing.AgreedLine{agreedLine("Work", 1, "1", pricebook.Standard, "100.1", "")}, nil, "out_of_range lines/1/vat_percent"},
		"less than nothing":      {[]pricing.AgreedLine{work, agreedLine("Credit", 1, "-120.01", pricebook.Standard, "20", "")}, nil, "below_nothing lines"},
		"a row below nothing":    {[]pricing.AgreedLine{work, agreedLine("Credit", 1, "-1", pricebook.Reduced, "5", "")}, nil, "below_nothing lines"},
		"too much money":         {[]pricing.AgreedLine{agreedLine("Work", 10_000, "9000000000000", pricebook.Standard, "20", "")}, nil, "too_large totals"},
		"paid too much":          {[]pricing.AgreedLine{work}, []pricing.AgreedPayment{part("a", "120.01"), rest}, "does_not_add_up payments/1/amount"},
		"paid too little":        {[]pricing.AgreedLine{work}, []pricing.AgreedPayment{part("a", "119.99")}, "does_not_add_up payments"},
		"the rest first":         {[]pricing.AgreedLine{work}, []pricing.AgreedPayment{rest, part("a", "0.00")}, "contradiction payments/1/amount"},
		"a code twice":           {[]pricing.AgreedLine{work}, []pricing.AgreedPayment{part("rest", "1.00"), rest}, "duplicate_code payments/2/code"},
		"days after acceptance":  {[]pricing.AgreedLine{work}, []pricing.AgreedPayment{{Code: "a", Name: "A", When: pricebook.OnAcceptance, Days: 1}}, "out_of_range payments/1/days"},
		"no such time":           {[]pricing.AgreedLine{work}, []pricing.AgreedPayment{{Code: "a", Name: "A", When: "at noon"}}, "unknown_word payments/1/when"},
	} {
		_, faults := pricing.Agree(pricing.Gross, "GBP", "2026-11-25", c.lines, c.payments)
		var told []string
		for _, f := range faults {
			told = append(told, f.Code+" "+f.At)
		}
		if strings.Join(told, ", ") != c.want {
			t.Errorf("%s: %s, want %s", name, told, c.want)
		}
	}
}

// TestAgreedAddsUp: lines, rows, totals and payments of whatever is agreed come
// to the same, and VAT of a rate is worked once on its sum.
func TestAgreedAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		basis := rapid.SampledFrom([]pricing.Basis{pricing.Gross, pricing.Net}).Draw(t, "basis")
		rates := []struct {
			t pricebook.Treatment
			p string
		}{{pricebook.Standard, "20"}, {pricebook.Standard, "17.5"}, {pricebook.Reduced, "5"}, {pricebook.Zero, "0"}, {pricebook.Margin, "0"}}
		var lines []pricing.AgreedLine
		for range rapid.IntRange(1, 9).Draw(t, "lines") {
			r := rapid.SampledFrom(rates).Draw(t, "rate")
			l := agreedLine("Work", rapid.IntRange(1, 20).Draw(t, "quantity"), decimal.New(rapid.Int64Range(0, 90_000_000).Draw(t, "unit"), -4).String(), r.t, r.p, "")
			if r.t == pricebook.Zero {
				l.Evidence = "A letter"
			}
			lines = append(lines, l)
		}
		p, faults := pricing.Agree(basis, "GBP", "2026-11-25", lines, nil)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		var net, vat, rowNet, rowVAT, paid int64
		for _, l := range p.Lines {
			net, vat = net+l.Net.Minor(), vat+l.VAT.Minor()
			if basis == pricing.Gross && l.Net.Minor()+l.VAT.Minor() != l.Amount.Minor() {
				t.Fatalf("%+v does not add up", l)
			}
		}
		for _, r := range p.VAT {
			rowNet, rowVAT = rowNet+r.Net.Minor(), rowVAT+r.VAT.Minor()
			is, err := money.OnNet(r.Net, r.Percent, money.HalfUp)
			if basis == pricing.Gross {
				is, err = money.FractionOfGross(r.Gross, r.Percent, money.HalfUp)
			}
			if err != nil || is != r.VAT {
				t.Fatalf("the VAT of %+v is %s, %v", r, is, err)
			}
		}
		for _, q := range p.Payments {
			paid += q.Amount.Minor()
		}
		tot := p.Totals
		if net != tot.Net.Minor() || rowNet != net || vat != tot.VAT.Minor() || rowVAT != vat || net+vat != tot.Gross.Minor() || paid != tot.Gross.Minor() {
			t.Fatalf("%+v: lines %d %d, rows %d %d, paid %d", tot, net, vat, rowNet, rowVAT, paid)
		}
	})
}
