package store

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/api/store/storetest"
	"wainscot/bom/document"
	"wainscot/pricing/invoice"
	"wainscot/pricing/ledger"
	"wainscot/pricing/money"
	"wainscot/pricing/pricebook"
	"wainscot/pricing/quote"
	"wainscot/pricing/receipt"
)

func pounds(minor int64) money.Amount {
	a, err := money.FromMinor(minor, "GBP")
	if err != nil {
		panic(err)
	}
	return a
}

// received enters money from nobody in particular.
func received(tx WriteTx, minor int64) (Receipt, error) {
	b, err := tx.Book(nil)
	if err != nil {
		return Receipt{}, err
	}
	r, _ := receipt.New(receipt.Receipt{Day: "2026-03-10", Into: ledger.Bank, Amount: pounds(minor)}, "2026-03-11")
	return tx.AddReceipt(b, r, r.Day, "from her mother")
}

// placed puts part of a receipt to a job, with its deposit invoice.
func placed(tx WriteTx, r Receipt, job uuid.UUID, minor int64) (Receipt, error) {
	b, err := tx.Book([]uuid.UUID{job})
	if err != nil {
		return r, err
	}
	now, faults := r.Content.Place(job.String(), pounds(minor), "2026-03-10")
	if len(faults) > 0 {
		return r, faults
	}
	shares := []ledger.Share{{Treatment: pricebook.Standard, Percent: decimal.NewFromInt(20), Gross: pounds(1_000_00)}}
	vat, err := ledger.VATIn(pounds(minor), shares)
	if err != nil {
		return r, err
	}
	e, err := b.Enter(ledger.Entry{Day: "2026-03-10", Kind: ledger.Placed, Document: ledger.Document{Noun: "receipt", ID: r.ID.String()},
		Lines: ledger.Place(pounds(minor), job.String(), "", vat, false)})
	if err != nil {
		return r, err
	}
	paper, err := invoice.NewDeposit(invoice.Head{IssuedOn: "2026-03-11", TaxPoint: "2026-03-10", Job: job.String(), Currency: "GBP",
		Letterhead: quote.Letterhead{Name: "Fenland", VATNumber: "GB 1"}}, "Deposit", pounds(minor), shares)
	if err != nil {
		return r, err
	}
	if err := tx.NumberInvoice(paper); err != nil {
		return r, err
	}
	if _, err := tx.AddInvoice(paper, e.Number); err != nil {
		return r, err
	}
	p := &now.Placements[len(now.Placements)-1]
	p.Entry, p.DepositInvoice = e.Number, paper.Number
	return tx.ChangeReceipt(r, now)
}

func TestBooksAreKept(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p, other := workshop(t, s, "fenland"), workshop(t, s, "moorside")
	j := agreedJob(t, s, p)
	var r Receipt
	write(t, s, p, func(tx WriteTx) (err error) { r, err = received(tx, 300_00); return err })
	write(t, s, p, func(tx WriteTx) (err error) { r, err = placed(tx, r, j, 120_00); return err })
	if r.Left != pounds(180_00) || r.Number != 1 || r.Version != 2 || r.Content.Placements[0].Entry != 2 {
		t.Errorf("the receipt is %+v", r)
	}
	holds := func(deposits, unplaced, vat int64) {
		t.Helper()
		read(t, s, p, func(tx ReadTx) error {
			b, err := tx.BookOf(j)
			if err != nil {
				return err
			}
			if got := b.OfJob(ledger.DepositsNotEarned, j.String(), "GBP"); got != pounds(deposits) {
				t.Errorf("%s of deposits, want %d", got, deposits)
			}
			if got := b.Balance(ledger.Unplaced, "GBP"); got.Minor() != -unplaced {
				t.Errorf("%s not placed, want %d", got, unplaced)
			}
			if got := b.Balance(ledger.VATDue, "GBP"); got.Minor() != -vat {
				t.Errorf("%s of VAT, want %d", got, vat)
			}
			all, err := tx.WholeLedger()
			if err != nil {
				return err
			}
			if _, got := all.DepositsOn("2026-12-31", "GBP"); got != pounds(deposits) {
				t.Errorf("%s of deposits by the entries, want %d", got, deposits)
			}
			_, err = tx.VerifyJournal()
			return err
		})
	}
	holds(120_00, 180_00, 20_00)

	// A stale receipt, more than there is, a closed day: nothing of it is kept.
	stale := r
	stale.Version = 1
	err := s.As(p).Write(t.Context(), func(tx WriteTx) error { _, err := placed(tx, stale, j, 1_00); return err })
	if !errors.Is(err, ErrStale) {
		t.Errorf("stale: %v", err)
	}
	var faults document.Faults
	err = s.As(p).Write(t.Context(), func(tx WriteTx) error { _, err := placed(tx, r, j, 180_01); return err })
	if !errors.As(err, &faults) || faults[0].Code != "more_than_there_is" {
		t.Errorf("more than there is: %v", err)
	}
	holds(120_00, 180_00, 20_00)

	write(t, s, p, func(tx WriteTx) error {
		b, err := tx.Book([]uuid.UUID{j}, 2)
		if err != nil {
			return err
		}
		e, err := b.TakeBack(2, "2026-03-12", ledger.Document{Noun: "receipt", ID: r.ID.String()})
		if err != nil {
			return err
		}
		now, taken := r.Content.TakeBack(1, "2026-03-12")
		if len(taken) > 0 {
			return taken
		}
		now.Placements[0].Back.Entry = e.Number
		r, err = tx.ChangeReceipt(r, now)
		return err
	})
	holds(0, 300_00, 0)
	err = s.As(p).Write(t.Context(), func(tx WriteTx) error {
		b, err := tx.Book([]uuid.UUID{j}, 2)
		if err == nil {
			_, err = b.TakeBack(2, "2026-03-12", ledger.Document{Noun: "receipt", ID: r.ID.String()})
		}
		return err
	})
	if !errors.As(err, &faults) || faults[0].Code != "reversed" {
		t.Errorf("reversed twice: %v", err)
	}

	var books Books
	write(t, s, p, func(tx WriteTx) (err error) { books, err = tx.CloseBooks("2026-03-31"); return err })
	write(t, s, p, func(tx WriteTx) (err error) {
		books, err = tx.SetBooks(books.Version, BooksSettings{CustomersMoneyApart: true, Codes: []AccountCode{{ledger.Bank, "1200"}}})
		return err
	})
	if books.ClosedThrough != "2026-03-31" || !books.CustomersMoneyApart || books.Code(ledger.Bank) != "1200" || books.Code(ledger.Cash) != "cash" || books.Entries != 3 {
		t.Errorf("the books are %+v", books)
	}
	err = s.As(p).Write(t.Context(), func(tx WriteTx) error { _, err := received(tx, 1_00); return err })
	if !errors.As(err, &faults) || faults[0].Code != "closed" {
		t.Errorf("on a closed day: %v", err)
	}
	read(t, s, other, func(tx ReadTx) error {
		if b, err := tx.Books(); err != nil || b.Version != 0 {
			t.Errorf("another workshop's are %+v, %v", b, err)
		}
		if _, err := tx.Receipt(r.ID); !errors.Is(err, ErrNotFound) {
			t.Errorf("another workshop reads the receipt: %v", err)
		}
		on, err := tx.ReceiptsOn(j)
		if len(on) > 0 {
			t.Errorf("another workshop has %v", on)
		}
		return err
	})
	sound(t, s, p)
}

