package store

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
	"go.uber.org/goleak"

	"wainscot/api/auth"
	"wainscot/api/store/storetest"
)

// TestMain runs the tests and then looks for goroutines left behind; or, when
// a test has started this binary again, plays the child it was started as.
func TestMain(m *testing.M) {
	if child := os.Getenv(childVariable); child != "" {
		os.Exit(runChild(child))
	}
	goleak.VerifyTestMain(m)
}

var noon = time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC)

// emptyDatabase is a database fresh from migrating, made once.
var emptyDatabase = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "store")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "empty.db")
	if _, err := Migrate(context.Background(), path); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})

// fresh is the address of an empty database: on PostgreSQL where the run is on
// that, else a file.
func fresh(tb testing.TB) string {
	tb.Helper()
	if storetest.OnPostgres() {
		return storetest.Fresh(tb).Serve
	}
	return freshFile(tb)
}

// freshFile is the path of an empty database, for a test that is about files.
func freshFile(tb testing.TB) string {
	tb.Helper()
	storetest.NeedsSQLite(tb)
	b, err := emptyDatabase()
	if err != nil {
		tb.Fatal(err)
	}
	path := filepath.Join(tb.TempDir(), "wainscot.db")
	if err := os.WriteFile(path, b, 0o600); err != nil {
		tb.Fatal(err)
	}
	return path
}

// steady are a clock that goes on by a second each time it is asked, and ids
// that count up.
func steady() Options {
	var seconds, ids atomic.Int64
	return Options{
		Now:   func() time.Time { return noon.Add(time.Duration(seconds.Add(1)) * time.Second) },
		NewID: func() uuid.UUID { return idNumber(ids.Add(1)) },
	}
}

// idNumber is a readable id.
func idNumber(n int64) uuid.UUID {
	id := uuid.MustParse("01960000-0000-7000-8000-000000000000")
	binary.BigEndian.PutUint32(id[12:], uint32(n))
	return id
}

func open(tb testing.TB, path string, o Options) *Store {
	tb.Helper()
	s, err := Open(context.Background(), path, o)
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() {
		if err := s.Close(); err != nil {
			tb.Errorf("closing: %v", err)
		}
	})
	return s
}

// workshop opens a workshop with an owner, a release and an edition.
func workshop(tb testing.TB, s *Store, code string) auth.Principal {
	tb.Helper()
	p, err := openWorkshop(s, code)
	if err != nil {
		tb.Fatal(err)
	}
	return p
}

func openWorkshop(s *Store, code string) (auth.Principal, error) {
	ctx := context.Background()
	w, owner, err := s.CreateWorkshop(ctx,
		NewWorkshop{Code: code, Name: "Workshop " + code, Currency: "GBP", TimeZone: "Europe/London"},
		NewPerson{Name: "Owner of " + code, Email: "Owner@" + code + ".example", PasswordHash: "$argon2id$of-" + code})
	if err != nil {
		return auth.Principal{}, err
	}
	p := auth.Principal{Workshop: w.ID, Person: owner.ID, Role: owner.Role}
	return p, s.As(p).Write(ctx, func(tx WriteTx) error {
		if _, err := tx.PublishRelease("hash of "+code, Pack([]byte("catalogue of "+code))); err != nil {
			return err
		}
		_, err := tx.AddEdition(NewEdition{
			Code: "2026-spring", InForceFrom: "2026-03-01", Currency: "GBP", Hash: "hash of " + code,
			Document: Pack([]byte("price-book of " + code)),
		})
		return err
	})
}

// content of a quote on what workshop has opened.
func content(baseVan string) QuoteContent {
	return QuoteContent{
		Vans: []QuoteVan{{BaseVan: baseVan, Plate: "ab12 cde"}},
		Worked: Worked{Release: 1, Edition: "2026-spring",
			TotalMinor: 298500, Currency: "GBP", Hours: decimal.RequireFromString("56.25")},
		Asked: Pack([]byte("quote on " + baseVan)),
	}
}

// write and read run a closure and fail the test on an error.
func write(tb testing.TB, s *Store, p auth.Principal, fn func(WriteTx) error) {
	tb.Helper()
	if err := s.As(p).Write(context.Background(), fn); err != nil {
		tb.Fatal(err)
	}
}

func read(tb testing.TB, s *Store, p auth.Principal, fn func(ReadTx) error) {
	tb.Helper()
	if err := s.As(p).Read(context.Background(), fn); err != nil {
		tb.Fatal(err)
	}
}

// addQuote creates a quote and gives it.
func addQuote(tb testing.TB, s *Store, p auth.Principal, baseVan string) QuoteEntry {
	tb.Helper()
	var q QuoteEntry
	write(tb, s, p, func(tx WriteTx) (err error) {
		q, err = tx.CreateQuote(content(baseVan))
		return err
	})
	return q
}

// sound verifies the journal and that quote numbers run from 1 without gaps,
// and gives the quotes by base van.
func sound(tb testing.TB, s *Store, p auth.Principal) map[string]int {
	tb.Helper()
	seen, err := soundness(s, p)
	if err != nil {
		tb.Fatal(err)
	}
	return seen
}

func soundness(s *Store, p auth.Principal) (map[string]int, error) {
	seen := map[string]int{}
	numbers := map[int64]bool{}
	err := s.As(p).Read(context.Background(), func(tx ReadTx) error {
		if _, err := tx.VerifyJournal(); err != nil {
			return err
		}
		var after *Place
		for {
			list, next, err := tx.Quotes(QuoteFilter{After: after, Limit: maxPage})
			if err != nil {
				return err
			}
			for _, q := range list {
				seen[q.Vans[0].BaseVan]++
				numbers[q.Number] = true
			}
			if after = next; after == nil {
				break
			}
		}
		var head JournalHead
		last := int64(0)
		for n := range numbers {
			last = max(last, n)
		}
		if int(last) != len(numbers) {
			return fmt.Errorf("%d quotes, and the last number is %d", len(numbers), last)
		}
		head, err := tx.JournalHead()
		if err == nil && head.Seq < last {
			return errors.New("fewer journal lines than quotes")
		}
		return err
	})
	return seen, err
}

