package store

import (
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/pricing/invoice"
	"wainscot/pricing/money"
	"wainscot/pricing/takeon"
)

// TakeOn is what a workshop brought along on the day it began here.
type TakeOn struct {
	On          string // YYYY-MM-DD, at whose end it was taken on
	CreatedAt   time.Time
	By          uuid.UUID
	FilesSHA256 string // of what was sent
	Content     TakeOnContent
}

// TakeOnContent is what it came to; it names nobody.
type TakeOnContent struct {
	Customers int `json:"customers"`
	Vans      int `json:"vans"`
	Slots     int `json:"slots"`
	Deposits  int `json:"deposits"`
	Parts     int `json:"parts"`
	// Jobs are their ids, in the order of the file.
	Jobs     []uuid.UUID             `json:"jobs"`
	Proofs   []takeon.Proof          `json:"proofs"`
	Accounts []takeon.AccountBalance `json:"accounts"`
	// Entries of the books, from the first to the last; 0 for none.
	FirstEntry int64 `json:"first_entry,omitempty"`
	LastEntry  int64 `json:"last_entry,omitempty"`
}

// AddTakeOn keeps it. Of a workshop that has one it is ErrTaken.
func (t WriteTx) AddTakeOn(o TakeOn) (TakeOn, error) {
	n, err := of[takeOnRow](t.ReadTx).count()
	if err == nil && n > 0 {
		err = ErrTaken
	}
	if err != nil {
		return o, fmt.Errorf("take-on: %w", err)
	}
	text, err := json.Marshal(&o.Content)
	if err != nil {
		return o, fmt.Errorf("take-on: %w", err)
	}
	o.CreatedAt, o.By = t.Now(), t.Principal().Person
	document := Pack(text)
	row := &takeOnRow{TakenOn: o.On, CreatedUS: o.CreatedAt.UnixMicro(), TakenBy: o.By, FilesSHA256: o.FilesSHA256, Document: document.zipped, DocumentSHA256: document.sum}
	row.bind(t.s.as.Workshop)
	if err := insert(t, added, row); err != nil {
		return o, fmt.Errorf("take-on: %w", err)
	}
	return o, nil
}

// TakeOnIfAny gives what was taken on; false where nothing was.
func (t ReadTx) TakeOnIfAny() (TakeOn, bool, error) {
	found, err := of[takeOnRow](t).first(1)
	if err != nil || len(found) == 0 {
		return TakeOn{}, false, err
	}
	row := &found[0]
	o := TakeOn{On: row.TakenOn, CreatedAt: moment(row.CreatedUS), By: row.TakenBy, FilesSHA256: row.FilesSHA256}
	text, err := Packed{zipped: row.Document, sum: row.DocumentSHA256}.Unpack()
	if err == nil {
		err = json.Unmarshal(text, &o.Content)
	}
	if err != nil {
		return o, false, fmt.Errorf("take-on: %w", err)
	}
	return o, true, nil
}

// EnteredThrough says how many entries the books have on a day or before.
func (t ReadTx) EnteredThrough(day string) (int64, error) {
	n, err := of[entryRow](t).where("day <= ?", day).count()
	return int64(n), err
}

// DepositTakenOn is a deposit of the books before these.
type DepositTakenOn struct {
	ID     uuid.UUID
	Job    uuid.UUID
	Number int64 // of the workshop, from 1
	Entry  int64 // of the books
	// Words are how it came; they may name somebody.
	Words   string
	Content *invoice.Invoice
}

// AddDepositTakenOn keeps a deposit that was taken on, under the next number,
// with the entry that goes with it.
func (t WriteTx) AddDepositTakenOn(job uuid.UUID, i *invoice.Invoice, entry int64, words string) (DepositTakenOn, error) {
	d := DepositTakenOn{ID: t.NewID(), Job: job, Entry: entry, Words: words, Content: i}
	var err error
	if d.Number, err = nextNumber(t, "deposit taken on"); err != nil {
		return d, fmt.Errorf("deposit taken on: %w", err)
	}
	i.Number = d.Number
	text, err := i.Encode()
	if err != nil {
		return d, fmt.Errorf("deposit %d taken on: %w", d.Number, err)
	}
	document := Pack(text)
	row := &depositTakenOnRow{ID: d.ID, Job: job, Number: d.Number, Day: i.TaxPoint, Currency: string(i.Gross.Currency()), GrossMinor: i.Gross.Minor(),
		VATMinor: i.VATTotal.Minor(), Entry: entry, Words: words, Document: document.zipped, DocumentSHA256: document.sum}
	if err := insert(t, added, row); err != nil {
		return d, fmt.Errorf("deposit %d taken on: %w", d.Number, err)
	}
	return d, nil
}

// DepositsTakenOn are those of a job, in the order in which they were taken on.
func (t ReadTx) DepositsTakenOn(job uuid.UUID) ([]DepositTakenOn, error) {
	found, err := of[depositTakenOnRow](t).where("job = ?", job).order("number").all()
	if err != nil {
		return nil, fmt.Errorf("deposits taken on of job %s: %w", job, err)
	}
	list := make([]DepositTakenOn, len(found))
	for i, r := range found {
		list[i] = DepositTakenOn{ID: r.ID, Job: r.Job, Number: r.Number, Entry: r.Entry, Words: r.Words}
		text, err := Packed{zipped: r.Document, sum: r.DocumentSHA256}.Unpack()
		if err == nil {
			list[i].Content, err = invoice.Decode(text)
		}
		if err != nil {
			return nil, fmt.Errorf("deposit %d taken on: %w", r.Number, err)
		}
	}
	return list, nil
}

// Gross of it, with VAT.
func (d *DepositTakenOn) Gross() money.Amount { return d.Content.Gross }

type takeOnRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	TakenOn        string
	CreatedUS      int64
	TakenBy        uuid.UUID
	FilesSHA256    string `gorm:"column:files_sha256"`
	Document       []byte
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (*takeOnRow) TableName() string { return "take_ons" }

func (r *takeOnRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *takeOnRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-take-on-row/1", r.TakenOn, r.CreatedUS, r.TakenBy[:], r.FilesSHA256, r.DocumentSHA256)
	return "take-on", r.WorkshopID.String(), sum[:]
}

func (r *takeOnRow) sealed() error {
	_, err := Packed{zipped: r.Document, sum: r.DocumentSHA256}.Unpack()
	return err
}

func (r *takeOnRow) key() any { return r.WorkshopID }

type depositTakenOnRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	ID             uuid.UUID `gorm:"primaryKey"`
	Job            uuid.UUID
	Number         int64
	Day            string
	Currency       string
	GrossMinor     int64
	VATMinor       int64
	Entry          int64
	Words          string
	Document       []byte
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (*depositTakenOnRow) TableName() string { return "deposits_taken_on" }

func (r *depositTakenOnRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *depositTakenOnRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-deposit-taken-on-row/1", r.Job[:], r.Number, r.Day, r.Currency, r.GrossMinor, r.VATMinor, r.Entry, r.DocumentSHA256)
	return "deposit taken on", r.ID.String(), sum[:]
}

func (r *depositTakenOnRow) sealed() error {
	_, err := Packed{zipped: r.Document, sum: r.DocumentSHA256}.Unpack()
	return err
}

func (r *depositTakenOnRow) key() any { return r.ID }
