package store

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/pricing/quote"
)

// Customer is who buys. All of it but id, kind and days is personal: other
// rows, documents and the journal name a customer by id.
type Customer struct {
	ID uuid.UUID
	// Version goes up by one with every change of what CustomerContent has; a
	// later KeepUntil that follows from business leaves it.
	Version   int64
	CreatedAt time.Time
	ChangedAt time.Time
	// ErasedAt is when the customer was emptied; zero while not.
	ErasedAt time.Time
	CustomerContent
}

// CustomerContent is what is said of a customer.
type CustomerContent struct {
	// Kind: a dealer's own customer is a private one.
	Kind quote.CustomerKind
	// Name is the surname, or the firm's name.
	Name       string
	GivenNames string
	// Contact is whom to ask for in a firm.
	Contact        string
	Telephone      string // as people write it, as is the other
	OtherTelephone string
	Email          string // kept in small letters
	Address        Address
	// PriceList of the price-book a trade customer pays by; "" for the usual
	// prices.
	PriceList string
	// CreditDays after handover in which a trade customer pays; nil for none.
	CreditDays *int
	VATNumber  string
	Notes      string
	// KeepUntil is the day (YYYY-MM-DD) before which nothing is erased; "" in
	// a change leaves it as it is.
	KeepUntil string
}

// Address of a customer.
type Address struct {
	Lines    []string
	Postcode string
	Country  string // ISO 3166-1 alpha-2
}

// ErrErased says that what is named has been emptied and takes nothing new.
var ErrErased = errors.New("erased")

// AddCustomer keeps a new customer. KeepUntil must be a day.
func (t WriteTx) AddCustomer(c CustomerContent) (Customer, error) {
	if err := checkDay(c.KeepUntil); err != nil {
		return Customer{}, fmt.Errorf("customer: keep until: %w", err)
	}
	row := customerRow{ID: t.NewID(), Version: 1, CreatedUS: t.Now().UnixMicro()}
	row.say(t, c)
	if err := insert(t, added, &row); err != nil {
		return Customer{}, fmt.Errorf("customer: %w", err)
	}
	return row.customer()
}

// ChangeCustomer puts new content in the place of a customer's. version is the
// one the change was made from, else it is ErrStale; a customer who has been
// erased is ErrErased.
func (t WriteTx) ChangeCustomer(id uuid.UUID, version int64, c CustomerContent) (Customer, error) {
	row, err := of[customerRow](t.ReadTx).where("id = ?", id).one()
	if err != nil {
		return Customer{}, fmt.Errorf("customer %s: %w", id, err)
	}
	if row.ErasedUS != nil {
		return Customer{}, fmt.Errorf("customer %s: %w", id, ErrErased)
	}
	if c.KeepUntil == "" {
		c.KeepUntil = row.KeepUntil
	}
	if err := checkDay(c.KeepUntil); err != nil {
		return Customer{}, fmt.Errorf("customer %s: keep until: %w", id, err)
	}
	row.say(t, c)
	row.Version = version
	return t.writeCustomer(changed, row)
}

// writeCustomer writes all columns of a customer who was read at row.Version.
func (t WriteTx) writeCustomer(verb string, row customerRow) (Customer, error) {
	stale := fmt.Errorf("customer %s at version %d: %w", row.ID, row.Version, ErrStale)
	which := of[customerRow](t.ReadTx).where("id = ? AND version = ?", row.ID, row.Version)
	row.Version++
	if err := change(t, verb, which, row.columns(), stale, &row); err != nil {
		return Customer{}, err
	}
	return row.customer()
}

// KeepCustomer sees to it that a customer is kept until a day at least,
// because something has happened that must be kept so long. It is no change
// of what was said of the customer: version and journal stay.
func (t WriteTx) KeepCustomer(id uuid.UUID, until string) error {
	if err := checkDay(until); err != nil {
		return fmt.Errorf("customer %s: keep until: %w", id, err)
	}
	row, err := of[customerRow](t.ReadTx).where("id = ?", id).one()
	if err == nil && row.KeepUntil < until {
		err = of[customerRow](t.ReadTx).where("id = ?", id).set(map[string]any{"keep_until": until}, ErrNotFound)
	}
	if err != nil {
		return fmt.Errorf("customer %s: %w", id, err)
	}
	return nil
}

