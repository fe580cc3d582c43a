package store

// Reason to go round the scope of one workshop: a backup is of all of them,
// made by whoever runs the machine. No request reaches it.

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/klauspost/compress/zstd"

	"wainscot/api/auth"
	"wainscot/migrations"
)

// BackupFormat names the shape of a backup: lines of JSON, zstd. The first
// line says the format, the migration and the moment; then for each workshop a
// line with its id, for each of its tables a line with the name and the
// columns, and a line for each row, in the order of its key; the last line has
// the number of rows and the SHA-256 of all lines between the first and itself.
// Bytes are {"base64": …}. It is the same whichever database it was made from,
// and can be restored into either.
const BackupFormat = "wainscot-backup/1"

// backedUp are the tables of a workshop in an order in which each comes after
// those it refers to, with their keys. Sign-ins are left out: what was ended
// since would be alive again, and signing in anew is no loss.
var backedUp = []struct{ table, key string }{
	{"workshops", "workshop_id"},
	{"counters", "series"},
	{"people", "id"},
	{"kept_answers", "person, request_key"},
	{"settings", "workshop_id"},
	{"releases", "number"},
	{"release_proofs", "release"},
	{"acknowledgements", "release, place"},
	{"editions", "code"},
	{"customers", "id"},
	{"vans", "id"},
	{"enquiries", "id"},
	{"quotes", "id"},
	{"revisions", "quote, number"},
	{"quote_vans", "quote, revision, place"},
	{"acceptances", "quote"},
	{"acceptance_evidence", "quote, place"},
	{"quote_links", "id"},
	{"reservations", "id"},
	{"jobs", "id"},
	{"agreed_prices", "id"},
	{"variations", "id"},
	{"variation_evidence", "variation, place"},
	{"variation_links", "id"},
	{"job_serials", "job, number"},
	{"checks_due", "id"},
	{"job_notes", "job, note"},
	{"job_attachments", "job, number"},
	{"signatories", "id"},
	{"floors", "workshop_id"},
	{"crew", "id"},
	{"slots", "job"},
	{"orders", "id"},
	{"stock", "part"},
	{"stock_movements", "part, number"},
	{"bins", "part"},
	{"substitutes", "id"},
	{"calendar_links", "id"},
	{"books", "workshop_id"},
	{"ledger_entries", "number"},
	{"entry_touches", "account, job, entry"},
	{"ledger_sums", "account, job, treatment, percent, currency"},
	{"receipts", "id"},
	{"placements", "receipt, number"},
	{"invoices", "id"},
	{"take_ons", "workshop_id"},
	{"deposits_taken_on", "id"},
	{"column_maps", "id"},
	{"bank_accounts", "id"},
	{"statements", "id"},
	{"set_aside_rules", "id"},
	{"statement_lines", "id"},
	{"purchases", "workshop_id"},
	{"supplier_invoices", "id"},
	{"supplier_payments", "id"},
	{"stock_vans", "id"},
	{"settlements", "job"},
	{"reconciliations", "id"},
	{"shown_entries", "entry, account"},
	{"journal", "seq"},
}

// notBackedUp are the tables that are left out on purpose.
var notBackedUp = []string{"sign_ins"}

// Backup is what a backup holds.
type Backup struct {
	// Migration its rows are of.
	Migration int64
	MadeAt    time.Time
	Workshops int
	Rows      int64
	// SHA256 of its content, in hexadecimal: of two backups with the same one
	// every row is the same.
	SHA256 string
}

type backupHead struct {
	Format    string    `json:"format"`
	Migration int64     `json:"migration"`
	MadeAt    time.Time `json:"made_at"`
}

type backupTable struct {
	Table   string   `json:"table"`
	Columns []string `json:"columns"`
}

type backupWorkshop struct {
	Workshop uuid.UUID `json:"workshop"`
}

type backupEnd struct {
	Rows   int64  `json:"rows"`
	SHA256 string `json:"sha256"`
}

type backupBytes struct {
	Base64 []byte `json:"base64"`
}

