package store

import (
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"wainscot/bom/document"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/stockbook"
)

// StockVan is a van of the stock book.
type StockVan struct {
	ID        uuid.UUID
	Version   int64
	CreatedAt time.Time
	ChangedAt time.Time
	stockbook.Van
	// Receipt it is in kind, where it was taken in part exchange.
	Receipt uuid.UUID
	Entry   int64
	// Job whose invoice has its price; the nil id where it was sold by itself.
	Job       uuid.UUID
	SaleEntry int64 // 0 while it stands here
	BackEntry int64 // that took its purchase back; 0 for none
}

// AddStockVan keeps a van that came in, entered in the books by whoever brought
// it in.
func (t WriteTx) AddStockVan(v StockVan) (StockVan, error) {
	id, err := uuid.Parse(v.Van.Van)
	if err != nil {
		return v, fmt.Errorf("stock van: %w", err)
	}
	standing, err := of[stockVanRow](t.ReadTx).where("van = ? AND sold_on = '' AND back_on = ''", id).count()
	if err != nil {
		return v, fmt.Errorf("stock van: %w", err)
	}
	if standing > 0 {
		return v, document.Faults{{Code: "state", At: "van", Reason: "The van stands in the stock book already.", Remedy: "Look at the entry there is."}}
	}
	if v.Number, err = nextNumber(t, "stock van"); err != nil {
		return v, fmt.Errorf("numbering the stock van: %w", err)
	}
	v.ID, v.Version, v.CreatedAt, v.ChangedAt = t.NewID(), 1, t.Now(), t.Now()
	if v.How == stockbook.PartExchange {
		return v, t.keepStockVan(&v)
	}
	return v, nil
}

// BuyStockVan keeps a van that was bought, paid for from an account.
func (t WriteTx) BuyStockVan(b *Book, v StockVan, from ledger.Account) (StockVan, error) {
	v, err := t.AddStockVan(v)
	if err != nil {
		return v, err
	}
	done, err := b.Enter(ledger.Entry{Day: v.BoughtOn, Kind: ledger.Bought, Document: ledger.Document{Noun: "stock van", ID: v.ID.String()}, Lines: v.Buying(from)})
	if err != nil {
		return v, err
	}
	v.Entry = done.Number
	return v, t.keepStockVan(&v)
}

func (t WriteTx) keepStockVan(v *StockVan) error {
	row, err := v.row()
	if err == nil {
		err = insert(t, added, row)
	}
	if err != nil {
		return fmt.Errorf("stock van %d: %w", v.Number, err)
	}
	return nil
}

// SellStockVan keeps the sale of a van, and enters it. version is the one the
// sale was made from, else it is ErrStale.
func (t WriteTx) SellStockVan(b *Book, v StockVan) (StockVan, error) {
	lines, err := v.Selling(v.Job != uuid.Nil)
	if err != nil {
		return v, err
	}
	done, err := b.Enter(ledger.Entry{Day: v.Sale.On, Kind: ledger.Sold, Document: ledger.Document{Noun: "stock van", ID: v.ID.String()}, Lines: lines})
	if err != nil {
		return v, err
	}
	version := v.Version
	v.Version, v.ChangedAt, v.SaleEntry = version+1, t.Now(), done.Number
	row, err := v.row()
	if err != nil {
		return v, err
	}
	return v, change(t, changed, of[stockVanRow](t.ReadTx).where("id = ? AND version = ?", v.ID, version), map[string]any{
		"version": row.Version, "changed_us": row.ChangedUS, "buyer": row.Buyer, "sold_on": row.SoldOn, "price_minor": row.PriceMinor, "vat_percent": row.VATPercent,
		"vat_minor": row.VATMinor, "job": row.Job, "sale_entry": row.SaleEntry,
	}, fmt.Errorf("stock van %d: %w", v.Number, ErrStale), row)
}

// SendStockVanBack ends the entry of the van that a receipt in kind is of, if
// there is one: an entry of the books took it back on a day. One that was sold is
// a fault.
func (t WriteTx) SendStockVanBack(receipt uuid.UUID, on string, entry int64) error {
	found, err := t.stockVans(of[stockVanRow](t.ReadTx).where("receipt = ?", receipt))
	if err != nil || len(found) == 0 {
		return err
	}
	v := found[0]
	back, faults := v.GoBack(on)
	if len(faults) > 0 {
		return faults
	}
	version := v.Version
	v.Van, v.Version, v.ChangedAt, v.BackEntry = back, version+1, t.Now(), entry
	row, err := v.row()
	if err != nil {
		return err
	}
	return change(t, changed, of[stockVanRow](t.ReadTx).where("id = ? AND version = ?", v.ID, version), map[string]any{
		"version": row.Version, "changed_us": row.ChangedUS, "back_on": row.BackOn, "back_entry": row.BackEntry,
	}, fmt.Errorf("stock van %d: %w", v.Number, ErrStale), row)
}

// StockVan gives one entry of the stock book.
func (t ReadTx) StockVan(id uuid.UUID) (StockVan, error) {
	row, err := of[stockVanRow](t).where("id = ?", id).one()
	if err != nil {
		return StockVan{}, fmt.Errorf("stock van %s: %w", id, err)
	}
	return row.van()
}

