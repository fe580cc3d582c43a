package openapi

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
)

// maxAnswerBytes is how much of an answer is read: a quote for many vans, with
// its build sheets, is some million bytes.
const maxAnswerBytes = 64 << 20

// Answered is what came back of a request that did what was asked: its body as
// the contract has it, and the headers that matter next.
type Answered[T any] struct {
	Body T
	// ETag is what to send as If-Match with the next change.
	ETag string
	// Location is where the new thing is.
	Location string
}

// Read reads the answer to a request of the Client:
//
//	kept, err := openapi.Read[openapi.QuoteKept](client.CreateQuote(ctx, params, content))
//
// A problem the server answers with is a *Problem.
func Read[T any](response *http.Response, err error) (Answered[T], error) {
	var a Answered[T]
	text, err := ReadBytes(response, err)
	if err != nil {
		return a, err
	}
	a.ETag, a.Location = response.Header.Get("ETag"), response.Header.Get("Location")
	if len(text) == 0 {
		return a, nil
	}
	if err := json.Unmarshal(text, &a.Body); err != nil {
		return a, fmt.Errorf("%s answers %s with a body that is not of the contract: %w", response.Request.URL.Path, response.Status, err)
	}
	return a, nil
}

// ReadBytes reads an answer that is not JSON: a PDF, a page, a workbook.
func ReadBytes(response *http.Response, err error) ([]byte, error) {
	if err != nil {
		return nil, err
	}
	defer func() { _ = response.Body.Close() }()
	text, err := io.ReadAll(io.LimitReader(response.Body, maxAnswerBytes))
	if err != nil {
		return nil, fmt.Errorf("reading the answer: %w", err)
	}
	if response.StatusCode/100 == 2 {
		return text, nil
	}
	p := new(Problem)
	if json.Unmarshal(text, p) != nil || p.Code == "" {
		return nil, fmt.Errorf("%s answers %s, and not with a problem", response.Request.URL.Path, response.Status)
	}
	return nil, p
}

// Error tells the problem, and each field at fault.
func (p *Problem) Error() string {
	text := fmt.Sprintf("%s: %s %s", p.Code, p.Detail, p.Remedy)
	for _, e := range p.Errors {
		text += fmt.Sprintf("\n%s: %s %s", e.Field, e.Reason, e.Remedy)
	}
	return text
}

// Bearer sends a token with every request; for WithRequestEditorFn.
func Bearer(token string) RequestEditorFn {
	return func(_ context.Context, r *http.Request) error {
		r.Header.Set("Authorization", "Bearer "+token)
		return nil
	}
}
