package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/klauspost/compress/zstd"
)

// Every table is backed up or left out on purpose, after all it refers to.
func TestBackupHasEveryTable(t *testing.T) {
	t.Parallel()
	tables := tablesOf(t, otherLine(t, fresh(t)))
	var listed []string
	for _, b := range backedUp {
		listed = append(listed, b.table)
		for _, to := range tables[b.table].refers() {
			if !slices.Contains(listed, to) {
				t.Errorf("%s refers to %s and is restored before it", b.table, to)
			}
		}
		if want := strings.Join(tables[b.table].primary[1:], ", "); want != b.key && (want != "" || b.key != "workshop_id") {
			t.Errorf("%s is sorted by %s and its key is %s", b.table, b.key, want)
		}
	}
	for table := range tables {
		if !slices.Contains(listed, table) && !slices.Contains(notBackedUp, table) {
			t.Errorf("%s is in no backup", table)
		}
	}
}

// twoWorkshops is a database with something in it.
func twoWorkshops(tb testing.TB) (string, *Store) {
	tb.Helper()
	path := fresh(tb)
	s := open(tb, path, steady())
	for _, code := range []string{"fenland", "moorside"} {
		p := workshop(tb, s, code)
		for range 3 {
			addQuote(tb, s, p, "long")
		}
	}
	return path, s
}

func backup(tb testing.TB, path string) ([]byte, Backup) {
	tb.Helper()
	var b bytes.Buffer
	made, err := WriteBackup(context.Background(), path, &b, noon)
	if err != nil {
		tb.Fatal(err)
	}
	return b.Bytes(), made
}

// What is restored has the sum of what was backed up, and the same bytes when
// backed up again; and it can be written on.
func TestRestoredIsWhatWasBackedUp(t *testing.T) {
	t.Parallel()
	path, _ := twoWorkshops(t)
	text, made := backup(t, path)
	if made.Workshops != 2 || made.Rows < 20 || made.SHA256 == "" {
		t.Errorf("it holds %+v", made)
	}
	if found, err := CheckBackup(bytes.NewReader(text)); err != nil || found != made {
		t.Errorf("reading it gives %+v, %v", found, err)
	}
	to := fresh(t)
	restored, err := Restore(t.Context(), to, bytes.NewReader(text))
	if err != nil || restored != made {
		t.Fatalf("restoring gives %+v, %v", restored, err)
	}
	if again, _ := backup(t, to); !bytes.Equal(again, text) {
		t.Error("a backup of what was restored is another one")
	}
	s := open(t, to, Options{})
	for _, w := range must(s.Workshops(t.Context()))(t) {
		found := must(s.FindSignIn(t.Context(), w.Code, "owner@"+w.Code+".example"))(t)
		addQuote(t, s, found.Principal, "long")
		sound(t, s, found.Principal)
	}
}

// A backup is of one moment while others write, and they go on.
func TestBackupWhileWriting(t *testing.T) {
	t.Parallel()
	path, s := twoWorkshops(t)
	p := workshop(t, s, "saltings")
	stop := make(chan struct{})
	var writers sync.WaitGroup
	for range 4 {
		writers.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
					addQuote(t, s, p, "long")
				}
			}
		})
	}
	for range 5 {
		text, made := backup(t, path)
		if restored, err := Restore(t.Context(), fresh(t), bytes.NewReader(text)); err != nil || restored != made {
			t.Errorf("restoring gives %+v, %v", restored, err)
		}
	}
	close(stop)
	writers.Wait()
}

