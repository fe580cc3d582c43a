package store

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/pricing/invoice"
	"wainscot/pricing/money"
)

// InvoiceEntry is a paper of money without its document.
type InvoiceEntry struct {
	ID        uuid.UUID
	CreatedAt time.Time
	Kind      invoice.Kind
	// Number of its series, without gaps: deposit invoices and invoices share
	// one, credit notes have one of their own.
	Number             int64
	Job                uuid.UUID
	Customer           uuid.UUID // the nil id: nobody
	IssuedOn, TaxPoint string    // YYYY-MM-DD
	Gross, VAT, Due    money.Amount
	Entry              int64 // of the books
}

// Invoice is a paper of money with its document.
type Invoice struct {
	InvoiceEntry
	Document Packed
}

// Content reads the document of a paper.
func (i Invoice) Content() (*invoice.Invoice, error) {
	text, err := i.Document.Unpack()
	if err != nil {
		return nil, fmt.Errorf("%s %d: %w", i.Kind, i.Number, err)
	}
	return invoice.Decode(text)
}

func seriesOf(k invoice.Kind) string {
	if k == invoice.CreditNote {
		return "credit note"
	}
	return "invoice"
}

// NumberInvoice gives a paper the next number of its series. Given up with the
// transaction, the number is the next again.
func (t WriteTx) NumberInvoice(i *invoice.Invoice) (err error) {
	i.Number, err = nextNumber(t, seriesOf(i.Kind))
	return err
}

// AddInvoice keeps a paper that was numbered, with the entry of the books that
// goes with it. What it lacks is document.Faults.
func (t WriteTx) AddInvoice(i *invoice.Invoice, entry int64) (InvoiceEntry, error) {
	if faults := i.Check(); len(faults) > 0 {
		return InvoiceEntry{}, fmt.Errorf("%s: %w", i.Kind, faults)
	}
	text, err := i.Encode()
	if err != nil {
		return InvoiceEntry{}, fmt.Errorf("%s %d: %w", i.Kind, i.Number, err)
	}
	e := InvoiceEntry{ID: t.NewID(), CreatedAt: t.Now(), Kind: i.Kind, Number: i.Number, IssuedOn: i.IssuedOn, TaxPoint: i.TaxPoint,
		Gross: i.Gross, VAT: i.VATTotal, Due: i.Due, Entry: entry}
	if e.Job, err = uuid.Parse(i.Job); err == nil && i.Customer != "" {
		e.Customer, err = uuid.Parse(i.Customer)
	}
	if err != nil {
		return InvoiceEntry{}, fmt.Errorf("%s %d: %w", i.Kind, i.Number, err)
	}
	if err := insert(t, issued, invoiceRowOf(e, Pack(text))); err != nil {
		return InvoiceEntry{}, fmt.Errorf("%s %d: %w", i.Kind, i.Number, err)
	}
	return e, nil
}

// Invoice gives one paper.
func (t ReadTx) Invoice(id uuid.UUID) (Invoice, error) {
	row, err := of[invoiceRow](t).where("id = ?", id).one()
	if err != nil {
		return Invoice{}, fmt.Errorf("invoice %s: %w", id, err)
	}
	return row.invoice()
}

// InvoicesOf are all papers of a job, in the order in which they were written.
func (t ReadTx) InvoicesOf(job uuid.UUID) ([]*invoice.Invoice, []InvoiceEntry, error) {
	found, err := of[invoiceRow](t).where("job = ?", job).order("entry, series DESC, number").all()
	if err != nil {
		return nil, nil, fmt.Errorf("invoices of job %s: %w", job, err)
	}
	papers, entries := make([]*invoice.Invoice, len(found)), make([]InvoiceEntry, len(found))
	for i := range found {
		kept, err := found[i].invoice()
		if err != nil {
			return nil, nil, err
		}
		if papers[i], err = kept.Content(); err != nil {
			return nil, nil, err
		}
		entries[i] = kept.InvoiceEntry
	}
	return papers, entries, nil
}

// InvoiceFilter says which papers to list.
type InvoiceFilter struct {
	From, Until string // days of issue, both included; "" means any
	Kind        invoice.Kind
	Job         uuid.UUID
	Customer    uuid.UUID
	After       *Place // nil begins at the newest
	Limit       int    // 0 means 50; at most 200
}