// StockVansOf are the vans of it that a customer sold or bought.
func (t ReadTx) StockVansOf(customer uuid.UUID) ([]StockVan, error) {
	return t.stockVans(of[stockVanRow](t).where("seller = ? OR buyer = ?", customer, customer))
}

// StockBook is the whole of it, in the order of its numbers.
func (t ReadTx) StockBook() ([]StockVan, error) { return t.stockVans(of[stockVanRow](t)) }

func (t ReadTx) stockVans(which rows[stockVanRow]) ([]StockVan, error) {
	found, err := which.order("number").all()
	if err != nil {
		return nil, fmt.Errorf("stock book: %w", err)
	}
	return each(found, (*stockVanRow).van)
}

type stockVanRow struct {
	WorkshopID   uuid.UUID `gorm:"primaryKey"`
	ID           uuid.UUID `gorm:"primaryKey"`
	Number       int64
	Version      int64
	CreatedUS    int64
	ChangedUS    int64
	Van          uuid.UUID
	How          string
	Seller       uuid.UUID
	BoughtOn     string
	MileageMiles int64
	Currency     string
	PaidMinor    int64
	Receipt      uuid.NullUUID
	Entry        int64
	Buyer        uuid.NullUUID
	SoldOn       string
	PriceMinor   int64
	VATPercent   string `gorm:"column:vat_percent"`
	VATMinor     int64  `gorm:"column:vat_minor"`
	Job          uuid.NullUUID
	SaleEntry    int64
	BackOn       string
	BackEntry    int64
}

// TableName for gorm.
func (*stockVanRow) TableName() string { return "stock_vans" }

func (r *stockVanRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *stockVanRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-stock-van-row/1", r.Number, r.Version, r.CreatedUS, r.ChangedUS, r.Van[:], r.How, r.Seller[:], r.BoughtOn, r.MileageMiles, r.Currency,
		r.PaidMinor, r.Receipt.UUID[:], r.Entry, r.Buyer.UUID[:], r.SoldOn, r.PriceMinor, r.VATPercent, r.VATMinor, r.Job.UUID[:], r.SaleEntry)
	if r.BackOn != "" { // rows of before there was this say what they said
		sum = digest("wainscot-stock-van-row/2", sum[:], r.BackOn, r.BackEntry)
	}
	return "stock van", r.ID.String(), sum[:]
}

func (*stockVanRow) sealed() error { return nil }

func (r *stockVanRow) key() any { return r.ID }

func (v *StockVan) row() (*stockVanRow, error) {
	r := &stockVanRow{ID: v.ID, Number: v.Number, Version: v.Version, CreatedUS: v.CreatedAt.UnixMicro(), ChangedUS: v.ChangedAt.UnixMicro(), How: string(v.How),
		BoughtOn: v.BoughtOn, MileageMiles: int64(v.MileageMiles), Currency: string(v.Paid.Currency()), PaidMinor: v.Paid.Minor(), Receipt: orNull(v.Receipt),
		Entry: v.Entry, Job: orNull(v.Job), SaleEntry: v.SaleEntry, BackOn: v.BackOn, BackEntry: v.BackEntry}
	var err error
	if r.Van, err = uuid.Parse(v.Van.Van); err == nil {
		r.Seller, err = uuid.Parse(v.From)
	}
	if s := v.Sale; s != nil && err == nil {
		var buyer uuid.UUID
		buyer, err = uuid.Parse(s.To)
		r.Buyer, r.SoldOn, r.PriceMinor, r.VATPercent, r.VATMinor = orNull(buyer), s.On, s.Price.Minor(), s.Percent.String(), s.VAT.Minor()
	}
	if err != nil {
		return nil, fmt.Errorf("stock van %d: %w", v.Number, err)
	}
	return r, nil
}

func (r *stockVanRow) van() (StockVan, error) {
	v := StockVan{ID: r.ID, Version: r.Version, CreatedAt: moment(r.CreatedUS), ChangedAt: moment(r.ChangedUS), Receipt: r.Receipt.UUID, Entry: r.Entry,
		Job: r.Job.UUID, SaleEntry: r.SaleEntry, BackEntry: r.BackEntry,
		Van: stockbook.Van{Number: r.Number, Van: r.Van.String(), How: stockbook.How(r.How), From: r.Seller.String(), BoughtOn: r.BoughtOn, MileageMiles: int(r.MileageMiles), BackOn: r.BackOn}}
	paid, err := money.FromMinor(r.PaidMinor, money.Currency(r.Currency))
	v.Paid = paid
	if r.SoldOn != "" && err == nil {
		s := &stockbook.Sale{To: r.Buyer.UUID.String(), On: r.SoldOn}
		if s.Price, err = paid.WithMinor(r.PriceMinor); err == nil {
			s.VAT, err = paid.WithMinor(r.VATMinor)
		}
		if err == nil {
			s.Margin, err = s.Price.Sub(paid)
		}
		if err == nil {
			s.Percent, err = decimal.NewFromString(r.VATPercent)
		}
		v.Sale = s
	}
	if err != nil {
		return v, fmt.Errorf("stock van %d: %w", r.Number, err)
	}
	return v, nil
}
