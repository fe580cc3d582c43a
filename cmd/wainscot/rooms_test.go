package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// arrows says which room may import which. A room is a package of this
// module, named by its folder. In
//
//	a, b < c
//
// c may import a and b, and all that a and b may import. A room stands right
// of a "<" exactly once; rooms that import nothing of ours stand right of
// NOTHING. Rooms that are planned but not built yet may stand here already.
const arrows = `
	# What people write by hand, read strictly.
	NOTHING < bom/document;

	# What a van needs: facts first, meaning later, the whole last.
	NOTHING                                        < bom/calendar, bom/engineering, bom/options/internal/sat;
	bom/document                                   < bom/catalogue;
	bom/catalogue, bom/engineering                 < bom/formula;
	bom/formula, bom/options/internal/sat          < bom/options;
	bom/options                                    < bom;
	bom/calendar, bom/catalogue                    < bom/schedule;
	bom, bom/schedule                              < bom/supply;

	# What it costs.
	NOTHING                                        < pricing/money;
	pricing/money, bom/catalogue, bom/calendar     < pricing/pricebook;
	bom, pricing/pricebook                         < pricing;
	pricing                                        < pricing/quote;
	pricing/quote, bom/schedule                    < pricing/job;
	bom/supply, pricing/pricebook                  < pricing/order;
	pricing/money, bom/document, bom/calendar      < pricing/statement;
	pricing/statement, pricing/pricebook           < pricing/ledger;
	pricing/ledger, pricing/quote                  < pricing/invoice;
	pricing/ledger                                 < pricing/receipt;
	pricing/ledger, pricing/order                  < pricing/purchase;
	pricing/ledger, pricing/order, pricing/job     < pricing/settlement;
	pricing/settlement, pricing/purchase           < pricing/margin;
	pricing/ledger                                 < pricing/stockbook;
	pricing/ledger, pricing/job                    < pricing/takeon;

	# Who may ask.
	NOTHING                                        < api/auth, migrations, openapi, testdata;
	pricing, pricing/quote, pricing/job, pricing/order, pricing/invoice, pricing/purchase, pricing/receipt,
		pricing/settlement, pricing/stockbook, pricing/takeon, api/auth, migrations < api/store;
	pricing, pricing/quote, pricing/job, pricing/order, pricing/invoice                      < api/paper;
	api/store, api/paper, openapi, pricing/margin  < api;
	migrations                                     < api/store/storetest;
	pricing/quote, testdata                        < pricing/quote/quotetest;
	api, api/store/storetest, testdata             < api/apitest;
	api, testdata                                  < cmd/wainscot;
`

// outside says which libraries and parts of the standard library only some
// rooms may import, or none. A library named here covers everything below it.
// "tests" stands for test files anywhere; they may also import testdata.
const outside = `
	# The database is known in one place, and its schema in another.
	api/store                                      < gorm.io;
	api/store, api/store/storetest                 < github.com/mattn/go-sqlite3, github.com/jackc/pgx/v5;
	api/store, api/store/storetest, migrations     < database/sql, github.com/pressly/goose/v3;

	# The web is known to the API alone; the command line is known to the command.
	api, api/auth, api/apitest         < github.com/gin-gonic/gin;
	openapi                            < github.com/oapi-codegen; # its client fills addresses with it
	api/auth                           < github.com/golang-jwt/jwt/v5, golang.org/x/crypto;
	cmd/wainscot                       < github.com/alecthomas/kong;

	# Public holidays are proposed to whoever keeps a floor, and nowhere else.
	api < github.com/rickar/cal;

	# Paper is set in one place.
	api/paper < codeberg.org/go-pdf/fpdf, github.com/xuri/excelize/v2, github.com/go-fonts, golang.org/x/image;

	# One reader of hand-written text, one home of formulas.
	bom/document                       < go.yaml.in/yaml/v3;
	bom/formula                        < cel.dev;

	# Witnesses from outside: never part of the product.
	tests < github.com/crillab/gophersat, github.com/cockroachdb/apd/v3, pgregory.net/rapid,
	        github.com/rogpeppe/go-internal, go.uber.org/goleak, github.com/arran4/golang-ical, testing;
`

