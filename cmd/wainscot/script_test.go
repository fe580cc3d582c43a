package main

import (
	"flag"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "rewrite the scripts' and the README's shown output with today's")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"wainscot": func() { os.Exit(runBy(fromNoon(time.Now()))) }})
}

// fromNoon is a clock on which it was noon of a day in the demo's time at a
// moment: some of its suppliers hold their prices until the end of 2026.
func fromNoon(begun time.Time) func() time.Time {
	return func() time.Time { return time.Date(2026, 11, 27, 12, 0, 0, 0, time.UTC).Add(time.Since(begun)) }
}

// TestScript runs the command line as text: testdata/script/NAME.txtar, each in
// a folder of its own.
func TestScript(t *testing.T) {
	// What the scripts find under testdata: the real demo workshop, and the
	// small catalogue that bom is tested with.
	links := map[string]string{
		"demo":   filepath.Join(repository, "testdata", "demo"),
		"sample": filepath.Join(repository, "bom", "testdata", "sample"),
	}
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join("testdata", "script"),
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			if err := os.Mkdir(filepath.Join(e.WorkDir, "testdata"), 0o755); err != nil {
				return err
			}
			for name, target := range links {
				target, err := filepath.Abs(target)
				if err != nil {
					return err
				}
				if err := os.Symlink(target, filepath.Join(e.WorkDir, "testdata", name)); err != nil {
					return err
				}
			}
			address, err := freeAddress()
			if err != nil {
				return err
			}
			// Any 32 bytes will do here; nothing outside this test believes them.
			e.Setenv("WAINSCOT_SIGNING_KEY", "AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=")
			e.Setenv("ADDRESS", address)
			return nil
		},
	})
}

// freeAddress is one that nobody listens on at the moment.
func freeAddress() (string, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return "", err
	}
	return l.Addr().String(), l.Close()
}
