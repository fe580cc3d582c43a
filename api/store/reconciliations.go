package store

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/google/uuid"

	"wainscot/pricing/ledger"
)

// Reconciliation is what a line of a statement was found to be.
type Reconciliation struct {
	ID        uuid.UUID
	Version   int64
	CreatedAt time.Time
	CreatedBy uuid.UUID
	Line      uuid.UUID
	// Customer who paid; the nil id: nobody knows, or several.
	Customer uuid.UUID
	// Certain: it was applied without asking.
	Certain  bool
	UndoneAt time.Time // zero while it stands
	UndoneBy uuid.UUID
	Made
}

// Made is what a reconciliation made and named.
type Made struct {
	// Receipt it made, by id; "" for none. Entry it made itself; 0 for none.
	Receipt string `json:"receipt,omitempty"`
	Entry   int64  `json:"entry,omitempty"`
	// Shows are the entries that the line shows, what it made among them.
	Shows []int64 `json:"shows"`
}

// Reconcile says what an open line is, and which entries on the account of the
// ledger it shows. A line that is not open is ErrState; an entry that another
// line shows ErrTaken.
func (t WriteTx) Reconcile(line, customer uuid.UUID, certain bool, on ledger.Account, made Made) (Reconciliation, error) {
	if _, err := t.turnLine(line, LineOpen, LineReconciled, nil); err != nil {
		return Reconciliation{}, err
	}
	r := Reconciliation{ID: t.NewID(), Version: 1, CreatedAt: t.Now(), CreatedBy: t.Principal().Person, Line: line, Customer: customer, Certain: certain, Made: made}
	row, err := reconciliationRowOf(&r)
	if err == nil {
		err = insert(t, added, row)
	}
	for _, number := range made.Shows {
		if err == nil {
			err = jot(t, &shownEntryRow{Entry: number, Account: string(on), Reconciliation: r.ID})
		}
	}
	if err != nil {
		return Reconciliation{}, fmt.Errorf("reconciling line %s: %w", line, err)
	}
	return r, nil
}

// Unreconcile opens the line of a reconciliation again; what that made in the
// books is for the caller to take back, in the same transaction. One that was
// undone is ErrState.
func (t WriteTx) Unreconcile(id uuid.UUID) (Reconciliation, error) {
	r, err := t.Reconciliation(id)
	switch {
	case err != nil:
		return r, err
	case !r.UndoneAt.IsZero():
		return r, fmt.Errorf("reconciliation %s was undone: %w", id, ErrState)
	}
	if _, err := t.turnLine(r.Line, LineReconciled, LineOpen, nil); err != nil {
		return r, err
	}
	was := r.Version
	r.Version, r.UndoneAt, r.UndoneBy = was+1, t.Now(), t.Principal().Person
	row, err := reconciliationRowOf(&r)
	if err != nil {
		return r, err
	}
	if err := of[shownEntryRow](t.ReadTx).where("reconciliation = ?", id).remove(); err != nil {
		return r, fmt.Errorf("reconciliation %s: %w", id, err)
	}
	return r, change(t, changed, of[reconciliationRow](t.ReadTx).where("id = ? AND version = ?", id, was), map[string]any{
		"version": row.Version, "undone_us": row.UndoneUS, "undone_by": row.UndoneBy,
	}, ErrStale, row)
}

// Reconciliation gives one.
func (t ReadTx) Reconciliation(id uuid.UUID) (Reconciliation, error) {
	row, err := of[reconciliationRow](t).where("id = ?", id).one()
	if err != nil {
		return Reconciliation{}, fmt.Errorf("reconciliation %s: %w", id, err)
	}
	return row.reconciliation()
}

// ReconciliationOf is the one that stands of a line.
func (t ReadTx) ReconciliationOf(line uuid.UUID) (Reconciliation, error) {
	row, err := of[reconciliationRow](t).where("line = ? AND undone_us IS NULL", line).one()
	if err != nil {
		return Reconciliation{}, fmt.Errorf("reconciliation of line %s: %w", line, err)
	}
	return row.reconciliation()
}

// Reconciliations lists them, the newest first. next is where to go on, nil at
// the end.
func (t ReadTx) Reconciliations(after *Place, limit int) (list []Reconciliation, next *Place, err error) {
	found, next, err := page(of[reconciliationRow](t), after, limit, func(r reconciliationRow) Place { return Place{moment(r.CreatedUS), r.ID} })
	if err != nil {
		return nil, nil, fmt.Errorf("reconciliations: %w", err)
	}
	list, err = each(found, (*reconciliationRow).reconciliation)
	return list, next, err
}

// PayerAccounts are the accounts that customers have paid from, as
// reconciliations that stand have shown.
func (t ReadTx) PayerAccounts() (map[uuid.UUID][]string, error) {
	standing, err := of[reconciliationRow](t).where("undone_us IS NULL AND customer IS NOT NULL").order("created_us, id").all()
	if err != nil {
		return nil, fmt.Errorf("accounts of payers: %w", err)
	}
	lines, err := of[lineAccountRow](t).where("state = ?", string(LineReconciled)).where("party_account <> ''").all()
	if err != nil {
		return nil, fmt.Errorf("accounts of payers: %w", err)
	}
	account := map[uuid.UUID]string{}
	for _, l := range lines {
		account[l.ID] = l.PartyAccount
	}
	by := map[uuid.UUID][]string{}
	seen := map[string]bool{}
	for _, r := range standing {
		a := account[r.Line]
		if key := r.Customer.UUID.String() + a; a != "" && !seen[key] {
			seen[key] = true
			by[r.Customer.UUID] = append(by[r.Customer.UUID], a)
		}
	}
	return by, nil
}