// WriteBackup writes what all workshops have, as it is at one moment, while
// others go on reading and writing. The address is one that Open takes.
func WriteBackup(ctx context.Context, address string, to io.Writer, now time.Time) (Backup, error) {
	b := Backup{Migration: migrations.Latest(), MadeAt: now.UTC().Truncate(time.Second)}
	e, err := engineOf(address, Options{}.filled())
	if err != nil {
		return b, err
	}
	if err := e.check(ctx); err != nil {
		return b, err
	}
	l, err := e.connect(ctx, false)
	if err != nil {
		return b, fmt.Errorf("opening %s to read: %w", e.name(), err)
	}
	defer func() { _ = l.close() }() // it only read
	if err := e.begin(ctx, l, sight{list: true}); err != nil {
		return b, fmt.Errorf("reading %s: %w", e.name(), err)
	}
	packed, err := zstd.NewWriter(to, zstd.WithEncoderConcurrency(1))
	if err != nil {
		return b, err
	}
	w := backupWriter{out: bufio.NewWriter(packed), sum: sha256.New()}
	w.line(backupHead{BackupFormat, b.Migration, b.MadeAt}, false)
	if err := w.workshops(ctx, e, l); err != nil {
		return b, fmt.Errorf("backing up %s: %w", e.name(), err)
	}
	b.Workshops, b.Rows, b.SHA256 = w.count, w.rows, hex.EncodeToString(w.sum.Sum(nil))
	w.line(backupEnd{b.Rows, b.SHA256}, false)
	if err := errors.Join(w.err, w.out.Flush(), packed.Close()); err != nil {
		return b, fmt.Errorf("writing the backup: %w", err)
	}
	return b, nil
}

type backupWriter struct {
	out   *bufio.Writer
	sum   hash.Hash
	count int
	rows  int64
	err   error
}

// line writes one line; counted ones are in the sum.
func (w *backupWriter) line(v any, counted bool) {
	if w.err != nil {
		return
	}
	text, err := json.Marshal(v)
	text = append(text, '\n')
	if err == nil && counted {
		w.sum.Write(text)
	}
	if err == nil {
		_, err = w.out.Write(text)
	}
	w.err = err
}

func (w *backupWriter) workshops(ctx context.Context, e engine, l *line) error {
	ids, err := workshopIDs(ctx, l)
	if err != nil {
		return err
	}
	for _, id := range ids {
		if err := e.see(ctx, l, sight{workshop: id}); err != nil {
			return err
		}
		w.line(backupWorkshop{id}, true)
		w.count++
		for _, t := range backedUp {
			if err := w.table(ctx, l, id, t.table, t.key); err != nil {
				return fmt.Errorf("%s: %w", t.table, err)
			}
		}
	}
	return w.err
}

func workshopIDs(ctx context.Context, l *line) (ids []uuid.UUID, err error) {
	list, err := l.conn.QueryContext(ctx, "SELECT workshop_id FROM workshops ORDER BY workshop_id")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, list.Close()) }()
	for list.Next() {
		var id uuid.UUID
		if err := list.Scan(&id); err != nil {
			return nil, err
		}
		ids = append(ids, id)
	}
	return ids, list.Err()
}

func (w *backupWriter) table(ctx context.Context, l *line, workshop uuid.UUID, table, key string) (err error) {
	columns, err := columnsOf(ctx, l, table)
	if err != nil {
		return err
	}
	w.line(backupTable{table, columns}, true)
	// Names are this program's own, and the id is one.
	query := "SELECT " + strings.Join(columns, ", ") + " FROM " + table + " WHERE workshop_id = '" + workshop.String() + "' ORDER BY " + key //nolint:gosec // as said
	rows, err := l.conn.QueryContext(ctx, query)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	values, into := make([]any, len(columns)), make([]any, len(columns))
	for i := range values {
		into[i] = &values[i]
	}
	for rows.Next() && w.err == nil {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		for i, v := range values {
			switch v := v.(type) {
			case nil, int64, string:
			case []byte:
				values[i] = backupBytes{v}
			default:
				return fmt.Errorf("column %s gives a %T", columns[i], v)
			}
		}
		w.line(values, true)
		w.rows++
	}
	return errors.Join(rows.Err(), w.err)
}

// columnsOf gives a table's columns in the order of their names, which is the
// same in every database.
func columnsOf(ctx context.Context, l *line, table string) (columns []string, err error) {
	none, err := l.conn.QueryContext(ctx, "SELECT * FROM "+table+" WHERE 1 = 0") //nolint:gosec // the table is one of backedUp
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, none.Close()) }()
	if columns, err = none.Columns(); err != nil {
		return nil, err
	}
	slices.Sort(columns)
	return columns, none.Err()
}

