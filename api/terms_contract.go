package api

import (
	"errors"

	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/openapi"
	"wainscot/pricing"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// Terms, from the contract and back to it. The role is never the caller's to
// say: it comes with the token.

func domainTerms(t openapi.Terms, day string, currency money.Currency, r auth.Role) (pricing.Terms, error) {
	terms := pricing.Terms{Basis: pricing.Gross, Day: day, Role: string(r), PriceList: t.PriceList}
	if t.CreditDays != nil {
		days := int(*t.CreditDays)
		terms.CreditDays = &days
	}
	if t.Basis != "" {
		terms.Basis = pricing.Basis(t.Basis)
	}
	if t.DiscountPercent != "" {
		percent, err := decimal.NewFromString(t.DiscountPercent)
		if err != nil {
			return terms, brokenField("/terms/discount_percent", "wrong_form", "It is not a decimal number.", "Write it in digits, like 2.5.")
		}
		terms.DiscountPercent = &percent
	}
	if t.DiscountAmount != (openapi.Money{}) {
		amount, err := money.Parse(t.DiscountAmount.Amount, money.Currency(t.DiscountAmount.Currency))
		if err != nil {
			return terms, &problem{
				code: openapi.ProblemCodeTermsRefused, detail: "The terms are not for this price-book.", remedy: "Mend the fields named in errors.",
				errors: []openapi.FieldError{{
					Field: "/terms/discount_amount", Code: "not_money", Reason: notMoney(err),
					Remedy: "Write an amount of " + string(currency) + " with as many decimals as it has.",
				}},
			}
		}
		terms.DiscountAmount = &amount
	}
	for _, c := range t.Treatments {
		terms.Treatments = append(terms.Treatments, pricing.TreatmentChange{
			Code: c.Code, Treatment: pricebook.Treatment(c.Treatment), Evidence: c.Evidence,
		})
	}
	return terms, nil
}

func contractTerms(t pricing.Terms) openapi.Terms {
	terms := openapi.Terms{Basis: openapi.Basis(t.Basis), Day: t.Day, PriceList: t.PriceList}
	if t.CreditDays != nil {
		days := whole(*t.CreditDays)
		terms.CreditDays = &days
	}
	if t.DiscountPercent != nil {
		terms.DiscountPercent = plain(*t.DiscountPercent)
	}
	if t.DiscountAmount != nil {
		terms.DiscountAmount = contractAmount(*t.DiscountAmount)
	}
	for _, c := range t.Treatments {
		terms.Treatments = append(terms.Treatments, openapi.TreatmentChange{
			Code: c.Code, Treatment: openapi.Treatment(c.Treatment), Evidence: c.Evidence,
		})
	}
	return terms
}

func notMoney(err error) string {
	switch {
	case errors.Is(err, money.ErrCurrency):
		return "There is no such currency."
	case errors.Is(err, money.ErrTooFine):
		return "It has more decimals than the currency."
	case errors.Is(err, money.ErrTooLarge):
		return "It is too large to be an amount of money."
	}
	return "It is not an amount of money."
}
