package store

import (
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
)

// Books are what a workshop's money has come to, without its entries.
type Books struct {
	// Version goes up with every entry and every change of the settings; 0:
	// nothing was ever entered.
	Version   int64
	ChangedAt time.Time
	Entries   int64
	Head      string // hash of the last entry
	// ClosedThrough is the last day nothing more is entered on; "" for none.
	ClosedThrough string
	BooksSettings
}

// BooksSettings are what a workshop has set for its money.
type BooksSettings struct {
	// CustomersMoneyApart: deposits are kept in an account of their own, whose
	// balance is held against them.
	CustomersMoneyApart bool `json:"customers_money_apart,omitempty"`
	// SlotWaitsForDeposit: a slot is firm only when what was due on acceptance
	// is in.
	SlotWaitsForDeposit bool `json:"slot_waits_for_deposit,omitempty"`
	// ApplyCertain: what of a bank's statement is certain is applied without
	// asking.
	ApplyCertain bool `json:"apply_certain,omitempty"`
	// Codes are the workshop's own of the accounts, for its journal export.
	Codes []AccountCode `json:"codes,omitempty"`
}

// AccountCode is what a workshop calls an account elsewhere.
type AccountCode struct {
	Account ledger.Account `json:"account"`
	Code    string         `json:"code"`
}

// Code is the workshop's own of an account; its name where it has none.
func (s *BooksSettings) Code(a ledger.Account) string {
	for _, c := range s.Codes {
		if c.Account == a {
			return c.Code
		}
	}
	return string(a)
}

// Books gives what the workshop's money has come to.
func (t ReadTx) Books() (Books, error) {
	row, err := t.booksRow()
	if err != nil {
		return Books{}, err
	}
	return row.books()
}

func (t ReadTx) booksRow() (booksRow, error) {
	found, err := of[booksRow](t).first(1)
	if err != nil {
		return booksRow{}, fmt.Errorf("books: %w", err)
	}
	if len(found) == 0 {
		return booksRow{Settings: "{}"}, nil
	}
	return found[0], nil
}

// writeBooks writes what the books have become.
func (t WriteTx) writeBooks(verb string, was, now booksRow) (booksRow, error) {
	now.Version, now.ChangedUS = was.Version+1, t.Now().UnixMicro()
	now.bind(t.s.as.Workshop)
	if was.Version == 0 {
		return now, insert(t, verb, &now)
	}
	return now, change(t, verb, of[booksRow](t.ReadTx).where("version = ?", was.Version), map[string]any{
		"version": now.Version, "changed_us": now.ChangedUS, "entries": now.Entries, "head": now.Head,
		"closed_through": now.ClosedThrough, "settings": now.Settings,
	}, fmt.Errorf("books: %w", ErrStale), &now)
}

// SetBooks sets what a workshop has set for its money. version is the one the
// change was made from, else it is ErrStale.
func (t WriteTx) SetBooks(version int64, s BooksSettings) (Books, error) {
	was, err := t.booksRow()
	if err != nil {
		return Books{}, err
	}
	if was.Version != version {
		return Books{}, fmt.Errorf("books at version %d: %w", version, ErrStale)
	}
	text, err := json.Marshal(s)
	if err != nil {
		return Books{}, fmt.Errorf("books: %w", err)
	}
	now := was
	now.Settings = string(text)
	if now, err = t.writeBooks(changed, was, now); err != nil {
		return Books{}, err
	}
	return now.books()
}

// CloseBooks shuts every day through one. What stands against it is
// document.Faults.
func (t WriteTx) CloseBooks(through string) (Books, error) {
	was, err := t.booksRow()
	if err != nil {
		return Books{}, err
	}
	b := ledger.Continue(ledger.Standing{ClosedThrough: was.ClosedThrough})
	if faults := b.Close(through); len(faults) > 0 {
		return Books{}, fmt.Errorf("books: %w", faults)
	}
	now := was
	now.ClosedThrough = through
	if now, err = t.writeBooks(closed, was, now); err != nil {
		return Books{}, err
	}
	return now.books()
}

