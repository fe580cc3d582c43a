// Package paper is what is printed and sent: a quote as PDF and as one HTML
// page, a van's build sheet as a workbook and as CSV, the van drawn. Each is a function that
// writes a value to a writer; the same value gives the same bytes. It asks no
// store and knows no request.
//
//	Quote ──words──▶ what stands on the paper ──▶ QuotePDF, QuoteHTML
//	BuildSheet ──────────────────────────────────▶ SheetXLSX, SheetCSV, SheetSVG
//
// A quote's paper holds nothing a customer may not see: no cost, no margin, no
// supplier. A build sheet holds no price at all.
package paper

import (
	"errors"
	"fmt"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/pricing/quote"
)

// Quote is what a quote's paper is made of: the frozen document, and beside it
// what is kept out of documents because it is about people.
type Quote struct {
	Document *quote.Document
	// Catalogue is the release the document names: its groups give the
	// headings, its features the describing words. Without it the lines stand
	// in one list.
	Catalogue *catalogue.Catalogue
	// Customer to whom it is offered; EndCustomer is a dealer's own customer.
	Customer    Person
	EndCustomer Person
	// Vans names the document's vans, in its order; fewer than it has leaves
	// the rest without registration.
	Vans []VanWords
	// Draft: not issued. It says "Draft, not an offer" and has nothing to sign.
	Draft bool
	// Cancellation is what has to be said about the right to cancel, a
	// paragraph each; nothing where there is none.
	Cancellation []string
}

// Person is somebody as a letter addresses them; zero is nobody.
type Person struct {
	Name  string
	Lines []string // of the address
	// Telephone and Email are printed with the address.
	Telephone string
	Email     string
	// Country of who is abroad (ISO 3166-1 alpha-2), with their VAT number there;
	// "" for who is at home, where letters do not name them.
	Country, VATNumber string
}

func (p Person) nobody() bool {
	return p.Name == "" && len(p.Lines) == 0 && p.Telephone == "" && p.Email == ""
}

// VanWords is what tells one van from another.
type VanWords struct {
	Registration string
	VIN          string // vehicle identification number
	Keeper       string
}

// BuildSheet is what a build sheet's workbook or CSV is made of.
type BuildSheet struct {
	Sheet bom.Sheet
	// Catalogue the sheet was made with; it names kits and outside work.
	// Without it they stand by their codes.
	Catalogue *catalogue.Catalogue
	// Title says whose it is, "Quote 1042, revision 2"; Day (YYYY-MM-DD) when
	// it was worked out.
	Title string
	Day   string
	Van   VanWords
	// LeftHandDrive is for the drawing.
	LeftHandDrive bool
}

// LeftHandDrive says whether a van of a catalogue has its wheel on the left:
// by its particulars, else as its base van usually has it.
func LeftHandDrive(v bom.Van, c *catalogue.Catalogue) bool {
	const steering = "steering"
	for _, p := range v.Particulars {
		if p.Name == steering {
			return p.Value == "left"
		}
	}
	for i := range c.BaseVans {
		if c.BaseVans[i].Code != v.BaseVan {
			continue
		}
		for _, p := range c.BaseVans[i].Particulars {
			if p.Name == steering {
				return p.Values[0] == "left"
			}
		}
	}
	return false
}

// check finds what makes a paper impossible: it was put together wrongly.
func (q Quote) check() error {
	if q.Document == nil {
		return errors.New("paper: there is no document to print")
	}
	if len(q.Document.Vans) == 0 {
		return errors.New("paper: the document is of no van")
	}
	if len(q.Vans) > len(q.Document.Vans) {
		return fmt.Errorf("paper: %d vans are named and the document has %d", len(q.Vans), len(q.Document.Vans))
	}
	if n := len(q.Document.Asked.Vans); n != 0 && n != len(q.Document.Vans) {
		return fmt.Errorf("paper: %d vans were asked for and the document has %d", n, len(q.Document.Vans))
	}
	return nil
}
