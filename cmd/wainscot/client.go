package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"

	"github.com/google/uuid"

	"wainscot/bom"
	"wainscot/openapi"
	"wainscot/pricing"
)

// client asks the API as any program would, signed in as one person.
type client struct {
	address string
	token   string
}

// signIn exchanges a password for a token.
func signIn(ctx context.Context, address, workshop, email, password string) (client, error) {
	c := client{address: address}
	var answer openapi.SignedIn
	err := c.post(ctx, "/v1/sign-in", openapi.SignIn{Workshop: workshop, Email: email, Password: password}, &answer)
	c.token = answer.Token
	return c, err
}

// createQuote asks for a quote on choices.
func (c client) createQuote(ctx context.Context, s sample) (openapi.QuoteKept, error) {
	// The contract's names are the domain's own here; what it does not take is
	// the role, which is that of the person who asks.
	type van struct {
		Van     bom.Van        `json:"van"`
		Choices bom.Choices    `json:"choices"`
		Settle  openapi.Settle `json:"settle"`
	}
	ask := struct {
		Vans  []van          `json:"vans"`
		Terms *pricing.Terms `json:"terms,omitempty"`
	}{Vans: []van{{s.asked.Van, s.asked.Choices, openapi.SettleByDefaults}}}
	if s.asked.Terms != nil {
		terms := *s.asked.Terms
		terms.Role = ""
		ask.Terms = &terms
	}
	var q openapi.QuoteKept
	return q, c.post(ctx, "/v1/quotes", ask, &q)
}

// maxAnswer is how many bytes of an answer are read: a quote with a long build
// sheet is some hundred thousand.
const maxAnswer = 16 << 20

// post sends a body and reads the answer; a problem is an error.
func (c client) post(ctx context.Context, path string, body, answer any) error {
	text, err := json.Marshal(body)
	if err != nil {
		return err
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, c.address+path, bytes.NewReader(text))
	if err != nil {
		return err
	}
	request.Header.Set("Content-Type", "application/json")
	request.Header.Set("Idempotency-Key", uuid.NewString())
	if c.token != "" {
		request.Header.Set("Authorization", "Bearer "+c.token)
	}
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		return err
	}
	defer func() { _ = response.Body.Close() }()
	text, err = io.ReadAll(io.LimitReader(response.Body, maxAnswer))
	if err != nil {
		return err
	}
	if response.StatusCode/100 != 2 {
		return fmt.Errorf("POST %s answers %s: %s", path, response.Status, text)
	}
	return json.Unmarshal(text, answer)
}
