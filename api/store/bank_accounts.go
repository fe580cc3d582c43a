package store

import (
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/statement"
)

// BankAccount is an account of the workshop's, with what all its statements so
// far come to.
type BankAccount struct {
	ID        uuid.UUID
	Version   int64 // goes up with its lines, too
	CreatedAt time.Time
	ChangedAt time.Time
	Name      string
	// Number as banks write it, an IBAN without spaces.
	Number string
	// Holds says which account of the ledger it is: Bank or ClientBank.
	Holds ledger.Account
	// Columns of its CSV, the id of a map; the nil id: none.
	Columns uuid.UUID
	statement.Account
	// Lines there are, and what those of each state come to.
	Lines                   int64
	Open, Aside, Reconciled LineSum
	sum                     string // digest of the lines
}

// LineSum is what lines come to, in minor units of their account.
type LineSum struct{ Lines, Minor int64 }

func (s LineSum) and(lines, minor int64) LineSum { return LineSum{s.Lines + lines, s.Minor + minor} }

// of is the sum of one state.
func (b *BankAccount) of(s LineState) *LineSum {
	switch s {
	case LineAside:
		return &b.Aside
	case LineReconciled:
		return &b.Reconciled
	case LineOpen:
	}
	return &b.Open
}

// AddBankAccount keeps a new one. A number that there is in the currency is
// ErrTaken; a map of columns that is not there ErrMissing.
func (t WriteTx) AddBankAccount(b BankAccount) (BankAccount, error) {
	b.ID, b.Version, b.CreatedAt, b.ChangedAt, b.sum = t.NewID(), 1, t.Now(), t.Now(), noMovements
	b.Sum = money.Zero(b.Currency)
	if err := insert(t, added, bankAccountRowOf(&b)); err != nil {
		return BankAccount{}, fmt.Errorf("account %s: %w", b.ID, err)
	}
	return b, nil
}

// ChangeBankAccount gives it another name, map of columns or account of the
// ledger. version is the one the change was made from, else it is ErrStale.
func (t WriteTx) ChangeBankAccount(id uuid.UUID, version int64, name string, holds ledger.Account, columns uuid.UUID) (BankAccount, error) {
	b, err := t.BankAccount(id)
	if err != nil {
		return b, err
	}
	b.Name, b.Holds, b.Columns, b.Version = name, holds, columns, version
	return t.writeBankAccount(b)
}

// writeBankAccount writes what an account has become from the version it has.
func (t WriteTx) writeBankAccount(b BankAccount) (BankAccount, error) {
	which := of[bankAccountRow](t.ReadTx).where("id = ? AND version = ?", b.ID, b.Version)
	stale := fmt.Errorf("account %s at version %d: %w", b.ID, b.Version, ErrStale)
	b.Version, b.ChangedAt = b.Version+1, t.Now()
	r := bankAccountRowOf(&b)
	return b, change(t, changed, which, map[string]any{
		"version": r.Version, "changed_us": r.ChangedUS, "name": r.Name, "holds": r.Holds, "column_map": r.ColumnMap,
		"from_day": r.FromDay, "until_day": r.UntilDay, "said_day": r.SaidDay, "opening_minor": r.OpeningMinor, "closing_minor": r.ClosingMinor,
		"lines": r.Lines, "sum": r.Sum, "open_lines": r.OpenLines, "open_minor": r.OpenMinor, "aside_lines": r.AsideLines, "aside_minor": r.AsideMinor,
		"reconciled_lines": r.ReconciledLines, "reconciled_minor": r.ReconciledMinor,
	}, stale, r)
}

// BankAccount gives one.
func (t ReadTx) BankAccount(id uuid.UUID) (BankAccount, error) {
	row, err := of[bankAccountRow](t).where("id = ?", id).one()
	if err != nil {
		return BankAccount{}, fmt.Errorf("account %s: %w", id, err)
	}
	return row.account()
}

// BankAccountOf gives the one of a number in a currency.
func (t ReadTx) BankAccountOf(number string, c money.Currency) (BankAccount, error) {
	row, err := of[bankAccountRow](t).where("number = ? AND currency = ?", number, string(c)).one()
	if err != nil {
		return BankAccount{}, fmt.Errorf("account of that number: %w", err)
	}
	return row.account()
}