// CheckBackup reads a backup to its end and holds it against its own sum.
func CheckBackup(from io.Reader) (Backup, error) {
	return readBackup(from, func(uuid.UUID) error { return nil }, func(string, []string) error { return nil }, func([]any) error { return nil })
}

// Restore puts a backup into a database that holds nothing yet, and proves
// that it is whole: what is then read from the database has the backup's sum,
// and every workshop's journal verifies. Either all of it is restored or
// nothing. For a database file the address must be of one that is not there;
// a PostgreSQL database must have been migrated and have no workshop.
func Restore(ctx context.Context, address string, from io.Reader) (Backup, error) {
	e, err := engineOf(address, Options{}.filled())
	if err != nil {
		return Backup{}, err
	}
	if err := e.check(ctx); err != nil {
		return Backup{}, err
	}
	b, err := restoreRows(ctx, e, from)
	if err != nil {
		return b, fmt.Errorf("restoring into %s: %w", e.name(), err)
	}
	return b, proveRestored(ctx, address, b)
}

func restoreRows(ctx context.Context, e engine, from io.Reader) (b Backup, err error) {
	l, err := e.connect(ctx, true)
	if err != nil {
		return b, err
	}
	defer func() { err = errors.Join(err, l.close()) }()
	if err := e.begin(ctx, l, sight{list: true}); err != nil {
		return b, err
	}
	defer func() { err = errors.Join(err, l.rollback(context.WithoutCancel(ctx))) }()
	var there int
	if err := l.conn.QueryRowContext(ctx, "SELECT count(*) FROM workshops").Scan(&there); err != nil {
		return b, err
	}
	if there > 0 {
		return b, fmt.Errorf("%w: it has %d workshops already; restore into an empty one", ErrRefused, there)
	}
	insert := ""
	b, err = readBackup(from,
		func(id uuid.UUID) error { return e.see(ctx, l, sight{workshop: id}) },
		func(table string, columns []string) error {
			places := make([]string, len(columns))
			for i := range places {
				places[i] = fmt.Sprintf("$%d", i+1)
			}
			insert = "INSERT INTO " + table + " (" + strings.Join(columns, ", ") + ") VALUES (" + strings.Join(places, ", ") + ")"
			return nil
		},
		func(row []any) error {
			_, err := l.conn.ExecContext(ctx, insert, row...)
			return plain(err)
		})
	if err != nil {
		return b, err
	}
	return b, e.commit(ctx, l)
}

// proveRestored reads everything back.
func proveRestored(ctx context.Context, address string, b Backup) error {
	again, err := WriteBackup(ctx, address, io.Discard, b.MadeAt)
	if err != nil {
		return fmt.Errorf("reading back what was restored: %w", err)
	}
	if again.SHA256 != b.SHA256 {
		return fmt.Errorf("%w: what was restored has the sum %s and the backup %s", ErrDocument, again.SHA256, b.SHA256)
	}
	s, err := Open(ctx, address, Options{Readers: 1})
	if err != nil {
		return err
	}
	defer func() { _ = s.Close() }()
	list, err := s.Workshops(ctx)
	if err != nil {
		return err
	}
	for _, w := range list {
		err := s.read(ctx, sight{workshop: w.ID}, func(l *line) error {
			tx := s.session(ctx, l, auth.Principal{Workshop: w.ID})
			defer tx.end()
			_, err := ReadTx{tx}.VerifyJournal()
			return err
		})
		if err != nil {
			return fmt.Errorf("workshop %s: %w", w.Code, err)
		}
	}
	return nil
}

// maxBackupLine is the most bytes one row may have: a document and what base64
// adds to it, with room.
const maxBackupLine = 2 * MaxDocument

// errNotABackup: the file is cut short, damaged, or something else.
var errNotABackup = errors.New("it is no whole backup")