// Customer gives one customer.
func (t ReadTx) Customer(id uuid.UUID) (Customer, error) {
	row, err := of[customerRow](t).where("id = ?", id).one()
	if err != nil {
		return Customer{}, fmt.Errorf("customer %s: %w", id, err)
	}
	return row.customer()
}

// StandingCustomer gives a customer something new may be made for: one who has
// been erased is ErrErased.
func (t ReadTx) StandingCustomer(id uuid.UUID) (Customer, error) {
	c, err := t.Customer(id)
	if err == nil && !c.ErasedAt.IsZero() {
		err = fmt.Errorf("customer %s: %w", id, ErrErased)
	}
	return c, err
}

// CustomerEntry is a customer as lists have it.
type CustomerEntry struct {
	ID         uuid.UUID
	Kind       quote.CustomerKind
	Name       string
	GivenNames string
	Telephone  string
	Email      string
	Postcode   string
	// Registrations of the vans they keep, as written, the latest first; at
	// most MostRegistrations.
	Registrations []string
}

// MostRegistrations is how many of a customer's registrations an entry has.
const MostRegistrations = 20

// CustomerEntries gives the entries of the customers with these ids, in no
// order; those that are not there are left out.
func (t ReadTx) CustomerEntries(ids []uuid.UUID) (map[uuid.UUID]CustomerEntry, error) {
	found := make(map[uuid.UUID]CustomerEntry, len(ids))
	if len(ids) == 0 {
		return found, nil
	}
	list, err := of[customerEntryRow](t).where("id IN ?", ids).all()
	if err != nil {
		return nil, fmt.Errorf("customers: %w", err)
	}
	entries, err := t.customerEntries(list)
	for _, e := range entries {
		found[e.ID] = e
	}
	return found, err
}

// customerEntries fills in the registrations.
func (t ReadTx) customerEntries(list []customerEntryRow) ([]CustomerEntry, error) {
	entries := make([]CustomerEntry, len(list))
	ids := make([]uuid.UUID, len(list))
	at := make(map[uuid.UUID]int, len(list))
	for i, r := range list {
		entries[i] = CustomerEntry{
			ID: r.ID, Kind: quote.CustomerKind(r.Kind), Name: r.Name, GivenNames: r.GivenNames,
			Telephone: r.Telephone, Email: r.Email, Postcode: r.Postcode,
		}
		ids[i], at[r.ID] = r.ID, i
	}
	if len(ids) == 0 {
		return entries, nil
	}
	kept, err := of[vanKeeperRow](t).where("customer IN ? AND registration <> ''", ids).order("customer, created_us DESC, id DESC").all()
	if err != nil {
		return nil, fmt.Errorf("their vans: %w", err)
	}
	for _, v := range kept {
		e := &entries[at[v.Customer.UUID]]
		if len(e.Registrations) < MostRegistrations {
			e.Registrations = append(e.Registrations, v.Plate)
		}
	}
	return entries, nil
}

// customerEntryRow is what lists need of a customer.
type customerEntryRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	ID         uuid.UUID `gorm:"primaryKey"`
	Kind       string
	Name       string
	GivenNames string
	Telephone  string
	Email      string
	Postcode   string
	FoundName  string
}

// TableName for gorm.
func (customerEntryRow) TableName() string { return "customers" }