// BankAccounts are all of them, by name.
func (t ReadTx) BankAccounts() ([]BankAccount, error) {
	found, err := of[bankAccountRow](t).order("name, id").all()
	if err != nil {
		return nil, fmt.Errorf("accounts: %w", err)
	}
	return each(found, (*bankAccountRow).account)
}

type bankAccountRow struct {
	WorkshopID      uuid.UUID `gorm:"primaryKey"`
	ID              uuid.UUID `gorm:"primaryKey"`
	Version         int64
	CreatedUS       int64
	ChangedUS       int64
	Name            string
	Number          string
	Currency        string
	Holds           string
	ColumnMap       uuid.NullUUID
	FromDay         string
	UntilDay        string
	SaidDay         string
	OpeningMinor    *int64
	ClosingMinor    *int64
	Lines           int64
	Sum             string
	OpenLines       int64
	OpenMinor       int64
	AsideLines      int64
	AsideMinor      int64
	ReconciledLines int64
	ReconciledMinor int64
}

// TableName for gorm.
func (*bankAccountRow) TableName() string { return "bank_accounts" }

func (r *bankAccountRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *bankAccountRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-bank-account/1", r.Version, r.CreatedUS, r.ChangedUS, r.Name, r.Number, r.Currency, r.Holds, r.ColumnMap.UUID[:],
		r.FromDay, r.UntilDay, r.SaidDay, said(r.OpeningMinor), said(r.ClosingMinor), r.Lines, r.Sum,
		r.OpenLines, r.OpenMinor, r.AsideLines, r.AsideMinor, r.ReconciledLines, r.ReconciledMinor)
	return "bank account", r.ID.String(), sum[:]
}

// said is a number that may be unknown, for a digest.
func said(n *int64) string {
	if n == nil {
		return ""
	}
	return fmt.Sprint(*n)
}

func (*bankAccountRow) sealed() error { return nil }

func (r *bankAccountRow) key() any { return r.ID }

func bankAccountRowOf(b *BankAccount) *bankAccountRow {
	return &bankAccountRow{
		ID: b.ID, Version: b.Version, CreatedUS: b.CreatedAt.UnixMicro(), ChangedUS: b.ChangedAt.UnixMicro(), Name: b.Name, Number: b.Number,
		Currency: string(b.Currency), Holds: string(b.Holds), ColumnMap: orNull(b.Columns), FromDay: b.From, UntilDay: b.Until, SaidDay: b.Said,
		OpeningMinor: minorOf(b.Opening), ClosingMinor: minorOf(b.Closing), Lines: b.Lines, Sum: b.sum,
		OpenLines: b.Open.Lines, OpenMinor: b.Open.Minor, AsideLines: b.Aside.Lines, AsideMinor: b.Aside.Minor,
		ReconciledLines: b.Reconciled.Lines, ReconciledMinor: b.Reconciled.Minor,
	}
}

func (r *bankAccountRow) account() (BankAccount, error) {
	c := money.Currency(r.Currency)
	b := BankAccount{
		ID: r.ID, Version: r.Version, CreatedAt: moment(r.CreatedUS), ChangedAt: moment(r.ChangedUS), Name: r.Name, Number: r.Number,
		Holds: ledger.Account(r.Holds), Columns: r.ColumnMap.UUID,
		Account: statement.Account{Currency: c, From: r.FromDay, Until: r.UntilDay, Said: r.SaidDay},
		Lines:   r.Lines, Open: LineSum{r.OpenLines, r.OpenMinor}, Aside: LineSum{r.AsideLines, r.AsideMinor},
		Reconciled: LineSum{r.ReconciledLines, r.ReconciledMinor}, sum: r.Sum,
	}
	var err error
	if b.Sum, err = money.FromMinor(r.OpenMinor+r.AsideMinor+r.ReconciledMinor, c); err == nil {
		b.Opening, err = amountIn(r.OpeningMinor, c)
	}
	if err == nil {
		b.Closing, err = amountIn(r.ClosingMinor, c)
	}
	if err != nil {
		return BankAccount{}, fmt.Errorf("account %s: %w", r.ID, err)
	}
	return b, nil
}