// LinesOf are the lines of banks that are a customer's, the oldest first: those
// that were reconciled for them, undone or not, and those of money that is
// placed on one of their jobs, whoever paid it.
func (t ReadTx) LinesOf(customer uuid.UUID, jobs []uuid.UUID) ([]StatementLine, error) {
	seen := map[uuid.UUID]bool{}
	reconciled, err := of[reconciliationRow](t).where("customer = ?", customer).all()
	if err != nil {
		return nil, fmt.Errorf("lines of customer %s: %w", customer, err)
	}
	for _, r := range reconciled {
		seen[r.Line] = true
	}
	receipts, err := t.ReceiptsOf(customer, jobs)
	if err != nil {
		return nil, err
	}
	for _, r := range receipts {
		if id, err := uuid.Parse(r.Line); err == nil {
			seen[id] = true
		}
	}
	if len(seen) == 0 {
		return nil, nil
	}
	found, err := of[lineRow](t).where("id IN ?", slices.Collect(maps.Keys(seen))).order("day, id").all()
	if err != nil {
		return nil, fmt.Errorf("lines of customer %s: %w", customer, err)
	}
	return t.linesOf(found)
}

// emptyLinesOf takes off the lines that are a customer's what people wrote and
// who they are. Of a line that is several people's nothing stays either: nobody
// can say which words are whose.
func (t WriteTx) emptyLinesOf(customer uuid.UUID, jobs []uuid.UUID) (ids []uuid.UUID, err error) {
	list, err := t.LinesOf(customer, jobs)
	if err != nil {
		return nil, err
	}
	for i := range list {
		ids = append(ids, list[i].ID)
		if err := of[lineRow](t.ReadTx).where("id = ?", list[i].ID).set(map[string]any{
			"words": "", "party": "", "party_account": "", "reference": "", "end_to_end": "", "bank_id": "",
		}, ErrNotFound); err != nil {
			return nil, fmt.Errorf("line %s: %w", list[i].ID, err)
		}
	}
	return ids, nil
}

type lineAccountRow struct {
	WorkshopID   uuid.UUID `gorm:"primaryKey"`
	ID           uuid.UUID `gorm:"primaryKey"`
	PartyAccount string
}

// TableName for gorm.
func (lineAccountRow) TableName() string { return "statement_lines" }

type shownEntryRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	Entry          int64     `gorm:"primaryKey;autoIncrement:false"`
	Account        string    `gorm:"primaryKey"`
	Reconciliation uuid.UUID
}

// TableName for gorm.
func (*shownEntryRow) TableName() string { return "shown_entries" }

func (r *shownEntryRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

type reconciliationRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	ID         uuid.UUID `gorm:"primaryKey"`
	Version    int64
	CreatedUS  int64
	CreatedBy  uuid.UUID
	Line       uuid.UUID
	Customer   uuid.NullUUID
	Certain    int64
	UndoneUS   *int64
	UndoneBy   uuid.NullUUID
	Made       string
}

// TableName for gorm.
func (*reconciliationRow) TableName() string { return "reconciliations" }

func (r *reconciliationRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *reconciliationRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-reconciliation/1", r.Version, r.CreatedUS, r.CreatedBy[:], r.Line[:], r.Customer.UUID[:], r.Certain, said(r.UndoneUS), r.UndoneBy.UUID[:], r.Made)
	return "reconciliation", r.ID.String(), sum[:]
}

func (*reconciliationRow) sealed() error { return nil }

func (r *reconciliationRow) key() any { return r.ID }

func reconciliationRowOf(r *Reconciliation) (*reconciliationRow, error) {
	if r.Shows == nil {
		r.Shows = []int64{}
	}
	made, err := json.Marshal(r.Made)
	row := &reconciliationRow{
		ID: r.ID, Version: r.Version, CreatedUS: r.CreatedAt.UnixMicro(), CreatedBy: r.CreatedBy, Line: r.Line, Customer: orNull(r.Customer),
		Certain: bit(r.Certain), UndoneBy: orNull(r.UndoneBy), Made: string(made),
	}
	if !r.UndoneAt.IsZero() {
		us := r.UndoneAt.UnixMicro()
		row.UndoneUS = &us
	}
	return row, err
}

func (r *reconciliationRow) reconciliation() (Reconciliation, error) {
	c := Reconciliation{
		ID: r.ID, Version: r.Version, CreatedAt: moment(r.CreatedUS), CreatedBy: r.CreatedBy, Line: r.Line, Customer: r.Customer.UUID,
		Certain: r.Certain == 1, UndoneBy: r.UndoneBy.UUID,
	}
	if r.UndoneUS != nil {
		c.UndoneAt = moment(*r.UndoneUS)
	}
	if err := json.Unmarshal([]byte(r.Made), &c.Made); err != nil {
		return c, fmt.Errorf("reconciliation %s: %w", r.ID, err)
	}
	return c, nil
}
