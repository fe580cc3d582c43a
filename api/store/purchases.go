package store

import (
	"fmt"
	"strings"
	"time"
	"unicode"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"wainscot/pricing/money"
	"wainscot/pricing/purchase"
)

// Purchases is what a workshop has set for what it buys.
type Purchases struct {
	Version   int64 // 0: nothing was ever set
	ChangedAt time.Time
	// CompleteThrough is the last day through which purchases were declared
	// complete; "" for none.
	CompleteThrough string
	Tolerance       purchase.Tolerance
}

// Purchases gives what is set for purchases, in the workshop's currency.
func (t ReadTx) Purchases(c money.Currency) (Purchases, error) {
	found, err := of[purchasesRow](t).first(1)
	if err != nil || len(found) == 0 {
		return Purchases{}, err
	}
	return found[0].purchases(c)
}

// SetPurchases sets it. version is the one the change was made from, else it is
// ErrStale.
func (t WriteTx) SetPurchases(version int64, p Purchases) (Purchases, error) {
	row := &purchasesRow{Version: version + 1, ChangedUS: t.Now().UnixMicro(), CompleteThrough: p.CompleteThrough, TolerancePercent: p.Tolerance.Percent.String()}
	row.bind(t.s.as.Workshop)
	if m := p.Tolerance.Most; m != nil {
		minor := m.Minor()
		row.ToleranceMinor = &minor
	}
	p.Version, p.ChangedAt = row.Version, t.Now()
	if version == 0 {
		if found, err := of[purchasesRow](t.ReadTx).first(1); err != nil || len(found) > 0 {
			return p, fmt.Errorf("purchases at version 0: %w", staleOr(err))
		}
		return p, insert(t, changed, row)
	}
	return p, change(t, changed, of[purchasesRow](t.ReadTx).where("version = ?", version), map[string]any{
		"version": row.Version, "changed_us": row.ChangedUS, "complete_through": row.CompleteThrough,
		"tolerance_percent": row.TolerancePercent, "tolerance_minor": row.ToleranceMinor,
	}, fmt.Errorf("purchases at version %d: %w", version, ErrStale), row)
}

func staleOr(err error) error {
	if err != nil {
		return err
	}
	return ErrStale
}

// SupplierInvoiceEntry is a paper of a supplier without its document.
type SupplierInvoiceEntry struct {
	ID uuid.UUID
	// Number is what people call it by: from 1, without gaps, in each workshop.
	Number    int64
	Version   int64
	CreatedAt time.Time
	ChangedAt time.Time
	Supplier  string
	Name      string
	Kind      purchase.Kind
	State     purchase.State
	TaxPoint  string
	DueOn     string
	Order     uuid.UUID // the nil id: for none
	Credits   uuid.UUID // likewise
	Gross     money.Amount
	// Owed is what was accepted, of a credit note below nothing; Disputed what
	// was not, and Paid what of it went.
	Owed, Disputed, Paid money.Amount
	Entry                int64 // of the books; 0 where nothing was entered
	// Words why it was decided so: they may name somebody.
	Words string
}

// Left is what of it is still to be paid.
func (e *SupplierInvoiceEntry) Left() money.Amount {
	left, err := e.Owed.Sub(e.Paid)
	if err != nil {
		return e.Owed
	}
	return left
}

// SupplierInvoice is a paper of a supplier with its document.
type SupplierInvoice struct {
	SupplierInvoiceEntry
	Content *purchase.Invoice
}

// AddSupplierInvoice keeps a paper that was entered. One of the same kind and
// number of that supplier is ErrTaken.
func (t WriteTx) AddSupplierInvoice(content purchase.Invoice) (SupplierInvoice, error) {
	number, err := nextNumber(t, "supplier's invoice")
	if err != nil {
		return SupplierInvoice{}, fmt.Errorf("numbering the supplier's invoice: %w", err)
	}
	zero := money.Zero(content.Currency)
	now := SupplierInvoice{Content: &content, SupplierInvoiceEntry: SupplierInvoiceEntry{ID: t.NewID(), Number: number, Version: 1,
		CreatedAt: t.Now(), ChangedAt: t.Now(), Owed: zero, Disputed: zero, Paid: zero}}
	if err := t.notEntered(&content, now.ID); err != nil {
		return SupplierInvoice{}, err
	}
	row, err := now.row()
	if err == nil {
		err = insert(t, added, row)
	}
	if err != nil {
		return SupplierInvoice{}, fmt.Errorf("supplier's invoice %d: %w", number, err)
	}
	return now, nil
}

