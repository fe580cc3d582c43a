package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// run runs the program in this process, from the top folder, on a fixed day.
func run(t *testing.T, args ...string) (out, errs string, code int) {
	t.Helper()
	var o, e bytes.Buffer
	p := program{Out: &o, Err: &e, Now: func() time.Time { return time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC) }}
	code = p.Run(context.Background(), args)
	return o.String(), e.String(), code
}

// shown is a marked part of the README: what a command prints, cut to some
// sections, each in full, to its first lines, or to its first and last ones.
//
//	<!-- output: wainscot quote FILE | hours price:20+5 sheet:25 -->
var shown = regexp.MustCompile("(?s)<!-- output: wainscot (quote [^|>]+)\\|([^>]+)-->\n```text\n(.*?)```\n")

// TestReadmeShowsWhatIsPrinted holds the output in README.md against the
// program. go test ./cmd/wainscot -update writes today's into it.
func TestReadmeShowsWhatIsPrinted(t *testing.T) {
	t.Chdir(repository)
	readme, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	found := shown.FindAllSubmatchIndex(readme, -1)
	if len(found) == 0 {
		t.Fatal("README.md shows no output")
	}
	for _, at := range slices.Backward(found) {
		command, sections, text := string(readme[at[2]:at[3]]), string(readme[at[4]:at[5]]), string(readme[at[6]:at[7]])
		want := excerpt(t, strings.Fields(command), strings.Fields(sections))
		if want == text {
			continue
		}
		if !*update {
			t.Errorf("README.md shows for %s:\n%s\nwhich prints:\n%s\nrun go test ./cmd/wainscot -update", command, text, want)
			continue
		}
		readme = slices.Concat(readme[:at[6]], []byte(want), readme[at[7]:])
	}
	if *update {
		if err := os.WriteFile("README.md", readme, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// excerpt runs a quote once for each section and joins what it prints.
func excerpt(t *testing.T, command, sections []string) string {
	t.Helper()
	var parts []string
	for _, s := range sections {
		name, cut, _ := strings.Cut(s, ":")
		out, errs, code := run(t, append(slices.Clone(command), "--only", name)...)
		if code != endWell {
			t.Fatalf("%s --only %s ends with %d: %s", strings.Join(command, " "), name, code, errs)
		}
		if cut != "" {
			out = firstAndLast(t, out, cut)
		}
		parts = append(parts, out)
	}
	return strings.Join(parts, "\n")
}

// firstAndLast cuts a text to "20" first lines, or to "20+5" first and last.
func firstAndLast(t *testing.T, text, cut string) string {
	t.Helper()
	first, last, _ := strings.Cut(cut+"+0", "+")
	last, _, _ = strings.Cut(last, "+")
	n, err := strconv.Atoi(first)
	m, err2 := strconv.Atoi(last)
	if err != nil || err2 != nil {
		t.Fatalf("README.md: %q is neither 20 nor 20+5", cut)
	}
	lines := strings.SplitAfter(strings.TrimSuffix(text, "\n"), "\n")
	if len(lines) <= n+m {
		return text
	}
	return strings.Join(lines[:n], "") + "  …\n" + strings.Join(lines[len(lines)-m:], "") + "\n"
}

// TestReadmeCommandsAreScripts: what the README tells a stranger to type is
// among the scripts that are tested, and its test command is what CI runs.
func TestReadmeCommandsAreScripts(t *testing.T) {
	t.Chdir(repository)
	readme, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	names, err := filepath.Glob("cmd/wainscot/testdata/script/*.txtar")
	if err != nil {
		t.Fatal(err)
	}
	var scripts strings.Builder
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		scripts.Write(text)
	}
	commands := regexp.MustCompile(`(?m)^go run \./cmd/wainscot ([^#\n]+)`).FindAllSubmatch(readme, -1)
	if len(commands) < 2 {
		t.Fatalf("README.md tells %d commands; demo and quote at least are wanted", len(commands))
	}
	for _, c := range commands {
		command := strings.TrimSpace(string(c[1]))
		if !strings.Contains(scripts.String(), "\nexec wainscot "+command) {
			t.Errorf("README.md tells %q, and no script in testdata/script runs it", command)
		}
	}
	ci, err := os.ReadFile(".ci/run")
	if err != nil {
		t.Fatal(err)
	}
	const tests = "go test ./..."
	if !regexp.MustCompile(`(?m)^` + regexp.QuoteMeta(tests)).Match(readme) {
		t.Errorf("README.md does not tell %q", tests)
	}
	if !regexp.MustCompile(`(?m)^\s+` + regexp.QuoteMeta(tests) + `$`).Match(ci) {
		t.Errorf(".ci/run does not run %q as README.md tells it", tests)
	}
}

// TestImageIsBuiltWithTheModulesGo: the Dockerfile cannot be built in every
// place where tests run, but what it says can be held against the module.
func TestImageIsBuiltWithTheModulesGo(t *testing.T) {
	t.Chdir(repository)
	module, err := os.ReadFile("go.mod")
	if err != nil {
		t.Fatal(err)
	}
	image, err := os.ReadFile("Dockerfile")
	if err != nil {
		t.Fatal(err)
	}
	language := regexp.MustCompile(`(?m)^go (\d+\.\d+)`).FindSubmatch(module)
	base := regexp.MustCompile(`(?m)^FROM golang:(\d+\.\d+)-`).FindSubmatch(image)
	if language == nil || base == nil || !bytes.Equal(language[1], base[1]) {
		t.Errorf("go.mod says Go %s, the Dockerfile builds with %s", language, base)
	}
}
