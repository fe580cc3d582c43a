package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"gorm.io/gorm"

	"wainscot/api/auth"
)

// ReadTx reads the rows of one workshop at one moment. It is good until the
// closure it was given to returns.
type ReadTx struct{ s *session }

// WriteTx reads and writes the rows of one workshop.
type WriteTx struct{ ReadTx }

// Principal is whom the transaction acts for.
func (t ReadTx) Principal() auth.Principal { return t.s.as }

// Now is the moment of the transaction: one and the same however often it is
// asked, in UTC, to the microsecond.
func (t ReadTx) Now() time.Time { return t.s.now }

// GroundWrites counts what this program had been given to write, before the
// transaction began, of what workshops are, have set and offer: releases,
// editions, settings. What was read at one count is as good as read anew at the
// same count, as far as this program writes.
func (t ReadTx) GroundWrites() int64 { return t.s.groundWrites }

// NewID makes an id for something new.
func (t WriteTx) NewID() uuid.UUID { return t.s.newID() }

// session is what a transaction knows.
type session struct {
	ctx  context.Context
	line *line
	// begin gives the line of a session that has none yet.
	begin func() (*line, error)
	as    auth.Principal
	now   time.Time
	newID func() uuid.UUID
	head  *JournalHead // last line of the journal, once asked for
	over  bool
	// stand is the group's, nil where nothing is written; shuts says that this
	// write has changed a sign-in or a person, so that what is found of
	// them now may be undone with it.
	stand map[auth.Principal]bool
	shuts bool
	// ground: what the workshop is, has set or offers was written.
	ground bool
	// groundWrites is how many such writes there had been when it began.
	groundWrites int64
	// failed is the first error of the database itself. The transaction is
	// not carried on after it, whatever the closure makes of it: a database
	// other than SQLite would refuse to.
	failed error
}

func (s *Store) session(ctx context.Context, l *line, as auth.Principal) *session {
	return &session{ctx: ctx, line: l, as: as, now: s.now(), newID: s.options.NewID}
}

func (s *Store) now() time.Time { return s.options.Now().UTC().Truncate(time.Microsecond) }

func (s *session) end() { s.over = true }

// result is the closure's error, or what the closure passed over in silence.
func (s *session) result(err error) error {
	if err == nil || passing(s.failed) {
		return s.failed
	}
	return err
}

// writesTo is told of every table before a row of it is written.
func (s *session) writesTo(table string) {
	if table == signInsTable || table == peopleTable {
		s.shuts = true
		clear(s.stand)
	}
}

// note keeps a database error and gives it in the store's words.
func (s *session) note(err error) error {
	if err == nil || errors.Is(err, ErrOver) {
		return err
	}
	err = plain(err)
	if s.failed == nil && !errors.Is(err, ErrNotFound) && !errors.Is(err, ErrStale) {
		s.failed = err
	}
	return err
}

// usable gives gorm, or says why not.
func (s *session) usable() (*gorm.DB, error) {
	switch {
	case s.over:
		return nil, ErrOver
	case s.ctx.Err() != nil:
		return nil, s.ctx.Err() // PostgreSQL's driver would give up the connection
	case s.failed != nil:
		return nil, fmt.Errorf("after an error in the same transaction: %w", s.failed)
	case s.line == nil:
		if s.line, s.failed = s.begin(); s.failed != nil {
			return nil, s.failed
		}
	}
	return s.line.gorm.WithContext(s.ctx), nil
}

const ofTheWorkshop = "workshop_id = ?"

// rows are a workshop's rows of the table that R is a row of, narrowed down by
// where. There is no way to make one without the workshop in it, and gorm does
// not come out of it.
type rows[R any] struct {
	s          *session
	conditions []condition
	by         []string
	err        error
}

// of gives all the workshop's rows of R's table.
func of[R any](t ReadTx) rows[R] {
	_, err := t.s.usable()
	return rows[R]{s: t.s, err: err}
}

// where narrows down. The condition is put in brackets, so that an OR in it
// cannot open the scope.
func (r rows[R]) where(says string, values ...any) rows[R] {
	r.conditions = append(slices.Clip(r.conditions), condition{says, values})
	return r
}

// order sorts by the columns as SQL names them.
func (r rows[R]) order(by string) rows[R] {
	r.by = append(slices.Clip(r.by), by)
	return r
}

// query is gorm's, for what is not asked a hundred times a second.
func (r rows[R]) query() *gorm.DB {
	q := r.s.line.gorm.WithContext(r.s.ctx).Model(new(R)).Where(ofTheWorkshop, r.s.as.Workshop)
	for _, c := range r.conditions {
		q = q.Where("("+c.says+")", c.values...)
	}
	for _, by := range r.by {
		q = q.Order(by)
	}
	return q
}

