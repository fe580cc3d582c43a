package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"strings"

	"github.com/mattn/go-sqlite3"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
	"gorm.io/gorm/logger"
)

// setting is one pragma: how it is asked for in the driver's address, and
// what it must read back as. The drivers' own defaults are not safe:
// synchronous is NORMAL (a power cut loses acknowledged writes) and foreign
// keys are off.
type setting struct{ asked, value, pragma, reads string }

var writerSettings = []setting{
	{"_journal_mode", "WAL", "journal_mode", "wal"},
	{"_synchronous", "FULL", "synchronous", "2"},
	{"_foreign_keys", "on", "foreign_keys", "1"},
	{"_busy_timeout", "5000", "busy_timeout", "5000"},
	{"_recursive_triggers", "on", "recursive_triggers", "1"}, // REPLACE must not slip past a trigger on DELETE
}

var readerSettings = []setting{
	{"_busy_timeout", "5000", "busy_timeout", "5000"},
	{"_query_only", "on", "query_only", "1"},
	{"", "", "journal_mode", "wal"},
}

// address of a database file for the driver.
func address(path, mode string, settings []setting) (string, error) {
	whole, err := filepath.Abs(path)
	if err != nil {
		return "", fmt.Errorf("%s: %w", path, err)
	}
	// Statements stay prepared in the driver, not in gorm: gorm's own cache
	// leaves a goroutine behind, and statements open when the line is closed,
	// so that SQLite could not clear its write-ahead log away.
	q := url.Values{"mode": {mode}, "_stmt_cache_size": {"128"}}
	if mode != "ro" {
		// A deferred transaction that turns to writing is refused at once,
		// whatever the busy timeout: take the lock when beginning.
		q.Set("_txlock", "immediate")
	}
	for _, s := range settings {
		if s.asked != "" {
			q.Set(s.asked, s.value)
		}
	}
	u := url.URL{Scheme: "file", Path: filepath.ToSlash(whole), RawQuery: q.Encode()}
	return u.String(), nil
}

// connector opens connections and reads their settings back, so that not one
// is used that runs otherwise.
type connector struct {
	address  string
	settings []setting
}

// Connect opens one connection and holds it against the settings.
func (c connector) Connect(context.Context) (driver.Conn, error) {
	conn, err := c.Driver().Open(c.address)
	if err != nil {
		return nil, err
	}
	if err := readBack(conn, c.settings); err != nil {
		return nil, errors.Join(err, conn.Close())
	}
	return conn, nil
}

// Driver is SQLite's.
func (connector) Driver() driver.Driver { return &sqlite3.SQLiteDriver{} }

func readBack(conn driver.Conn, settings []setting) error {
	for _, s := range settings {
		if s.reads == "" {
			continue // only a test leaves this out
		}
		got, err := pragma(conn, s.pragma)
		if err != nil {
			return fmt.Errorf("%w: %s cannot be read back: %w", ErrUnsafe, s.pragma, err)
		}
		if got != s.reads {
			return fmt.Errorf("%w: %s is %s and must be %s", ErrUnsafe, s.pragma, got, s.reads)
		}
	}
	return nil
}

func pragma(conn driver.Conn, name string) (_ string, err error) {
	q, ok := conn.(driver.QueryerContext)
	if !ok {
		return "", errors.New("the driver answers no queries")
	}
	rows, err := q.QueryContext(context.Background(), "PRAGMA "+name, nil)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	value := make([]driver.Value, 1)
	if err := rows.Next(value); err != nil {
		return "", err
	}
	return fmt.Sprint(value[0]), nil
}

// line is one connection to the database with gorm on top. Transactions are
// begun and ended by hand, because the writer has savepoints in them and asks
// the connection itself whether the transaction still stands.
type line struct {
	pool *sql.DB
	conn *sql.Conn
	gorm *gorm.DB
}

// openLine connects once, for good.
func openLine(ctx context.Context, path, mode string, settings []setting) (*line, error) {
	where, err := address(path, mode, settings)
	if err != nil {
		return nil, err
	}
	l := &line{pool: sql.OpenDB(connector{where, settings})}
	l.pool.SetMaxOpenConns(1)
	if l.conn, err = l.pool.Conn(ctx); err != nil {
		return nil, errors.Join(err, l.pool.Close())
	}
	l.gorm, err = gorm.Open(sqlite.New(sqlite.Config{Conn: l.conn}), &gorm.Config{
		SkipDefaultTransaction: true,
		QueryFields:            true, // never SELECT *: lists leave documents out
		DisableAutomaticPing:   true,
		Logger:                 logger.Discard,
	})
	if err != nil {
		return nil, errors.Join(err, l.close())
	}
	return l, nil
}

func (l *line) exec(ctx context.Context, statement string) error {
	_, err := l.conn.ExecContext(ctx, statement)
	return err
}

// inTransaction asks SQLite whether a transaction is open: a full disk or a
// failed read ends one without being told to.
func (l *line) inTransaction() bool {
	open := false
	err := l.conn.Raw(func(c any) error {
		conn, ok := c.(*sqlite3.SQLiteConn)
		open = ok && !conn.AutoCommit()
		return nil
	})
	return err == nil && open
}

func (l *line) close() error {
	return errors.Join(l.conn.Close(), l.pool.Close())
}

// plain turns the driver's errors into the store's, where the caller can do
// something about them.
func plain(err error) error {
	if err == nil {
		return nil
	}
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return ErrNotFound
	}
	var e sqlite3.Error
	if !errors.As(err, &e) {
		return err
	}
	switch e.ExtendedCode {
	case sqlite3.ErrConstraintUnique, sqlite3.ErrConstraintPrimaryKey:
		return fmt.Errorf("%w: %s", ErrTaken, strings.TrimPrefix(e.Error(), "UNIQUE constraint failed: "))
	case sqlite3.ErrConstraintForeignKey:
		return fmt.Errorf("%w: %s", ErrMissing, e.Error())
	case sqlite3.ErrConstraintCheck, sqlite3.ErrConstraintNotNull, sqlite3.ErrConstraintTrigger,
		sqlite3.ErrConstraint.Extend(12): // SQLITE_CONSTRAINT_DATATYPE: text in a whole-number column
		return fmt.Errorf("%w: %s", ErrRefused, e.Error())
	}
	return err
}

// busy reports whether somebody else has the database locked.
func busy(err error) bool {
	var e sqlite3.Error
	return errors.As(err, &e) && (e.Code == sqlite3.ErrBusy || e.Code == sqlite3.ErrLocked)
}
