package store

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/google/uuid"

	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
)

// LedgerEntry gives one entry, and by which it was reversed; 0 for none.
func (t ReadTx) LedgerEntry(number int64) (ledger.Entry, int64, error) {
	row, err := of[entryRow](t).where("number = ?", number).one()
	if err != nil {
		return ledger.Entry{}, 0, fmt.Errorf("entry %d: %w", number, err)
	}
	by, err := of[entryRow](t).where("reverses = ? AND reverses > 0", number).first(1)
	if err != nil {
		return ledger.Entry{}, 0, fmt.Errorf("entry %d: %w", number, err)
	}
	e, err := row.entry()
	if len(by) > 0 {
		return e, by[0].Number, err
	}
	return e, 0, err
}

// LedgerEntries gives at most limit entries after a number, in order.
func (t ReadTx) LedgerEntries(after int64, limit int) ([]ledger.Entry, error) {
	found, err := of[entryRow](t).where("number > ?", after).order("number").first(bounded(limit))
	if err != nil {
		return nil, fmt.Errorf("entries: %w", err)
	}
	return entriesIn(found)
}

// LedgerEntriesBetween are the entries of days from one to another, both
// included, in order.
func (t ReadTx) LedgerEntriesBetween(from, until string) ([]ledger.Entry, error) {
	found, err := of[entryRow](t).where("day >= ? AND day <= ?", from, until).order("number").all()
	if err != nil {
		return nil, fmt.Errorf("entries: %w", err)
	}
	return entriesIn(found)
}

// LedgerEntriesAfter are the entries of days after one, in order.
func (t ReadTx) LedgerEntriesAfter(day string) ([]ledger.Entry, error) {
	found, err := of[entryRow](t).where("day > ?", day).order("number").all()
	if err != nil {
		return nil, fmt.Errorf("entries: %w", err)
	}
	return entriesIn(found)
}

// LedgerEntriesOf are the entries that touch one of these jobs, in order.
func (t ReadTx) LedgerEntriesOf(jobs []uuid.UUID) ([]ledger.Entry, error) {
	names := make([]string, len(jobs))
	for i, j := range jobs {
		names[i] = j.String()
	}
	shop := t.s.as.Workshop // a condition's own query is not narrowed down to it
	var all []entryRow
	for part := range slices.Chunk(names, mostInAList) {
		found, err := of[entryRow](t).where("number IN (SELECT m.entry FROM entry_touches m WHERE m.workshop_id = ? AND m.job IN ?)", shop, part).all()
		if err != nil {
			return nil, fmt.Errorf("entries of jobs: %w", err)
		}
		all = append(all, found...)
	}
	slices.SortFunc(all, func(a, b entryRow) int { return cmp.Compare(a.Number, b.Number) })
	return entriesIn(slices.CompactFunc(all, func(a, b entryRow) bool { return a.Number == b.Number }))
}

func entriesIn(found []entryRow) ([]ledger.Entry, error) { return each(found, (*entryRow).entry) }

// MovedEntry is an entry with what it comes to on an account.
type MovedEntry struct {
	ledger.Entry
	Amount money.Amount
	Party  string // whom it is of; "" for none
}

// WaitingEntries are the entries on an account that no line of a bank shows, in
// order. One that was reversed waits for nothing, and neither does its reversal,
// unless a line has shown it.
func (t ReadTx) WaitingEntries(on ledger.Account, c money.Currency) ([]MovedEntry, error) {
	shop := t.s.as.Workshop
	found, err := of[entryRow](t).
		where(`number IN (SELECT m.entry FROM entry_touches m WHERE m.workshop_id = ? AND m.account = ? AND NOT EXISTS (
			SELECT 1 FROM shown_entries h WHERE h.workshop_id = ? AND h.entry = m.entry AND h.account = m.account))`, shop, string(on), shop).
		where("NOT EXISTS (SELECT 1 FROM ledger_entries r WHERE r.workshop_id = ? AND r.reverses = ledger_entries.number AND r.reverses > 0)", shop).
		where("reverses = 0 OR EXISTS (SELECT 1 FROM shown_entries h WHERE h.workshop_id = ? AND h.entry = reverses AND h.account = ?)", shop, string(on)).
		where("kind <> ?", string(ledger.TakenOn)). // the bank had that before its first line
		order("number").all()
	if err != nil {
		return nil, fmt.Errorf("entries that no line shows: %w", err)
	}
	return movedIn(found, on, c)
}

func movedIn(found []entryRow, on ledger.Account, c money.Currency) ([]MovedEntry, error) {
	all, err := entriesIn(found)
	if err != nil {
		return nil, err
	}
	var list []MovedEntry
	for _, e := range all {
		if minor := e.On(on, c); minor != 0 {
			amount, err := money.FromMinor(minor, c)
			if err != nil {
				return nil, fmt.Errorf("entry %d: %w", e.Number, err)
			}
			list = append(list, MovedEntry{Entry: e, Amount: amount, Party: e.Party()})
		}
	}
	return list, nil
}

