package store

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/klauspost/compress/zstd"
	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/api/store/storetest"
	"wainscot/migrations"
)

var update = flag.Bool("update", false, "write the old database of the newest migration, if there is none yet, and what all of them hold")

func TestMigrateMakesADatabase(t *testing.T) {
	t.Parallel()
	storetest.NeedsSQLite(t)
	path := filepath.Join(t.TempDir(), "new.db")
	if _, err := Open(t.Context(), path, Options{}); !errors.Is(err, ErrSchema) {
		t.Errorf("opening what is not there: %v, want ErrSchema", err)
	}
	if _, err := os.Stat(path); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("opening it made it: %v", err)
	}
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), path, Options{}); !errors.Is(err, ErrSchema) {
		t.Errorf("opening an empty file: %v, want ErrSchema", err)
	}
	for _, want := range []migrations.Versions{{From: 0, To: migrations.Latest()}, {From: migrations.Latest(), To: migrations.Latest()}} {
		if got, err := Migrate(t.Context(), path); err != nil || got != want {
			t.Errorf("Migrate = %+v, %v; want %+v", got, err, want)
		}
	}
	workshop(t, open(t, path, steady()), "fenland")
}

func childMigrates(path string) error {
	v, err := Migrate(context.Background(), path)
	say(v.From)
	return err
}

// childMigratesInHaste waits for nobody for long.
func childMigratesInHaste(path string) error {
	ctx, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
	defer cancel()
	_, err := Migrate(ctx, path)
	say(err != nil)
	return nil
}

// unmigrated is where a new database is to be migrated, and then served from.
func unmigrated(t *testing.T) (own, serve string) {
	t.Helper()
	if storetest.OnPostgres() {
		d := storetest.FreshUnmigrated(t)
		return d.Owner, d.Serve
	}
	path := filepath.Join(t.TempDir(), "new.db")
	return path, path
}

// toMigrate is where the database that is served from an address is migrated.
func toMigrate(t *testing.T, serve string) string {
	t.Helper()
	if _, isFile := AtFile(serve); isFile {
		return serve
	}
	own, err := storetest.Owner(serve)
	if err != nil {
		t.Fatal(err)
	}
	return own
}

// Trap: the migrating library takes no lock on SQLite. Many at once on one
// file, in this program and in others, must come to one migration and no
// error.
func TestMigratingManyAtOnce(t *testing.T) {
	t.Parallel()
	own, path := unmigrated(t)
	const here, elsewhere = 4, 3
	var all sync.WaitGroup
	found := make([]string, here+elsewhere)
	for i := range found {
		all.Go(func() {
			if i < elsewhere {
				found[i] = saidBy(t, child(t, "migrates", own))[0]
				return
			}
			v, err := Migrate(context.Background(), own)
			if err != nil {
				t.Error(err)
			}
			found[i] = fmt.Sprint(v.From)
		})
	}
	all.Wait()
	made := 0
	for _, from := range found {
		if from == "0" {
			made++
		}
	}
	if made != 1 {
		t.Errorf("found the database at %v: one of them was to make it", found)
	}
	workshop(t, open(t, path, steady()), "fenland")
}

// While somebody serves from the file it is not migrated under them, not by
// another program either after one in the same program has tried: on Unix a
// file opened and closed beside SQLite drops its locks.
func TestMigrateKeepsOffAnOpenDatabase(t *testing.T) {
	t.Parallel()
	path := fresh(t)
	own := toMigrate(t, path)
	s := open(t, path, steady())
	p := workshop(t, s, "fenland")
	ctx, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
	defer cancel()
	if _, err := Migrate(ctx, own); err == nil {
		t.Error("migrated under a running store")
	}
	if said := saidBy(t, child(t, "migrates in haste", own)); said[0] != "true" {
		t.Error("another program migrated under a running store")
	}
	addQuote(t, s, p, "still serving")
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := Migrate(t.Context(), own); err != nil {
		t.Errorf("after it has closed: %v", err)
	}
}