// noWorld lists what bom and pricing may never import: they get values and
// give values, so the same inputs give the same bytes.
const noWorld = `
	os, os/exec, os/signal, os/user, io/ioutil, path/filepath, syscall, net, net/http, net/url,
	database/sql, log, log/slog, math/rand, math/rand/v2, crypto/rand, embed, plugin, unsafe,
	gorm.io, github.com/gin-gonic/gin, github.com/google/uuid, github.com/alecthomas/kong
`

// noClock lists the functions by which code would read the clock or wait.
var noClock = []string{
	"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTicker", "NewTimer", "Local",
}

// topLevel is everything that may stand in the top folder, dot-files aside.
var topLevel = []string{
	"cmd", "api", "bom", "pricing", "migrations", "openapi", "testdata", "docs",
	"go.mod", "go.sum", "README.md", "DEVELOPERS.md", "Dockerfile",
}

// emptyNames say nothing about what is inside.
var emptyNames = []string{"util", "utils", "common", "helper", "helpers", "model", "models", "service", "services", "misc", "base", "core"}

func TestArrowsBetweenRooms(t *testing.T) {
	may := policy(t, arrows)
	for _, f := range sources(t) {
		if f.room == "." {
			continue // only deps_tmp.go, which is not part of the product
		}
		allowed, known := may[f.room]
		if !known {
			t.Errorf("%s: the room %s stands in no arrow; add it to the policy in this file, and to docs/architecture.md", f.name, f.room)
			continue
		}
		for _, imported := range f.imports {
			room, ours := strings.CutPrefix(imported, "wainscot/")
			if !ours || room == f.room || slices.Contains(allowed, room) {
				continue
			}
			if f.test && (room == "testdata" || pointsLeft(f.room, room)) {
				continue
			}
			t.Errorf("%s imports %s, and no arrow allows that: %s may import %s", f.name, room, f.room, strings.Join(allowed, ", "))
		}
	}
}

// pointsLeft says whether a test of room may import other although no arrow
// says so: a test may look at the finished whole of its own side (a catalogue
// test that compiles what it decoded), never from bom to pricing or from
// either to api. Only testdata's own test may look at everything.
func pointsLeft(room, other string) bool {
	if room == "testdata" {
		return true // the test of the demo puts the whole of it through the house
	}
	order := []string{"bom", "pricing", "api", "cmd"}
	from, to := slices.Index(order, top(room)), slices.Index(order, top(other))
	return from >= 0 && to >= 0 && to <= from
}

func TestLibrariesStayInTheirRooms(t *testing.T) {
	rooms := map[string][]string{}
	for _, r := range statements(t, outside) {
		for _, library := range r.right {
			rooms[library] = r.left
		}
	}
	for _, f := range sources(t) {
		if f.room == "." {
			continue
		}
		for _, imported := range f.imports {
			for library, allowed := range rooms {
				if !covers(library, imported) || slices.Contains(allowed, f.room) || f.test {
					continue
				}
				t.Errorf("%s imports %s, which is for %s", f.name, imported, strings.Join(allowed, ", "))
			}
		}
	}
}

func TestBomAndPricingKnowNoWorld(t *testing.T) {
	banned := names(noWorld)
	for _, f := range sources(t) {
		if f.test || (top(f.room) != "bom" && top(f.room) != "pricing") {
			continue
		}
		for _, imported := range f.imports {
			for _, b := range banned {
				if covers(b, imported) {
					t.Errorf("%s imports %s: bom and pricing do no I/O and know no randomness; take what you need as an argument", f.name, imported)
				}
			}
		}
		f.selectors(func(pkg, name string, at token.Position) {
			if pkg == "time" && slices.Contains(noClock, name) {
				t.Errorf("%s: time.%s reads the clock; take the day as an argument", at, name)
			}
		})
		f.floats(func(what string, at token.Position) {
			t.Errorf("%s: %s: money and quantities are decimals or whole numbers here", at, what)
		})
	}
}