// StandingEntries are the entries that brought what stands on an account, as if
// what came first had gone first: the latest that come to the balance together,
// in order, of the first of them so much as is left.
func (t ReadTx) StandingEntries(on ledger.Account, c money.Currency) ([]MovedEntry, error) {
	book, err := t.BookOf()
	if err != nil {
		return nil, err
	}
	left := book.Balance(on, c).Minor()
	shop := t.s.as.Workshop
	var list []MovedEntry
	for before := int64(math.MaxInt64); left > 0; {
		found, err := of[entryRow](t).
			where("number IN (SELECT m.entry FROM entry_touches m WHERE m.workshop_id = ? AND m.account = ?)", shop, string(on)).
			where("NOT EXISTS (SELECT 1 FROM ledger_entries r WHERE r.workshop_id = ? AND r.reverses = ledger_entries.number AND r.reverses > 0)", shop).
			where("reverses = 0 AND number < ?", before).order("number DESC").first(maxPage)
		if err != nil {
			return nil, fmt.Errorf("entries on %q: %w", on, err)
		}
		moved, err := movedIn(found, on, c)
		if err != nil {
			return nil, err
		}
		for _, e := range moved {
			if e.Amount.Sign() <= 0 || left <= 0 {
				continue
			}
			if e.Amount, err = e.Amount.WithMinor(min(left, e.Amount.Minor())); err != nil {
				return nil, err
			}
			list, left = append(list, e), left-e.Amount.Minor()
		}
		if len(found) < maxPage {
			break
		}
		before = found[len(found)-1].Number
	}
	slices.Reverse(list)
	return list, nil
}

// WholeLedger reads every entry, and refuses a chain that does not hold.
func (t ReadTx) WholeLedger() (*ledger.Book, error) {
	was, err := t.booksRow()
	if err != nil {
		return nil, err
	}
	all := make([]ledger.Entry, 0, was.Entries)
	for {
		list, err := t.LedgerEntries(int64(len(all)), maxPage)
		if err != nil {
			return nil, err
		}
		all = append(all, list...)
		if len(list) < maxPage {
			break
		}
	}
	b, err := ledger.Read(all, was.ClosedThrough)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrJournal, err)
	}
	if int64(len(all)) != was.Entries || len(all) > 0 && all[len(all)-1].Hash != was.Head {
		return nil, fmt.Errorf("%w: the books have %d entries, and were written with %d", ErrJournal, len(all), was.Entries)
	}
	return b, nil
}

type entryRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	Number     int64     `gorm:"primaryKey;autoIncrement:false"`
	Day        string
	AtUS       int64
	EnteredBy  uuid.UUID
	Kind       string
	Noun       string
	Document   string
	Reverses   int64
	Lines      string
	Previous   string
	Hash       string
}

// TableName for gorm.
func (*entryRow) TableName() string { return "ledger_entries" }

func (r *entryRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *entryRow) entry() (ledger.Entry, error) {
	e := ledger.Entry{Number: r.Number, Day: r.Day, At: moment(r.AtUS), By: r.EnteredBy.String(), Kind: ledger.Kind(r.Kind),
		Document: ledger.Document{Noun: r.Noun, ID: r.Document}, Reverses: r.Reverses, Previous: r.Previous, Hash: r.Hash}
	if err := json.Unmarshal([]byte(r.Lines), &e.Lines); err != nil {
		return e, fmt.Errorf("entry %d: %w", r.Number, err)
	}
	return e, nil
}

// verifyBooks holds the chain of entries against the head the journal vouches
// for, and what stands where against the sums of the lines.
func (t ReadTx) verifyBooks(last map[[2]string][]byte) error {
	if err := verifyTable[booksRow](t, "workshop_id", last); err != nil {
		return err
	}
	b, err := t.WholeLedger()
	if err != nil {
		return err
	}
	want := map[sumKey][2]int64{}
	for _, e := range b.Entries() {
		for i := range e.Lines {
			s := e.Lines[i].Sum()
			was := want[keyOf(s)]
			want[keyOf(s)] = [2]int64{was[0] + s.Minor, was[1] + s.Net}
		}
	}
	if err := t.verifyTouches(b.Entries()); err != nil {
		return err
	}
	found, err := of[sumRow](t).all()
	if err != nil {
		return err
	}
	for _, s := range sumsOf(found) {
		if got := want[keyOf(s)]; got != [2]int64{s.Minor, s.Net} {
			return fmt.Errorf("%w: what stands in %q is not the sum of its entries", ErrJournal, s.Account)
		}
		delete(want, keyOf(s))
	}
	if len(want) > 0 {
		return errors.Join(ErrJournal, errors.New("a sum of the books is gone"))
	}
	return nil
}

// verifyTouches holds what is said of entries against their lines.
func (t ReadTx) verifyTouches(entries []ledger.Entry) error {
	found, err := of[touchRow](t).all()
	if err != nil {
		return err
	}
	want := map[touchRow]bool{}
	for i := range entries {
		for _, row := range touchesOf(&entries[i]) {
			row.bind(t.s.as.Workshop)
			want[*row.(*touchRow)] = true //nolint:errcheck,forcetypeassert // it makes no others
		}
	}
	for _, row := range found {
		if !want[row] {
			return fmt.Errorf("%w: entry %d does not touch %q", ErrJournal, row.Entry, row.Account)
		}
		delete(want, row)
	}
	if len(want) > 0 {
		return fmt.Errorf("%w: what %d entries touch is gone", ErrJournal, len(want))
	}
	return nil
}

// touchRow says that an entry touches an account and a job.
type touchRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	Account    string    `gorm:"primaryKey"`
	Job        string    `gorm:"primaryKey"`
	Entry      int64     `gorm:"primaryKey;autoIncrement:false"`
}

// TableName for gorm.
func (*touchRow) TableName() string { return "entry_touches" }

func (r *touchRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

// touchesOf are the rows of an entry.
func touchesOf(e *ledger.Entry) []bound {
	seen := map[touchRow]bool{}
	var rows []bound
	for _, l := range e.Lines {
		row := touchRow{Account: string(l.Account), Job: l.Job, Entry: e.Number}
		if !seen[row] {
			seen[row] = true
			rows = append(rows, &row)
		}
	}
	return rows
}
