// Package migrations holds the schema of the database as numbered SQL files,
// one folder a database under one numbering, and brings a database up to the
// newest. A file that has been released is never changed: what is wrong with
// it is put right by the next one.
package migrations

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"
)

//go:embed sqlite/*.sql postgres/*.sql
var files embed.FS

// SQLite holds the SQL files for SQLite.
func SQLite() fs.FS { return folder("sqlite") }

// Postgres holds the SQL files for PostgreSQL: the same numbers, and the same
// tables and columns after each.
func Postgres() fs.FS { return folder("postgres") }

func folder(name string) fs.FS {
	sub, err := fs.Sub(files, name)
	if err != nil {
		panic(err) // the folder is embedded above: only a typing mistake gets here
	}
	return sub
}

// Versions says where a database stands: From before, To after. A fresh one
// stands at 0.
type Versions struct{ From, To int64 }

// UpSQLite applies to db, in order, every migration it has not had yet, each
// in a transaction of its own. It takes no lock: the caller sees to it that
// nobody else is at the database.
func UpSQLite(ctx context.Context, db *sql.DB) (Versions, error) {
	return up(ctx, db, goose.DialectSQLite3, SQLite())
}

// UpPostgres does the same to PostgreSQL, as the role that db is connected as;
// it will own the tables. It takes no lock either.
func UpPostgres(ctx context.Context, db *sql.DB) (Versions, error) {
	return up(ctx, db, goose.DialectPostgres, Postgres())
}

// Latest is the number of the newest migration.
func Latest() int64 {
	names, err := fs.Glob(SQLite(), "*.sql")
	if err != nil || len(names) == 0 {
		panic("migrations: nothing is embedded")
	}
	// Names sort as their numbers do: they all have five digits.
	newest, err := goose.NumericComponent(names[len(names)-1])
	if err != nil {
		panic(err) // held by the package's test
	}
	return newest
}

func up(ctx context.Context, db *sql.DB, dialect goose.Dialect, from fs.FS) (Versions, error) {
	p, err := goose.NewProvider(dialect, db, from, goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return Versions{}, fmt.Errorf("reading the migrations: %w", err)
	}
	now, target, err := p.GetVersions(ctx)
	if err != nil {
		return Versions{}, fmt.Errorf("asking the database where it stands: %w", err)
	}
	if now > target {
		return Versions{From: now, To: now}, fmt.Errorf("the database stands at migration %d and this program knows only %d: use a newer program", now, target)
	}
	done, err := p.Up(ctx)
	v := Versions{From: now, To: now}
	for _, d := range done {
		v.To = max(v.To, d.Source.Version)
	}
	if err != nil {
		return v, fmt.Errorf("migrating: %w", err)
	}
	return v, nil
}