// The books are changed behind the store's back, and it is found.
func TestBooksThatWereTamperedWith(t *testing.T) {
	t.Parallel()
	drop := "DROP TRIGGER entry_is_not_changed; DROP TRIGGER entry_is_not_removed; "
	if storetest.OnPostgres() {
		drop = "SET session_replication_role = replica; "
	}
	path := fresh(t)
	s := open(t, path, steady())
	p := workshop(t, s, "fenland")
	for range 2 {
		write(t, s, p, func(tx WriteTx) error { _, err := received(tx, 300_00); return err })
	}
	sound(t, s, p)
	if err := otherLine(t, path).exec(t.Context(), "UPDATE ledger_entries SET day = '2026-03-09'"); err == nil {
		t.Error("an entry was changed")
	}
	for _, c := range []struct{ statement, says, undo string }{
		{`UPDATE ledger_entries SET day = '2026-03-09' WHERE number = 2`, "entry 2 is not what was written", `UPDATE ledger_entries SET day = '2026-03-10' WHERE number = 2`},
		{`UPDATE ledger_sums SET minor = minor + 1 WHERE account = 'bank'`, `what stands in "bank"`, `UPDATE ledger_sums SET minor = minor - 1 WHERE account = 'bank'`},
		{`UPDATE receipts SET left_minor = 1 WHERE number = 2`, "is not what was written", `UPDATE receipts SET left_minor = minor WHERE number = 2`},
		{`DELETE FROM entry_touches WHERE entry = 2 AND account = 'bank'`, "what 1 entries touch is gone", `INSERT INTO entry_touches SELECT workshop_id, 'bank', '', 2 FROM books`},
		{`DELETE FROM entry_touches WHERE entry = 2; DELETE FROM ledger_entries WHERE number = 2`, "1 entries, and were written with 2", ""},
	} {
		line := otherLine(t, path)
		if err := line.exec(t.Context(), drop+c.statement); err != nil {
			t.Fatal(err)
		}
		drop = strings.TrimPrefix(drop, "DROP TRIGGER entry_is_not_changed; DROP TRIGGER entry_is_not_removed; ")
		err := s.As(p).Read(t.Context(), func(tx ReadTx) error { _, err := tx.VerifyJournal(); return err })
		if !errors.Is(err, ErrJournal) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", c.statement, err, c.says)
		}
		if c.undo != "" {
			if err := line.exec(t.Context(), drop+c.undo); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// Many at one receipt at once: no more is placed than came in.
func TestReceiptIsPlacedOnce(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	j := agreedJob(t, s, p)
	var r Receipt
	write(t, s, p, func(tx WriteTx) (err error) { r, err = received(tx, 100_00); return err })
	const many = 16
	done := make(chan error, many)
	for range many {
		go func(p auth.Principal) {
			done <- s.As(p).Write(t.Context(), func(tx WriteTx) error {
				now, err := tx.Receipt(r.ID)
				if err == nil {
					_, err = placed(tx, now, j, 30_00)
				}
				return err
			})
		}(p)
	}
	won := 0
	for range many {
		var faults document.Faults
		switch err := <-done; {
		case err == nil:
			won++
		case !errors.As(err, &faults):
			t.Error(err)
		}
	}
	if won != 3 {
		t.Errorf("30 of 100 were placed %d times", won)
	}
	sound(t, s, p)
}
