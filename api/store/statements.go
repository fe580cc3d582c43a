package store

import (
	"encoding/hex"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/bom/document"
	"wainscot/pricing/money"
	"wainscot/pricing/statement"
)

// StatementEntry is a statement that came in, without its lines.
type StatementEntry struct {
	ID        uuid.UUID
	CreatedAt time.Time
	CreatedBy uuid.UUID
	Account   uuid.UUID
	Currency  money.Currency // of the account
	Source    statement.Source
	BankID    string
	From      string
	Until     string
	Opening   *money.Amount
	Closing   *money.Amount
	Lines     int64
	New       int64 // of them not known before
	NotBooked int64
}

// Imported is what came of a statement.
type Imported struct {
	// Statement is without an id where nothing of it was new.
	Statement StatementEntry
	Account   BankAccount
	Aside     int64 // of the new lines, by rule
}

// aroundDays before and after a statement's days a line of it may be known under
// another day: banks book anew.
const aroundDays = 31

// ImportStatement keeps what is new in a statement of an account: its lines, of
// which rules set some aside. A statement that says nothing new changes nothing.
// One that does not follow is document.Faults.
func (t WriteTx) ImportStatement(account uuid.UUID, s *statement.Statement, rules Rules) (Imported, error) {
	b, err := t.BankAccount(account)
	if err != nil {
		return Imported{}, err
	}
	come, names, err := t.newLines(&b, s)
	if err != nil {
		return Imported{}, err
	}
	e := StatementEntry{
		CreatedAt: t.Now(), CreatedBy: t.Principal().Person, Account: b.ID, Currency: b.Currency, Source: s.Source, BankID: s.ID,
		From: s.From, Until: s.Until, Opening: s.Opening, Closing: s.Closing, Lines: int64(len(s.Lines)), New: int64(len(come)), NotBooked: int64(s.NotBooked),
	}
	after, faults := b.With(s, come)
	switch {
	case len(faults) > 0:
		return Imported{}, faults
	case len(come) == 0 && after == b.Account:
		return Imported{Statement: e, Account: b}, nil
	}
	b.Account, e.ID = after, t.NewID()
	if err := insert(t, added, statementRowOf(&e)); err != nil {
		return Imported{}, fmt.Errorf("statement: %w", err)
	}
	done := Imported{Statement: e}
	rows := make([]bound, len(come))
	for i := range come {
		r := lineRowOf(&come[i])
		r.ID, r.Account, r.Number, r.Statement, r.Identity, r.ChangedUS, r.State = t.NewID(), b.ID, b.Lines+1, e.ID, names[i], t.Now().UnixMicro(), string(LineOpen)
		if rule := rules.taking(&come[i]); rule != uuid.Nil {
			r.State, r.Rule = string(LineAside), orNull(rule)
			done.Aside++
		}
		sum := b.of(LineState(r.State))
		*sum = sum.and(1, r.AmountMinor)
		b.Lines, b.sum = r.Number, r.after(b.sum)
		rows[i] = r
	}
	if err := jotAll(t, rows); err != nil {
		return Imported{}, fmt.Errorf("lines of a statement: %w", err)
	}
	done.Account, err = t.writeBankAccount(b)
	return done, err
}

// Following is what an account becomes with a statement, which is not kept, or
// what stands against that.
func (t ReadTx) Following(b *BankAccount, s *statement.Statement) (statement.Account, document.Faults, error) {
	come, _, err := t.newLines(b, s)
	if err != nil {
		return b.Account, nil, err
	}
	after, faults := b.With(s, come)
	return after, faults, nil
}

// newLines are the lines of a statement that are not known, and their
// identities.
func (t ReadTx) newLines(b *BankAccount, s *statement.Statement) (come []statement.Line, names []string, err error) {
	known, err := t.knownLines(b, s)
	if err != nil {
		return nil, nil, err
	}
	for i, name := range s.Identities() {
		if !known[name] {
			come, names = append(come, s.Lines[i]), append(names, name)
		}
	}
	return come, names, nil
}

// knownLines are the identities of an account's lines about the days of a
// statement.
func (t ReadTx) knownLines(b *BankAccount, s *statement.Statement) (map[string]bool, error) {
	known := map[string]bool{}
	if b.Lines == 0 || len(s.Lines) == 0 {
		return known, nil
	}
	first, last := s.Lines[0].Day, s.Lines[0].Day
	for i := range s.Lines {
		first, last = min(first, s.Lines[i].Day), max(last, s.Lines[i].Day)
	}
	from, err := time.Parse(time.DateOnly, first)
	if err != nil {
		return nil, err
	}
	until, err := time.Parse(time.DateOnly, last)
	if err != nil {
		return nil, err
	}
	found, err := of[lineIdentityRow](t).where("account = ? AND day >= ? AND day <= ?", b.ID,
		from.AddDate(0, 0, -aroundDays).Format(time.DateOnly), until.AddDate(0, 0, aroundDays).Format(time.DateOnly)).all()
	for _, r := range found {
		known[r.Identity] = true
	}
	return known, err
}

// Statement gives one.
func (t ReadTx) Statement(id uuid.UUID) (StatementEntry, error) {
	row, err := of[statementRow](t).where("id = ?", id).one()
	if err != nil {
		return StatementEntry{}, fmt.Errorf("statement %s: %w", id, err)
	}
	accounts, err := t.currencies()
	if err != nil {
		return StatementEntry{}, err
	}
	return row.entry(accounts)
}

