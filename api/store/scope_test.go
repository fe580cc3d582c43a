package store

import (
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"wainscot/api/auth"
)

// The places that may know gorm, and those that may touch a transaction's own
// database handle. All other files of the store go through rows, insert and
// change, which put the workshop in.
var (
	knowGorm    = []string{"engine.go", "postgres.go", "put.go", "scope.go", "sqlite.go", "take.go"}
	touchHandle = []string{"backup.go", "engine.go", "postgres.go", "put.go", "scope.go", "sqlite.go", "take.go", "unscoped.go"}
	skipScope   = []string{"Save", "Table", "Raw", "Exec", "Unscoped"}
)

// Trap: Save, Table, Raw and Exec take another tenant's row or skip whatever
// adds the tenant. The linter forbids them by type; this holds where the
// linter is not run, and keeps gorm itself out of the files of the nouns.
func TestNobodyGoesRoundTheScope(t *testing.T) {
	t.Parallel()
	names, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		tree, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, fault := range scopeFaults(name, tree) {
			t.Errorf("%s: %s", name, fault)
		}
	}
}

func scopeFaults(name string, tree *ast.File) (faults []string) {
	for _, i := range tree.Imports {
		path, err := strconv.Unquote(i.Path.Value)
		if err == nil && strings.HasPrefix(path, "gorm.io/") && !slices.Contains(knowGorm, name) {
			faults = append(faults, "imports "+path)
		}
	}
	ast.Inspect(tree, func(n ast.Node) bool {
		if call, ok := n.(*ast.CallExpr); ok {
			if sel, ok := call.Fun.(*ast.SelectorExpr); ok && slices.Contains(skipScope, sel.Sel.Name) {
				// An engine asks the driver's connection itself.
				if x, ok := sel.X.(*ast.SelectorExpr); !ok || x.Sel.Name != "conn" {
					faults = append(faults, "calls "+sel.Sel.Name)
				}
			}
		}
		if sel, ok := n.(*ast.SelectorExpr); ok && (sel.Sel.Name == "gorm" || sel.Sel.Name == "conn") && !slices.Contains(touchHandle, name) {
			faults = append(faults, "reaches for the database handle")
		}
		return true
	})
	// Nothing of gorm, nor of database/sql, is in what the package shows.
	for _, d := range tree.Decls {
		fn, ok := d.(*ast.FuncDecl)
		if !ok || !fn.Name.IsExported() || unexportedReceiver(fn) {
			continue
		}
		ast.Inspect(fn.Type, func(n ast.Node) bool {
			if x, ok := n.(*ast.Ident); ok && (x.Name == "gorm" || x.Name == "sql") {
				faults = append(faults, fn.Name.Name+" shows "+x.Name)
			}
			return true
		})
	}
	return faults
}

func unexportedReceiver(fn *ast.FuncDecl) bool {
	if fn.Recv == nil {
		return false
	}
	of := fn.Recv.List[0].Type
	if star, ok := of.(*ast.StarExpr); ok {
		of = star.X
	}
	id, ok := of.(*ast.Ident)
	return ok && !id.IsExported()
}

// The check itself must bite.
func TestScopeFaultsAreSeen(t *testing.T) {
	t.Parallel()
	const source = `package store
import "gorm.io/gorm"
func (t WriteTx) Bad(q *gorm.DB) { t.s.line.gorm.Save(nil); q.Table("quotes"); q.Raw(""); q.Exec("") }`
	tree, err := parser.ParseFile(token.NewFileSet(), "bad.go", source, 0)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"imports gorm.io/gorm", "calls Save", "reaches for the database handle", "calls Table", "calls Raw", "calls Exec", "Bad shows gorm"}
	if got := scopeFaults("bad.go", tree); !slices.Equal(got, want) {
		t.Errorf("seen: %v\nwant: %v", got, want)
	}
}

// A condition with an OR in it must stay inside the workshop.
func TestConditionsStayInScope(t *testing.T) {
	t.Parallel()
	s := open(t, fresh(t), steady())
	one, two := workshop(t, s, "fenland"), workshop(t, s, "moorside")
	addQuote(t, s, one, "theirs")
	read(t, s, two, func(tx ReadTx) error {
		if found, err := of[quoteRow](tx).where("number = 1 OR 1 = 1").all(); err != nil || len(found) > 0 {
			t.Errorf("an OR reached %d rows of another workshop, %v", len(found), err)
		}
		return nil
	})
	for _, condition := range []string{
		"1 = 1) OR (1 = 1", "1 = 1)) OR ((1 = 1", "number = 1 OR '(' = '(') OR (1 = 1", "1 = 1) OR 1 = 1 --", "1 = 1) /*", "'", "number = ?",
	} {
		err := s.As(two).Read(t.Context(), func(tx ReadTx) error {
			found, err := of[quoteRow](tx).where(condition).all()
			if err == nil {
				t.Errorf("%q was not refused and reached %d rows", condition, len(found))
			}
			return nil
		})
		if err == nil || strings.Contains(err.Error(), "syntax") {
			t.Errorf("%q was put to the database: %v", condition, err)
		}
	}
}