// readBackup reads a backup line by line and hands on what it is of. It gives
// what the backup holds once its sum has been found to be right.
func readBackup(from io.Reader, workshop func(uuid.UUID) error, table func(string, []string) error, row func([]any) error) (Backup, error) {
	var b Backup
	unpacked, err := zstd.NewReader(from, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(64<<20))
	if err != nil {
		return b, err
	}
	defer unpacked.Close()
	lines := bufio.NewScanner(unpacked)
	lines.Buffer(make([]byte, 64<<10), maxBackupLine)
	var head backupHead
	if !lines.Scan() || json.Unmarshal(lines.Bytes(), &head) != nil || head.Format != BackupFormat {
		return b, fmt.Errorf("%w: it does not begin with the format %s", errNotABackup, BackupFormat)
	}
	b.Migration, b.MadeAt = head.Migration, head.MadeAt
	if need := migrations.Latest(); b.Migration != need {
		return b, fmt.Errorf("%w: the backup is of migration %d and this program is at %d: restore it with the program it was made with, then migrate", ErrSchema, b.Migration, need)
	}
	r := backupReader{workshop: workshop, table: table, row: row, sum: sha256.New(), next: -1}
	for lines.Scan() {
		if r.end != nil {
			return b, fmt.Errorf("%w: something follows its end", errNotABackup)
		}
		if err := r.line(lines.Bytes()); err != nil {
			return b, err
		}
	}
	if err := lines.Err(); err != nil {
		return b, fmt.Errorf("%w: %w", errNotABackup, err)
	}
	b.Workshops, b.Rows, b.SHA256 = r.count, r.rows, hex.EncodeToString(r.sum.Sum(nil))
	if r.end == nil || r.end.Rows != b.Rows || r.end.SHA256 != b.SHA256 {
		return b, fmt.Errorf("%w: its end does not agree with what stands before it", errNotABackup)
	}
	return b, nil
}

type backupReader struct {
	workshop func(uuid.UUID) error
	table    func(string, []string) error
	row      func([]any) error
	sum      hash.Hash
	count    int
	rows     int64
	next     int // of backedUp, the table whose rows may come
	columns  int
	end      *backupEnd
}

func (r *backupReader) line(text []byte) error {
	if bytes.HasPrefix(text, []byte("[")) {
		r.add(text)
		return r.aRow(text)
	}
	var l struct {
		backupWorkshop
		backupTable
		backupEnd
	}
	if err := json.Unmarshal(text, &l); err != nil {
		return fmt.Errorf("%w: %w", errNotABackup, err)
	}
	switch {
	case l.SHA256 != "":
		r.end = &l.backupEnd
		return nil
	case l.Workshop != uuid.Nil:
		r.add(text)
		r.count++
		r.next = -1
		return r.workshop(l.Workshop)
	}
	r.add(text)
	r.next++
	// The names go into a statement: they must be those this program knows.
	if r.next >= len(backedUp) || backedUp[r.next].table != l.Table || !plainNames(l.Columns) {
		return fmt.Errorf("%w: table %q stands where it cannot", errNotABackup, clipped(l.Table))
	}
	r.columns = len(l.Columns)
	return r.table(l.Table, l.Columns)
}

func (r *backupReader) add(text []byte) {
	r.sum.Write(text)
	r.sum.Write([]byte("\n"))
}

func (r *backupReader) aRow(text []byte) error {
	var row []any
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	if err := d.Decode(&row); err != nil {
		return fmt.Errorf("%w: %w", errNotABackup, err)
	}
	if len(row) != r.columns || r.next < 0 {
		return fmt.Errorf("%w: a row of %d values for %d columns", errNotABackup, len(row), r.columns)
	}
	for i, v := range row {
		switch v := v.(type) {
		case nil, string:
		case json.Number:
			n, err := v.Int64()
			if err != nil {
				return fmt.Errorf("%w: %w", errNotABackup, err)
			}
			row[i] = n
		case map[string]any:
			text, _ := v["base64"].(string)
			b, err := base64.StdEncoding.DecodeString(text)
			if err != nil || len(v) != 1 {
				return fmt.Errorf("%w: a value is not bytes in base64", errNotABackup)
			}
			row[i] = b
		default:
			return fmt.Errorf("%w: a value of a kind no row has", errNotABackup)
		}
	}
	r.rows++
	return r.row(row)
}

// plainNames are words of small letters, digits and underscores.
func plainNames(names []string) bool {
	for _, n := range names {
		if n == "" || strings.Trim(n, "abcdefghijklmnopqrstuvwxyz0123456789_") != "" {
			return false
		}
	}
	return len(names) > 0
}

func clipped(s string) string {
	const most = 60
	if len(s) > most {
		return strings.ToValidUTF8(s[:most], "") + "…"
	}
	return s
}
