package store

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"sync"
	"testing"
)

// Some things can only be seen from outside the process that does them: what
// it asks of the disk, and what is left when it is killed. For these the test
// starts its own binary again, as a child that does one of the jobs below.

const (
	childVariable    = "WAINSCOT_STORE_CHILD"
	databaseVariable = "WAINSCOT_STORE_DATABASE"
	flushesVariable  = "WAINSCOT_FLUSHES"
)

var children = map[string]func(path string) error{
	"quotes, kept":        childWritesQuotes(nil),
	"quotes, hardly kept": childWritesQuotes(carelessSettings()),
	"disk fails":          childWithFailingDisk,
	"disk fails, dies":    childThatLooksAndDies,
	"migrates":            childMigrates,
	"migrates in haste":   childMigratesInHaste,
	"quotes without end":  childWritesWithoutEnd,
}

func runChild(name string) int {
	job, ok := children[name]
	if !ok {
		fmt.Fprintln(os.Stderr, "no such child:", name)
		return 2
	}
	if err := job(os.Getenv(databaseVariable)); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return 0
}

// say tells the test that started this child something, on a line.
func say(words ...any) { fmt.Fprintln(os.Stdout, words...) }

// child starts this test binary as a child on a database.
func child(tb testing.TB, name, path string, environment ...string) *exec.Cmd {
	tb.Helper()
	self, err := os.Executable()
	if err != nil {
		tb.Fatal(err)
	}
	c := exec.Command(self)
	c.Env = append(os.Environ(), childVariable+"="+name, databaseVariable+"="+path)
	c.Env = append(c.Env, environment...)
	c.Stderr = os.Stderr
	return c
}

// saidBy runs a child to its end and gives the lines it wrote.
func saidBy(tb testing.TB, c *exec.Cmd) []string {
	tb.Helper()
	out, err := c.Output()
	if err != nil {
		tb.Fatalf("the child: %v\n%s", err, out)
	}
	var list []string
	for s := bufio.NewScanner(bytes.NewReader(out)); s.Scan(); {
		list = append(list, s.Text())
	}
	return list
}

// compiled is the counter of flushes, compiled once by the C compiler that
// cgo needs anyway.
var compiled = sync.OnceValues(func() (library []byte, err error) {
	dir, err := os.MkdirTemp("", "flushes")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	compiler := os.Getenv("CC")
	if compiler == "" {
		compiler = "cc"
	}
	out := filepath.Join(dir, "flushes.so")
	c := exec.Command(compiler, "-shared", "-fPIC", "-O1", "-Wall", "-Werror", "-o", out, "testdata/flushes.c", "-ldl")
	if said, err := c.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("%s: %w\n%s", c, err, said)
	}
	return os.ReadFile(out)
})

// countFlushes gives the environment in which a child's flushes are counted.
func countFlushes(tb testing.TB) []string {
	tb.Helper()
	if runtime.GOOS != "linux" {
		tb.Skip("counting flushes needs LD_PRELOAD as Linux has it")
	}
	library, err := compiled()
	if err != nil {
		tb.Fatal(err)
	}
	dir := tb.TempDir()
	so, counter := filepath.Join(dir, "flushes.so"), filepath.Join(dir, "counter")
	if err := os.WriteFile(so, library, 0o700); err != nil {
		tb.Fatal(err)
	}
	if err := os.WriteFile(counter, make([]byte, 16), 0o600); err != nil {
		tb.Fatal(err)
	}
	return []string{"LD_PRELOAD=" + so, flushesVariable + "=" + counter}
}

// flushed is how many flushes this child has asked for.
func flushed() (int64, error) {
	b, err := os.ReadFile(os.Getenv(flushesVariable))
	if err != nil {
		return 0, err
	}
	return int64(binary.NativeEndian.Uint64(b)), nil
}

// failFlushes lets this child's next n flushes fail; 0 mends the disk.
func failFlushes(n int64) error {
	f, err := os.OpenFile(os.Getenv(flushesVariable), os.O_RDWR, 0)
	if err != nil {
		return err
	}
	defer f.Close()
	var b [8]byte
	binary.NativeEndian.PutUint64(b[:], uint64(n))
	_, err = f.WriteAt(b[:], 8)
	return err
}
