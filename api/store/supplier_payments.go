package store

import (
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/bom/document"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
)

// SupplierPayment is money that went to a supplier.
type SupplierPayment struct {
	ID uuid.UUID
	// Number is what people call it by: from 1, without gaps, in each workshop.
	Number    int64
	Version   int64
	CreatedAt time.Time
	ChangedAt time.Time
	Day       string // YYYY-MM-DD
	Supplier  string
	From      ledger.Account
	// Amount that went; below nothing where the supplier gave back.
	Amount money.Amount
	Parts  []PaymentPart
	Entry  int64
	// BackEntry is the entry by which it was taken back; 0 for none.
	BackEntry int64
	Line      string // of a bank's statement; "" for none
}

// PaymentPart is what of a payment is for which invoice; of a credit note below
// nothing.
type PaymentPart struct {
	Invoice uuid.UUID
	Amount  money.Amount
}

// PaySupplier enters a payment, and takes its parts off what is left of the
// invoices. What stands against it is document.Faults.
func (t WriteTx) PaySupplier(b *Book, p SupplierPayment) (SupplierPayment, error) {
	var faults document.Faults
	fault := func(code, at, reason, remedy string) {
		faults = append(faults, document.Fault{Code: code, At: at, Reason: reason, Remedy: remedy})
	}
	sum := money.Zero(p.Amount.Currency())
	invoices := make([]SupplierInvoice, len(p.Parts))
	seen := map[uuid.UUID]bool{}
	for i, part := range p.Parts {
		at := document.Join("invoices", i+1)
		found, err := t.SupplierInvoice(part.Invoice)
		if err != nil {
			return p, err
		}
		invoices[i] = found
		left := found.Left().Minor()
		switch {
		case found.Supplier != p.Supplier:
			fault("contradiction", at+"/id", fmt.Sprintf("It is an invoice of %q.", found.Supplier), "Pay one supplier at a time.")
		case seen[part.Invoice]:
			fault("twice", at+"/id", "The invoice is named twice.", "Name it once.")
		case part.Amount.Minor() == 0 || part.Amount.Sign() != found.Left().Sign() || max(part.Amount.Minor(), -part.Amount.Minor()) > max(left, -left):
			fault("more_than_there_is", at+"/amount", fmt.Sprintf("%s of it is left to pay.", found.Left()), "Pay no more than that; of a credit note write it below nothing.")
		}
		seen[part.Invoice] = true
		if sum, err = sum.Add(part.Amount); err != nil {
			return p, fmt.Errorf("paying %s: %w", p.Supplier, err)
		}
	}
	if sum != p.Amount {
		fault("does_not_add_up", "amount", fmt.Sprintf("Its parts come to %s.", sum), "Let them come to what was paid.")
	}
	if !p.From.HoldsMoney() {
		fault("account", "from", fmt.Sprintf("There is no money in %q.", p.From), "Name the account it was paid from.")
	}
	if p.Amount.IsZero() {
		fault("amount", "amount", "Nothing was paid.", "Write what went.")
	}
	if len(faults) > 0 {
		return p, faults
	}
	var err error
	if p.Number, err = nextNumber(t, "supplier payment"); err != nil {
		return p, fmt.Errorf("numbering the payment: %w", err)
	}
	p.ID, p.Version, p.CreatedAt, p.ChangedAt = t.NewID(), 1, t.Now(), t.Now()
	done, err := b.Enter(ledger.Entry{Day: p.Day, Kind: ledger.Paid, Document: ledger.Document{Noun: "supplier payment", ID: p.ID.String()},
		Lines: ledger.PayCreditor(p.From, p.Amount, p.Supplier)})
	if err != nil {
		return p, err
	}
	p.Entry = done.Number
	if err := t.payParts(invoices, p.Parts, 1); err != nil {
		return p, err
	}
	row, err := p.row()
	if err != nil {
		return p, err
	}
	return p, insert(t, added, row)
}

// payParts puts parts to what was paid of invoices, or takes them off it.
func (t WriteTx) payParts(invoices []SupplierInvoice, parts []PaymentPart, way int64) error {
	for i := range invoices {
		paid, err := invoices[i].Paid.WithMinor(invoices[i].Paid.Minor() + way*parts[i].Amount.Minor())
		if err != nil {
			return err
		}
		invoices[i].Paid = paid
		if _, err := t.ChangeSupplierInvoice(invoices[i]); err != nil {
			return err
		}
	}
	return nil
}