func TestOneTransactionKnowsWhoAndWhen(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	write(t, s, p, func(tx WriteTx) error {
		if tx.Principal() != p {
			t.Errorf("acting for %v, want %v", tx.Principal(), p)
		}
		first := tx.Now()
		q, err := tx.CreateQuote(content("long"))
		if err != nil {
			return err
		}
		if tx.Now() != first || q.CreatedAt != first || q.ChangedAt != first {
			t.Errorf("more than one now: %v, %v, %v", first, tx.Now(), q.CreatedAt)
		}
		if q.CreatedBy != p.Person {
			t.Errorf("created by %v, want %v", q.CreatedBy, p.Person)
		}
		return nil
	})
}

func TestNobodyReadsOrWrites(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	for name, who := range map[string]auth.Principal{
		"nobody": {}, "no workshop": {Person: p.Person, Role: p.Role},
		"no person": {Workshop: p.Workshop, Role: p.Role}, "no role": {Workshop: p.Workshop, Person: p.Person},
	} {
		h := s.As(who)
		if err := h.Read(t.Context(), func(ReadTx) error { return nil }); !errors.Is(err, ErrNobody) {
			t.Errorf("%s reads: %v", name, err)
		}
		if err := h.Write(t.Context(), func(WriteTx) error { return nil }); !errors.Is(err, ErrNobody) {
			t.Errorf("%s writes: %v", name, err)
		}
	}
	// Somebody of another workshop, or made up, cannot write here either: the
	// journal's foreign key holds.
	stranger := auth.Principal{Workshop: p.Workshop, Person: uuid.New(), Role: auth.Owner}
	err := s.As(stranger).Write(t.Context(), func(tx WriteTx) error {
		_, err := tx.CreateQuote(content("long"))
		return err
	})
	if !errors.Is(err, ErrMissing) {
		t.Errorf("a stranger writes: %v, want ErrMissing", err)
	}
}

func TestTransactionEndsWithItsClosure(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	var kept WriteTx
	write(t, s, p, func(tx WriteTx) error { kept = tx; return nil })
	if _, err := kept.CreateQuote(content("late")); !errors.Is(err, ErrOver) {
		t.Errorf("writing late: %v, want ErrOver", err)
	}
	if _, _, err := kept.Quotes(QuoteFilter{}); !errors.Is(err, ErrOver) {
		t.Errorf("reading late: %v, want ErrOver", err)
	}
	if seen := sound(t, s, p); len(seen) != 0 {
		t.Errorf("stored: %v", seen)
	}
}

func TestReadSeesOneMoment(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	read(t, s, p, func(tx ReadTx) error {
		before, _, err := tx.Quotes(QuoteFilter{})
		if err != nil {
			return err
		}
		addQuote(t, s, p, "meanwhile")
		after, _, err := tx.Quotes(QuoteFilter{})
		if len(before) != 0 || len(after) != 0 {
			t.Errorf("a read saw %d quotes and then %d", len(before), len(after))
		}
		return err
	})
	if seen := sound(t, s, p); seen["meanwhile"] != 1 {
		t.Errorf("afterwards: %v", seen)
	}
}

func TestReadersCannotWrite(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	r := <-s.readers
	defer func() { s.readers <- r }()
	if err := r.line.exec(t.Context(), "DELETE FROM counters"); err == nil {
		t.Error("a reader's line wrote")
	}
}

func TestReadThatIsCutShortLeavesTheReaderGood(t *testing.T) {
	t.Parallel()
	o := steady()
	o.Readers = 1
	s := open(t, fresh(t), o)
	p := workshop(t, s, "fenland")
	ctx, cancel := context.WithCancel(t.Context())
	err := s.As(p).Read(ctx, func(tx ReadTx) error {
		cancel()
		_, _, err := tx.Quotes(QuoteFilter{})
		return err
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("cut short: %v", err)
	}
	err = s.As(p).Read(t.Context(), func(ReadTx) error { panic("in a read") })
	if p := new(Panic); !errors.As(err, &p) || p.Value != "in a read" {
		t.Errorf("panicked: %v", err)
	}
	if err := s.As(p).Read(ctx, func(ReadTx) error { return nil }); !errors.Is(err, ErrNotStarted) {
		t.Errorf("with an ended context: %v", err)
	}
	read(t, s, p, func(tx ReadTx) error { _, err := tx.Workshop(); return err })
}

func TestCloseLeavesOneFile(t *testing.T) {
	t.Parallel()
	path := freshFile(t)
	s := open(t, path, steady())
	p := workshop(t, s, "fenland")
	addQuote(t, s, p, "long")
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if err := s.As(p).Write(t.Context(), func(WriteTx) error { return nil }); !errors.Is(err, ErrClosed) {
		t.Errorf("writing: %v, want ErrClosed", err)
	}
	if err := s.As(p).Read(t.Context(), func(ReadTx) error { return nil }); !errors.Is(err, ErrClosed) {
		t.Errorf("reading: %v, want ErrClosed", err)
	}
	left, err := filepath.Glob(path + "-*")
	if err != nil || len(left) > 0 {
		t.Errorf("left beside the database: %v, %v", left, err)
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode().Perm()&0o077 != 0 {
		t.Errorf("others may read the database: %v, %v", info.Mode(), err)
	}
}