// notEntered says that no other paper of the supplier has its number.
func (t ReadTx) notEntered(content *purchase.Invoice, besides uuid.UUID) error {
	n, err := of[supplierInvoiceEntryRow](t).where("supplier = ? AND kind = ? AND number_key = ? AND id <> ?",
		content.Supplier, string(content.Kind), numberKey(content.Number), besides).count()
	if err == nil && n > 0 {
		err = fmt.Errorf("%s %q of %s: %w", content.Kind, content.Number, content.Supplier, ErrTaken)
	}
	return err
}

// numberKey is a supplier's number as it is held against others: whether there
// was a space in it depends on who copied it.
func numberKey(number string) string {
	return strings.ToUpper(strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return r
	}, number))
}

// ChangeSupplierInvoice puts what a paper has become in the place of what it
// was.
func (t WriteTx) ChangeSupplierInvoice(now SupplierInvoice) (SupplierInvoice, error) {
	version := now.Version
	now.Version, now.ChangedAt = version+1, t.Now()
	if err := t.notEntered(now.Content, now.ID); err != nil {
		return SupplierInvoice{}, err
	}
	row, err := now.row()
	if err != nil {
		return SupplierInvoice{}, err
	}
	e := row.Entry
	err = change(t, changed, of[supplierInvoiceRow](t.ReadTx).where("id = ? AND version = ?", now.ID, version), map[string]any{
		"version": e.Version, "changed_us": e.ChangedUS, "supplier": e.Supplier, "name": e.Name, "kind": e.Kind, "number_key": e.NumberKey, "state": e.State,
		"tax_point": e.TaxPoint, "due_on": e.DueOn, "purchase_order": e.PurchaseOrder, "credits": e.Credits, "currency": e.Currency, "gross_minor": e.GrossMinor,
		"owed_minor": e.OwedMinor, "disputed_minor": e.DisputedMinor, "paid_minor": e.PaidMinor, "entry": e.Entry, "words": e.Words,
		"document": row.Document, "document_sha256": e.DocumentSHA256,
	}, fmt.Errorf("supplier's invoice %d at version %d: %w", now.Number, version, ErrStale), row)
	if err != nil {
		return SupplierInvoice{}, err
	}
	return now, nil
}

// SupplierInvoice gives one.
func (t ReadTx) SupplierInvoice(id uuid.UUID) (SupplierInvoice, error) {
	row, err := of[supplierInvoiceRow](t).where("id = ?", id).one()
	if err != nil {
		return SupplierInvoice{}, fmt.Errorf("supplier's invoice %s: %w", id, err)
	}
	return row.invoice()
}

// SupplierInvoicesOf are all papers for an order, in the order of their numbers.
func (t ReadTx) SupplierInvoicesOf(order uuid.UUID) ([]*purchase.Invoice, error) {
	return t.supplierPapers(of[supplierInvoiceRow](t).where("purchase_order = ?", order))
}

// SupplierInvoicesOfOrders are all papers for any order, in the order of their
// numbers.
func (t ReadTx) SupplierInvoicesOfOrders() ([]*purchase.Invoice, error) {
	return t.supplierPapers(of[supplierInvoiceRow](t).where("purchase_order IS NOT NULL"))
}

// CreditsOf are the credit notes of an invoice that were decided on and not
// refused, likewise.
func (t ReadTx) CreditsOf(invoice uuid.UUID) ([]*purchase.Invoice, error) {
	return t.supplierPapers(of[supplierInvoiceRow](t).where("credits = ? AND state = ?", invoice, string(purchase.Accepted)))
}

func (t ReadTx) supplierPapers(which rows[supplierInvoiceRow]) ([]*purchase.Invoice, error) {
	found, err := which.order("number").all()
	if err != nil {
		return nil, fmt.Errorf("suppliers' invoices: %w", err)
	}
	list := make([]*purchase.Invoice, len(found))
	for i := range found {
		kept, err := found[i].invoice()
		if err != nil {
			return nil, err
		}
		list[i] = kept.Content
	}
	return list, nil
}

