package store

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"maps"
	"net"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgconn/ctxwatch"
	"github.com/jackc/pgx/v5/stdlib"
	"gorm.io/driver/postgres"
	"gorm.io/gorm"

	"wainscot/migrations"
)

// postgresServer is a database of a PostgreSQL server.
type postgresServer struct{ config *pgx.ConnConfig }

// postgresSettings are asked for with every connection and read back. A commit
// is on the disk when it is answered, whatever the server's own default.
// Nobody waits for another's lock, or keeps one while doing nothing, without
// end.
var postgresSettings = map[string]string{
	"synchronous_commit":                  "on",
	"default_transaction_isolation":       "read committed",
	"lock_timeout":                        "5s",
	"idle_in_transaction_session_timeout": "1min",
	"client_encoding":                     "UTF8",
}

// connectWait is how long a server may take to answer at all.
const connectWait = 5 * time.Second

// schemaLock is the advisory lock that whoever serves shares, and whoever
// migrates has alone.
const schemaLock = 0x7761696e73636f74

func isPostgres(address string) bool {
	return strings.HasPrefix(address, "postgres://") || strings.HasPrefix(address, "postgresql://")
}

// postgresAt reads an address. What is wrong with it is not said in detail:
// the library's own words may have the password in them.
func postgresAt(address string) (postgresServer, error) {
	config, err := pgx.ParseConfig(address)
	if err != nil {
		return postgresServer{}, errors.New("the address of the database cannot be read: write it as postgres://role@host:5432/database, with a % before the code of a character that means something in an address, and the password in PGPASSWORD or a password file")
	}
	maps.Copy(config.RuntimeParams, postgresSettings)
	if config.RuntimeParams["application_name"] == "" {
		config.RuntimeParams["application_name"] = "wainscot"
	}
	if config.ConnectTimeout == 0 {
		config.ConnectTimeout = connectWait
	}
	// A query that is given up is cancelled on the server and the connection
	// kept; the library's own way is to throw it away.
	config.BuildContextWatcherHandler = func(c *pgconn.PgConn) ctxwatch.Handler {
		return &pgconn.CancelRequestContextWatcherHandler{Conn: c, DeadlineDelay: connectWait}
	}
	return postgresServer{config}, nil
}

func (p postgresServer) name() string {
	u := url.URL{Scheme: "postgres", User: url.User(p.config.User), Path: "/" + p.config.Database}
	if strings.HasPrefix(p.config.Host, "/") {
		u.RawQuery = url.Values{"host": {p.config.Host}}.Encode()
	} else {
		u.Host = net.JoinHostPort(p.config.Host, strconv.Itoa(int(p.config.Port)))
	}
	return u.String()
}

// lane: workshops are written side by side.
func (postgresServer) lane(workshop uuid.UUID) uuid.UUID { return workshop }

// check: every connection is held against the schema when it is made, because
// it may come back after somebody has migrated.
func (postgresServer) check(context.Context) error { return nil }

func (p postgresServer) connect(ctx context.Context, writes bool) (*line, error) {
	if !writes {
		p = p.onlyReading()
	}
	return newLine(ctx, p, writes, p.pool(fit), p.dialect)
}

func (postgresServer) dialect(conn gorm.ConnPool) gorm.Dialector {
	return postgres.New(postgres.Config{Conn: conn})
}

// onlyReading is the same database on connections that cannot write.
func (p postgresServer) onlyReading() postgresServer {
	config := p.config.Copy()
	config.RuntimeParams["default_transaction_read_only"] = "on"
	return postgresServer{config}
}

// pool opens connections that fit accepts.
func (p postgresServer) pool(fit func(context.Context, *pgx.Conn) error) *sql.DB {
	return sql.OpenDB(stdlib.GetConnector(*p.config, stdlib.OptionAfterConnect(func(ctx context.Context, c *pgx.Conn) error {
		err := fit(ctx, c)
		if err != nil {
			err = errors.Join(err, c.Close(context.WithoutCancel(ctx)))
		}
		return err
	})))
}

// fit refuses a connection to a database of another schema, one whose role
// the row-level security does not hold, or one that does not keep what it
// acknowledges.
func fit(ctx context.Context, c *pgx.Conn) error {
	var alone bool
	if err := c.QueryRow(ctx, "SELECT pg_try_advisory_lock_shared($1)", int64(schemaLock)).Scan(&alone); err != nil {
		return err
	}
	if !alone {
		return fmt.Errorf("%w: it is being migrated", ErrSchema)
	}
	var there, allowed bool
	err := c.QueryRow(ctx, `SELECT to_regclass('goose_db_version') IS NOT NULL,
		coalesce(has_table_privilege(to_regclass('goose_db_version'), 'SELECT'), false)`).Scan(&there, &allowed)
	if err != nil {
		return err
	}
	name := c.Config().Database
	at := int64(0)
	if there && !allowed {
		return fmt.Errorf("%w: role %s may not read it: GRANT wainscot_app TO %s", ErrUnsafe, c.Config().User, c.Config().User)
	}
	if there {
		if err := c.QueryRow(ctx, "SELECT coalesce(max(version_id), 0) FROM goose_db_version WHERE is_applied").Scan(&at); err != nil {
			return err
		}
	}
	if err := againstSchema(name, at); err != nil {
		return err
	}
	return safe(ctx, c)
}

// safe asks for everything that promises rest on.
func safe(ctx context.Context, c *pgx.Conn) error {
	for name, want := range postgresSettings {
		var got string
		if err := c.QueryRow(ctx, "SELECT current_setting($1)", name).Scan(&got); err != nil {
			return fmt.Errorf("%w: %s cannot be read back: %w", ErrUnsafe, name, err)
		}
		if got != want {
			return fmt.Errorf("%w: %s is %s and must be %s", ErrUnsafe, name, got, want)
		}
	}
	for _, must := range []struct{ says, query string }{
		{"the server must run with fsync on", `SELECT current_setting('fsync') = 'on'`},
		{"the server must run with full_page_writes on", `SELECT current_setting('full_page_writes') = 'on'`},
		{"the database must be encoded in UTF8", `SELECT current_setting('server_encoding') = 'UTF8'`},
		{"it must be the server that writes, not one that follows it", `SELECT NOT pg_is_in_recovery()`},
		{"the role must be neither a superuser nor one with BYPASSRLS: serve as a plain member of wainscot_app",
			`SELECT NOT (rolsuper OR rolbypassrls) FROM pg_roles WHERE rolname = current_user`},
		{"the role must not own the tables: migrate as one role and serve as another",
			`SELECT NOT bool_or(pg_has_role(relowner, 'MEMBER')) FROM pg_class WHERE oid = to_regclass('journal')`},
		{"every table of a workshop's must have its row-level security forced", `SELECT NOT EXISTS (
			SELECT FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid
			WHERE c.relnamespace = current_schema()::regnamespace AND c.relkind IN ('r', 'p') AND a.attname = 'workshop_id'
			AND NOT (c.relrowsecurity AND c.relforcerowsecurity))`},
	} {
		var holds bool
		if err := c.QueryRow(ctx, must.query).Scan(&holds); err != nil {
			return fmt.Errorf("%w: %s: %w", ErrUnsafe, must.says, err)
		}
		if !holds {
			return fmt.Errorf("%w: %s", ErrUnsafe, must.says)
		}
	}
	return nil
}

// begin takes, to write, the lock of the workshop before anything else: what
// is then read was committed by whoever had it before, so the journal's chain
// and the counters hold in READ COMMITTED. Other workshops go on beside it.
func (p postgresServer) begin(ctx context.Context, l *line, s sight) error {
	begin := "BEGIN ISOLATION LEVEL REPEATABLE READ, READ ONLY"
	if l.writes {
		begin = fmt.Sprintf("BEGIN; SELECT pg_advisory_xact_lock(%d)", workshopLock(s.workshop))
	}
	if s.workshop != uuid.Nil {
		begin += fmt.Sprintf("; SET LOCAL wainscot.workshop = '%s'", s.workshop)
	}
	err := l.exec(ctx, begin) // one message for all of it
	if err == nil && (s.code != "" || s.list) {
		err = p.see(ctx, l, s)
	}
	if err != nil {
		return errors.Join(err, l.rollback(context.WithoutCancel(ctx)))
	}
	return nil
}

// workshopLock is the number of a workshop's advisory lock. Two workshops that
// came to the same would only wait for each other.
func workshopLock(workshop uuid.UUID) int64 {
	return int64(binary.BigEndian.Uint64(workshop[8:]))
}

func (postgresServer) see(ctx context.Context, l *line, s sight) error {
	workshop, list := "", ""
	if s.workshop != uuid.Nil {
		workshop = s.workshop.String()
	}
	if s.list {
		list = "on"
	}
	_, err := l.conn.ExecContext(ctx, `SELECT set_config('wainscot.workshop', $1, true),
		set_config('wainscot.code', $2, true), set_config('wainscot.list_workshops', $3, true)`, workshop, s.code, list)
	return err
}

func (postgresServer) standing(l *line) standing {
	s := dead
	err := l.conn.Raw(func(c any) error {
		conn, ok := c.(*stdlib.Conn)
		if !ok || conn.Conn().IsClosed() {
			return nil
		}
		switch conn.Conn().PgConn().TxStatus() {
		case 'I':
			s = outside
		case 'T':
			s = inside
		case 'E':
			s = failed
		}
		return nil
	})
	if err != nil {
		return dead
	}
	return s
}

// commit looks first: COMMIT in a transaction that had failed is answered with
// ROLLBACK, and that is no error.
func (p postgresServer) commit(ctx context.Context, l *line) error {
	if p.standing(l) != inside {
		return errRolledBack
	}
	return l.exec(ctx, "COMMIT")
}

// settle: the server alone knows what becomes of the commit.
func (postgresServer) settle(context.Context, *line) error { return nil }

// The SQLSTATE codes the store acts on (PostgreSQL's manual, appendix A).
const (
	pgNotNull              = "23502"
	pgForeignKey           = "23503"
	pgUnique               = "23505"
	pgCheck                = "23514"
	pgStringTooLong        = "22001"
	pgNumberOutOfRange     = "22003"
	pgBadCharacter         = "22021" // a NUL in text
	pgBadText              = "22P02" // text that is no number
	pgRaised               = "P0001" // by a trigger
	pgNotAllowed           = "42501" // not granted, or against a policy
	pgSerializationFailure = "40001"
	pgDeadlock             = "40P01"
	pgLockNotAvailable     = "55P03"
)

// plainPostgres never takes over an error's detail, in which the server quotes
// values of the row.
func plainPostgres(e *pgconn.PgError) error {
	switch e.Code {
	case pgUnique:
		return fmt.Errorf("%w: %s", ErrTaken, e.ConstraintName)
	case pgForeignKey:
		return fmt.Errorf("%w: %s", ErrMissing, e.ConstraintName)
	case pgNotNull, pgCheck, pgStringTooLong, pgNumberOutOfRange, pgBadCharacter, pgBadText, pgRaised, pgNotAllowed:
		return fmt.Errorf("%w: %s (SQLSTATE %s)", ErrRefused, e.Message, e.Code)
	}
	return e
}

// migratePostgres brings a database up as the role in the address, which will
// own the tables.
func migratePostgres(ctx context.Context, address string) (_ migrations.Versions, err error) {
	var none migrations.Versions
	p, err := postgresAt(address)
	if err != nil {
		return none, err
	}
	ctx, cancel := context.WithTimeout(ctx, lockWait)
	defer cancel()
	db := p.pool(func(context.Context, *pgx.Conn) error { return nil })
	defer func() { err = errors.Join(err, db.Close()) }()
	// The lock belongs to a connection of its own, and goes with it if it must.
	lock, err := db.Conn(ctx)
	if err != nil {
		return none, err
	}
	defer func() { err = errors.Join(err, lock.Close()) }()
	if _, err := lock.ExecContext(ctx, "SET lock_timeout = 0"); err != nil {
		return none, err
	}
	if _, err := lock.ExecContext(ctx, "SELECT pg_advisory_lock($1)", int64(schemaLock)); err != nil {
		if ctx.Err() != nil {
			return none, fmt.Errorf("another program has the database open; stop it first: %w", err)
		}
		return none, err
	}
	defer func() {
		// By itself, and not with the connection: the server notices a while
		// later that one is gone, and whoever opens the database right after a
		// migration would be turned away.
		_, freed := lock.ExecContext(context.WithoutCancel(ctx), "SELECT pg_advisory_unlock($1)", int64(schemaLock))
		err = errors.Join(err, freed)
	}()
	return migrations.UpPostgres(context.WithoutCancel(ctx), db)
}
