package api

import (
	"time"

	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/openapi"
	"wainscot/pricing/quote"
)

// Customers, their vans, enquiries and reservations, from the contract and
// back to it.

func domainCustomer(c openapi.CustomerContent) store.CustomerContent {
	content := store.CustomerContent{
		Kind: quote.CustomerKind(c.Kind), Name: c.Name, GivenNames: c.GivenNames, Contact: c.Contact,
		Telephone: c.Telephone, OtherTelephone: c.OtherTelephone, Email: c.Email,
		Address:   store.Address{Lines: c.Address.Lines, Postcode: c.Address.Postcode, Country: c.Address.Country},
		PriceList: c.PriceList, VATNumber: c.VatNumber, Notes: c.Notes, KeepUntil: c.KeepUntil,
	}
	if c.CreditDays != nil {
		days := int(*c.CreditDays)
		content.CreditDays = &days
	}
	return content
}

func contractCustomer(c store.Customer, vans []uuid.UUID) openapi.Customer {
	customer := openapi.Customer{
		Id: c.ID.String(), Version: c.Version, CreatedAt: c.CreatedAt, ChangedAt: c.ChangedAt, ErasedAt: c.ErasedAt,
		Kind: openapi.CustomerKind(c.Kind), Name: c.Name, GivenNames: c.GivenNames, Contact: c.Contact,
		Telephone: c.Telephone, OtherTelephone: c.OtherTelephone, Email: c.Email,
		PriceList: c.PriceList, VatNumber: c.VATNumber, Notes: c.Notes, KeepUntil: c.KeepUntil,
		Vans: make([]openapi.Id, len(vans)),
	}
	if a := c.Address; len(a.Lines) > 0 || a.Postcode != "" || a.Country != "" {
		customer.Address = openapi.Address{Lines: a.Lines, Postcode: a.Postcode, Country: a.Country}
		if a.Lines == nil {
			customer.Address.Lines = []string{}
		}
	}
	if c.CreditDays != nil {
		days := whole(*c.CreditDays)
		customer.CreditDays = &days
	}
	for i, id := range vans {
		customer.Vans[i] = id.String()
	}
	return customer
}

func contractCustomerEntry(e store.CustomerEntry) openapi.CustomerSummary {
	return openapi.CustomerSummary{
		Id: e.ID.String(), Kind: openapi.CustomerKind(e.Kind), Name: e.Name, GivenNames: e.GivenNames,
		Telephone: e.Telephone, Email: e.Email, Postcode: e.Postcode, Registrations: e.Registrations,
	}
}

func domainKeptVan(v openapi.KeptVanContent) (store.VanContent, error) {
	facts, err := domainVan(v.Van)
	return store.VanContent{Customer: askedID(v.Customer), Facts: facts, Words: v.Words, Notes: v.Notes}, err
}

func contractKeptVan(v store.Van) openapi.KeptVan {
	return openapi.KeptVan{
		Id: v.ID.String(), Version: v.Version, CreatedAt: v.CreatedAt, Customer: contractID(v.Customer),
		Van: contractVan(v.Facts), Words: v.Words, Notes: v.Notes,
	}
}

func contractEnquiry(e store.Enquiry) openapi.Enquiry {
	return openapi.Enquiry{
		Id: e.ID.String(), Version: e.Version, CreatedAt: e.CreatedAt, Customer: contractID(e.Customer), Van: contractID(e.Van),
		Source: e.Source, ReceivedOn: e.ReceivedOn, FollowUpOn: e.FollowUpOn, Wants: e.Wants, Notes: e.Notes,
		State: openapi.EnquiryState(e.State), ClosedBecause: e.ClosedBecause,
	}
}

func contractReservation(r store.Reservation) (openapi.Reservation, error) {
	deposit, err := moneyOf(r.DepositMinor, r.Currency)
	return openapi.Reservation{
		Id: r.ID.String(), Number: whole(int(r.Number)), Version: r.Version, CreatedAt: r.CreatedAt,
		Customer: contractID(r.Customer), Van: contractID(r.Van), Quote: contractID(r.Quote),
		Deposit: deposit, Reference: r.Reference, SlotWantedOn: r.SlotWantedOn, AgreeBy: r.AgreeBy,
		State: openapi.ReservationState(r.State), Notes: r.Notes,
	}, err
}

// yearsAfter is the day so many years after another, YYYY-MM-DD; 29 February
// becomes 1 March where there is none.
func yearsAfter(day string, years int) string {
	at, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return day // days come from the store, which has checked them
	}
	return at.AddDate(years, 0, 0).Format(time.DateOnly)
}