// Book is the ledger as it goes on in a transaction.
type Book struct {
	*ledger.Book
	t    WriteTx
	was  booksRow
	sums map[sumKey]ledger.Sum
	kept map[sumKey]bool
}

// Book opens the ledger to enter something that touches these jobs, and may
// reverse these entries.
func (t WriteTx) Book(jobs []uuid.UUID, reverses ...int64) (*Book, error) {
	b := &Book{t: t, sums: map[sumKey]ledger.Sum{}, kept: map[sumKey]bool{}}
	var err error
	if b.was, err = t.booksRow(); err != nil {
		return nil, err
	}
	of := []string{""}
	for _, j := range jobs {
		of = append(of, j.String())
	}
	s := ledger.Standing{Entries: b.was.Entries, Head: b.was.Head, ClosedThrough: b.was.ClosedThrough, Reversed: map[int64]int64{}}
	if s.Sums, err = t.sums(of); err != nil {
		return nil, err
	}
	for _, sum := range s.Sums {
		b.sums[keyOf(sum)], b.kept[keyOf(sum)] = sum, true
	}
	for _, number := range reverses {
		e, by, err := t.LedgerEntry(number)
		if err != nil {
			return nil, err
		}
		s.Known = append(s.Known, e)
		if by > 0 {
			s.Reversed[number] = by
		}
	}
	b.Book = ledger.Continue(s)
	return b, nil
}

// Enter writes an entry; who and when are the transaction's. What stands
// against it is document.Faults.
func (b *Book) Enter(e ledger.Entry) (ledger.Entry, error) {
	e.At, e.By = b.t.Now(), b.t.Principal().Person.String()
	done, faults := b.Post(e)
	if len(faults) > 0 {
		return done, fmt.Errorf("entering %s: %w", e.Kind, faults)
	}
	return done, b.keep(done)
}

// TakeBack reverses an entry that the book was opened with, or that was entered
// since.
func (b *Book) TakeBack(number int64, day string, d ledger.Document) (ledger.Entry, error) {
	done, faults := b.Reverse(number, day, b.t.Principal().Person.String(), b.t.Now(), d)
	if len(faults) > 0 {
		return done, fmt.Errorf("reversing entry %d: %w", number, faults)
	}
	return done, b.keep(done)
}

func (b *Book) keep(e ledger.Entry) error {
	lines, err := json.Marshal(e.Lines)
	if err != nil {
		return fmt.Errorf("entry %d: %w", e.Number, err)
	}
	by, err := uuid.Parse(e.By)
	if err != nil {
		return fmt.Errorf("entry %d: %w", e.Number, err)
	}
	now := b.was
	now.Entries, now.Head = e.Number, e.Hash
	if b.was, err = b.t.writeBooks(entered, b.was, now); err != nil {
		return err
	}
	row := &entryRow{Number: e.Number, Day: e.Day, AtUS: e.At.UnixMicro(), EnteredBy: by, Kind: string(e.Kind), Noun: e.Document.Noun,
		Document: e.Document.ID, Reverses: e.Reverses, Lines: string(lines), Previous: e.Previous, Hash: e.Hash}
	// The digest of the books covers the entry: it has no line of its own.
	if err := jot(b.t, row); err != nil {
		return fmt.Errorf("entry %d: %w", e.Number, err)
	}
	if err := jotAll(b.t, touchesOf(&e)); err != nil {
		return fmt.Errorf("entry %d: %w", e.Number, err)
	}
	touched := map[sumKey]bool{}
	var order []sumKey
	for i := range e.Lines {
		add := e.Lines[i].Sum()
		key := keyOf(add)
		if sum, ok := b.sums[key]; ok {
			add.Minor, add.Net = sum.Minor+add.Minor, sum.Net+add.Net
		}
		b.sums[key] = add
		if !touched[key] {
			touched[key] = true
			order = append(order, key)
		}
	}
	for _, key := range order {
		if err := b.keepSum(key); err != nil {
			return fmt.Errorf("sums of entry %d: %w", e.Number, err)
		}
	}
	return nil
}

