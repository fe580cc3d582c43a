package store

import (
	"fmt"
	"maps"

	"github.com/google/uuid"

	"wainscot/pricing/money"
	"wainscot/pricing/statement"
)

// StatementLine is a line that a bank told of, and what has become of it.
type StatementLine struct {
	ID        uuid.UUID
	Account   uuid.UUID
	Number    int64 // of the account, from 1, as they came in
	Statement uuid.UUID
	State     LineState
	Rule      uuid.UUID // that set it aside; the nil id: by hand, or not
	KeptOpen  bool      // taken back from a rule; none takes it again
	statement.Line
}

// LineState is what has become of a line.
type LineState string

// The states.
const (
	LineOpen       LineState = "open"
	LineAside      LineState = "set aside"
	LineReconciled LineState = "reconciled"
)

// LineFilter says which lines to list.
type LineFilter struct {
	State   LineState // "" means any
	Account uuid.UUID // the nil id: any
	From    string    // first day; "" means any
	Until   string    // last day; "" means any
	// After is the last one already seen, by day and id; "" begins.
	AfterDay string
	AfterID  uuid.UUID
	Limit    int // 0 means 50; at most 200
}

// StatementLines lists lines, the oldest first. more says that there are others
// after the last.
func (t ReadTx) StatementLines(f LineFilter) (list []StatementLine, more bool, err error) {
	query := of[lineRow](t).order("day, id")
	if f.State != "" {
		query = query.where("state = ?", string(f.State))
	}
	if f.Account != uuid.Nil {
		query = query.where("account = ?", f.Account)
	}
	if f.From != "" {
		query = query.where("day >= ?", f.From)
	}
	if f.Until != "" {
		query = query.where("day <= ?", f.Until)
	}
	if f.AfterDay != "" {
		query = query.where("(day, id) > (?, ?)", f.AfterDay, f.AfterID)
	}
	limit := bounded(f.Limit)
	found, err := query.first(limit + 1)
	if err != nil {
		return nil, false, fmt.Errorf("lines: %w", err)
	}
	if len(found) > limit {
		found, more = found[:limit], true
	}
	list, err = t.linesOf(found)
	return list, more, err
}

// OpenLines are all that are open, of one account, the oldest first.
func (t ReadTx) OpenLines(account uuid.UUID) ([]StatementLine, error) {
	return t.linesIn(of[lineRow](t).where("state = ?", string(LineOpen)).where("account = ?", account))
}

// ReconciledLines are those of an account from a day on that were reconciled,
// the oldest first.
func (t ReadTx) ReconciledLines(account uuid.UUID, from string) ([]StatementLine, error) {
	return t.linesIn(of[lineRow](t).where("state = ?", string(LineReconciled)).where("account = ? AND day >= ?", account, from))
}

func (t ReadTx) linesIn(which rows[lineRow]) ([]StatementLine, error) {
	found, err := which.order("day, id").all()
	if err != nil {
		return nil, fmt.Errorf("lines: %w", err)
	}
	return t.linesOf(found)
}

// StatementLine gives one.
func (t ReadTx) StatementLine(id uuid.UUID) (StatementLine, error) {
	row, err := of[lineRow](t).where("id = ?", id).one()
	if err != nil {
		return StatementLine{}, fmt.Errorf("line %s: %w", id, err)
	}
	list, err := t.linesOf([]lineRow{row})
	if err != nil {
		return StatementLine{}, err
	}
	return list[0], nil
}

func (t ReadTx) linesOf(found []lineRow) ([]StatementLine, error) {
	list := make([]StatementLine, len(found))
	in, err := t.currencies()
	if err != nil {
		return nil, err
	}
	for i := range found {
		if list[i], err = found[i].line(in); err != nil {
			return nil, fmt.Errorf("line %s: %w", found[i].ID, err)
		}
	}
	return list, nil
}

// DayTotal is what lines of one state on a day come to, in minor units.
type DayTotal struct {
	Day   string
	State LineState
	LineSum
}

// LinesSince are what the lines of an account after a day come to, by day and
// state.
func (t ReadTx) LinesSince(account uuid.UUID, day string) ([]DayTotal, error) {
	found, err := of[lineAmountRow](t).where("account = ? AND day > ?", account, day).order("day").all()
	return totals(found), err
}

// OpenTotals are what the open lines of an account come to, by day.
func (t ReadTx) OpenTotals(account uuid.UUID) ([]DayTotal, error) {
	found, err := of[lineAmountRow](t).where("state = ?", string(LineOpen)).where("account = ?", account).order("day").all()
	return totals(found), err
}

func totals(found []lineAmountRow) []DayTotal {
	at := map[[2]string]int{}
	var list []DayTotal
	for _, r := range found {
		key := [2]string{r.Day, r.State}
		i, ok := at[key]
		if !ok {
			i = len(list)
			at[key] = i
			list = append(list, DayTotal{Day: r.Day, State: LineState(r.State)})
		}
		list[i].LineSum = list[i].and(1, r.AmountMinor)
	}
	return list
}

