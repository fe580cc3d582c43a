package store

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/mattn/go-sqlite3"

	"wainscot/api/auth"
	"wainscot/api/store/storetest"
)

// Each setting that is not as it must be has to be refused at opening, the
// driver's own defaults among them.
func TestUnsafeSettingsAreRefused(t *testing.T) {
	t.Parallel()
	storetest.NeedsSQLite(t)
	wrong := map[string]string{
		"journal_mode": "DELETE", "synchronous": "NORMAL", "foreign_keys": "off",
		"busy_timeout": "0", "recursive_triggers": "off",
	}
	for i, s := range writerSettings {
		t.Run(s.pragma, func(t *testing.T) {
			t.Parallel()
			settings := slices.Clone(writerSettings)
			settings[i].value = wrong[s.pragma]
			o := steady()
			o.unsafeWriter = settings
			if _, err := Open(t.Context(), freshFile(t), o); !errors.Is(err, ErrUnsafe) {
				t.Errorf("opened with %s=%s: %v, want ErrUnsafe", s.pragma, wrong[s.pragma], err)
			}
			settings[i].asked = "" // not asked for at all: the default
			careless, err := Open(t.Context(), freshFile(t), o)
			if byDefault := s.pragma == "busy_timeout"; (err == nil) != byDefault {
				t.Errorf("opened with the driver's default of %s: %v", s.pragma, err)
			}
			if err == nil {
				err = careless.Close()
			} else if errors.Is(err, ErrUnsafe) {
				err = nil
			}
			if err != nil {
				t.Error(err)
			}
		})
	}
	for i, s := range readerSettings {
		settings := slices.Clone(readerSettings)
		settings[i].reads = "something else"
		l, err := sqliteFile{path: freshFile(t)}.open(t.Context(), "rw", settings)
		if !errors.Is(err, ErrUnsafe) {
			t.Errorf("a reader with another %s: %v, %v", s.pragma, l, err)
		}
	}
}

// A deferred transaction that has read and then wants to write is refused at
// once, busy timeout or not, when another has written meanwhile. So the writer
// takes its lock when it begins: while a closure runs that has only read, no
// other connection can begin to write.
func TestWriterLocksWhenItBegins(t *testing.T) {
	t.Parallel()
	path := freshFile(t)
	s := open(t, path, steady())
	p := workshop(t, s, "fenland")
	other := otherLine(t, path)
	err := s.As(p).Write(t.Context(), func(tx WriteTx) error {
		if _, err := tx.Workshop(); err != nil {
			return err
		}
		if err := other.exec(context.Background(), "BEGIN IMMEDIATE"); !busy(err) {
			t.Errorf("another connection began to write beside a transaction: %v", err)
		}
		_, err := tx.CreateQuote(content("long"))
		return err
	})
	if err != nil {
		t.Error(err)
	}

	// The trap itself, so that it is known to be one.
	ctx := t.Context()
	for _, step := range []string{"BEGIN DEFERRED", "SELECT count(*) FROM quotes"} {
		if err := other.exec(ctx, step); err != nil {
			t.Fatal(err)
		}
	}
	addQuote(t, s, p, "meanwhile")
	if err := other.exec(ctx, "UPDATE quotes SET version = version"); !busy(err) {
		t.Errorf("the deferred transaction: %v", err)
	}
}

// Another program that writes to the same file is waited for, and no write of
// either fails.
func TestTwoProgramsWriteOneFile(t *testing.T) {
	t.Parallel()
	path := fresh(t)
	one := open(t, path, Options{})
	p := workshop(t, one, "fenland")
	two := open(t, path, Options{})
	done := make(chan error)
	for _, s := range []*Store{one, two} {
		go func() {
			for range 50 {
				if err := writeQuote(s, p, "van"); err != nil {
					done <- err
					return
				}
			}
			done <- nil
		}()
	}
	for range 2 {
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
	if seen := sound(t, one, p); seen["van"] != 100 {
		t.Errorf("stored: %v", seen)
	}
}

// otherLine is another program's connection, which does not wait, and which
// nothing is hidden from.
func otherLine(t *testing.T, address string) *line {
	t.Helper()
	l, err := openOther(address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := l.close(); err != nil && !errors.Is(err, sql.ErrConnDone) {
			t.Error(err)
		}
	})
	return l
}

