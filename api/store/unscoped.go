package store

// Everything here goes round the scope of one workshop, and says why it must.

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"time"

	"gorm.io/gorm"

	"wainscot/api/auth"
	"wainscot/migrations"
)

// lockWait is how long Migrate waits for others to leave the database.
const lockWait = 10 * time.Second

// Migrate makes the database file at path if it is not there, and brings it up
// to this program's schema.
//
// Reason: the schema belongs to all workshops.
//
// The migrating library takes no lock on SQLite, and two programs that start
// together would both find the same work to do. So the whole file is locked
// first, and kept locked until the end: a second Migrate waits and then finds
// nothing to do, and while anybody serves from the file Migrate gives up after
// ten seconds, or when ctx ends.
func Migrate(ctx context.Context, path string) (_ migrations.Versions, err error) {
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
		return migrations.Versions{}, fmt.Errorf("migrating %s: %w", path, ctx.Err())
	}
	if err := makeFile(path); err != nil {
		return migrations.Versions{}, fmt.Errorf("making the database: %w", err)
	}
	db, err := lockWhole(ctx, where)
	if err != nil {
		return migrations.Versions{}, fmt.Errorf("migrating %s: %w", path, err)
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
		db := sql.OpenDB(connector{where, nil})
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

// checkSchema refuses a file that is not there or not at this program's schema.
//
// Reason: the schema belongs to all workshops.
func checkSchema(ctx context.Context, path string) (err error) {
	if _, err := os.Stat(path); err != nil { //nolint:gosec // the operator names the file; no request does
		return fmt.Errorf("%w: there is no database; make one by migrating: %w", ErrSchema, err)
	}
	where, err := address(path, "rw", nil)
	if err != nil {
		return err
	}
	db := sql.OpenDB(connector{where, nil})
	defer func() { err = errors.Join(err, db.Close()) }()
	var there int
	err = db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema WHERE name = 'goose_db_version'").Scan(&there)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	var at int64
	if there > 0 {
		err = db.QueryRowContext(ctx, "SELECT coalesce(max(version_id), 0) FROM goose_db_version WHERE is_applied").Scan(&at)
		if err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
	}
	switch need := migrations.Latest(); {
	case at < need:
		return fmt.Errorf("%w: %s is at migration %d and must be at %d: migrate it", ErrSchema, path, at, need)
	case at > need:
		return fmt.Errorf("%w: %s is at migration %d and this program knows only %d: use a newer program", ErrSchema, path, at, need)
	}
	return nil
}

// CreateWorkshop opens a workshop and lets its first person, an owner, in. A
// code that another workshop has is ErrTaken.
//
// Reason: before it there is no workshop, and nobody in it, to act for.
func (s *Store) CreateWorkshop(ctx context.Context, n NewWorkshop, owner NewPerson) (Workshop, Person, error) {
	var workshop workshopRow
	var first Person
	owner.Role = auth.Owner
	err := s.writer.do(ctx, func(db *gorm.DB) error {
		id := s.options.NewID()
		tx := s.session(context.Background(), db, auth.Principal{Workshop: id, Role: auth.Owner})
		defer tx.end()
		t := WriteTx{ReadTx{tx}}
		workshop = workshopRow{
			WorkshopID: id, Code: n.Code, Name: n.Name, Currency: n.Currency,
			TimeZone: n.TimeZone, CreatedUS: tx.now.UnixMicro(),
		}
		if err := tx.note(db.WithContext(tx.ctx).Create(&workshop).Error); err != nil {
			return fmt.Errorf("workshop %q: %w", n.Code, err)
		}
		// The first line of the journal is by the owner, about the owner.
		row := newPersonRow(t, owner)
		tx.as.Person = row.ID
		if err := insert(t, added, &row); err != nil {
			return fmt.Errorf("owner: %w", err)
		}
		first = row.person()
		return t.append(opened, "workshop", id.String(), nil)
	})
	if err != nil {
		return Workshop{}, Person{}, err
	}
	return workshop.workshop(), first, nil
}

// Workshops lists all workshops, by code.
//
// Reason: whoever runs the machine must be able to see which there are. No
// request reaches it.
func (s *Store) Workshops(ctx context.Context) ([]Workshop, error) {
	var found []workshopRow
	err := s.read(ctx, func(db *gorm.DB) error {
		return db.WithContext(ctx).Order("code").Find(&found).Error
	})
	if err != nil {
		return nil, fmt.Errorf("workshops: %w", err)
	}
	list := make([]Workshop, len(found))
	for i, r := range found {
		list[i] = r.workshop()
	}
	return list, nil
}

// SignIn is what signing in is checked against.
type SignIn struct {
	Principal    auth.Principal
	PasswordHash string
}

// FindSignIn looks a person up by the code of the workshop and the e-mail
// address they gave. A workshop or person that is not there, and a person who
// has left, are all the same ErrNotFound; check the password against "" then,
// so that it takes as long.
//
// Reason: before somebody has signed in there is nobody to act for. Only the
// workshop is looked up without its scope, by its own unique code.
func (s *Store) FindSignIn(ctx context.Context, workshopCode, email string) (SignIn, error) {
	var found SignIn
	err := s.read(ctx, func(db *gorm.DB) error {
		var workshop workshopRow
		err := db.WithContext(ctx).Where("code = ?", workshopCode).Take(&workshop).Error
		if err != nil {
			return plain(err)
		}
		tx := s.session(ctx, db, auth.Principal{Workshop: workshop.WorkshopID})
		defer tx.end()
		person, err := of[personRow](ReadTx{tx}).where("email = ? AND left_us IS NULL", PlainEmail(email)).one()
		if err != nil {
			return err
		}
		found = SignIn{
			Principal:    auth.Principal{Workshop: workshop.WorkshopID, Person: person.ID, Role: auth.Role(person.Role)},
			PasswordHash: person.PasswordHash,
		}
		return nil
	})
	if err != nil {
		return SignIn{}, fmt.Errorf("signing in: %w", err)
	}
	return found, nil
}

// RenewSignIn puts the next renewal in the place of the old one and says whose
// sign-in it is, in the role they have now. A sign-in that has ended or run out
// is ErrShutOut; an old renewal used again ends it and is ErrUsedAgain.
//
// Reason: who renews has no token any more. Only what the renewal names is
// looked at, in the workshop it names, and nothing is told unless its secret
// is right.
func (s *Store) RenewSignIn(ctx context.Context, old, next auth.Renewal) (auth.Principal, error) {
	var p auth.Principal
	var refused error
	err := s.writer.do(ctx, func(db *gorm.DB) (err error) {
		tx := s.session(context.Background(), db, auth.Principal{Workshop: old.Workshop})
		defer tx.end()
		p, refused, err = WriteTx{ReadTx{tx}}.renew(old, next)
		return tx.result(err)
	})
	if err == nil {
		err = refused
	}
	if err != nil {
		return auth.Principal{}, fmt.Errorf("renewing a sign-in: %w", err)
	}
	return p, nil
}