func TestNewerDatabaseIsRefused(t *testing.T) {
	t.Parallel()
	path := fresh(t)
	own := toMigrate(t, path)
	l := otherLine(t, path)
	if err := l.exec(t.Context(), fmt.Sprintf(`INSERT INTO goose_db_version (version_id, is_applied) VALUES (%d, %s)`, migrations.Latest()+1, sqlTrue(path))); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), path, Options{}); !errors.Is(err, ErrSchema) || !strings.Contains(err.Error(), "newer program") {
		t.Errorf("opened: %v", err)
	}
	if err := l.close(); err != nil {
		t.Fatal(err)
	}
	if _, err := Migrate(t.Context(), own); err == nil || !strings.Contains(err.Error(), "newer program") {
		t.Errorf("migrated: %v", err)
	}
}

// sqlTrue is how the migrating library's own table says so.
func sqlTrue(address string) string {
	if isPostgres(address) {
		return "true"
	}
	return "1"
}

func TestFileThatIsNoDatabase(t *testing.T) {
	t.Parallel()
	storetest.NeedsSQLite(t)
	path := filepath.Join(t.TempDir(), "letter.db")
	if err := os.WriteFile(path, []byte(strings.Repeat("Dear workshop, ", 1000)), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Migrate(t.Context(), path); err == nil {
		t.Error("migrated a letter")
	}
	if _, err := Open(t.Context(), path, Options{}); err == nil {
		t.Error("opened a letter")
	}
}

// oldDatabases has a database as each migration left it, with rows of two
// workshops, and what must be read from it for ever after.
const oldDatabases = "../../testdata/databases"

// TestOldDatabasesComeUp brings every database ever released up to today's
// schema, reads everything, and writes on.
//
// With a new migration comes a new file: go test ./api/store -run Old -update.
// A file that is there is never written again.
func TestOldDatabasesComeUp(t *testing.T) {
	t.Parallel()
	storetest.NeedsSQLite(t)
	for version := int64(1); version <= migrations.Latest(); version++ {
		file := filepath.Join(oldDatabases, fmt.Sprintf("%05d.db.zst", version))
		golden := strings.TrimSuffix(file, ".db.zst") + ".txt"
		packed, err := os.ReadFile(file)
		if errors.Is(err, os.ErrNotExist) && *update && version == migrations.Latest() {
			packed = makeOldDatabase(t, file)
		} else if err != nil {
			t.Fatalf("every migration has its old database: %v (run with -update)", err)
		}
		if len(packed) > 100_000 {
			t.Errorf("%s has %d bytes; keep it small", file, len(packed))
		}
		plain, err := decoder().DecodeAll(packed, nil)
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), "old.db")
		if err := os.WriteFile(path, plain, 0o600); err != nil {
			t.Fatal(err)
		}
		was, err := Migrate(t.Context(), path)
		if err != nil || was.From != version || was.To != migrations.Latest() {
			t.Fatalf("%s: Migrate = %+v, %v", file, was, err)
		}
		s := open(t, path, Options{})
		got := everything(t, s)
		if *update {
			if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if got != string(want) {
			t.Errorf("%s now holds\n%s\nand held\n%s", file, got, want)
		}
		for _, p := range owners(t, s) {
			addQuote(t, s, p, "written after")
			if seen := sound(t, s, p); seen["written after"] != 1 {
				t.Errorf("%s: after writing on: %v", file, seen)
			}
		}
	}
}