// A backup that is damaged anywhere is refused, and nothing of it stays.
func TestDamagedBackups(t *testing.T) {
	t.Parallel()
	path, _ := twoWorkshops(t)
	text, _ := backup(t, path)
	plain := unzipped(t, text)
	lines := strings.SplitAfter(string(plain), "\n")
	last := len(lines) - 2 // nothing follows the last newline
	with := func(change func([]string) []string) []byte {
		return zipped(strings.Join(change(slices.Clone(lines)), ""))
	}
	for name, damaged := range map[string][]byte{
		"empty":          {},
		"no zstd":        plain,
		"cut":            text[:len(text)/2],
		"without end":    with(func(l []string) []string { return l[:last] }),
		"a row missing":  with(func(l []string) []string { return slices.Delete(l, 3, 4) }),
		"a row twice":    with(func(l []string) []string { return slices.Insert(l, 3, l[3]) }),
		"a row changed":  with(func(l []string) []string { l[3] = strings.Replace(l[3], "GBP", "EUR", 1); return l }),
		"more after end": with(func(l []string) []string { return append(l, l[3]) }),
		"another table":  with(func(l []string) []string { l[2] = strings.Replace(l[2], "workshops", "sqlite_schema", 1); return l }),
		"a column that is a statement": with(func(l []string) []string {
			l[2] = strings.Replace(l[2], `"code"`, `"code) VALUES (1); DROP TABLE journal; --"`, 1)
			return l
		}),
		"another format": with(func(l []string) []string {
			l[0] = strings.Replace(l[0], BackupFormat, "wainscot-backup/2", 1)
			return l
		}),
		"a newer schema": with(func(l []string) []string { l[0] = `{"format":"` + BackupFormat + `","migration":99}` + "\n"; return l }),
	} {
		if _, err := CheckBackup(bytes.NewReader(damaged)); err == nil {
			t.Errorf("%s: it is taken for whole", name)
		}
		to := fresh(t)
		if _, err := Restore(t.Context(), to, bytes.NewReader(damaged)); err == nil {
			t.Errorf("%s: it is restored", name)
		}
		if left := must(open(t, to, Options{}).Workshops(t.Context()))(t); len(left) > 0 {
			t.Errorf("%s: it is refused, and %d workshops are there", name, len(left))
		}
	}
}

func TestRestoreIntoWhatIsNotEmpty(t *testing.T) {
	t.Parallel()
	path, _ := twoWorkshops(t)
	text, _ := backup(t, path)
	if _, err := Restore(t.Context(), path, bytes.NewReader(text)); !errors.Is(err, ErrRefused) {
		t.Errorf("it gives %v", err)
	}
	if _, err := Restore(t.Context(), filepath.Join(t.TempDir(), "none.db"), bytes.NewReader(text)); !errors.Is(err, ErrSchema) {
		t.Errorf("where nothing was migrated it gives %v", err)
	}
}

// FuzzCheckBackup: no bytes bring the reader down.
func FuzzCheckBackup(f *testing.F) {
	end, err := json.Marshal(backupEnd{0, "x"})
	if err != nil {
		f.Fatal(err)
	}
	f.Add([]byte(`{"format":"wainscot-backup/1","migration":4}` + "\n" + string(end) + "\n"))
	f.Add([]byte(`{"format":"wainscot-backup/1","migration":4}` + "\n" + `{"workshop":"01960000-0000-7000-8000-000000000001"}` + "\n" +
		`{"table":"workshops","columns":["code"]}` + "\n" + `["a",1,null,{"base64":"AA=="}]` + "\n"))
	f.Fuzz(func(t *testing.T, plain []byte) {
		b, err := CheckBackup(bytes.NewReader(zipped(string(plain))))
		if err == nil && b.SHA256 == "" {
			t.Error("whole and without a sum")
		}
	})
}

func zipped(plain string) []byte {
	w, err := zstd.NewWriter(nil)
	if err != nil {
		panic(err)
	}
	return w.EncodeAll([]byte(plain), nil)
}

func unzipped(tb testing.TB, text []byte) []byte {
	tb.Helper()
	r, err := zstd.NewReader(nil)
	if err != nil {
		tb.Fatal(err)
	}
	defer r.Close()
	return must(r.DecodeAll(text, nil))(tb)
}

// must gives a value that came without an error.
func must[T any](v T, err error) func(testing.TB) T {
	return func(tb testing.TB) T {
		tb.Helper()
		if err != nil {
			tb.Fatal(err)
		}
		return v
	}
}
