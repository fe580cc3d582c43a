package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"wainscot/api/auth"
	"wainscot/api/store/storetest"
)

// raw is a connection to a database as the role in the address, without
// anything of the store on it.
func raw(t *testing.T, address string) *sql.Conn {
	t.Helper()
	p, err := postgresAt(address)
	if err != nil {
		t.Fatal(err)
	}
	db := p.pool(func(context.Context, *pgx.Conn) error { return nil })
	c, err := db.Conn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _, _ = c.Close(), db.Close() })
	return c
}

// asOther runs statements behind the store's back, as the superuser.
func asOther(t *testing.T, address, statements string) {
	t.Helper()
	if err := otherLine(t, address).exec(context.Background(), statements); err != nil {
		t.Fatal(err)
	}
}

// The migrations of the two databases come to the same tables, columns, keys
// and indexes.
func TestBothSchemasAreOne(t *testing.T) {
	t.Parallel()
	storetest.NeedsPostgres(t)
	path := filepath.Join(t.TempDir(), "new.db")
	if _, err := Migrate(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	file, server := tablesOf(t, otherLine(t, path)), tablesOf(t, otherLine(t, fresh(t)))
	for name := range server {
		if _, there := file[name]; !there {
			t.Errorf("only PostgreSQL has %s", name)
		}
	}
	for name, one := range file {
		other, there := server[name]
		if !there {
			t.Errorf("only SQLite has %s", name)
			continue
		}
		for what, pair := range map[string][2]string{
			"columns":     {fmt.Sprint(one.columns), fmt.Sprint(other.columns)},
			"primary key": {fmt.Sprint(one.primary), fmt.Sprint(other.primary)},
			"unique keys": {sorted(one.unique, false), sorted(other.unique, false)}, // named by SQLite itself
			"indexes":     {sorted(one.plain, true), sorted(other.plain, true)},
			"references":  {fmt.Sprint(foreign(one)), fmt.Sprint(foreign(other))},
		} {
			if pair[0] != pair[1] {
				t.Errorf("%s: the %s are\n%s in SQLite and\n%s in PostgreSQL", name, what, pair[0], pair[1])
			}
		}
	}
}

func sorted(keys map[string][]string, named bool) string {
	var all []string
	for name, over := range keys {
		if !named {
			name = ""
		}
		all = append(all, name+fmt.Sprint(over))
	}
	slices.Sort(all)
	return strings.Join(all, " ")
}

func foreign(f tableFacts) (all []string) {
	for _, k := range f.foreign {
		all = append(all, fmt.Sprint(k))
	}
	slices.Sort(all)
	return all
}

// Trap: row-level security does nothing for the owner unless forced, and a
// setting that outlives its transaction shows one workshop's rows to the next.
// So, past the store's own scope: every table, as the role that serves and as
// the owner.
func TestRowsAreLockedASecondTime(t *testing.T) {
	t.Parallel()
	storetest.NeedsPostgres(t)
	address := fresh(t)
	s := open(t, address, steady())
	one, two := workshop(t, s, "fenland"), workshop(t, s, "moorside")
	addQuote(t, s, one, "theirs")
	addQuote(t, s, two, "ours")
	tables := tablesOf(t, otherLine(t, address))
	for role, as := range map[string]*sql.Conn{"serving": raw(t, address), "owning": raw(t, toMigrate(t, address))} {
		for name := range tables {
			for setting, want := range map[string]string{
				"":                                "",
				"''":                              "",
				"'no'":                            "",
				"'" + two.Workshop.String() + "'": two.Workshop.String(),
				"'' OR true":                      "refused",
			} {
				if got := seen(t, as, name, setting); got != want && (got != "" || !slices.Contains(unused(tables), name)) {
					t.Errorf("%s, with %q set, %s shows the rows of %q, want %q", role, setting, name, got, want)
				}
			}
			// Nothing is left of it on the same connection.
			if got := seen(t, as, name, ""); got != "" {
				t.Errorf("%s, afterwards, %s shows the rows of %q", role, name, got)
			}
		}
		for _, statement := range []string{
			"UPDATE workshops SET name = 'taken' WHERE workshop_id = $1",
			"UPDATE counters SET last = 99 WHERE workshop_id = $1",
			"INSERT INTO counters (workshop_id, series, last) VALUES ($1, 'x', 1)",
		} {
			if n := written(t, as, two.Workshop, statement, one.Workshop); n != 0 {
				t.Errorf("%s, as one workshop, %q changed %d rows of another", role, statement, n)
			}
		}
	}
}

// unused are the tables in which the test has no rows.
func unused(tables map[string]tableFacts) (names []string) {
	for name := range tables {
		if !slices.Contains([]string{"workshops", "counters", "people", "releases", "editions", "quotes", "journal"}, name) {
			names = append(names, name)
		}
	}
	return names
}

// seen lists the workshops whose rows of a table a transaction sees.
func seen(t *testing.T, c *sql.Conn, table, setting string) string {
	t.Helper()
	tx, err := c.BeginTx(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = tx.Rollback() }()
	if setting != "" {
		if _, err := tx.ExecContext(t.Context(), "SET LOCAL wainscot.workshop = "+setting); err != nil {
			return "refused"
		}
	}
	var all sql.NullString
	err = tx.QueryRowContext(t.Context(), "SELECT string_agg(DISTINCT workshop_id, ' ') FROM "+table).Scan(&all)
	if err != nil {
		t.Fatalf("%s: %v", table, err)
	}
	return all.String
}

// written is how many rows a statement changes when a workshop is set.
func written(t *testing.T, c *sql.Conn, as uuid.UUID, statement string, args ...any) int64 {
	t.Helper()
	tx, err := c.BeginTx(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = tx.Rollback() }()
	if _, err := tx.ExecContext(t.Context(), "SELECT set_config('wainscot.workshop', $1, true)", as.String()); err != nil {
		t.Fatal(err)
	}
	done, err := tx.ExecContext(t.Context(), statement, args...)
	if err != nil {
		return 0
	}
	n, err := done.RowsAffected()
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// Every table of a workshop's has the one policy, forced; the role that serves
// may empty none, and of what is append-only change and remove nothing.
func TestWhatTheServerMayDo(t *testing.T) {
	t.Parallel()
	storetest.NeedsPostgres(t)
	l := otherLine(t, fresh(t))
	appendOnly := []string{"journal", "releases", "editions"}
	for name := range tablesOf(t, l) {
		policies := ask(t, l, `SELECT polname, polcmd::text, pg_get_expr(polqual, polrelid), coalesce(pg_get_expr(polwithcheck, polrelid), '')
			FROM pg_policy WHERE polrelid = to_regclass($1) ORDER BY polname`, name)
		const own = "(workshop_id = current_setting('wainscot.workshop'::text, true))"
		for _, p := range policies {
			switch {
			case p[0] == "of_the_workshop" && p[1] == "*" && p[2] == own && p[3] == "":
			case name == "workshops" && p[1] == "r": // by its code, and for the operator's list
			default:
				t.Errorf("%s has a policy %v", name, p)
			}
		}
		if len(policies) == 0 {
			t.Errorf("%s has no policy", name)
		}
		forced := ask(t, l, `SELECT relrowsecurity AND relforcerowsecurity FROM pg_class WHERE oid = to_regclass($1)`, name)
		if forced[0][0] != "true" {
			t.Errorf("%s is not forced", name)
		}
		granted := column(ask(t, l, `SELECT privilege_type FROM information_schema.role_table_grants WHERE grantee = 'wainscot_app' AND table_name = $1`, name))
		for _, g := range granted {
			if g != "SELECT" && g != "INSERT" && (slices.Contains(appendOnly, name) || g != "UPDATE" && g != "DELETE") {
				t.Errorf("%s on %s is granted", g, name)
			}
		}
	}
}

// A role that the row-level security does not hold must not serve, nor may it
// on a table that has lost its lock.
func TestUnsafeServersAreRefused(t *testing.T) {
	t.Parallel()
	storetest.NeedsPostgres(t)
	d := storetest.Fresh(t)
	for who, address := range map[string]string{"a superuser": d.Superuser, "the owner": d.Owner} {
		if s, err := Open(t.Context(), address, steady()); !errors.Is(err, ErrUnsafe) {
			t.Errorf("%s serves: %v, %v", who, s, err)
		}
	}
	for _, c := range []struct{ spoil, mend string }{
		{"ALTER TABLE quotes NO FORCE ROW LEVEL SECURITY", "ALTER TABLE quotes FORCE ROW LEVEL SECURITY"},
		{"ALTER TABLE people DISABLE ROW LEVEL SECURITY", "ALTER TABLE people ENABLE ROW LEVEL SECURITY"},
		{"CREATE TABLE extra (workshop_id text)", "DROP TABLE extra"},
		{"REVOKE SELECT ON goose_db_version FROM wainscot_app", "GRANT SELECT ON goose_db_version TO wainscot_app"},
	} {
		asOther(t, d.Serve, c.spoil)
		if s, err := Open(t.Context(), d.Serve, steady()); !errors.Is(err, ErrUnsafe) {
			t.Errorf("after %s: %v, %v", c.spoil, s, err)
		}
		asOther(t, d.Serve, c.mend)
	}
	workshop(t, open(t, d.Serve, steady()), "fenland")
}

// A server's own default for what a commit means is overruled.
func TestCommitsAreFlushedWhateverTheServersDefault(t *testing.T) {
	t.Parallel()
	storetest.NeedsPostgres(t)
	d := storetest.Fresh(t)
	name := ask(t, otherLine(t, d.Serve), "SELECT current_database()")[0][0]
	asOther(t, d.Serve, `ALTER DATABASE "`+name+`" SET synchronous_commit = off`)
	s := open(t, d.Serve, steady())
	for _, l := range []*line{s.writer.hands[0].line, (<-s.readers).line} {
		if got := ask(t, l, "SHOW synchronous_commit")[0][0]; got != "on" {
			t.Errorf("synchronous_commit is %s", got)
		}
		if !l.writes {
			s.readers <- &reader{l}
		}
	}
}

// Trap: a password in the address comes out in an error or a log.
func TestPasswordIsNeverShown(t *testing.T) {
	t.Parallel()
	const secret = "hunter-2-secret"
	addresses := []string{
		"postgres://app:" + secret + "@127.0.0.1:1/wainscot",
		"postgres://app@127.0.0.1:1/wainscot?password=" + secret,
		"postgres://app:" + secret + "@127.0.0.1:not-a-port/wainscot",
		"postgres://app:" + secret + "%zz@127.0.0.1/wainscot",
		"postgresql://app:" + secret + "@[::1/wainscot?sslmode=no-such",
		"postgres://app:" + secret + "@127.0.0.1:1/wainscot?sslmode=no-such",
	}
	if storetest.OnPostgres() {
		d := storetest.Fresh(t)
		addresses = append(addresses, strings.Replace(d.Serve, "for-tests-only", secret, 1)+"?application_name=x",
			strings.Replace(d.Serve, "wainscot_test_app:for-tests-only", "nobody_here:"+secret, 1))
	}
	for _, address := range addresses {
		s, err := Open(t.Context(), address, Options{})
		if err == nil {
			err = s.Close() // a server that trusts everybody
		}
		_, other := Migrate(t.Context(), address)
		for _, said := range []string{fmt.Sprint(err), fmt.Sprint(other), Shown(address)} {
			if strings.Contains(said, secret) {
				t.Errorf("%s\nsays the password", said)
			}
		}
	}
	if got, want := Shown("postgres://app:x@db.example:5433/wainscot?password=y"), "postgres://app@db.example:5433/wainscot"; got != want {
		t.Errorf("shown as %s, want %s", got, want)
	}
	if got := Shown("file:some.db"); got != "file:some.db" {
		t.Errorf("a file is shown as %s", got)
	}
}

// While one workshop's write runs, another's goes through; a second of the
// same waits.
func TestWorkshopsAreWrittenSideBySide(t *testing.T) {
	t.Parallel()
	storetest.NeedsPostgres(t)
	address := fresh(t)
	s, other := open(t, address, Options{}), open(t, address, Options{})
	one, two := workshop(t, s, "fenland"), workshop(t, s, "moorside")
	release := held(t, s, one, nil)
	addQuote(t, s, two, "beside")
	addQuote(t, other, two, "beside, from another process")
	behind := make(chan error, 1)
	go func() { behind <- writeQuote(other, one, "behind") }()
	l := otherLine(t, address)
	for waiting := "0"; waiting != "1"; {
		waiting = ask(t, l, "SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND NOT granted")[0][0]
		select {
		case err := <-behind:
			t.Errorf("two processes wrote to one workshop at once: %v", err)
			behind <- err
			waiting = "1"
		default:
		}
	}
	release()
	if err := <-behind; err != nil {
		t.Error(err)
	}
	sound(t, s, one)
	sound(t, s, two)
}

// Somebody who keeps a workshop locked is not waited for without end.
func TestLockThatIsNotGivenBack(t *testing.T) {
	t.Parallel()
	storetest.NeedsPostgres(t)
	address := fresh(t)
	s := open(t, address, Options{})
	p := workshop(t, s, "fenland")
	l := otherLine(t, address)
	lock := fmt.Sprintf("(%d)", workshopLock(p.Workshop))
	if err := l.exec(t.Context(), "SELECT pg_advisory_lock"+lock); err != nil {
		t.Fatal(err)
	}
	if err := writeQuote(s, p, "in vain"); !errors.Is(err, ErrNotStored) {
		t.Errorf("answered %v, want ErrNotStored", err)
	}
	if err := l.exec(t.Context(), "SELECT pg_advisory_unlock"+lock); err != nil {
		t.Fatal(err)
	}
	addQuote(t, s, p, "next")
	if seen := sound(t, s, p); seen["in vain"] != 0 {
		t.Errorf("stored: %v", seen)
	}
}

// spoiled makes every new line of the journal run a statement, at once or at
// the commit.
func spoiled(t *testing.T, address, when, statement string) (mend func()) {
	t.Helper()
	constraint, timing := "", "AFTER INSERT ON journal FOR EACH ROW"
	if when == "at the commit" {
		constraint, timing = "CONSTRAINT", "AFTER INSERT ON journal DEFERRABLE INITIALLY DEFERRED FOR EACH ROW"
	}
	asOther(t, address, `CREATE SEQUENCE tries; GRANT USAGE ON SEQUENCE tries TO PUBLIC;
		CREATE FUNCTION spoil() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN `+statement+`; RETURN NULL; END $$;
		CREATE `+constraint+` TRIGGER spoil `+timing+` EXECUTE FUNCTION spoil()`)
	return func() {
		t.Helper()
		asOther(t, address, `DROP TRIGGER spoil ON journal; DROP FUNCTION spoil; DROP SEQUENCE tries`)
	}
}

// A transaction that the database gives up for the sake of another is run
// again, within bounds, with all of its group.
func TestGivenUpForAnotherIsRunAgain(t *testing.T) {
	t.Parallel()
	storetest.NeedsPostgres(t)
	for _, code := range []string{pgSerializationFailure, pgDeadlock} {
		address := fresh(t)
		s := open(t, address, Options{})
		p := workshop(t, s, "fenland")
		mend := spoiled(t, address, "at once", `IF nextval('tries') <= 2 THEN RAISE EXCEPTION USING ERRCODE = '`+code+`'; END IF`)
		release := held(t, s, p, nil)
		var all sync.WaitGroup
		for i := range 3 {
			all.Go(func() { addQuote(t, s, p, fmt.Sprint("van ", i)) })
		}
		queued(s, 3)
		release()
		all.Wait()
		if again := s.Stats().Again; again != 2 {
			t.Errorf("%s: run again %d times, want 2", code, again)
		}
		mend()
		mend = spoiled(t, address, "at once", `RAISE EXCEPTION USING ERRCODE = '`+code+`'`)
		if err := writeQuote(s, p, "never"); !errors.Is(err, ErrNotStored) {
			t.Errorf("%s without end: %v, want ErrNotStored", code, err)
		}
		if again := s.Stats().Again; again != 2+mostAgain {
			t.Errorf("%s without end: run again %d times", code, again-2)
		}
		mend()
		addQuote(t, s, p, "next")
		if seen := sound(t, s, p); len(seen) != 4 || seen["never"] != 0 {
			t.Errorf("stored: %v", seen)
		}
	}
}

// A failed commit is unknown, whether the server says why or is gone.
func TestFailedCommitOfAServerIsUnknown(t *testing.T) {
	t.Parallel()
	storetest.NeedsPostgres(t)
	for name, statement := range map[string]string{
		"it says why": `RAISE EXCEPTION 'no'`,
		"it is gone":  `PERFORM pg_terminate_backend(pg_backend_pid())`,
	} {
		address := fresh(t)
		s := open(t, address, Options{})
		p := workshop(t, s, "fenland")
		mend := spoiled(t, address, "at the commit", statement)
		if err := writeQuote(s, p, "unknown"); !errors.Is(err, ErrUnknown) {
			t.Errorf("%s: %v, want ErrUnknown", name, err)
		}
		mend()
		addQuote(t, s, p, "next")
		if seen := sound(t, s, p); seen["unknown"] != 0 || seen["next"] != 1 {
			t.Errorf("%s: stored: %v", name, seen)
		}
		if n := s.Stats().Unknown; n != 1 {
			t.Errorf("%s: %d commits were counted unknown", name, n)
		}
	}
}

// A server that has been restarted is found again, by readers and writers;
// what was being written when it went is not stored.
func TestServerThatWasRestarted(t *testing.T) {
	t.Parallel()
	storetest.NeedsPostgres(t)
	address := fresh(t)
	s := open(t, address, Options{})
	p := workshop(t, s, "fenland")
	l := otherLine(t, address)
	gone := func() {
		ask(t, l, `SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()`)
	}
	gone()
	addQuote(t, s, p, "after the first time")
	for range cap(s.readers) + 1 {
		read(t, s, p, func(tx ReadTx) error { _, err := tx.Workshop(); return err })
	}
	err := s.As(p).Write(t.Context(), func(tx WriteTx) error {
		if _, err := tx.Workshop(); err != nil {
			return err
		}
		gone()
		_, err := tx.CreateQuote(content("meanwhile"))
		return err
	})
	if !errors.Is(err, ErrNotStored) {
		t.Errorf("a write it went away under: %v, want ErrNotStored", err)
	}
	err = s.As(p).Read(t.Context(), func(tx ReadTx) error {
		if _, err := tx.Workshop(); err != nil {
			return err
		}
		gone()
		_, err := tx.Workshop()
		return err
	})
	if !errors.Is(err, ErrNotStarted) {
		t.Errorf("a read it went away under: %v, want ErrNotStarted", err)
	}
	addQuote(t, s, p, "after the second time")
	if seen := sound(t, s, p); len(seen) != 2 || seen["meanwhile"] != 0 {
		t.Errorf("stored: %v", seen)
	}
}

// A query whose caller has gone is stopped on the server, and the connection
// serves the next.
func TestQueryWhoseCallerHasGone(t *testing.T) {
	t.Parallel()
	storetest.NeedsPostgres(t)
	address := fresh(t)
	s := open(t, address, Options{Readers: 1})
	p := workshop(t, s, "fenland")
	l := otherLine(t, address)
	ctx, cancel := context.WithCancel(t.Context())
	answered := make(chan error, 1)
	pid := ""
	asked := make(chan struct{})
	go func() {
		answered <- s.read(ctx, sight{workshop: p.Workshop}, func(l *line) error {
			pid = ask(t, l, "SELECT pg_backend_pid()")[0][0]
			close(asked)
			_, err := l.conn.ExecContext(ctx, "SELECT pg_sleep(600)")
			return err
		})
	}()
	<-asked
	running := func() bool {
		return len(ask(t, l, "SELECT 1 FROM pg_stat_activity WHERE pid = $1::int AND state = 'active' AND query LIKE '%pg_sleep%'", pid)) > 0
	}
	for !running() {
	}
	cancel()
	if err := <-answered; !errors.Is(err, context.Canceled) {
		t.Errorf("answered %v", err)
	}
	if running() {
		t.Error("the server is still at it")
	}
	read(t, s, p, func(ReadTx) error { return nil })
	if now := (<-s.readers); ask(t, now.line, "SELECT pg_backend_pid()")[0][0] != pid {
		t.Error("the connection was thrown away")
	} else {
		s.readers <- now
	}
}

// A principal of one workshop who reaches past the store's scope still finds
// the second lock closed.
func TestScopeTakenOutOfAQuery(t *testing.T) {
	t.Parallel()
	storetest.NeedsPostgres(t)
	s := open(t, fresh(t), steady())
	one, two := workshop(t, s, "fenland"), workshop(t, s, "moorside")
	addQuote(t, s, one, "theirs")
	for name, run := range map[string]func(auth.Principal, func(*line) error) error{
		"read": func(p auth.Principal, fn func(*line) error) error {
			return s.read(t.Context(), sight{workshop: p.Workshop}, fn)
		},
		"write": func(p auth.Principal, fn func(*line) error) error {
			return s.writer.do(t.Context(), p.Workshop, func(l *line, _ *group) error { return fn(l) })
		},
	} {
		for p, want := range map[auth.Principal]int64{one: 1, two: 0} {
			err := run(p, func(l *line) error {
				var n int64
				err := l.gorm.Model(new(quoteRow)).Count(&n).Error
				if n != want {
					t.Errorf("%s: a query without its workshop finds %d quotes, want %d", name, n, want)
				}
				return err
			})
			if err != nil {
				t.Error(err)
			}
		}
	}
}