// UnpaidSupplierInvoices are all of which something is left to pay, or to have
// back, by supplier and number.
func (t ReadTx) UnpaidSupplierInvoices() ([]SupplierInvoice, error) {
	found, err := of[supplierInvoiceRow](t).where("owed_minor <> paid_minor").order("supplier, number").all()
	if err != nil {
		return nil, fmt.Errorf("suppliers' invoices: %w", err)
	}
	return each(found, (*supplierInvoiceRow).invoice)
}

// SupplierInvoiceFilter says which papers to list.
type SupplierInvoiceFilter struct {
	State    purchase.State // "" means any
	Supplier string         // "" means any
	Unpaid   bool           // only those of which something is left to pay
	After    *Place         // nil begins at the newest
	Limit    int            // 0 means 50; at most 200
}

// SupplierInvoices lists papers, the newest first. next is where to go on, nil
// at the end.
func (t ReadTx) SupplierInvoices(f SupplierInvoiceFilter) (list []SupplierInvoiceEntry, next *Place, err error) {
	query := of[supplierInvoiceEntryRow](t)
	if f.State != "" {
		query = query.where("state = ?", string(f.State))
	}
	if f.Supplier != "" {
		query = query.where("supplier = ?", f.Supplier)
	}
	if f.Unpaid {
		query = query.where("owed_minor <> paid_minor")
	}
	found, next, err := page(query, f.After, f.Limit, func(r supplierInvoiceEntryRow) Place { return Place{moment(r.CreatedUS), r.ID} })
	if err != nil {
		return nil, nil, fmt.Errorf("suppliers' invoices: %w", err)
	}
	list, err = each(found, (*supplierInvoiceEntryRow).entry)
	return list, next, err
}

type purchasesRow struct {
	WorkshopID       uuid.UUID `gorm:"primaryKey"`
	Version          int64
	ChangedUS        int64
	CompleteThrough  string
	TolerancePercent string
	ToleranceMinor   *int64
}

// TableName for gorm.
func (*purchasesRow) TableName() string { return "purchases" }

func (r *purchasesRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *purchasesRow) journalled() (noun, id string, content []byte) {
	most := int64(-1)
	if r.ToleranceMinor != nil {
		most = *r.ToleranceMinor
	}
	sum := digest("wainscot-purchases-row/1", r.Version, r.ChangedUS, r.CompleteThrough, r.TolerancePercent, most)
	return "purchases", r.WorkshopID.String(), sum[:]
}

func (*purchasesRow) sealed() error { return nil }

func (r *purchasesRow) key() any { return r.WorkshopID }

func (r *purchasesRow) purchases(c money.Currency) (Purchases, error) {
	p := Purchases{Version: r.Version, ChangedAt: moment(r.ChangedUS), CompleteThrough: r.CompleteThrough}
	var err error
	if p.Tolerance.Percent, err = decimal.NewFromString(r.TolerancePercent); err != nil {
		return p, fmt.Errorf("purchases: %w", err)
	}
	if r.ToleranceMinor != nil {
		most, err := money.FromMinor(*r.ToleranceMinor, c)
		if err != nil {
			return p, fmt.Errorf("purchases: %w", err)
		}
		p.Tolerance.Most = &most
	}
	return p, nil
}

type supplierInvoiceEntryRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	ID             uuid.UUID `gorm:"primaryKey"`
	Number         int64
	Version        int64
	CreatedUS      int64
	ChangedUS      int64
	Supplier       string
	Name           string
	Kind           string
	NumberKey      string
	State          string
	TaxPoint       string
	DueOn          string
	PurchaseOrder  uuid.NullUUID
	Credits        uuid.NullUUID
	Currency       string
	GrossMinor     int64
	OwedMinor      int64
	DisputedMinor  int64
	PaidMinor      int64
	Entry          int64
	Words          string
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (*supplierInvoiceEntryRow) TableName() string { return "supplier_invoices" }