// one is the row there is, or ErrNotFound.
func (r rows[R]) one() (row R, err error) {
	found, err := r.first(1)
	switch {
	case err != nil:
		return row, err
	case len(found) == 0:
		return row, ErrNotFound
	}
	return found[0], nil
}

// first at most so many rows; none is no error.
func (r rows[R]) first(n int) ([]R, error) {
	if r.err != nil {
		return nil, r.err
	}
	list, err := r.taken(n)
	return list, r.s.note(err)
}

// all rows, for what a workshop has few of.
func (r rows[R]) all() ([]R, error) { return r.first(-1) }

// each is what rows stand for, in their order.
func each[R, T any](found []R, what func(*R) (T, error)) ([]T, error) {
	list := make([]T, len(found))
	for i := range found {
		var err error
		if list[i], err = what(&found[i]); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// count is how many rows there are.
func (r rows[R]) count() (int, error) {
	if r.err != nil {
		return 0, r.err
	}
	var n int64
	err := r.s.note(r.query().Count(&n).Error)
	return int(n), err
}

// set changes columns of the one row there is. It is the one place that turns
// "no row was changed" into an error; the caller says in absent which.
// Columns are given by name: gorm leaves zero values of a struct out, and a
// total of nothing is a total.
func (r rows[R]) set(columns map[string]any, absent error) error {
	if r.err != nil {
		return r.err
	}
	r.s.writesTo(tableOf[R]())
	n, err := r.put(columns)
	if err == nil && n == 0 {
		return absent
	}
	return r.s.note(err)
}

// remove deletes the rows; none is no error.
func (r rows[R]) remove() error {
	if r.err != nil {
		return r.err
	}
	r.s.writesTo(tableOf[R]())
	return r.s.note(r.query().Delete(new(R)).Error)
}

// tableOf is the table that R is a row of.
func tableOf[R any]() string {
	if row, ok := any(new(R)).(tabled); ok {
		return row.TableName()
	}
	return ""
}

// bound is a row that belongs to a workshop.
type bound interface {
	tabled
	// bind puts the workshop into the row's key.
	bind(workshop uuid.UUID)
}

// thing is a row that is written with a line in the journal.
type thing interface {
	bound
	// journalled is how the journal calls the thing, and a digest of what
	// is in the row that holds no personal data.
	journalled() (noun, id string, content []byte)
}

// insert writes a new row of the workshop, and its line in the journal.
func insert(t WriteTx, verb string, row thing) error {
	row.bind(t.s.as.Workshop)
	if err := t.s.put(row); err != nil {
		return err
	}
	noun, id, content := row.journalled()
	return t.append(verb, noun, id, content)
}

// jot writes a new row of the workshop without a line in the journal: for
// what is no fact of the workshop's, such as an answer kept for a request that
// is sent again.
func jot(t WriteTx, row bound) error {
	row.bind(t.s.as.Workshop)
	return t.s.put(row)
}

// jotAll is jot for many rows of one type, whose facts a digest in the journal
// covers otherwise.
func jotAll(t WriteTx, rows []bound) error {
	for _, row := range rows {
		row.bind(t.s.as.Workshop)
	}
	return t.s.putAll(rows)
}

// change writes columns of the row that where narrows down to, and its line
// in the journal. row is what the row is afterwards.
func change[R any](t WriteTx, verb string, where rows[R], columns map[string]any, absent error, row thing) error {
	if err := where.set(columns, absent); err != nil {
		return err
	}
	noun, id, content := row.journalled()
	return t.append(verb, noun, id, content)
}

// nextNumber counts a series up by one. The number is given back when the
// transaction is rolled back, so a series has no gaps.
func nextNumber(t WriteTx, series string) (int64, error) {
	if _, err := t.s.usable(); err != nil {
		return 0, err
	}
	var number int64
	err := t.s.line.conn.QueryRowContext(t.s.ctx, `INSERT INTO counters (workshop_id, series, last) VALUES ($1, $2, 1)
		ON CONFLICT (workshop_id, series) DO UPDATE SET last = counters.last + 1 RETURNING last`,
		t.s.as.Workshop, series).Scan(&number)
	return number, t.s.note(err)
}

// keep writes a journal line as it stands; only append may call it.
func (s *session) keep(line *journalRow) error {
	line.WorkshopID = s.as.Workshop
	return s.put(line)
}