// Statements lists those of an account, of all for the nil id, the latest that
// came in first. next is where to go on, nil at the end.
func (t ReadTx) Statements(account uuid.UUID, after *Place, limit int) (list []StatementEntry, next *Place, err error) {
	query := of[statementRow](t)
	if account != uuid.Nil {
		query = query.where("account = ?", account)
	}
	found, next, err := page(query, after, limit, func(r statementRow) Place { return Place{moment(r.CreatedUS), r.ID} })
	if err != nil {
		return nil, nil, fmt.Errorf("statements: %w", err)
	}
	accounts, err := t.currencies()
	if err != nil {
		return nil, nil, err
	}
	list = make([]StatementEntry, len(found))
	for i := range found {
		if list[i], err = found[i].entry(accounts); err != nil {
			return nil, nil, err
		}
	}
	return list, next, nil
}

// currencies of the accounts.
func (t ReadTx) currencies() (map[uuid.UUID]money.Currency, error) {
	found, err := of[bankAccountRow](t).all()
	in := map[uuid.UUID]money.Currency{}
	for _, r := range found {
		in[r.ID] = money.Currency(r.Currency)
	}
	return in, err
}

type statementRow struct {
	WorkshopID   uuid.UUID `gorm:"primaryKey"`
	ID           uuid.UUID `gorm:"primaryKey"`
	CreatedUS    int64
	CreatedBy    uuid.UUID
	Account      uuid.UUID
	Source       string
	BankID       string
	FromDay      string
	UntilDay     string
	OpeningMinor *int64
	ClosingMinor *int64
	Lines        int64
	NewLines     int64
	NotBooked    int64
}

// TableName for gorm.
func (*statementRow) TableName() string { return "statements" }

func (r *statementRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *statementRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-statement/1", r.CreatedUS, r.CreatedBy[:], r.Account[:], r.Source, r.BankID, r.FromDay, r.UntilDay,
		said(r.OpeningMinor), said(r.ClosingMinor), r.Lines, r.NewLines, r.NotBooked)
	return "statement", r.ID.String(), sum[:]
}

func (*statementRow) sealed() error { return nil }

func (r *statementRow) key() any { return r.ID }

func statementRowOf(e *StatementEntry) *statementRow {
	return &statementRow{
		ID: e.ID, CreatedUS: e.CreatedAt.UnixMicro(), CreatedBy: e.CreatedBy, Account: e.Account, Source: string(e.Source), BankID: e.BankID,
		FromDay: e.From, UntilDay: e.Until, OpeningMinor: minorOf(e.Opening), ClosingMinor: minorOf(e.Closing),
		Lines: e.Lines, NewLines: e.New, NotBooked: e.NotBooked,
	}
}

func (r *statementRow) entry(in map[uuid.UUID]money.Currency) (StatementEntry, error) {
	e := StatementEntry{
		ID: r.ID, CreatedAt: moment(r.CreatedUS), CreatedBy: r.CreatedBy, Account: r.Account, Currency: in[r.Account], Source: statement.Source(r.Source),
		BankID: r.BankID, From: r.FromDay, Until: r.UntilDay, Lines: r.Lines, New: r.NewLines, NotBooked: r.NotBooked,
	}
	var err error
	if e.Opening, err = amountIn(r.OpeningMinor, e.Currency); err == nil {
		e.Closing, err = amountIn(r.ClosingMinor, e.Currency)
	}
	if err != nil {
		return e, fmt.Errorf("statement %s: %w", r.ID, err)
	}
	return e, nil
}

// verifyBankAccounts holds the lines of every account against the digest and the
// sums that the journal vouches for.
func (t ReadTx) verifyBankAccounts(last map[[2]string][]byte) error {
	if err := verifyTable[bankAccountRow](t, "id", last); err != nil {
		return err
	}
	all, err := t.BankAccounts()
	if err != nil {
		return err
	}
	for i := range all {
		if err := t.verifyLines(&all[i]); err != nil {
			return err
		}
	}
	return nil
}

func (t ReadTx) verifyLines(b *BankAccount) error {
	comes := BankAccount{sum: noMovements}
	for {
		found, err := of[lineRow](t).where("account = ? AND number > ?", b.ID, comes.Lines).order("number").first(maxPage)
		if err != nil {
			return err
		}
		for i := range found {
			r := &found[i]
			comes.Lines++
			if r.Number != comes.Lines {
				return fmt.Errorf("%w: line %d of account %s is missing", ErrJournal, comes.Lines, b.ID)
			}
			sum := comes.of(LineState(r.State))
			*sum = sum.and(1, r.AmountMinor)
			comes.sum = r.after(comes.sum)
		}
		if len(found) < maxPage {
			break
		}
	}
	if comes.sum != b.sum || comes.Open != b.Open || comes.Aside != b.Aside || comes.Reconciled != b.Reconciled {
		return fmt.Errorf("%w: the lines of account %s are not what came in", ErrJournal, b.ID)
	}
	return nil
}

// after is the digest of all lines of an account with this one, given that of
// those before it: what a bank says happened, and nothing of who it was.
func (r *lineRow) after(before string) string {
	sum := digest("wainscot-statement-line/1", before, r.ID[:], r.Account[:], r.Number, r.Statement[:], r.Day, r.ValueDay, r.AmountMinor, r.Reversal,
		said(r.ForeignMinor), r.ForeignCurrency, r.ForeignRate)
	return hex.EncodeToString(sum[:])
}
