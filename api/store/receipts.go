package store

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/receipt"
)

// ReceiptEntry is money that came in, without its document.
type ReceiptEntry struct {
	ID uuid.UUID
	// Number is what people call it by: from 1, without gaps, in each workshop.
	Number    int64
	Version   int64
	CreatedAt time.Time
	ChangedAt time.Time
	Day       string // YYYY-MM-DD
	Into      ledger.Account
	Amount    money.Amount
	Left      money.Amount // neither placed nor given back
	Payer     uuid.UUID    // the nil id: nobody knows
	Line      string       // of a bank's statement; "" for none
	// Words that were written about it: they may name somebody.
	Words string
}

// Receipt is money that came in, with its document.
type Receipt struct {
	ReceiptEntry
	Content *receipt.Receipt
}

// nextReceipt is the number that the next receipt has, and its id.
func (t WriteTx) nextReceipt() (uuid.UUID, int64, error) {
	number, err := nextNumber(t, "receipt")
	return t.NewID(), number, err
}

// AddReceipt keeps money that came in, and enters it into the book on a day:
// that on which it came, or a later one where that is closed.
func (t WriteTx) AddReceipt(b *Book, r receipt.Receipt, day, words string) (Receipt, error) {
	id, number, err := t.nextReceipt()
	if err != nil {
		return Receipt{}, fmt.Errorf("numbering the receipt: %w", err)
	}
	done, err := b.Enter(ledger.Entry{Day: day, Kind: ledger.Received, Document: ledger.Document{Noun: "receipt", ID: id.String()},
		Lines: ledger.Receipt(r.Into, r.Amount, r.Payer)})
	if err != nil {
		return Receipt{}, err
	}
	r.Entry = done.Number
	now := Receipt{Content: &r, ReceiptEntry: ReceiptEntry{ID: id, Number: number, Version: 1, CreatedAt: t.Now(), ChangedAt: t.Now(), Words: words}}
	row, err := now.row()
	if err != nil {
		return Receipt{}, err
	}
	if err := insert(t, added, row); err != nil {
		return Receipt{}, fmt.Errorf("receipt %d: %w", number, err)
	}
	return now, nil
}

// ChangeReceipt puts what a receipt has become in the place of what it was; what
// was entered for it is in its content.
func (t WriteTx) ChangeReceipt(was Receipt, content receipt.Receipt) (Receipt, error) {
	now := was
	now.Content, now.Version, now.ChangedAt = &content, was.Version+1, t.Now()
	row, err := now.row()
	if err != nil {
		return Receipt{}, err
	}
	err = change(t, changed, of[receiptRow](t.ReadTx).where("id = ? AND version = ?", was.ID, was.Version), map[string]any{
		"version": row.Entry.Version, "changed_us": row.Entry.ChangedUS, "left_minor": row.Entry.LeftMinor, "line": row.Entry.Line, "payer": row.Entry.Payer,
		"document": row.Document, "document_sha256": row.Entry.DocumentSHA256,
	}, fmt.Errorf("receipt %d at version %d: %w", was.Number, was.Version, ErrStale), row)
	if err != nil {
		return Receipt{}, err
	}
	for i := len(was.Content.Placements); i < len(content.Placements); i++ {
		p := &content.Placements[i]
		job, err := uuid.Parse(p.Job)
		if err != nil {
			return Receipt{}, fmt.Errorf("receipt %d: %w", was.Number, err)
		}
		if err := jot(t, &placementRow{Receipt: was.ID, Number: int64(p.Number), Job: job}); err != nil {
			return Receipt{}, fmt.Errorf("placement %d of receipt %d: %w", p.Number, was.Number, err)
		}
	}
	return now, nil
}