func (r *supplierInvoiceEntryRow) entry() (SupplierInvoiceEntry, error) {
	e := SupplierInvoiceEntry{ID: r.ID, Number: r.Number, Version: r.Version, CreatedAt: moment(r.CreatedUS), ChangedAt: moment(r.ChangedUS), Supplier: r.Supplier,
		Name: r.Name, Kind: purchase.Kind(r.Kind), State: purchase.State(r.State), TaxPoint: r.TaxPoint, DueOn: r.DueOn, Order: r.PurchaseOrder.UUID,
		Credits: r.Credits.UUID, Entry: r.Entry, Words: r.Words}
	for _, a := range []struct {
		into  *money.Amount
		minor int64
	}{{&e.Gross, r.GrossMinor}, {&e.Owed, r.OwedMinor}, {&e.Disputed, r.DisputedMinor}, {&e.Paid, r.PaidMinor}} {
		var err error
		if *a.into, err = money.FromMinor(a.minor, money.Currency(r.Currency)); err != nil {
			return e, fmt.Errorf("supplier's invoice %d: %w", r.Number, err)
		}
	}
	return e, nil
}

type supplierInvoiceRow struct {
	Entry    supplierInvoiceEntryRow `gorm:"embedded"`
	Document []byte
}

// TableName for gorm.
func (*supplierInvoiceRow) TableName() string { return "supplier_invoices" }

func (r *supplierInvoiceRow) bind(workshop uuid.UUID) { r.Entry.WorkshopID = workshop }

func (r *supplierInvoiceRow) journalled() (noun, id string, content []byte) {
	e := r.Entry
	sum := digest("wainscot-supplier-invoice-row/1", e.Number, e.Version, e.CreatedUS, e.ChangedUS, e.Supplier, e.Name, e.Kind, e.NumberKey, e.State, e.TaxPoint,
		e.DueOn, e.PurchaseOrder.UUID[:], e.Credits.UUID[:], e.Currency, e.GrossMinor, e.OwedMinor, e.DisputedMinor, e.PaidMinor, e.Entry, e.DocumentSHA256)
	return "supplier's invoice", e.ID.String(), sum[:]
}

func (r *supplierInvoiceRow) sealed() error {
	_, err := Packed{zipped: r.Document, sum: r.Entry.DocumentSHA256}.Unpack()
	return err
}

func (r *supplierInvoiceRow) key() any { return r.Entry.ID }

func (r *supplierInvoiceRow) invoice() (SupplierInvoice, error) {
	e, err := r.Entry.entry()
	if err != nil {
		return SupplierInvoice{}, err
	}
	text, err := Packed{zipped: r.Document, sum: r.Entry.DocumentSHA256}.Unpack()
	if err != nil {
		return SupplierInvoice{}, fmt.Errorf("supplier's invoice %d: %w", e.Number, err)
	}
	content, err := purchase.Decode(text)
	return SupplierInvoice{e, content}, err
}

// row is how a paper is kept; it puts what stands beside the document in its
// place.
func (i *SupplierInvoice) row() (*supplierInvoiceRow, error) {
	c := i.Content
	text, err := c.Encode()
	if err != nil {
		return nil, fmt.Errorf("supplier's invoice %d: %w", i.Number, err)
	}
	i.Supplier, i.Name, i.Kind, i.State, i.TaxPoint, i.DueOn, i.Gross = c.Supplier, c.Name, c.Kind, c.State, c.TaxPoint, c.DueOn, c.Gross
	i.Order, i.Credits = uuid.Nil, uuid.Nil
	if c.Order != "" {
		if i.Order, err = uuid.Parse(c.Order); err != nil {
			return nil, fmt.Errorf("supplier's invoice %d: %w", i.Number, err)
		}
	}
	if c.Credits != "" {
		if i.Credits, err = uuid.Parse(c.Credits); err != nil {
			return nil, fmt.Errorf("supplier's invoice %d: %w", i.Number, err)
		}
	}
	document := Pack(text)
	return &supplierInvoiceRow{
		Entry: supplierInvoiceEntryRow{
			ID: i.ID, Number: i.Number, Version: i.Version, CreatedUS: i.CreatedAt.UnixMicro(), ChangedUS: i.ChangedAt.UnixMicro(), Supplier: i.Supplier, Name: i.Name,
			Kind: string(i.Kind), NumberKey: numberKey(c.Number), State: string(i.State), TaxPoint: i.TaxPoint, DueOn: i.DueOn, PurchaseOrder: orNull(i.Order),
			Credits: orNull(i.Credits), Currency: string(c.Currency), GrossMinor: i.Gross.Minor(), OwedMinor: i.Owed.Minor(), DisputedMinor: i.Disputed.Minor(),
			PaidMinor: i.Paid.Minor(), Entry: i.Entry, Words: i.Words, DocumentSHA256: document.sum,
		},
		Document: document.zipped,
	}, nil
}