// TestWorkshopsDoNotMeet does the same things at random in two workshops whose
// ids, numbers and codes are all the same, against a plain map for each.
func TestWorkshopsDoNotMeet(t *testing.T) {
	t.Parallel()
	o := steady()
	steadyID := o.NewID
	var next *uuid.UUID // the id the next thing gets
	o.NewID = func() uuid.UUID {
		if next != nil {
			return *next
		}
		return steadyID()
	}
	s := open(t, fresh(t), o)
	checks := 0
	rapid.Check(t, func(rt *rapid.T) {
		// Two workshops nobody has written in yet, beside those of the checks
		// before with the same ids again.
		checks++
		var two [2]tenant
		for i, code := range []string{"fenland", "moorside"} {
			two[i] = tenant{principal: workshop(t, s, fmt.Sprint(code, checks)), quotes: map[uuid.UUID]QuoteEntry{}}
		}
		ids := []uuid.UUID{idNumber(900), idNumber(901), idNumber(902), idNumber(903)}
		pick := func() (*tenant, Handle, uuid.UUID) {
			w := &two[rapid.IntRange(0, 1).Draw(rt, "workshop")]
			return w, s.As(w.principal), rapid.SampledFrom(ids).Draw(rt, "id")
		}
		van := 0
		say := func() QuoteContent {
			van++
			c := content(fmt.Sprint("van ", van))
			c.Vans[0].Plate = rapid.SampledFrom([]string{"AA11AAA", "BB22BBB"}).Draw(rt, "registration")
			return c
		}
		rt.Repeat(map[string]func(*rapid.T){
			"create": func(rt *rapid.T) {
				w, h, id := pick()
				next = &id
				defer func() { next = nil }()
				var q QuoteEntry
				err := h.Write(rt.Context(), func(tx WriteTx) (err error) { q, err = tx.CreateQuote(say()); return err })
				if _, there := w.quotes[id]; there != errors.Is(err, ErrTaken) || (err == nil) == there {
					rt.Fatalf("creating %v, there: %v: %v", id, there, err)
				}
				if err == nil {
					w.quotes[id] = q
				}
			},
			"change": func(rt *rapid.T) {
				w, h, id := pick()
				was, there := w.quotes[id]
				version := was.Version - int64(rapid.IntRange(0, 1).Draw(rt, "behind"))
				var q QuoteEntry
				err := h.Write(rt.Context(), func(tx WriteTx) (err error) { q, err = tx.ChangeQuote(id, version, say()); return err })
				switch {
				case !there:
					if !errors.Is(err, ErrNotFound) {
						rt.Fatalf("changing what is not there: %v", err)
					}
				case version != was.Version:
					if !errors.Is(err, ErrStale) {
						rt.Fatalf("changing from version %d of %d: %v", version, was.Version, err)
					}
				case err != nil:
					rt.Fatal(err)
				default:
					w.quotes[id] = q
				}
			},
			"read": func(rt *rapid.T) {
				w, h, id := pick()
				var q QuoteEntry
				err := h.Read(rt.Context(), func(tx ReadTx) (err error) { q, err = tx.Quote(id); return err })
				want, there := w.quotes[id]
				if there != (err == nil) || (!there && !errors.Is(err, ErrNotFound)) || (there && !sameEntry(q, want)) {
					rt.Fatalf("reading %v: %+v, %v; want %+v", id, q, err, want)
				}
			},
			"leave": func(rt *rapid.T) {
				w, h, _ := pick()
				other := two[0].principal
				if other == w.principal {
					other = two[1].principal
				}
				err := h.Write(rt.Context(), func(tx WriteTx) error { _, err := tx.PersonLeaves(other.Person, 1); return err })
				if !errors.Is(err, ErrNotFound) {
					rt.Fatalf("another workshop's person was sent away: %v", err)
				}
			},
			"list": func(rt *rapid.T) {
				w, _, _ := pick()
				w.check(rt, s)
			},
		})
		for _, w := range two {
			w.check(rt, s)
			if _, err := soundness(s, w.principal); err != nil {
				rt.Fatal(err)
			}
		}
	})
}

type tenant struct {
	principal auth.Principal
	quotes    map[uuid.UUID]QuoteEntry
}

// check holds every way to list against the map.
func (w tenant) check(rt *rapid.T, s *Store) {
	err := s.As(w.principal).Read(rt.Context(), func(tx ReadTx) error {
		people, err := tx.People()
		if err != nil {
			return err
		}
		if len(people) != 1 || people[0].ID != w.principal.Person {
			rt.Fatalf("people: %v", people)
		}
		for _, registration := range []string{"", "AA11AAA", "BB22BBB"} {
			var want []QuoteEntry
			for _, q := range w.quotes {
				if registration == "" || q.Vans[0].Plate == registration {
					want = append(want, q)
				}
			}
			slices.SortFunc(want, newestFirst)
			list, _, err := tx.Quotes(QuoteFilter{Registration: registration})
			if err != nil {
				return err
			}
			if !slices.EqualFunc(list, want, sameEntry) {
				rt.Fatalf("listing %q:\n%v\nwant\n%v", registration, list, want)
			}
		}
		return nil
	})
	if err != nil {
		rt.Fatal(err)
	}
}

func newestFirst(a, b QuoteEntry) int {
	if c := b.CreatedAt.Compare(a.CreatedAt); c != 0 {
		return c
	}
	return strings.Compare(b.ID.String(), a.ID.String())
}

func sameEntry(a, b QuoteEntry) bool {
	same := a.Hours.Equal(b.Hours)
	a.Hours = b.Hours
	return same && reflect.DeepEqual(a, b)
}