func makeOldDatabase(t *testing.T, file string) []byte {
	t.Helper()
	path := freshFile(t)
	s := open(t, path, steady())
	for i, code := range []string{"fenland", "moorside"} {
		p := workshop(t, s, code)
		keepProof(t, s, p)
		write(t, s, p, func(tx WriteTx) error {
			_, err := tx.AddPerson(NewPerson{Name: "Sal of " + code, Email: "sal@" + code + ".example", Role: auth.Sales, PasswordHash: "$argon2id$sal"})
			return err
		})
		for j := range 3 {
			c := content([]string{"long", "short", "minibus"}[j])
			c.Worked.TotalMinor += int64(1000*i + j)
			c.Worked.Hours = decimal.New(int64(56250+i*100+j), -3)
			if j == 2 {
				c.Vans[0].Plate = ""
			}
			write(t, s, p, func(tx WriteTx) error { _, err := tx.CreateQuote(c); return err })
		}
		write(t, s, p, func(tx WriteTx) error {
			list, _, err := tx.Quotes(QuoteFilter{Limit: 3})
			if err != nil {
				return err
			}
			if _, err = tx.ChangeQuote(list[0].ID, 1, content("minibus, changed")); err != nil {
				return err
			}
			return liveThrough(tx, list[1].ID, list[2].ID)
		})
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	plain, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	best, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedBestCompression))
	if err != nil {
		t.Fatal(err)
	}
	packed := best.EncodeAll(plain, nil)
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, packed, 0o644); err != nil {
		t.Fatal(err)
	}
	return packed
}

// liveThrough takes a quote to its acceptance with an extra, and another to its
// second revision.
func liveThrough(tx WriteTx, one, two uuid.UUID) error {
	frozen := func(text string) Frozen {
		return Frozen{Worked: content("x").Worked, Document: Pack([]byte(text)), Asked: Pack([]byte(text + ", asked")), IssuedOn: "2026-04-01", ValidUntil: "2026-05-01"}
	}
	if _, err := tx.IssueQuote(one, 1, frozen("first issue")); err != nil {
		return err
	}
	if _, err := tx.MakeLink(one, 2, strings.Repeat("ab", 32)); err != nil {
		return err
	}
	withExtra := frozen("agreed with an extra")
	head, kept, err := tx.AcceptQuote(one, 2, Acceptance{
		Offered: 1, How: "paper", On: "2026-04-02", Place: "at a distance", TermsSHA256: strings.Repeat("cd", 32), By: "Ada",
		Extras: []TickedExtra{{Van: 1, Feature: "awning"}}, Evidence: []Evidence{EvidenceOf("The page.", "text/plain", []byte("signed"))},
		Cancellation: Cancellation{Applies: true, LastDay: "2026-04-16", Says: "May be cancelled."},
	}, &withExtra)
	if err != nil {
		return err
	}
	if err := addJob(tx, head, kept.Revision); err != nil {
		return err
	}
	jobs, _, err := tx.Jobs(JobFilter{Quote: one})
	if err != nil {
		return err
	}
	if err := errors.Join(planFor(tx, jobs[0].ID), workOn(tx, jobs[0].ID)); err != nil {
		return err
	}
	if err := supplyFor(tx, jobs[0].ID); err != nil {
		return err
	}
	if err := varied(tx, jobs[0].ID); err != nil {
		return err
	}
	if err := statementFor(tx); err != nil {
		return err
	}
	now, err := tx.JobEntry(jobs[0].ID)
	if err != nil {
		return err
	}
	if err := builtWith(tx, now.ID, now.Version); err != nil {
		return err
	}
	if _, err := tx.IssueQuote(two, 1, frozen("issue of the other")); err != nil {
		return err
	}
	if _, err := tx.ReviseQuote(two, 2, content("revised")); err != nil {
		return err
	}
	return tx.WithdrawLinks(two)
}

func owners(t *testing.T, s *Store) []auth.Principal {
	t.Helper()
	workshops, err := s.Workshops(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var all []auth.Principal
	for _, w := range workshops {
		found, err := s.FindSignIn(t.Context(), w.Code, "owner@"+w.Code+".example")
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, found.Principal)
	}
	return all
}