func (b *Book) keepSum(key sumKey) error {
	s := b.sums[key]
	if !b.kept[key] {
		b.kept[key] = true
		return jot(b.t, &sumRow{Account: string(s.Account), Job: s.Job, Treatment: string(s.Treatment), Percent: s.Percent, Currency: string(s.Currency), Minor: s.Minor, Net: s.Net})
	}
	return of[sumRow](b.t.ReadTx).where("account = ? AND job = ? AND treatment = ? AND percent = ? AND currency = ?",
		string(key.account), key.job, string(key.treatment), key.percent, string(key.currency)).
		set(map[string]any{"minor": s.Minor, "net": s.Net}, ErrStale)
}

type sumKey struct {
	account   ledger.Account
	job       string
	treatment pricebook.Treatment
	percent   string
	currency  money.Currency
}

func keyOf(s ledger.Sum) sumKey { return sumKey{s.Account, s.Job, s.Treatment, s.Percent, s.Currency} }

// sums of jobs; "" of what belongs to none.
func (t ReadTx) sums(jobs []string) ([]ledger.Sum, error) {
	found, err := of[sumRow](t).where("job IN ?", jobs).all()
	if err != nil {
		return nil, fmt.Errorf("what stands in the books: %w", err)
	}
	return sumsOf(found), nil
}

// BookOf is what stands in the books of jobs, and of what is no job's, to be
// looked at.
func (t ReadTx) BookOf(jobs ...uuid.UUID) (*ledger.Book, error) {
	of := []string{""}
	for _, j := range jobs {
		of = append(of, j.String())
	}
	sums, err := t.sums(of)
	if err != nil {
		return nil, err
	}
	return ledger.Continue(ledger.Standing{Sums: sums}), nil
}

// BookOfAll is what stands in the books, of all jobs.
func (t ReadTx) BookOfAll() (*ledger.Book, error) {
	found, err := of[sumRow](t).where("minor <> 0 OR net <> 0").all()
	if err != nil {
		return nil, fmt.Errorf("what stands in the books: %w", err)
	}
	return ledger.Continue(ledger.Standing{Sums: sumsOf(found)}), nil
}

func sumsOf(found []sumRow) []ledger.Sum {
	list := make([]ledger.Sum, len(found))
	for i, r := range found {
		list[i] = ledger.Sum{Account: ledger.Account(r.Account), Job: r.Job, Treatment: pricebook.Treatment(r.Treatment), Percent: r.Percent,
			Currency: money.Currency(r.Currency), Minor: r.Minor, Net: r.Net}
	}
	return list
}

type booksRow struct {
	WorkshopID    uuid.UUID `gorm:"primaryKey"`
	Version       int64
	ChangedUS     int64
	Entries       int64
	Head          string
	ClosedThrough string
	Settings      string
}

// TableName for gorm.
func (*booksRow) TableName() string { return "books" }

func (r *booksRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *booksRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-books/1", r.Version, r.ChangedUS, r.Entries, r.Head, r.ClosedThrough, r.Settings)
	return "books", r.WorkshopID.String(), sum[:]
}

func (*booksRow) sealed() error { return nil }

func (r *booksRow) key() any { return r.WorkshopID }

func (r *booksRow) books() (Books, error) {
	b := Books{Version: r.Version, Entries: r.Entries, Head: r.Head, ClosedThrough: r.ClosedThrough}
	if r.Version > 0 {
		b.ChangedAt = moment(r.ChangedUS)
	}
	if err := json.Unmarshal([]byte(r.Settings), &b.BooksSettings); err != nil {
		return b, fmt.Errorf("books: %w", err)
	}
	return b, nil
}

type sumRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	Account    string    `gorm:"primaryKey"`
	Job        string    `gorm:"primaryKey"`
	Treatment  string    `gorm:"primaryKey"`
	Percent    string    `gorm:"primaryKey"`
	Currency   string    `gorm:"primaryKey"`
	Minor      int64
	Net        int64
}

// TableName for gorm.
func (*sumRow) TableName() string { return "ledger_sums" }

func (r *sumRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }
