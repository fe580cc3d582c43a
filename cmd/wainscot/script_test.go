package main

import (
	"flag"
	"net"
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "rewrite the scripts' and the README's shown output with today's")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"wainscot": main})
}

// TestScript runs the command line as text: testdata/script/NAME.txtar, each in
// a folder of its own beside the real demo workshop.
func TestScript(t *testing.T) {
	demo, err := filepath.Abs(filepath.Join(repository, "testdata", "demo"))
	if err != nil {
		t.Fatal(err)
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
			if err := os.Symlink(demo, filepath.Join(e.WorkDir, "testdata", "demo")); err != nil {
				return err
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
