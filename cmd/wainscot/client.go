package main

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"

	"github.com/google/uuid"

	"wainscot/bom"
	"wainscot/openapi"
	"wainscot/pricing"
)

// client asks the API as any program would, signed in as one person.
type client struct{ *openapi.Client }

// signIn exchanges a password for a token.
func signIn(ctx context.Context, address, workshop, email, password string) (client, error) {
	stranger, err := openapi.NewClient(address)
	if err != nil {
		return client{}, err
	}
	answer, err := openapi.Read[openapi.SignedIn](stranger.SignIn(ctx, openapi.SignIn{Workshop: workshop, Email: email, Password: password})) //nolint:bodyclose // Read does
	if err != nil {
		return client{}, fmt.Errorf("signing in: %w", err)
	}
	person, err := openapi.NewClient(address, openapi.WithRequestEditorFn(openapi.Bearer(answer.Body.Token)), openapi.WithHTTPClient(http.DefaultClient))
	return client{person}, err
}

// createQuote asks for a quote on choices.
func (c client) createQuote(ctx context.Context, s sample) (openapi.QuoteKept, error) {
	content, err := quoteContent(s.asked)
	if err != nil {
		return openapi.QuoteKept{}, err
	}
	kept, err := openapi.Read[openapi.QuoteKept](c.CreateQuote(ctx, &openapi.CreateQuoteParams{IdempotencyKey: uuid.NewString()}, content)) //nolint:bodyclose // Read does
	return kept.Body, err
}

// quoteContent is a file of choices as the contract has it: the same names,
// but for additions, which stand with their prices, and for what the API works
// out itself: the role is that of the person who asks, and a foreman says yes
// in person.
func quoteContent(asked choicesFile) (openapi.QuoteContent, error) {
	choices, terms := asked.Choices, pricing.Terms{}
	if asked.Terms != nil {
		terms = *asked.Terms
	}
	content := openapi.QuoteContent{SlotWantedOn: terms.SlotWanted}
	van := openapi.QuoteVanContent{Settle: openapi.SettleByDefaults, Additions: additions(choices.Additions, terms)}
	choices.Additions = nil
	terms.Role, terms.Additions, terms.ValidUntil, terms.SlotWanted = "", nil, "", ""
	for _, same := range []struct{ from, into any }{{asked.Van, &van.Van}, {choices, &van.Choices}, {terms, &content.Terms}} {
		text, err := json.Marshal(same.from)
		if err == nil {
			err = json.Unmarshal(text, same.into)
		}
		if err != nil {
			return content, err
		}
	}
	content.Vans = []openapi.QuoteVanContent{van}
	return content, nil
}

// additions are the additions of choices with their prices.
func additions(list []bom.Addition, terms pricing.Terms) []openapi.Addition {
	var all []openapi.Addition
	for _, a := range list {
		one := openapi.Addition{
			Code: a.Code, Kind: openapi.AdditionKind(a.Kind), Words: a.Words, Quantity: int32(a.Quantity),
			Stage: a.Stage, MassKg: a.MassKG.String(), InPlaceOf: a.InPlaceOf, DueBy: a.DueBy,
		}
		for _, h := range a.Hours {
			one.Hours = append(one.Hours, openapi.AdditionHours{Trade: h.Trade, Hours: h.Hours.String()})
		}
		for _, c := range a.Touches {
			one.Touches = append(one.Touches, openapi.Caution(c))
		}
		for _, p := range terms.Additions {
			if p.Code != a.Code {
				continue
			}
			one.Price = openapi.Money{Amount: p.Price.StringFixed(2), Currency: demoCurrency}
			if p.Cost != nil {
				one.Cost = openapi.Money{Amount: p.Cost.StringFixed(2), Currency: demoCurrency}
			}
			one.Treatment, one.Evidence = openapi.Treatment(p.Treatment), p.Evidence
		}
		all = append(all, one)
	}
	return all
}

// demoCurrency is that of the prices in the demo's files of choices.
const demoCurrency = "GBP"