// minorOf is an amount that may be unknown, as a column has it.
func minorOf(a *money.Amount) *int64 {
	if a == nil {
		return nil
	}
	n := a.Minor()
	return &n
}

func amountIn(minor *int64, c money.Currency) (*money.Amount, error) {
	if minor == nil {
		return nil, nil //nolint:nilnil // an amount that is not known
	}
	a, err := money.FromMinor(*minor, c)
	return &a, err
}

// ColumnMap says under a name what stands where in the CSV of a bank.
type ColumnMap struct {
	ID        uuid.UUID
	Version   int64
	CreatedAt time.Time
	ChangedAt time.Time
	Name      string
	Columns   statement.Columns
}

// AddColumnMap keeps a new one; one of a name there is already is ErrTaken.
func (t WriteTx) AddColumnMap(name string, columns statement.Columns) (ColumnMap, error) {
	m := ColumnMap{ID: t.NewID(), Version: 1, CreatedAt: t.Now(), ChangedAt: t.Now(), Name: name, Columns: columns}
	row, err := columnMapRowOf(&m)
	if err == nil {
		err = insert(t, added, row)
	}
	if err != nil {
		return ColumnMap{}, fmt.Errorf("map of columns: %w", err)
	}
	return m, nil
}

// ChangeColumnMap puts another in its place. version is the one the change was
// made from, else it is ErrStale.
func (t WriteTx) ChangeColumnMap(id uuid.UUID, version int64, name string, columns statement.Columns) (ColumnMap, error) {
	m, err := t.ColumnMap(id)
	if err != nil {
		return m, err
	}
	m.Version, m.ChangedAt, m.Name, m.Columns = version+1, t.Now(), name, columns
	row, err := columnMapRowOf(&m)
	if err != nil {
		return m, err
	}
	return m, change(t, changed, of[columnMapRow](t.ReadTx).where("id = ? AND version = ?", id, version), map[string]any{
		"version": row.Version, "changed_us": row.ChangedUS, "name": row.Name, "columns": row.Columns,
	}, fmt.Errorf("map of columns %s at version %d: %w", id, version, ErrStale), row)
}

// ColumnMap gives one.
func (t ReadTx) ColumnMap(id uuid.UUID) (ColumnMap, error) {
	row, err := of[columnMapRow](t).where("id = ?", id).one()
	if err != nil {
		return ColumnMap{}, fmt.Errorf("map of columns %s: %w", id, err)
	}
	return row.columnMap()
}

// ColumnMaps are all of them, by name.
func (t ReadTx) ColumnMaps() ([]ColumnMap, error) {
	found, err := of[columnMapRow](t).order("name").all()
	if err != nil {
		return nil, fmt.Errorf("maps of columns: %w", err)
	}
	return each(found, (*columnMapRow).columnMap)
}

type columnMapRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	ID         uuid.UUID `gorm:"primaryKey"`
	Version    int64
	CreatedUS  int64
	ChangedUS  int64
	Name       string
	Columns    string
}

// TableName for gorm.
func (*columnMapRow) TableName() string { return "column_maps" }

func (r *columnMapRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *columnMapRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-column-map/1", r.Version, r.CreatedUS, r.ChangedUS, r.Name, r.Columns)
	return "column map", r.ID.String(), sum[:]
}

func (*columnMapRow) sealed() error { return nil }

func (r *columnMapRow) key() any { return r.ID }

func columnMapRowOf(m *ColumnMap) (*columnMapRow, error) {
	text, err := json.Marshal(m.Columns)
	return &columnMapRow{ID: m.ID, Version: m.Version, CreatedUS: m.CreatedAt.UnixMicro(), ChangedUS: m.ChangedAt.UnixMicro(), Name: m.Name, Columns: string(text)}, err
}

func (r *columnMapRow) columnMap() (ColumnMap, error) {
	m := ColumnMap{ID: r.ID, Version: r.Version, CreatedAt: moment(r.CreatedUS), ChangedAt: moment(r.ChangedUS), Name: r.Name}
	if err := json.Unmarshal([]byte(r.Columns), &m.Columns); err != nil {
		return m, fmt.Errorf("map of columns %s: %w", r.ID, err)
	}
	return m, nil
}