// everything is what the store reads, as text.
func everything(t *testing.T, s *Store) string {
	t.Helper()
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	for _, p := range owners(t, s) {
		read(t, s, p, func(tx ReadTx) error {
			w, err := tx.Workshop()
			if err != nil {
				return err
			}
			line("workshop %s: %s, %s, %s, since %s", w.Code, w.Name, w.Currency, w.TimeZone, w.CreatedAt.Format("2006-01-02T15:04:05.000000Z"))
			people, err := tx.People()
			for _, person := range people {
				line("  person %s, %s, %s", person.Name, person.Email, person.Role)
			}
			if err != nil {
				return err
			}
			releases, err := tx.Releases(0, maxPage)
			for _, e := range releases {
				r, err := tx.Release(e.Number)
				if err != nil {
					return err
				}
				line("  release %d, %s: %s", r.Number, r.Hash, unpacked(t, r.Document))
				switch proof, err := tx.ReleaseProof(e.Number); {
				case err == nil:
					line("    proved %s: %s", proof.ProvedAt.Format("2006-01-02T15:04:05.000000Z"), unpacked(t, proof.Document))
					for _, a := range proof.Acknowledged {
						line("    acknowledged %s, %q: %s, %s", a.Warning, a.Says, a.Reason, a.At.Format("2006-01-02T15:04:05.000000Z"))
					}
				case !errors.Is(err, ErrNotFound):
					return err
				}
			}
			if err != nil {
				return err
			}
			editions, err := tx.Editions("", maxPage)
			for _, e := range editions {
				full, err := tx.Edition(e.Code)
				if err != nil {
					return err
				}
				line("  edition %s from %s, %s, %s: %s", e.Code, e.InForceFrom, e.Currency, e.Hash, unpacked(t, full.Document))
			}
			if err != nil {
				return err
			}
			quotes, _, err := tx.Quotes(QuoteFilter{Limit: maxPage})
			for _, e := range quotes {
				q, err := tx.Quote(e.ID)
				if err != nil {
					return err
				}
				r, err := tx.Revision(e.ID, q.Revision)
				if err != nil {
					return err
				}
				line("  quote %d, version %d, %s, %s %q, release %d, edition %s, %d %s, %s h: %s", q.Number, q.Version, q.State,
					q.Vans[0].BaseVan, PlainRegistration(q.Vans[0].Plate), q.Release, q.Edition, q.TotalMinor, q.Currency, q.Hours, unpacked(t, r.Asked))
			}
			if err != nil {
				return err
			}
			if err := issuedOf(t, tx, quotes, line); err != nil {
				return err
			}
			head, err := tx.VerifyJournal()
			line("  journal: %d lines, the last is %x", head.Seq, head.Hash)
			return err
		})
	}
	return b.String()
}

// issuedOf says what has been issued and accepted of the quotes.
func issuedOf(t *testing.T, tx ReadTx, quotes []QuoteEntry, line func(string, ...any)) error {
	t.Helper()
	for _, q := range quotes {
		list, err := tx.Revisions(q.ID)
		if err != nil {
			return err
		}
		for _, e := range list {
			if e.State == Draft {
				continue
			}
			r, err := tx.Revision(q.ID, e.Number)
			if err != nil {
				return err
			}
			line("  quote %d, revision %d, %s, %s to %s: %s", q.Number, r.Number, r.State, r.IssuedOn, r.ValidUntil, unpacked(t, r.Document))
		}
		if q.State != Accepted {
			continue
		}
		a, err := tx.Acceptance(q.ID)
		if err != nil {
			return err
		}
		line("  quote %d, accepted %s by %s, %s, %v, %s", q.Number, a.On, a.By, a.Cancellation.LastDay, a.Extras, a.Evidence[0].Content)
	}
	return nil
}

func unpacked(t *testing.T, p Packed) string {
	t.Helper()
	plain, err := p.Unpack()
	if err != nil {
		t.Fatal(err)
	}
	return string(plain)
}