func openOther(address string) (*line, error) {
	ctx := context.Background()
	path, isFile := AtFile(address)
	if isFile {
		return sqliteFile{path: path}.open(ctx, "rw", []setting{{"_busy_timeout", "0", "", ""}})
	}
	super, err := storetest.Superuser(address)
	if err != nil {
		return nil, err
	}
	p, err := postgresAt(super)
	if err != nil {
		return nil, err
	}
	anything := func(context.Context, *pgx.Conn) error { return nil }
	return newLine(ctx, p, true, p.pool(anything), p.dialect)
}

func TestForeignKeysAreOn(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	for name, change := range map[string]func(*QuoteContent){
		"release": func(c *QuoteContent) { c.Worked.Release = 2 },
		"edition": func(c *QuoteContent) { c.Worked.Edition = "2027" },
	} {
		c := content("long")
		change(&c)
		err := s.As(p).Write(t.Context(), func(tx WriteTx) error { _, err := tx.CreateQuote(c); return err })
		if !errors.Is(err, ErrMissing) {
			t.Errorf("a %s that is not there: %v, want ErrMissing", name, err)
		}
	}
	// Another workshop's release is not there either.
	other := workshop(t, s, "moorside")
	write(t, s, other, func(tx WriteTx) error { _, err := tx.PublishRelease("second", Pack([]byte("x"))); return err })
	c := content("long")
	c.Worked.Release = 2
	err := s.As(p).Write(t.Context(), func(tx WriteTx) error { _, err := tx.CreateQuote(c); return err })
	if !errors.Is(err, ErrMissing) {
		t.Errorf("another workshop's release: %v, want ErrMissing", err)
	}
}

func TestErrorsInTheStoresWords(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	p := workshop(t, s, "fenland")
	for name, c := range map[string]struct {
		do   func(WriteTx) error
		want error
	}{
		"role the schema does not know": {func(tx WriteTx) error {
			_, err := tx.AddPerson(NewPerson{Name: "A", Email: "a@b.example", Role: "king", PasswordHash: "x"})
			return err
		}, ErrRefused},
		"name too long": {func(tx WriteTx) error {
			_, err := tx.AddPerson(NewPerson{Name: string(make([]byte, 500)), Email: "a@b.example", Role: auth.Sales})
			return err
		}, ErrRefused},
		"edition's code again": {func(tx WriteTx) error {
			_, err := tx.AddEdition(NewEdition{Code: "2026-spring", InForceFrom: "2026-05-01", Currency: "GBP", Document: Pack(nil)})
			return err
		}, ErrTaken},
		"edition's day again": {func(tx WriteTx) error {
			_, err := tx.AddEdition(NewEdition{Code: "twin", InForceFrom: "2026-03-01", Currency: "GBP", Document: Pack(nil)})
			return err
		}, ErrTaken},
		"day that is none": {func(tx WriteTx) error {
			_, err := tx.AddEdition(NewEdition{Code: "twin", InForceFrom: "2026-02-30", Currency: "GBP", Document: Pack(nil)})
			return err
		}, ErrRefused},
		"document never packed": {func(tx WriteTx) error {
			c := content("long")
			c.Asked = Packed{}
			_, err := tx.CreateQuote(c)
			return err
		}, ErrRefused},
	} {
		if err := s.As(p).Write(t.Context(), c.do); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	if err := plain(sqlite3.Error{Code: sqlite3.ErrIoErr}); errors.Is(err, ErrRefused) || err == nil {
		t.Errorf("a failing disk became %v", err)
	}
}

// Paths with characters that mean something in an address.
func TestOddPaths(t *testing.T) {
	t.Parallel()
	storetest.NeedsSQLite(t)
	path := filepath.Join(t.TempDir(), "a b?c#d%20e&mode=ro", "wainscot ü.db")
	if err := os.Mkdir(filepath.Dir(path), 0o700); err != nil {
		t.Fatal(err)
	}
	if _, err := Migrate(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	s := open(t, path, steady())
	workshop(t, s, "fenland")
	if info, err := os.Stat(path); err != nil || info.Size() == 0 {
		t.Errorf("the database is not at its path: %v", err)
	}
}
