package store

import (
	"fmt"
	"testing"

	"github.com/google/uuid"

	"wainscot/bom"
)

// How much the demo's larger sibling has.
const (
	manyCustomers = 2_000
	manyQuotes    = 5_000
)

// BenchmarkLists lists, searches and opens among 2,000 customers, their vans
// and enquiries, and 5,000 quotes: each is to take under 20 ms.
func BenchmarkLists(b *testing.B) {
	s := open(b, fresh(b), Options{})
	p := workshop(b, s, "fenland")
	var customers []uuid.UUID
	var last QuoteEntry
	for from := 0; from < manyCustomers; from += 500 {
		write(b, s, p, func(tx WriteTx) error {
			for i := from; i < from+500; i++ {
				c := someone(fmt.Sprintf("%c%cmoss %04d", 'a'+i%26, 'a'+i/26%26, i), fmt.Sprintf("Given %d", i))
				c.Telephone, c.Email = fmt.Sprintf("01632 96%04d", i), fmt.Sprintf("someone%d@moss.example", i)
				made, err := tx.AddCustomer(c)
				if err != nil {
					return err
				}
				customers = append(customers, made.ID)
				if _, err := tx.AddVan(VanContent{Customer: made.ID, Facts: bom.Van{BaseVan: "short", Registration: plate(i)}}); err != nil {
					return err
				}
				if _, err := tx.AddEnquiry(EnquiryContent{Customer: made.ID, Source: "Fair", ReceivedOn: "2026-11-25", FollowUpOn: "2026-11-26", State: EnquiryOpen}); err != nil {
					return err
				}
			}
			return nil
		})
	}
	for from := 0; from < manyQuotes; from += 500 {
		write(b, s, p, func(tx WriteTx) (err error) {
			for i := from; i < from+500; i++ {
				c := content("short")
				c.Customer = customers[i%len(customers)]
				c.Vans = []QuoteVan{{BaseVan: "short", Plate: plate(i)}}
				c.FollowUpOn = "2026-11-26"
				if last, err = tx.CreateQuote(c); err != nil {
					return err
				}
			}
			return nil
		})
	}
	middle := customers[len(customers)/2]
	for _, c := range []struct {
		name string
		ask  func(tx ReadTx) error
	}{
		{"customers first page", func(tx ReadTx) error { _, _, err := tx.Customers(CustomerFilter{Limit: 100}); return err }},
		{"customers later page", func(tx ReadTx) error {
			_, _, err := tx.Customers(CustomerFilter{Limit: 100, After: middle})
			return err
		}},
		{"find by name", func(tx ReadTx) error { _, _, err := tx.Customers(CustomerFilter{Find: "mdmoss"}); return err }},
		{"find by registration", func(tx ReadTx) error { _, _, err := tx.Customers(CustomerFilter{Find: plate(1234)}); return err }},
		{"find by telephone", func(tx ReadTx) error {
			_, _, err := tx.Customers(CustomerFilter{Find: "+44 1632 961234"})
			return err
		}},
		{"find by e-mail", func(tx ReadTx) error { _, _, err := tx.Customers(CustomerFilter{Find: "someone1234@"}); return err }},
		{"find nobody", func(tx ReadTx) error { _, _, err := tx.Customers(CustomerFilter{Find: "nobody at all"}); return err }},
		{"open a customer", func(tx ReadTx) error { _, err := tx.Customer(middle); return err }},
		{"vans by registration", func(tx ReadTx) error { _, _, err := tx.Vans(VanFilter{Registration: "MO12", Limit: 100}); return err }},
		{"enquiries", func(tx ReadTx) error { _, _, err := tx.Enquiries(EnquiryFilter{Limit: 100}); return err }},
		{"to chase", func(tx ReadTx) error { _, _, err := tx.ToChase("2026-11-27", 100); return err }},
		{"quotes first page", func(tx ReadTx) error { _, _, err := tx.Quotes(QuoteFilter{Limit: 100}); return err }},
		{"quotes of a customer", func(tx ReadTx) error { _, _, err := tx.Quotes(QuoteFilter{Customer: middle}); return err }},
		{"quotes by registration", func(tx ReadTx) error { _, _, err := tx.Quotes(QuoteFilter{Registration: plate(1234)}); return err }},
		{"open a quote", func(tx ReadTx) error { _, err := tx.Quote(last.ID); return err }},
	} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				read(b, s, p, c.ask)
			}
		})
	}
	b.Run("sweep", func(b *testing.B) {
		for b.Loop() {
			if err := s.Sweep(b.Context()); err != nil {
				b.Fatal(err)
			}
		}
	})
}

func plate(i int) string {
	return fmt.Sprintf("MO%02d %c%c%c", i%100, 'A'+i/100%26, 'A'+i/2600%26, 'X')
}
