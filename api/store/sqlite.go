package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"github.com/google/uuid"
	"github.com/mattn/go-sqlite3"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
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

// writerTuning costs no safety. What a savepoint would take back stays in
// memory: otherwise SQLite writes it to a temporary file, some 25 pages for
// each quote in a group (2026-11, strace). A longer log is emptied more
// seldom, and pages that changed often since only once.
var writerTuning = []string{
	"PRAGMA temp_store = MEMORY",
	"PRAGMA cache_size = -16384",
	"PRAGMA wal_autocheckpoint = 4000",
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
	tuning   []string
}

// Connect opens one connection and holds it against the settings.
func (c connector) Connect(context.Context) (driver.Conn, error) {
	conn, err := c.Driver().Open(c.address)
	if err != nil {
		return nil, err
	}
	err = readBack(conn, c.settings)
	for _, pragma := range c.tuning {
		if err == nil {
			_, err = answerOf(conn, pragma)
		}
	}
	if err != nil {
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
		got, err := answerOf(conn, "PRAGMA "+s.pragma)
		if err != nil {
			return fmt.Errorf("%w: %s cannot be read back: %w", ErrUnsafe, s.pragma, err)
		}
		if got != s.reads {
			return fmt.Errorf("%w: %s is %s and must be %s", ErrUnsafe, s.pragma, got, s.reads)
		}
	}
	return nil
}

// answerOf gives the one value a pragma answers with, "" for none.
func answerOf(conn driver.Conn, pragma string) (_ string, err error) {
	q, ok := conn.(driver.QueryerContext)
	if !ok {
		return "", errors.New("the driver answers no queries")
	}
	rows, err := q.QueryContext(context.Background(), pragma, nil)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	value := make([]driver.Value, max(1, len(rows.Columns())))
	if err := rows.Next(value); err != nil && !errors.Is(err, io.EOF) {
		return "", err
	}
	return fmt.Sprint(value[0]), nil
}

// sqliteFile is a database in a file.
type sqliteFile struct {
	path   string
	writer []setting
}

func (f sqliteFile) name() string { return f.path }

// lane: one connection at a time may write, whatever the workshop.
func (sqliteFile) lane(uuid.UUID) uuid.UUID { return uuid.Nil }

func (f sqliteFile) connect(ctx context.Context, writes bool) (*line, error) {
	if writes {
		return f.open(ctx, "rw", f.writer)
	}
	return f.open(ctx, "ro", readerSettings)
}

func (f sqliteFile) open(ctx context.Context, mode string, settings []setting) (*line, error) {
	where, err := address(f.path, mode, settings)
	if err != nil {
		return nil, err
	}
	var tuning []string
	if mode != "ro" {
		tuning = writerTuning
	}
	return newLine(ctx, f, mode != "ro", sql.OpenDB(connector{where, settings, tuning}), func(conn gorm.ConnPool) gorm.Dialector {
		return sqlite.New(sqlite.Config{Conn: conn})
	})
}

// check asks on a connection of its own: readers and the writer are held to
// settings that an empty file has not got yet.
func (f sqliteFile) check(ctx context.Context) (err error) {
	if _, err := os.Stat(f.path); err != nil {
		return fmt.Errorf("%w: there is no database; make one by migrating: %w", ErrSchema, err)
	}
	where, err := address(f.path, "rw", nil)
	if err != nil {
		return err
	}
	db := sql.OpenDB(connector{address: where})
	defer func() { err = errors.Join(err, db.Close()) }()
	var there int
	err = db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema WHERE name = 'goose_db_version'").Scan(&there)
	if err != nil {
		return fmt.Errorf("%s: %w", f.path, err)
	}
	var at int64
	if there > 0 {
		err = db.QueryRowContext(ctx, "SELECT coalesce(max(version_id), 0) FROM goose_db_version WHERE is_applied").Scan(&at)
		if err != nil {
			return fmt.Errorf("%s: %w", f.path, err)
		}
	}
	return againstSchema(f.path, at)
}

func (sqliteFile) begin(ctx context.Context, l *line, _ sight) error {
	if l.writes {
		return l.exec(ctx, "BEGIN IMMEDIATE")
	}
	return l.exec(ctx, "BEGIN")
}

func (sqliteFile) see(context.Context, *line, sight) error { return nil }

// standing asks SQLite whether a transaction is open: a full disk or a failed
// read ends one without being told to.
func (sqliteFile) standing(l *line) standing {
	s := dead
	err := l.conn.Raw(func(c any) error {
		if conn, ok := c.(*sqlite3.SQLiteConn); ok && conn.AutoCommit() {
			s = outside
		} else if ok {
			s = inside
		}
		return nil
	})
	if err != nil {
		return dead
	}
	return s
}

func (sqliteFile) commit(ctx context.Context, l *line) error { return l.exec(ctx, "COMMIT") }

// settle empties the write-ahead log into the database: only what was
// committed is carried over, and frames of a commit that failed are gone for
// good.
func (sqliteFile) settle(ctx context.Context, l *line) error {
	var blocked, inLog, moved int
	err := l.conn.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&blocked, &inLog, &moved)
	if err == nil && blocked != 0 {
		err = errors.New("a reader is still at the write-ahead log")
	}
	return err
}

func plainSQLite(e sqlite3.Error) error {
	switch e.ExtendedCode {
	case sqlite3.ErrConstraintUnique, sqlite3.ErrConstraintPrimaryKey:
		return fmt.Errorf("%w: %s", ErrTaken, strings.TrimPrefix(e.Error(), "UNIQUE constraint failed: "))
	case sqlite3.ErrConstraintForeignKey:
		return fmt.Errorf("%w: %s", ErrMissing, e.Error())
	case sqlite3.ErrConstraintCheck, sqlite3.ErrConstraintNotNull, sqlite3.ErrConstraintTrigger,
		sqlite3.ErrConstraint.Extend(12): // SQLITE_CONSTRAINT_DATATYPE: text in a whole-number column
		return fmt.Errorf("%w: %s", ErrRefused, e.Error())
	}
	return e
}
