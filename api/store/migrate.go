package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"time"

	"wainscot/migrations"
)

// lockWait is how long Migrate waits for others to leave the database.
const lockWait = 10 * time.Second

// Migrate brings the database at an address (as Open takes it) up to this
// program's schema. A database file that is not there is made; a database of a
// PostgreSQL server has to be there, empty or not, and the address has to name
// the role that owns the tables.
//
// Migrating waits for others to leave: while anybody serves from the database
// it gives up after ten seconds, or when ctx ends. A second Migrate at the
// same time waits and then finds nothing to do.
func Migrate(ctx context.Context, address string) (v migrations.Versions, err error) {
	if isPostgres(address) {
		v, err = migratePostgres(ctx, address)
	} else {
		v, err = migrateFile(ctx, filePath(address))
	}
	if err != nil {
		return v, fmt.Errorf("migrating %s: %w", Shown(address), err)
	}
	return v, nil
}

// migrateFile migrates a database file.
//
// The migrating library takes no lock on SQLite, and two programs that start
// together would both find the same work to do. So the whole file is locked
// first, and kept locked until the end.
func migrateFile(ctx context.Context, path string) (_ migrations.Versions, err error) {
	where, err := address(path, "rw", []setting{
		{"_locking_mode", "EXCLUSIVE", "", ""},
		// No waiting inside SQLite: in the exclusive locking mode a connection
		// keeps the little it has while it waits, and two would wait for each
		// other.
		{"_busy_timeout", "0", "", ""},
		{"_synchronous", "FULL", "", ""},
		{"_foreign_keys", "on", "", ""},
	})
	if err != nil {
		return migrations.Versions{}, err
	}
	ctx, cancel := context.WithTimeout(ctx, lockWait)
	defer cancel()
	select {
	case migrating <- struct{}{}:
		defer func() { <-migrating }()
	case <-ctx.Done():
		return migrations.Versions{}, ctx.Err()
	}
	if err := makeFile(path); err != nil {
		return migrations.Versions{}, fmt.Errorf("making the database: %w", err)
	}
	db, err := lockWhole(ctx, where)
	if err != nil {
		return migrations.Versions{}, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	return migrations.UpSQLite(context.WithoutCancel(ctx), db)
}

// migrating lets one Migrate of this program at the files at a time; other
// programs are kept apart by the lock on the file.
var migrating = make(chan struct{}, 1)

// makeFile makes an empty file if there is none. Personal data will be in it:
// nobody else on the machine may read it, and SQLite gives its other files the
// same permissions.
//
// A file that is there is not opened, not even to look: when a program closes
// a file, Unix drops all locks that the program has on it, SQLite's too.
func makeFile(path string) error {
	if _, err := os.Stat(path); !errors.Is(err, os.ErrNotExist) { //nolint:gosec // the operator names the file; no request does
		return err
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL, 0o600) //nolint:gosec // as above
	if errors.Is(err, os.ErrExist) {
		return nil // another program was faster
	}
	if err != nil {
		return err
	}
	return f.Close()
}

// lockWhole opens the database on one connection that has the file to itself.
func lockWhole(ctx context.Context, where string) (*sql.DB, error) {
	for {
		db := sql.OpenDB(connector{address: where})
		db.SetMaxOpenConns(1)
		// In the exclusive locking mode the lock taken here stays until the
		// connection is closed. It must be the first thing done: two
		// connections that had both read would each wait for the other.
		_, err := db.ExecContext(ctx, "BEGIN EXCLUSIVE; COMMIT")
		if err == nil {
			return db, nil
		}
		if err = errors.Join(err, db.Close()); !busy(err) {
			return nil, err
		}
		// Two that got in each other's way must not come back together.
		pause := time.Duration(5+rand.IntN(20)) * time.Millisecond //nolint:gosec // nobody gains by guessing it
		retry := time.NewTimer(pause)
		select {
		case <-retry.C:
		case <-ctx.Done():
			retry.Stop()
			return nil, fmt.Errorf("another program has the database open; stop it first: %w", err)
		}
	}
}