// row is how a receipt is kept; it puts what stands beside the document in its
// place.
func (r *Receipt) row() (*receiptRow, error) {
	c := r.Content
	text, err := c.Encode()
	if err != nil {
		return nil, fmt.Errorf("receipt %d: %w", r.Number, err)
	}
	r.Day, r.Into, r.Amount, r.Left, r.Line, r.Payer = c.Day, c.Into, c.Amount, c.Left(), c.Line, uuid.Nil
	if c.Payer != "" {
		if r.Payer, err = uuid.Parse(c.Payer); err != nil {
			return nil, fmt.Errorf("receipt %d: %w", r.Number, err)
		}
	}
	document := Pack(text)
	return &receiptRow{
		Entry: receiptEntryRow{
			ID: r.ID, Number: r.Number, Version: r.Version, CreatedUS: r.CreatedAt.UnixMicro(), ChangedUS: r.ChangedAt.UnixMicro(), Day: r.Day,
			Account: string(r.Into), Currency: string(r.Amount.Currency()), Minor: r.Amount.Minor(), LeftMinor: r.Left.Minor(),
			Payer: orNull(r.Payer), Line: r.Line, Words: r.Words, DocumentSHA256: document.sum,
		},
		Document: document.zipped,
	}, nil
}

// Receipt gives one receipt.
func (t ReadTx) Receipt(id uuid.UUID) (Receipt, error) {
	row, err := of[receiptRow](t).where("id = ?", id).one()
	if err != nil {
		return Receipt{}, fmt.Errorf("receipt %s: %w", id, err)
	}
	return row.receipt()
}

// ReceiptsOn are all receipts that are, or were, placed on a job, in the order
// of their numbers.
func (t ReadTx) ReceiptsOn(job uuid.UUID) ([]Receipt, error) {
	shop := t.s.as.Workshop // a condition's own query is not narrowed down to it
	return t.receipts(of[receiptRow](t).where("id IN (SELECT p.receipt FROM placements p WHERE p.workshop_id = ? AND p.job = ?)", shop, job))
}

// ReceiptsOfLine are the receipts that a line of a bank's statement shows.
func (t ReadTx) ReceiptsOfLine(line string) ([]Receipt, error) {
	return t.receipts(of[receiptRow](t).where("line = ? AND line <> ''", line))
}

// ReceiptsFrom are all receipts that a customer paid.
func (t ReadTx) ReceiptsFrom(payer uuid.UUID) ([]Receipt, error) {
	return t.receipts(of[receiptRow](t).where("payer = ?", payer))
}

// ReceiptsNotPlaced are all receipts of which something is left.
func (t ReadTx) ReceiptsNotPlaced() ([]Receipt, error) {
	return t.receipts(of[receiptRow](t).where("left_minor > 0"))
}

func (t ReadTx) receipts(which rows[receiptRow]) ([]Receipt, error) {
	found, err := which.order("number").all()
	if err != nil {
		return nil, fmt.Errorf("receipts: %w", err)
	}
	return each(found, (*receiptRow).receipt)
}

// ReceiptFilter says which receipts to list.
type ReceiptFilter struct {
	From, Until string // days, both included; "" means any
	Payer       uuid.UUID
	NotPlaced   bool   // only those of which something is left
	After       *Place // nil begins at the newest
	Limit       int    // 0 means 50; at most 200
}

// Receipts lists receipts, the newest first. next is where to go on, nil at the
// end.
func (t ReadTx) Receipts(f ReceiptFilter) (list []ReceiptEntry, next *Place, err error) {
	query := of[receiptEntryRow](t)
	if f.From != "" {
		query = query.where("day >= ?", f.From)
	}
	if f.Until != "" {
		query = query.where("day <= ?", f.Until)
	}
	if f.Payer != uuid.Nil {
		query = query.where("payer = ?", f.Payer)
	}
	if f.NotPlaced {
		query = query.where("left_minor > 0")
	}
	found, next, err := page(query, f.After, f.Limit, func(r receiptEntryRow) Place { return Place{moment(r.CreatedUS), r.ID} })
	if err != nil {
		return nil, nil, fmt.Errorf("receipts: %w", err)
	}
	list, err = each(found, (*receiptEntryRow).entry)
	return list, next, err
}