// SetLineAside sets an open line aside by hand. One in another state is
// ErrState.
func (t WriteTx) SetLineAside(id uuid.UUID) (StatementLine, error) {
	return t.turnLine(id, LineOpen, LineAside, nil)
}

// TakeLineBack opens a line that was set aside; no rule takes it again. One in
// another state is ErrState.
func (t WriteTx) TakeLineBack(id uuid.UUID) (StatementLine, error) {
	return t.turnLine(id, LineAside, LineOpen, map[string]any{"rule": uuid.NullUUID{}, "kept_open": int64(1)})
}

// turnLine puts a line from one state into another, with its account.
func (t WriteTx) turnLine(id uuid.UUID, from, to LineState, also map[string]any) (StatementLine, error) {
	l, err := t.StatementLine(id)
	switch {
	case err != nil:
		return l, err
	case l.State != from:
		return l, fmt.Errorf("line %s is %s: %w", id, l.State, ErrState)
	}
	return l, t.turnLines(l.Account, []StatementLine{l}, from, to, also)
}

// mostInAList is how many values one condition names.
const mostInAList = 500

// turnLines puts lines of an account from one state into another.
func (t WriteTx) turnLines(account uuid.UUID, lines []StatementLine, from, to LineState, also map[string]any) error {
	if len(lines) == 0 {
		return nil
	}
	b, err := t.BankAccount(account)
	if err != nil {
		return err
	}
	columns := map[string]any{"state": string(to), "changed_us": t.Now().UnixMicro()}
	maps.Copy(columns, also)
	for begin := 0; begin < len(lines); begin += mostInAList {
		var ids []uuid.UUID
		for _, l := range lines[begin:min(len(lines), begin+mostInAList)] {
			ids = append(ids, l.ID)
			*b.of(from) = b.of(from).and(-1, -l.Amount.Minor())
			*b.of(to) = b.of(to).and(1, l.Amount.Minor())
		}
		which := of[lineRow](t.ReadTx).where("state = ?", string(from))
		if len(ids) == 1 {
			which = which.where("id = ?", ids[0])
		} else {
			which = which.where("id IN ?", ids)
		}
		if err := which.set(columns, ErrState); err != nil {
			return fmt.Errorf("lines of account %s: %w", account, err)
		}
	}
	_, err = t.writeBankAccount(b)
	return err
}

// lineIdentityRow and lineAmountRow are of a line what many are read for.
type lineIdentityRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	Identity   string
}

// TableName for gorm.
func (lineIdentityRow) TableName() string { return "statement_lines" }

type lineAmountRow struct {
	WorkshopID  uuid.UUID `gorm:"primaryKey"`
	Day         string
	State       string
	AmountMinor int64
}

// TableName for gorm.
func (lineAmountRow) TableName() string { return "statement_lines" }

type lineRow struct {
	WorkshopID      uuid.UUID `gorm:"primaryKey"`
	ID              uuid.UUID `gorm:"primaryKey"`
	Account         uuid.UUID
	Number          int64
	Statement       uuid.UUID
	Day             string
	ValueDay        string
	AmountMinor     int64
	Reversal        int64
	State           string
	Rule            uuid.NullUUID
	KeptOpen        int64
	ChangedUS       int64
	Identity        string
	BankID          string
	ForeignMinor    *int64
	ForeignCurrency string
	ForeignRate     string
	Reference       string
	EndToEnd        string
	Party           string
	PartyAccount    string
	Words           string
}

// TableName for gorm.
func (*lineRow) TableName() string { return "statement_lines" }

func (r *lineRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func lineRowOf(l *statement.Line) *lineRow {
	r := &lineRow{
		Day: l.Day, ValueDay: l.ValueDay, AmountMinor: l.Amount.Minor(), Reversal: bit(l.Reversal), BankID: l.BankID,
		Reference: l.Reference, EndToEnd: l.EndToEnd, Party: l.Party, PartyAccount: l.PartyAccount, Words: l.Words,
	}
	if l.Foreign != nil {
		r.ForeignMinor, r.ForeignCurrency, r.ForeignRate = minorOf(&l.Foreign.Amount), string(l.Foreign.Amount.Currency()), l.Foreign.Rate
	}
	return r
}

func (r *lineRow) line(in map[uuid.UUID]money.Currency) (StatementLine, error) {
	l := StatementLine{
		ID: r.ID, Account: r.Account, Number: r.Number, Statement: r.Statement, State: LineState(r.State), Rule: r.Rule.UUID, KeptOpen: r.KeptOpen == 1,
		Line: statement.Line{
			Day: r.Day, ValueDay: r.ValueDay, Reversal: r.Reversal == 1, BankID: r.BankID,
			Reference: r.Reference, EndToEnd: r.EndToEnd, Party: r.Party, PartyAccount: r.PartyAccount, Words: r.Words,
		},
	}
	var err error
	if l.Amount, err = money.FromMinor(r.AmountMinor, in[r.Account]); err != nil || r.ForeignMinor == nil {
		return l, err
	}
	foreign, err := money.FromMinor(*r.ForeignMinor, money.Currency(r.ForeignCurrency))
	l.Foreign = &statement.Foreign{Amount: foreign, Rate: r.ForeignRate}
	return l, err
}
