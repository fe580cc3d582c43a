// Package storetest makes databases for tests: SQLite files, or, where the
// variable WAINSCOT_TEST_POSTGRES has the address of a PostgreSQL server's
// superuser, databases of that server. The same tests then run on either.
//
// It knows the schema and not the store, so that the store's own tests can use
// it too.
package storetest

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"strings"
	"sync"

	"github.com/google/uuid"
	_ "github.com/jackc/pgx/v5/stdlib" // the driver named "pgx"
	_ "github.com/mattn/go-sqlite3"    // the driver named "sqlite3"

	"wainscot/migrations"
)

// Variable names the server. "none" says that a run is meant to do without.
const Variable = "WAINSCOT_TEST_POSTGRES"

// OnPostgres says whether the tests of this run are on PostgreSQL.
func OnPostgres() bool { return server() != "" }

func server() string {
	if address := os.Getenv(Variable); address != "none" {
		return address
	}
	return ""
}

// testing is what is needed of a test.
type testing interface {
	Helper()
	Skip(...any)
	Fatal(...any)
	Cleanup(func())
}

// NeedsPostgres skips a test that is about PostgreSQL alone on a run without
// it. In CI it has to be said that a run is meant to be without.
func NeedsPostgres(t testing) {
	t.Helper()
	switch address := os.Getenv(Variable); {
	case address == "" && os.Getenv("WAINSCOT_CI") != "":
		t.Fatal("it is about PostgreSQL: set " + Variable + " to the address of a server's superuser, or to none where that is meant")
	case address == "" || address == "none":
		t.Skip("it is about PostgreSQL: set " + Variable + " to the address of a server's superuser, such as postgres://postgres@127.0.0.1:5432/postgres")
	}
}

// NeedsSQLite skips a test that is about SQLite alone on a run on PostgreSQL.
func NeedsSQLite(t testing) {
	t.Helper()
	if OnPostgres() {
		t.Skip("it is about SQLite alone")
	}
}

// Roles of the databases that are made here. Each may sign in with the word
// below, from wherever the server lets anybody sign in.
const (
	ownerRole = "wainscot_test_owner"
	appRole   = "wainscot_test_app"
	password  = "for-tests-only"
)

// Database is a database of a test's own on the PostgreSQL server.
type Database struct {
	// Serve is the address to open the store at, Owner the one to migrate at,
	// and Superuser's is for looking behind both.
	Serve, Owner, Superuser string
	name                    string
}

// New makes a database that is migrated and empty.
func New(ctx context.Context) (Database, error) {
	from, err := template()
	if err != nil {
		return Database{}, fmt.Errorf("the empty database that others are copied from: %w", err)
	}
	return create(ctx, from)
}

// NewUnmigrated makes one in which nothing is.
func NewUnmigrated(ctx context.Context) (Database, error) {
	if err := sync.OnceValue(roles)(); err != nil {
		return Database{}, err
	}
	return create(ctx, "template0")
}

// Fresh makes a migrated, empty database that goes with the test.
func Fresh(t testing) Database {
	t.Helper()
	d, err := New(context.Background())
	return d.with(t, err)
}

// FreshUnmigrated makes one in which nothing is, that goes with the test.
func FreshUnmigrated(t testing) Database {
	t.Helper()
	d, err := NewUnmigrated(context.Background())
	return d.with(t, err)
}

func (d Database) with(t testing, err error) Database {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := d.Drop(context.Background()); err != nil {
			t.Fatal(err)
		}
	})
	return d
}

// Drop takes the database away, whoever is still at it.
func (d Database) Drop(ctx context.Context) error {
	return asSuperuser(ctx, func(c *sql.Conn) error {
		_, err := c.ExecContext(ctx, `DROP DATABASE IF EXISTS "`+d.name+`" WITH (FORCE)`)
		return err
	})
}

func create(ctx context.Context, from string) (Database, error) {
	d := Database{name: "wainscot_test_" + strings.ReplaceAll(uuid.NewString(), "-", "")}
	err := asSuperuser(ctx, func(c *sql.Conn) error { return createFrom(ctx, c, d.name, from) })
	if err != nil {
		return Database{}, err
	}
	for role, address := range map[string]*string{ownerRole: &d.Owner, appRole: &d.Serve, "": &d.Superuser} {
		if *address, err = at(d.name, role); err != nil {
			return Database{}, err
		}
	}
	return d, nil
}

func createFrom(ctx context.Context, c *sql.Conn, name, from string) error {
	_, err := c.ExecContext(ctx, `CREATE DATABASE "`+name+`" OWNER `+ownerRole+` TEMPLATE "`+from+`" ENCODING 'UTF8'`)
	return err
}

// template is the database that all others are copied from, made once for each
// state of the schema and left there for the next run.
var template = sync.OnceValues(func() (string, error) {
	if err := roles(); err != nil {
		return "", err
	}
	sum, err := schemaSum()
	if err != nil {
		return "", err
	}
	name := "wainscot_empty_" + sum
	ctx := context.Background()
	return name, asSuperuser(ctx, func(c *sql.Conn) (err error) {
		// Several test programs start together: one makes it.
		if _, err := c.ExecContext(ctx, "SELECT pg_advisory_lock(hashtext($1))", name); err != nil {
			return err
		}
		var there bool
		err = c.QueryRowContext(ctx, "SELECT EXISTS (SELECT FROM pg_database WHERE datname = $1)", name).Scan(&there)
		if err != nil || there {
			return err
		}
		making := name + "_making"
		if _, err := c.ExecContext(ctx, `DROP DATABASE IF EXISTS "`+making+`" WITH (FORCE)`); err != nil {
			return err
		}
		if err := createFrom(ctx, c, making, "template0"); err != nil {
			return err
		}
		if err := migrate(ctx, making); err != nil {
			return err
		}
		_, err = c.ExecContext(ctx, `ALTER DATABASE "`+making+`" RENAME TO "`+name+`"`)
		return err
	})
})

func migrate(ctx context.Context, name string) (err error) {
	address, err := at(name, ownerRole)
	if err != nil {
		return err
	}
	db, err := sql.Open("pgx", address)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	_, err = migrations.UpPostgres(ctx, db)
	return err
}

// schemaSum tells one state of the schema from another.
func schemaSum() (string, error) {
	files := migrations.Postgres()
	names, err := fs.Glob(files, "*.sql")
	if err != nil {
		return "", err
	}
	h := sha256.New()
	for _, name := range names {
		text, err := fs.ReadFile(files, name)
		if err != nil {
			return "", err
		}
		fmt.Fprintf(h, "%s %d\n", name, len(text))
		h.Write(text)
	}
	return hex.EncodeToString(h.Sum(nil)[:8]), nil
}

// roles makes the roles as docs/operating.md has an operator make them.
func roles() error {
	ctx := context.Background()
	return asSuperuser(ctx, func(c *sql.Conn) error {
		if _, err := c.ExecContext(ctx, "SELECT pg_advisory_lock(hashtext('wainscot_test_roles'))"); err != nil {
			return err
		}
		_, err := c.ExecContext(ctx, `DO $$
		BEGIN
			IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'wainscot_app') THEN
				CREATE ROLE wainscot_app NOLOGIN;
			END IF;
			IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = '`+ownerRole+`') THEN
				CREATE ROLE `+ownerRole+` LOGIN PASSWORD '`+password+`';
			END IF;
			IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = '`+appRole+`') THEN
				CREATE ROLE `+appRole+` LOGIN PASSWORD '`+password+`' IN ROLE wainscot_app;
			END IF;
		END $$`)
		return err
	})
}

// at is the address of a database for a role; "" is the superuser.
func at(name, role string) (string, error) {
	u, err := url.Parse(server())
	if err != nil || u.Scheme == "" {
		return "", fmt.Errorf("%s is no address like postgres://postgres@127.0.0.1:5432/postgres", Variable)
	}
	if name != "" {
		u.Path = "/" + name
	}
	if role != "" {
		u.User = url.UserPassword(role, password)
	}
	return u.String(), nil
}

// Rows counts the rows of every table of the database that a store has at an
// address, whosever they are.
func Rows(ctx context.Context, address string) (counts map[string]int, err error) {
	driver, list := "sqlite3", "SELECT name FROM sqlite_schema WHERE type = 'table'"
	if OnPostgres() {
		driver, list = "pgx", "SELECT relname FROM pg_class WHERE relnamespace = current_schema()::regnamespace AND relkind = 'r'"
		if address, err = Superuser(address); err != nil {
			return nil, err
		}
	} else {
		address = "file:" + address + "?mode=ro"
	}
	db, err := sql.Open(driver, address)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	tables, err := names(ctx, db, list)
	if err != nil {
		return nil, err
	}
	counts = map[string]int{}
	for _, table := range tables {
		n := 0
		if err := db.QueryRowContext(ctx, "SELECT count(*) FROM "+table).Scan(&n); err != nil {
			return nil, err
		}
		counts[table] = n
	}
	return counts, nil
}

func names(ctx context.Context, db *sql.DB, query string) (list []string, err error) {
	rows, err := db.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return nil, err
		}
		list = append(list, name)
	}
	return list, rows.Err()
}

// Superuser is the address at which the server's superuser finds the database
// that a store has at the address given; Owner is where it is migrated.
func Superuser(serve string) (string, error) { return again(serve, "") }

// Owner is told of at Superuser.
func Owner(serve string) (string, error) { return again(serve, ownerRole) }

func again(serve, role string) (string, error) {
	u, err := url.Parse(serve)
	if err != nil {
		return "", err
	}
	return at(strings.TrimPrefix(u.Path, "/"), role)
}

// asSuperuser lends a connection to the server's own database.
func asSuperuser(ctx context.Context, do func(*sql.Conn) error) (err error) {
	address, err := at("", "")
	if err != nil {
		return err
	}
	db, err := sql.Open("pgx", address)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	c, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.Close()) }()
	return do(c)
}