// ReceiptsOf are all receipts that a customer paid, and those that are, or were,
// placed on some jobs, in the order of their numbers.
func (t ReadTx) ReceiptsOf(customer uuid.UUID, jobs []uuid.UUID) ([]ReceiptEntry, error) {
	query := of[receiptEntryRow](t).where("payer = ?", customer)
	if shop := t.s.as.Workshop; len(jobs) > 0 { // a condition's own query is not narrowed down to it
		query = of[receiptEntryRow](t).where("payer = ? OR id IN (SELECT p.receipt FROM placements p WHERE p.workshop_id = ? AND p.job IN ?)", customer, shop, jobs)
	}
	found, err := query.order("number").all()
	if err != nil {
		return nil, fmt.Errorf("receipts of customer %s: %w", customer, err)
	}
	return each(found, (*receiptEntryRow).entry)
}

// emptyReceiptsOf takes the words off what a customer paid, or somebody for
// their jobs.
func (t WriteTx) emptyReceiptsOf(customer uuid.UUID, jobs []uuid.UUID) (ids []uuid.UUID, err error) {
	found, err := t.ReceiptsOf(customer, jobs)
	if err != nil {
		return nil, err
	}
	for _, r := range found {
		ids = append(ids, r.ID)
		if r.Words == "" {
			continue
		}
		if err := of[receiptRow](t.ReadTx).where("id = ?", r.ID).set(map[string]any{"words": ""}, ErrNotFound); err != nil {
			return nil, fmt.Errorf("receipt %d: %w", r.Number, err)
		}
	}
	return ids, nil
}

type receiptEntryRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	ID             uuid.UUID `gorm:"primaryKey"`
	Number         int64
	Version        int64
	CreatedUS      int64
	ChangedUS      int64
	Day            string
	Account        string
	Currency       string
	Minor          int64
	LeftMinor      int64
	Payer          uuid.NullUUID
	Line           string
	Words          string
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (receiptEntryRow) TableName() string { return "receipts" }

func (r receiptEntryRow) entry() (ReceiptEntry, error) {
	e := ReceiptEntry{ID: r.ID, Number: r.Number, Version: r.Version, CreatedAt: moment(r.CreatedUS), ChangedAt: moment(r.ChangedUS), Day: r.Day,
		Into: ledger.Account(r.Account), Payer: r.Payer.UUID, Line: r.Line, Words: r.Words}
	var err error
	if e.Amount, err = money.FromMinor(r.Minor, money.Currency(r.Currency)); err == nil {
		e.Left, err = e.Amount.WithMinor(r.LeftMinor)
	}
	if err != nil {
		return e, fmt.Errorf("receipt %d: %w", r.Number, err)
	}
	return e, nil
}

type receiptRow struct {
	Entry    receiptEntryRow `gorm:"embedded"`
	Document []byte
}

// TableName for gorm.
func (*receiptRow) TableName() string { return "receipts" }

func (r *receiptRow) bind(workshop uuid.UUID) { r.Entry.WorkshopID = workshop }

func (r *receiptRow) journalled() (noun, id string, content []byte) {
	e := r.Entry
	sum := digest("wainscot-receipt-row/1", e.Number, e.Version, e.CreatedUS, e.ChangedUS, e.Day, e.Account, e.Currency, e.Minor, e.LeftMinor,
		e.Payer.UUID[:], e.Line, e.DocumentSHA256)
	return "receipt", e.ID.String(), sum[:]
}

func (r *receiptRow) sealed() error {
	_, err := Packed{zipped: r.Document, sum: r.Entry.DocumentSHA256}.Unpack()
	return err
}

func (r *receiptRow) key() any { return r.Entry.ID }

func (r *receiptRow) receipt() (Receipt, error) {
	e, err := r.Entry.entry()
	if err != nil {
		return Receipt{}, err
	}
	text, err := Packed{zipped: r.Document, sum: r.Entry.DocumentSHA256}.Unpack()
	if err != nil {
		return Receipt{}, fmt.Errorf("receipt %d: %w", e.Number, err)
	}
	content, err := receipt.Decode(text)
	return Receipt{e, content}, err
}

type placementRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	Receipt    uuid.UUID `gorm:"primaryKey"`
	Number     int64     `gorm:"primaryKey;autoIncrement:false"`
	Job        uuid.UUID
}

// TableName for gorm.
func (*placementRow) TableName() string { return "placements" }

func (r *placementRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }
