// Package quote is what is kept of a priced build sheet that is offered to a
// customer: everything it was made from and the whole result, so that it can
// be read years later without making it anew.
package quote

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"wainscot/bom"
	"wainscot/pricing"
)

// Format names the shape of a Document.
const Format = "wainscot-quote/1"

// Document is a quote as it is kept. It holds no maps and no floats, and the
// same content gives the same bytes. Names and addresses of people do not
// belong in it.
type Document struct {
	Format string `json:"format"` // Format
	// Release and Edition it was worked out with, and the number of the
	// engine's meaning (options.Engine).
	Release Release `json:"release"`
	Edition Edition `json:"edition"`
	Engine  int     `json:"engine"`
	// Choices, Settle and Terms are what was asked; the van is in the
	// specification.
	Choices bom.Choices   `json:"choices"`
	Settle  bom.Settle    `json:"settle,omitempty"`
	Terms   pricing.Terms `json:"terms"`
	// Specification, Sheet and Priced are what it came to.
	Specification bom.Specification `json:"specification"`
	Sheet         bom.Sheet         `json:"sheet"`
	Priced        pricing.Priced    `json:"priced"`
	// NotReady is what stood in the way of issuing it.
	NotReady []bom.NotReady `json:"not_ready,omitempty"`
}

// Release of the catalogue.
type Release struct {
	Number int64  `json:"number"`
	Hash   string `json:"hash"`
	Title  string `json:"title"`
}

// Edition of the price-book.
type Edition struct {
	Code string `json:"code"`
	Hash string `json:"hash"`
}

// Encode writes the document as JSON.
func (d *Document) Encode() ([]byte, error) {
	d.Format = Format
	return json.Marshal(d)
}

// Decode reads what Encode wrote; another format, an unknown field or anything
// after the end is an error.
func Decode(text []byte) (*Document, error) {
	var d Document
	r := json.NewDecoder(bytes.NewReader(text))
	r.DisallowUnknownFields()
	if err := r.Decode(&d); err != nil {
		return nil, fmt.Errorf("quote document: %w", err)
	}
	if _, err := r.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("quote document: something follows its end")
	}
	if d.Format != Format {
		return nil, fmt.Errorf("quote document: format is %q, not %q", d.Format, Format)
	}
	return &d, nil
}