func TestTopFolderHoldsOnlyWhatTheCustomerNamed(t *testing.T) {
	ignored := ignoredAtTop(t)
	entries, err := os.ReadDir(repository)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".") || slices.Contains(topLevel, e.Name()) {
			continue
		}
		if slices.ContainsFunc(ignored, func(pattern string) bool { ok, _ := path.Match(pattern, e.Name()); return ok }) {
			continue
		}
		t.Errorf("%s does not belong in the top folder; those that do: %s", e.Name(), strings.Join(topLevel, " "))
	}
}

func TestNamesOfRoomsSayWhatIsInside(t *testing.T) {
	for _, f := range sources(t) {
		if slices.Contains(emptyNames, path.Base(f.room)) || slices.Contains(emptyNames, f.tree.Name.Name) {
			t.Errorf("%s: a package named %q says nothing of what is inside; name it after the thing it holds", f.name, f.tree.Name.Name)
		}
	}
}

// TestPolicyBites holds the machinery of this file to known cases, so that a
// mistake in it cannot quietly allow everything.
func TestPolicyBites(t *testing.T) {
	may := policy(t, arrows)
	for _, c := range []struct {
		from, to string
		want     bool
	}{
		{"pricing", "bom", true},
		{"pricing", "bom/document", true}, // through bom
		{"api", "api/auth", true},         // through the store
		{"bom", "pricing", false},
		{"bom/document", "bom/catalogue", false},
		{"pricing", "api", false},
		{"api/auth", "api/store", false},
		{"pricing/money", "bom", false},
		{"api", "testdata", false},
	} {
		if got := slices.Contains(may[c.from], c.to); got != c.want {
			t.Errorf("%s may import %s: got %v, want %v", c.from, c.to, got, c.want)
		}
	}
	if !covers("os", "os") || !covers("gorm.io", "gorm.io/gorm/clause") || covers("os", "oscar") {
		t.Error("covers mistakes what a name covers")
	}
	if pointsLeft("bom", "pricing") || !pointsLeft("bom/catalogue", "bom") || !pointsLeft("pricing", "bom") {
		t.Error("pointsLeft mistakes a direction")
	}
	const sample = `package p
import ("time"; "github.com/shopspring/decimal")
func f() { _ = time.Now(); var x float64; _ = decimal.NewFromFloat(x) }`
	tree, err := parser.ParseFile(token.NewFileSet(), "p.go", sample, 0)
	if err != nil {
		t.Fatal(err)
	}
	s := source{name: "p.go", tree: tree, files: token.NewFileSet()}
	var seen []string
	s.selectors(func(pkg, name string, _ token.Position) { seen = append(seen, pkg+"."+name) })
	s.floats(func(what string, _ token.Position) { seen = append(seen, what) })
	if want := "time.Now decimal.NewFromFloat float64 NewFromFloat"; strings.Join(seen, " ") != want {
		t.Errorf("seen in the sample: %s; want %s", strings.Join(seen, " "), want)
	}
}

// repository is the top folder, seen from this one.
const repository = "../.."

// source is one Go file of the module.
type source struct {
	name    string // from the top folder
	room    string
	test    bool
	imports []string
	tree    *ast.File
	files   *token.FileSet
}