// Invoices lists papers, the newest first. next is where to go on, nil at the
// end.
func (t ReadTx) Invoices(f InvoiceFilter) (list []InvoiceEntry, next *Place, err error) {
	query := of[invoiceEntryRow](t)
	if f.From != "" {
		query = query.where("issued_on >= ?", f.From)
	}
	if f.Until != "" {
		query = query.where("issued_on <= ?", f.Until)
	}
	if f.Kind != "" {
		query = query.where("kind = ?", string(f.Kind))
	}
	if f.Job != uuid.Nil {
		query = query.where("job = ?", f.Job)
	}
	if f.Customer != uuid.Nil {
		query = query.where("customer = ?", f.Customer)
	}
	found, next, err := page(query, f.After, f.Limit, func(r invoiceEntryRow) Place { return Place{moment(r.CreatedUS), r.ID} })
	if err != nil {
		return nil, nil, fmt.Errorf("invoices: %w", err)
	}
	list, err = each(found, (*invoiceEntryRow).entry)
	return list, next, err
}

type invoiceEntryRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	ID             uuid.UUID `gorm:"primaryKey"`
	CreatedUS      int64
	Series         string
	Number         int64
	Kind           string
	Job            uuid.UUID
	Customer       uuid.NullUUID
	IssuedOn       string
	TaxPoint       string
	Currency       string
	GrossMinor     int64
	VATMinor       int64
	DueMinor       int64
	Entry          int64
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (invoiceEntryRow) TableName() string { return "invoices" }

func (r invoiceEntryRow) entry() (InvoiceEntry, error) {
	e := InvoiceEntry{ID: r.ID, CreatedAt: moment(r.CreatedUS), Kind: invoice.Kind(r.Kind), Number: r.Number, Job: r.Job, Customer: r.Customer.UUID,
		IssuedOn: r.IssuedOn, TaxPoint: r.TaxPoint, Entry: r.Entry}
	for _, a := range []struct {
		into  *money.Amount
		minor int64
	}{{&e.Gross, r.GrossMinor}, {&e.VAT, r.VATMinor}, {&e.Due, r.DueMinor}} {
		var err error
		if *a.into, err = money.FromMinor(a.minor, money.Currency(r.Currency)); err != nil {
			return e, fmt.Errorf("%s %d: %w", r.Kind, r.Number, err)
		}
	}
	return e, nil
}

type invoiceRow struct {
	Entry    invoiceEntryRow `gorm:"embedded"`
	Document []byte
}

// TableName for gorm.
func (*invoiceRow) TableName() string { return "invoices" }

func invoiceRowOf(e InvoiceEntry, document Packed) *invoiceRow {
	return &invoiceRow{
		Entry: invoiceEntryRow{
			ID: e.ID, CreatedUS: e.CreatedAt.UnixMicro(), Series: seriesOf(e.Kind), Number: e.Number, Kind: string(e.Kind), Job: e.Job, Customer: orNull(e.Customer),
			IssuedOn: e.IssuedOn, TaxPoint: e.TaxPoint, Currency: string(e.Gross.Currency()), GrossMinor: e.Gross.Minor(), VATMinor: e.VAT.Minor(),
			DueMinor: e.Due.Minor(), Entry: e.Entry, DocumentSHA256: document.sum,
		},
		Document: document.zipped,
	}
}

func (r *invoiceRow) bind(workshop uuid.UUID) { r.Entry.WorkshopID = workshop }

func (r *invoiceRow) journalled() (noun, id string, content []byte) {
	e := r.Entry
	sum := digest("wainscot-invoice-row/1", e.CreatedUS, e.Series, e.Number, e.Kind, e.Job[:], e.Customer.UUID[:], e.IssuedOn, e.TaxPoint,
		e.Currency, e.GrossMinor, e.VATMinor, e.DueMinor, e.Entry, e.DocumentSHA256)
	return "invoice", e.ID.String(), sum[:]
}

func (r *invoiceRow) sealed() error {
	_, err := Packed{zipped: r.Document, sum: r.Entry.DocumentSHA256}.Unpack()
	return err
}

func (r *invoiceRow) key() any { return r.Entry.ID }

func (r *invoiceRow) invoice() (Invoice, error) {
	e, err := r.Entry.entry()
	return Invoice{e, Packed{zipped: r.Document, sum: r.Entry.DocumentSHA256}}, err
}