// TakeBackSupplierPayment takes a payment back that was never made, or entered
// wrongly. b was opened with its entry.
func (t WriteTx) TakeBackSupplierPayment(b *Book, was SupplierPayment, on string) (SupplierPayment, error) {
	if was.BackEntry != 0 {
		return was, fmt.Errorf("payment %d was taken back: %w", was.Number, ErrState)
	}
	done, err := b.TakeBack(was.Entry, on, ledger.Document{Noun: "supplier payment", ID: was.ID.String()})
	if err != nil {
		return was, err
	}
	invoices := make([]SupplierInvoice, len(was.Parts))
	for i, p := range was.Parts {
		if invoices[i], err = t.SupplierInvoice(p.Invoice); err != nil {
			return was, err
		}
	}
	if err := t.payParts(invoices, was.Parts, -1); err != nil {
		return was, err
	}
	now := was
	now.Version, now.ChangedAt, now.BackEntry = was.Version+1, t.Now(), done.Number
	row, err := now.row()
	if err != nil {
		return was, err
	}
	return now, change(t, changed, of[supplierPaymentRow](t.ReadTx).where("id = ? AND version = ?", was.ID, was.Version),
		map[string]any{"version": row.Version, "changed_us": row.ChangedUS, "back_entry": row.BackEntry}, fmt.Errorf("payment %d: %w", was.Number, ErrStale), row)
}

// SupplierPayment gives one.
func (t ReadTx) SupplierPayment(id uuid.UUID) (SupplierPayment, error) {
	row, err := of[supplierPaymentRow](t).where("id = ?", id).one()
	if err != nil {
		return SupplierPayment{}, fmt.Errorf("supplier payment %s: %w", id, err)
	}
	return row.payment()
}

// SupplierPayments lists payments, the newest first. next is where to go on,
// nil at the end.
func (t ReadTx) SupplierPayments(after *Place, limit int) (list []SupplierPayment, next *Place, err error) {
	found, next, err := page(of[supplierPaymentRow](t), after, limit, func(r supplierPaymentRow) Place { return Place{moment(r.CreatedUS), r.ID} })
	if err != nil {
		return nil, nil, fmt.Errorf("supplier payments: %w", err)
	}
	list, err = each(found, (*supplierPaymentRow).payment)
	return list, next, err
}

type supplierPaymentRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	ID         uuid.UUID `gorm:"primaryKey"`
	Number     int64
	Version    int64
	CreatedUS  int64
	ChangedUS  int64
	Day        string
	Supplier   string
	Account    string
	Currency   string
	Minor      int64
	Parts      string
	Entry      int64
	BackEntry  int64
	Line       string
}

// TableName for gorm.
func (*supplierPaymentRow) TableName() string { return "supplier_payments" }

func (r *supplierPaymentRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *supplierPaymentRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-supplier-payment-row/1", r.Number, r.Version, r.CreatedUS, r.ChangedUS, r.Day, r.Supplier, r.Account, r.Currency, r.Minor, r.Parts,
		r.Entry, r.BackEntry, r.Line)
	return "supplier payment", r.ID.String(), sum[:]
}

func (*supplierPaymentRow) sealed() error { return nil }

func (r *supplierPaymentRow) key() any { return r.ID }

// keptPart is a part as it is kept.
type keptPart struct {
	Invoice uuid.UUID `json:"invoice"`
	Minor   int64     `json:"minor"`
}

func (p *SupplierPayment) row() (*supplierPaymentRow, error) {
	parts := make([]keptPart, len(p.Parts))
	for i, part := range p.Parts {
		parts[i] = keptPart{part.Invoice, part.Amount.Minor()}
	}
	text, err := json.Marshal(parts)
	if err != nil {
		return nil, fmt.Errorf("supplier payment %d: %w", p.Number, err)
	}
	return &supplierPaymentRow{ID: p.ID, Number: p.Number, Version: p.Version, CreatedUS: p.CreatedAt.UnixMicro(), ChangedUS: p.ChangedAt.UnixMicro(), Day: p.Day,
		Supplier: p.Supplier, Account: string(p.From), Currency: string(p.Amount.Currency()), Minor: p.Amount.Minor(), Parts: string(text), Entry: p.Entry,
		BackEntry: p.BackEntry, Line: p.Line}, nil
}

func (r *supplierPaymentRow) payment() (SupplierPayment, error) {
	p := SupplierPayment{ID: r.ID, Number: r.Number, Version: r.Version, CreatedAt: moment(r.CreatedUS), ChangedAt: moment(r.ChangedUS), Day: r.Day, Supplier: r.Supplier,
		From: ledger.Account(r.Account), Entry: r.Entry, BackEntry: r.BackEntry, Line: r.Line}
	var parts []keptPart
	err := json.Unmarshal([]byte(r.Parts), &parts)
	if err == nil {
		p.Amount, err = money.FromMinor(r.Minor, money.Currency(r.Currency))
	}
	for _, k := range parts {
		var part money.Amount
		if err == nil {
			part, err = p.Amount.WithMinor(k.Minor)
		}
		p.Parts = append(p.Parts, PaymentPart{k.Invoice, part})
	}
	if err != nil {
		return p, fmt.Errorf("supplier payment %d: %w", r.Number, err)
	}
	return p, nil
}
