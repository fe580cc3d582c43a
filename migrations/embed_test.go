package migrations

import (
	"io/fs"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// The numbering must be one series without gaps or twins, every file must be
// named as goose and Latest read it, and each is there for both databases.
func TestNumbersRunOn(t *testing.T) {
	t.Parallel()
	names, err := fs.Glob(SQLite(), "*")
	if err != nil {
		t.Fatal(err)
	}
	form := regexp.MustCompile(`^(\d{5})_[a-z0-9_]+\.sql$`)
	for i, name := range names {
		m := form.FindStringSubmatch(name)
		if m == nil {
			t.Errorf("%s: not named 00001_what_it_does.sql", name)
			continue
		}
		if n := strings.TrimLeft(m[1], "0"); n != strconv.Itoa(i+1) {
			t.Errorf("%s stands at place %d: the numbers must run on from 00001", name, i+1)
		}
	}
	if got, want := Latest(), int64(len(names)); got != want {
		t.Errorf("Latest() = %d with %d files", got, want)
	}
	mirrored, err := fs.Glob(Postgres(), "*")
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(names, mirrored) {
		t.Errorf("sqlite has %v\npostgres %v: every migration is written for both, under one name", names, mirrored)
	}
}
