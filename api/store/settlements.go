package store

import (
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/pricing/money"
	"wainscot/pricing/settlement"
)

// Settlement is what was decided of the deposits of a cancelled job.
type Settlement struct {
	Job       uuid.UUID
	CreatedAt time.Time
	DecidedOn string // YYYY-MM-DD
	Content   SettlementContent
	// Words are why; they may name somebody.
	Words string
}

// SettlementContent is a decision, with what had been proposed.
type SettlementContent struct {
	Proposed settlement.Settlement `json:"proposed"`
	Kept     money.Amount          `json:"kept"`
	KeptVAT  money.Amount          `json:"kept_vat"` // what of that is VAT, which stays due
	Refunds  []settlement.Payer    `json:"refunds"`
	// Entries of the books, and the numbers of the credit notes that go with
	// what was refunded.
	Entries     []int64 `json:"entries"`
	CreditNotes []int64 `json:"credit_notes"`
}

// AddSettlement keeps a decision. Of a job that has one it is ErrTaken.
func (t WriteTx) AddSettlement(s Settlement) (Settlement, error) {
	n, err := of[settlementRow](t.ReadTx).where("job = ?", s.Job).count()
	if err == nil && n > 0 {
		err = ErrTaken
	}
	if err != nil {
		return s, fmt.Errorf("settlement of job %s: %w", s.Job, err)
	}
	text, err := json.Marshal(&s.Content)
	if err != nil {
		return s, fmt.Errorf("settlement of job %s: %w", s.Job, err)
	}
	s.CreatedAt = t.Now()
	document := Pack(text)
	row := &settlementRow{Job: s.Job, CreatedUS: s.CreatedAt.UnixMicro(), DecidedOn: s.DecidedOn, Currency: string(s.Content.Kept.Currency()),
		HeldMinor: s.Content.Proposed.Held.Minor(), KeptMinor: s.Content.Kept.Minor(), Words: s.Words, Document: document.zipped, DocumentSHA256: document.sum}
	if err := insert(t, decided, row); err != nil {
		return s, fmt.Errorf("settlement of job %s: %w", s.Job, err)
	}
	return s, nil
}

// SettlementIfAny gives the decision on a job; false where there is none yet.
func (t ReadTx) SettlementIfAny(job uuid.UUID) (Settlement, bool, error) {
	found, err := of[settlementRow](t).where("job = ?", job).first(1)
	if err != nil || len(found) == 0 {
		return Settlement{}, false, err
	}
	row := &found[0]
	s := Settlement{Job: row.Job, CreatedAt: moment(row.CreatedUS), DecidedOn: row.DecidedOn, Words: row.Words}
	text, err := Packed{zipped: row.Document, sum: row.DocumentSHA256}.Unpack()
	if err == nil {
		err = json.Unmarshal(text, &s.Content)
	}
	if err != nil {
		return s, false, fmt.Errorf("settlement of job %s: %w", job, err)
	}
	return s, true, nil
}

type settlementRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	Job            uuid.UUID `gorm:"primaryKey"`
	CreatedUS      int64
	DecidedOn      string
	Currency       string
	HeldMinor      int64
	KeptMinor      int64
	Words          string
	Document       []byte
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (*settlementRow) TableName() string { return "settlements" }

func (r *settlementRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *settlementRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-settlement-row/1", r.CreatedUS, r.DecidedOn, r.Currency, r.HeldMinor, r.KeptMinor, r.DocumentSHA256)
	return "settlement", r.Job.String(), sum[:]
}

func (r *settlementRow) sealed() error {
	_, err := Packed{zipped: r.Document, sum: r.DocumentSHA256}.Unpack()
	return err
}

func (r *settlementRow) key() any { return r.Job }
