package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/mattn/go-sqlite3"
	"gorm.io/gorm"
	"gorm.io/gorm/logger"

	"wainscot/migrations"
)

// engine is the database below a store: what SQLite and PostgreSQL do each in
// its own way. Nothing else of the store knows which it is.
type engine interface {
	// name of the database as it may be shown: without a password.
	name() string
	// check refuses, with ErrSchema, a database that is not there or not at
	// this program's schema.
	check(context.Context) error
	// connect opens a connection for good, to write or only to read, and
	// refuses with ErrUnsafe one that does not keep what it acknowledges.
	connect(ctx context.Context, writes bool) (*line, error)
	// lane says which writes have to come one after another.
	lane(workshop uuid.UUID) uuid.UUID
	// begin a transaction: one to read that sees one moment, or one to write
	// beside which nobody else can write to the workshop in sight.
	begin(context.Context, *line, sight) error
	// see changes what the transaction may see.
	see(context.Context, *line, sight) error
	// standing says whether the line is in a transaction that can be
	// committed, or in one at all, and alive whether it can be used at all.
	standing(*line) standing
	// commit the transaction; errRolledBack means that surely nothing is
	// stored, any other error that it cannot be said.
	commit(context.Context, *line) error
	// settle makes sure, on a new connection after a commit that failed, that
	// what is seen now is what stays.
	settle(context.Context, *line) error
}

// errRolledBack: the database says that it has undone the transaction.
var errRolledBack = errors.New("the database rolled the transaction back")

// standing is where a connection is.
type standing int

const (
	dead    standing = iota // the connection is gone
	outside                 // in no transaction
	failed                  // in one that can only be rolled back
	inside                  // in one
)

// sight is what a transaction may see of PostgreSQL's rows beyond nothing: the
// second lock, behind the store's own scope. SQLite does not know it.
type sight struct {
	workshop uuid.UUID // all of this workshop's
	code     string    // the workshop itself that has this code
	list     bool      // the workshops themselves
}

// engineOf is the database at an address: a path or file: of SQLite, or the
// postgres: URL of PostgreSQL.
func engineOf(address string, o Options) (engine, error) {
	if isPostgres(address) {
		return postgresAt(address)
	}
	settings := writerSettings
	if o.unsafeWriter != nil {
		settings = o.unsafeWriter
	}
	return sqliteFile{path: filePath(address), writer: settings}, nil
}

// AtFile says whether an address is that of a database file, and gives its
// path.
func AtFile(address string) (path string, ok bool) {
	if isPostgres(address) {
		return "", false
	}
	return filePath(address), true
}

func filePath(address string) string { return strings.TrimPrefix(address, "file:") }

// Shown is an address as it may be printed and logged: without a password.
func Shown(address string) string {
	if !isPostgres(address) {
		return address
	}
	e, err := postgresAt(address)
	if err != nil {
		return "the PostgreSQL database"
	}
	return e.name()
}

// line is one connection to the database with gorm on top. Transactions are
// begun and ended by hand, because the writer has savepoints in them and asks
// the connection itself whether the transaction still stands.
type line struct {
	engine engine
	writes bool
	pool   *sql.DB
	conn   *sql.Conn
	gorm   *gorm.DB
}

// newLine takes the one connection of a pool.
func newLine(ctx context.Context, e engine, writes bool, pool *sql.DB, dialect func(gorm.ConnPool) gorm.Dialector) (*line, error) {
	pool.SetMaxOpenConns(1)
	l := &line{engine: e, writes: writes, pool: pool}
	var err error
	if l.conn, err = pool.Conn(ctx); err != nil {
		return nil, errors.Join(err, pool.Close())
	}
	l.gorm, err = gorm.Open(dialect(l.conn), &gorm.Config{
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

// rollback ends a transaction if there is one.
func (l *line) rollback(ctx context.Context) error {
	switch l.engine.standing(l) {
	case failed, inside:
		return l.exec(ctx, "ROLLBACK")
	case dead, outside:
	}
	return nil
}

func (l *line) close() error {
	return errors.Join(l.conn.Close(), l.pool.Close())
}

// againstSchema holds the migration a database is at against this program's.
func againstSchema(name string, at int64) error {
	switch need := migrations.Latest(); {
	case at < need:
		return fmt.Errorf("%w: %s is at migration %d and must be at %d: migrate it", ErrSchema, name, at, need)
	case at > need:
		return fmt.Errorf("%w: %s is at migration %d and this program knows only %d: use a newer program", ErrSchema, name, at, need)
	}
	return nil
}

// plain turns the drivers' errors into the store's, where the caller can do
// something about them.
func plain(err error) error {
	if err == nil {
		return nil
	}
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return ErrNotFound
	}
	var lite sqlite3.Error
	var pg *pgconn.PgError
	switch {
	case errors.As(err, &lite):
		return plainSQLite(lite)
	case errors.As(err, &pg):
		return plainPostgres(pg)
	}
	return err
}

// busy reports whether somebody else has the database, or the workshop in it,
// locked.
func busy(err error) bool {
	var lite sqlite3.Error
	var pg *pgconn.PgError
	switch {
	case errors.As(err, &lite):
		return lite.Code == sqlite3.ErrBusy || lite.Code == sqlite3.ErrLocked
	case errors.As(err, &pg):
		return pg.Code == pgLockNotAvailable
	}
	return false
}

// passing reports whether the database gave a transaction up for the sake of
// another: the same one may go through at once.
func passing(err error) bool {
	var pg *pgconn.PgError
	return errors.As(err, &pg) && (pg.Code == pgSerializationFailure || pg.Code == pgDeadlock)
}
