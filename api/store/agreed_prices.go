package store

import (
	"fmt"

	"github.com/google/uuid"

	"wainscot/pricing/job"
)

// AddAgreedPrice keeps the price of a job without a quote, under its number.
func (t WriteTx) AddAgreedPrice(id uuid.UUID, p *job.AgreedPrice) error {
	text, err := p.Encode()
	if err != nil {
		return fmt.Errorf("price %d of job %s: %w", p.Number, id, err)
	}
	document, gross := Pack(text), p.Priced.Totals.Gross
	row := &agreedPriceRow{ID: t.NewID(), Job: id, Number: p.Number, CreatedUS: t.Now().UnixMicro(), AgreedBy: t.Principal().Person,
		Currency: string(gross.Currency()), GrossMinor: gross.Minor(), Document: document.zipped, DocumentSHA256: document.sum}
	if err := insert(t, decided, row); err != nil {
		return fmt.Errorf("price %d of job %s: %w", p.Number, id, err)
	}
	return nil
}

// AgreedPrice gives a price of a job without a quote, by its number.
func (t ReadTx) AgreedPrice(id uuid.UUID, number int64) (*job.AgreedPrice, error) {
	row, err := of[agreedPriceRow](t).where("job = ? AND number = ?", id, number).one()
	if err != nil {
		return nil, fmt.Errorf("price %d of job %s: %w", number, id, err)
	}
	text, err := Packed{zipped: row.Document, sum: row.DocumentSHA256}.Unpack()
	if err != nil {
		return nil, fmt.Errorf("price %d of job %s: %w", number, id, err)
	}
	return job.DecodeAgreedPrice(text)
}

type agreedPriceRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	ID             uuid.UUID `gorm:"primaryKey"`
	Job            uuid.UUID
	Number         int64
	CreatedUS      int64
	AgreedBy       uuid.UUID
	Currency       string
	GrossMinor     int64
	Document       []byte
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (*agreedPriceRow) TableName() string { return "agreed_prices" }

func (r *agreedPriceRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *agreedPriceRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-agreed-price-row/1", r.Job[:], r.Number, r.CreatedUS, r.AgreedBy[:], r.Currency, r.GrossMinor, r.DocumentSHA256)
	return "agreed price", r.ID.String(), sum[:]
}

func (r *agreedPriceRow) sealed() error {
	_, err := Packed{zipped: r.Document, sum: r.DocumentSHA256}.Unpack()
	return err
}

func (r *agreedPriceRow) key() any { return r.ID }