// sources parses every Go file of the module.
func sources(t *testing.T) []source {
	t.Helper()
	var all []source
	err := filepath.WalkDir(repository, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if base := d.Name(); base != ".." && strings.HasPrefix(base, ".") || base == "node_modules" {
				return filepath.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(name, ".go") {
			return nil
		}
		rel, err := filepath.Rel(repository, name)
		if err != nil {
			return err
		}
		files := token.NewFileSet()
		tree, err := parser.ParseFile(files, name, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		s := source{name: filepath.ToSlash(rel), test: strings.HasSuffix(name, "_test.go"), tree: tree, files: files}
		s.room = path.Dir(s.name)
		for _, i := range tree.Imports {
			imported, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				return err
			}
			s.imports = append(s.imports, imported)
		}
		all = append(all, s)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 5 {
		t.Fatalf("found only %d Go files below %s; is the test run from its own folder?", len(all), repository)
	}
	return all
}

// selectors calls see for every X.Name in the file where X is a plain name.
func (s source) selectors(see func(pkg, name string, at token.Position)) {
	ast.Inspect(s.tree, func(n ast.Node) bool {
		if sel, ok := n.(*ast.SelectorExpr); ok {
			if x, ok := sel.X.(*ast.Ident); ok {
				see(x.Name, sel.Sel.Name, s.files.Position(sel.Pos()))
			}
		}
		return true
	})
}

// floats calls see for every use of a floating type, or of a decimal's doors
// to and from floats.
func (s source) floats(see func(what string, at token.Position)) {
	doors := []string{"float64", "float32", "complex128", "Float64", "InexactFloat64", "NewFromFloat", "NewFromFloat32", "NewFromFloatWithExponent", "ParseFloat"}
	ast.Inspect(s.tree, func(n ast.Node) bool {
		if id, ok := n.(*ast.Ident); ok && slices.Contains(doors, id.Name) {
			see(id.Name, s.files.Position(id.Pos()))
		}
		return true
	})
}

// statement is one line of a policy: what stands left and right of a "<".
type statement struct{ left, right []string }

// statements reads a policy text: statements end in ";", "#" starts a remark.
func statements(t *testing.T, text string) []statement {
	t.Helper()
	var lines []string
	for line := range strings.Lines(text) {
		line, _, _ = strings.Cut(line, "#")
		lines = append(lines, line)
	}
	var all []statement
	for part := range strings.SplitSeq(strings.Join(lines, "\n"), ";") {
		if strings.TrimSpace(part) == "" {
			continue
		}
		left, right, ok := strings.Cut(part, "<")
		if !ok {
			t.Fatalf("policy: no < in %q", part)
		}
		all = append(all, statement{names(left), names(right)})
	}
	return all
}

// policy works out what each room may import, directly or by way of others.
func policy(t *testing.T, text string) map[string][]string {
	t.Helper()
	may := map[string][]string{}
	for _, s := range statements(t, text) {
		var allowed []string
		for _, l := range s.left {
			if l == "NOTHING" {
				continue
			}
			through, ok := may[l]
			if !ok {
				t.Fatalf("policy: %s stands left of a < before it stood right of one", l)
			}
			allowed = append(append(allowed, l), through...)
		}
		slices.Sort(allowed)
		for _, r := range s.right {
			if _, twice := may[r]; twice {
				t.Fatalf("policy: %s stands right of a < twice", r)
			}
			may[r] = slices.Compact(slices.Clone(allowed))
		}
	}
	return may
}

// names splits a list at commas and white space.
func names(list string) []string {
	return strings.FieldsFunc(list, func(r rune) bool { return r == ',' || r == ' ' || r == '\t' || r == '\n' })
}

// covers says whether library is imported or a folder above it.
func covers(library, imported string) bool {
	return imported == library || strings.HasPrefix(imported, library+"/")
}

// top is the first folder of a room.
func top(room string) string {
	first, _, _ := strings.Cut(room, "/")
	return first
}

// ignoredAtTop gives the patterns of .gitignore that can match in the top folder.
func ignoredAtTop(t *testing.T) []string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(repository, ".gitignore"))
	if err != nil {
		t.Fatal(fmt.Errorf("the list of what may lie in the top folder untracked: %w", err))
	}
	var patterns []string
	for line := range strings.Lines(string(text)) {
		line = strings.Trim(strings.TrimSpace(line), "/")
		if line != "" && !strings.HasPrefix(line, "#") {
			patterns = append(patterns, line)
		}
	}
	return patterns
}