type customerRow struct {
	WorkshopID          uuid.UUID `gorm:"primaryKey"`
	ID                  uuid.UUID `gorm:"primaryKey"`
	Version             int64
	CreatedUS           int64
	ChangedUS           int64
	ErasedUS            *int64
	Kind                string
	Name                string
	GivenNames          string
	Contact             string
	Telephone           string
	OtherTelephone      string
	Email               string
	Address             string
	Postcode            string
	Country             string
	PriceList           string
	CreditDays          *int
	VATNumber           string `gorm:"column:vat_number"`
	Notes               string
	KeepUntil           string
	FoundName           string
	FoundGiven          string
	FoundTelephone      string
	FoundOtherTelephone string
}

// TableName for gorm.
func (*customerRow) TableName() string { return "customers" }

func (r *customerRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

// journalled leaves the content out: it is personal, and must be able to go
// while the journal still holds.
func (r *customerRow) journalled() (noun, id string, content []byte) {
	return "customer", r.ID.String(), nil
}

// say puts content into the row, with what it is found by.
func (r *customerRow) say(t WriteTx, c CustomerContent) {
	r.ChangedUS = t.Now().UnixMicro()
	r.Kind, r.Name, r.GivenNames, r.Contact = string(c.Kind), c.Name, c.GivenNames, c.Contact
	r.Telephone, r.OtherTelephone, r.Email = c.Telephone, c.OtherTelephone, PlainEmail(c.Email)
	r.Address, r.Postcode, r.Country = addressText(c.Address.Lines), c.Address.Postcode, c.Address.Country
	r.PriceList, r.CreditDays, r.VATNumber = c.PriceList, c.CreditDays, c.VATNumber
	r.Notes, r.KeepUntil = c.Notes, c.KeepUntil
	r.FoundName = PlainName(c.Name + c.GivenNames)
	r.FoundGiven = PlainName(c.GivenNames + c.Name)
	r.FoundTelephone, r.FoundOtherTelephone = PlainTelephone(c.Telephone), PlainTelephone(c.OtherTelephone)
}

func (r *customerRow) columns() map[string]any {
	return map[string]any{
		"version": r.Version, "changed_us": r.ChangedUS, "erased_us": r.ErasedUS, "kind": r.Kind,
		"name": r.Name, "given_names": r.GivenNames, "contact": r.Contact,
		"telephone": r.Telephone, "other_telephone": r.OtherTelephone, "email": r.Email,
		"address": r.Address, "postcode": r.Postcode, "country": r.Country,
		"price_list": r.PriceList, "credit_days": r.CreditDays, "vat_number": r.VATNumber,
		"notes": r.Notes, "keep_until": r.KeepUntil,
		"found_name": r.FoundName, "found_given": r.FoundGiven,
		"found_telephone": r.FoundTelephone, "found_other_telephone": r.FoundOtherTelephone,
	}
}

func (r *customerRow) customer() (Customer, error) {
	c := Customer{
		ID: r.ID, Version: r.Version, CreatedAt: moment(r.CreatedUS), ChangedAt: moment(r.ChangedUS),
		CustomerContent: CustomerContent{
			Kind: quote.CustomerKind(r.Kind), Name: r.Name, GivenNames: r.GivenNames, Contact: r.Contact,
			Telephone: r.Telephone, OtherTelephone: r.OtherTelephone, Email: r.Email,
			Address:   Address{Postcode: r.Postcode, Country: r.Country},
			PriceList: r.PriceList, CreditDays: r.CreditDays, VATNumber: r.VATNumber,
			Notes: r.Notes, KeepUntil: r.KeepUntil,
		},
	}
	if r.ErasedUS != nil {
		c.ErasedAt = moment(*r.ErasedUS)
	}
	if r.Address != "" {
		if err := json.Unmarshal([]byte(r.Address), &c.Address.Lines); err != nil {
			return c, fmt.Errorf("%w: customer %s: its address: %w", ErrDocument, r.ID, err)
		}
	}
	return c, nil
}

// addressText is the lines of an address as one column; "" for none.
func addressText(list []string) string {
	if len(list) == 0 {
		return ""
	}
	text, err := json.Marshal(list)
	if err != nil {
		panic(err) // a list of texts can always be written
	}
	return string(text)
}
