package store

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"github.com/google/uuid"

	"wainscot/pricing/ledger"
	"wainscot/pricing/receipt"
)

// TestEntriesAreFoundByWhatTheyTouch: what waits for the bank, what stands on an
// account and what is of a job is what one finds by reading every entry,
// whatever was received, paid out, shown, reversed and undone before.
func TestEntriesAreFoundByWhatTheyTouch(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	j := agreedJob(t, s, p)
	var lines []StatementLine
	write(t, s, p, func(tx WriteTx) error {
		account, err := addAccount(tx)
		if err != nil {
			return err
		}
		st := bankStatement(0, "2026-03-01", "2026-03-31")
		for i := range 40 {
			st.Lines = append(st.Lines, bankLine("2026-03-10", int64(i+1), fmt.Sprint("line ", i), "SOMEBODY"))
		}
		st.Closing = nil
		if _, err := importOne(tx, account.ID, st); err != nil {
			return err
		}
		lines, err = tx.OpenLines(account.ID)
		return err
	})
	r := rand.New(rand.NewPCG(7, 19))
	var done []uuid.UUID
	doc := ledger.Document{Noun: "receipt", ID: "one"}
	var count int64
	for step := range 150 {
		write(t, s, p, func(tx WriteTx) error {
			b, err := tx.Book([]uuid.UUID{j}, numbersTo(count)...)
			if err != nil {
				return err
			}
			card := b.Balance(ledger.Card, "GBP").Minor()
			switch n := r.IntN(12); {
			case n < 3:
				kept, err := received(tx, 1+r.Int64N(500))
				if err == nil && n == 0 {
					_, err = placed(tx, kept, j, kept.Amount.Minor())
				}
				return err
			case n < 6:
				taken, _ := receipt.New(receipt.Receipt{Day: "2026-03-10", Into: ledger.Card, Amount: pounds(1 + r.Int64N(500))}, "2026-03-11")
				_, err := tx.AddReceipt(b, taken, taken.Day, "")
				return err
			case n < 8 && card > 1:
				paid := 1 + r.Int64N(card)
				out, err := ledger.CardPayout(pounds(paid), pounds(paid/50))
				if err != nil {
					return err
				}
				_, err = b.Enter(ledger.Entry{Day: "2026-03-11", Kind: ledger.PaidOut, Document: doc, Lines: out})
				return err
			case n < 9 && count > 0: // one that cannot be is refused, and nothing has happened
				if number := 1 + r.Int64N(count); b.ReversedBy(number) == 0 {
					if _, err := b.TakeBack(number, "2026-03-12", doc); err != nil {
						t.Log(step, err)
					}
				}
			case n < 11 && len(lines) > 0:
				waiting, err := tx.WaitingEntries(ledger.Bank, "GBP")
				if err != nil || len(waiting) == 0 {
					return err
				}
				made := Made{Shows: []int64{waiting[r.IntN(len(waiting))].Number}}
				rec, err := tx.Reconcile(lines[0].ID, uuid.Nil, false, ledger.Bank, made)
				lines, done = lines[1:], append(done, rec.ID)
				return err
			case len(done) > 0:
				_, err := tx.Unreconcile(done[0])
				done = done[1:]
				return err
			}
			return nil
		})
		read(t, s, p, func(tx ReadTx) error {
			books, err := tx.Books()
			count = books.Entries
			for _, on := range []ledger.Account{ledger.Bank, ledger.Card} {
				waiting, err2 := tx.WaitingEntries(on, "GBP")
				standing, err3 := tx.StandingEntries(on, "GBP")
				if err2 != nil || err3 != nil {
					t.Fatal(err2, err3)
				}
				wait, stand := movedByReadingAll(t, tx, on)
				if !reflect.DeepEqual(waiting, wait) {
					t.Fatalf("step %d: on %s wait %v, want %v", step, on, numbersOf(waiting), numbersOf(wait))
				}
				if !reflect.DeepEqual(standing, stand) {
					t.Fatalf("step %d: on %s stand %v, want %v", step, on, numbersOf(standing), numbersOf(stand))
				}
			}
			return err
		})
	}
	read(t, s, p, func(tx ReadTx) error {
		all, err := tx.WholeLedger()
		if err != nil {
			return err
		}
		want := slices.DeleteFunc(slices.Clone(all.Entries()), func(e ledger.Entry) bool {
			return !slices.ContainsFunc(e.Lines, func(l ledger.Line) bool { return l.Job == j.String() })
		})
		got, err := tx.LedgerEntriesOf([]uuid.UUID{j, p.Person})
		if len(want) == 0 || !reflect.DeepEqual(got, want) {
			t.Errorf("%d entries of the job, want %d", len(got), len(want))
		}
		return err
	})
	sound(t, s, p)
}

func numbersTo(n int64) (list []int64) {
	for i := range n {
		list = append(list, i+1)
	}
	return list
}

func numbersOf(list []MovedEntry) (said []string) {
	for _, e := range list {
		said = append(said, fmt.Sprintf("%d %s", e.Number, e.Amount))
	}
	return said
}

// movedByReadingAll is what waits and what stands on an account, by every entry
// there is.
func movedByReadingAll(t *testing.T, tx ReadTx, on ledger.Account) (waiting, standing []MovedEntry) {
	t.Helper()
	found, err := of[shownEntryRow](tx).where("account = ?", string(on)).all()
	if err != nil {
		t.Fatal(err)
	}
	shown, reversed := map[int64]bool{}, map[int64]bool{}
	for _, r := range found {
		shown[r.Entry] = true
	}
	all, err := tx.WholeLedger()
	if err != nil {
		t.Fatal(err)
	}
	out := int64(0)
	for _, e := range all.Entries() {
		reversed[e.Reverses] = true
	}
	for _, e := range all.Entries() {
		minor := e.On(on, "GBP")
		if minor == 0 {
			continue
		}
		one := MovedEntry{Entry: e, Amount: pounds(minor), Party: e.Party()}
		if !shown[e.Number] && !reversed[e.Number] && (e.Reverses == 0 || shown[e.Reverses]) {
			waiting = append(waiting, one)
		}
		switch {
		case reversed[e.Number] || e.Reverses > 0:
		case minor < 0:
			out -= minor
		default:
			standing = append(standing, one)
		}
	}
	for len(standing) > 0 && out > 0 {
		gone := min(out, standing[0].Amount.Minor())
		out -= gone
		if standing[0].Amount = pounds(standing[0].Amount.Minor() - gone); standing[0].Amount.IsZero() {
			standing = standing[1:]
		}
	}
	if len(standing) == 0 {
		standing = nil
	}
	return waiting, standing
}
