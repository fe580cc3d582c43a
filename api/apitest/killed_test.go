package apitest

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"wainscot/api"
	"wainscot/api/auth"
	"wainscot/api/store"
)

// serveVariable names the database that this test binary, started again as a
// child, serves until it is killed.
const serveVariable = "WAINSCOT_APITEST_SERVE"

func TestMain(m *testing.M) {
	if path := os.Getenv(serveVariable); path != "" {
		if err := serve(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	os.Exit(m.Run())
}

func serve(path string) error {
	ctx := context.Background()
	kept, err := store.Open(ctx, path, store.Options{})
	if err != nil {
		return err
	}
	server, err := api.New(api.Config{
		Store: kept, Keys: []auth.Key{SigningKey}, Logger: slog.New(slog.DiscardHandler),
		Now: func() time.Time { return Noon }, Limits: api.Limits{PersonPerMinute: -1, WorkshopPerMinute: -1, AddressPerMinute: -1},
	})
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	fmt.Fprintln(os.Stdout, listener.Addr())
	return server.Run(ctx, listener)
}

// child is a server in a process of its own.
type child struct {
	command *exec.Cmd
	address string
}

func startServer(t *testing.T, path string) *child {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := &child{command: exec.Command(self)}
	c.command.Env = append(os.Environ(), serveVariable+"="+path)
	c.command.Stderr = os.Stderr
	out, err := c.command.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.command.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.command.Process.Kill() }) // where the test ends early
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatalf("the child did not say where it serves: %v", err)
	}
	c.address = strings.TrimSpace(line)
	return c
}

// kill ends it as a power cut would, so far as a process can tell.
func (c *child) kill(t *testing.T) {
	t.Helper()
	if err := c.command.Process.Kill(); err != nil {
		t.Error(err)
	}
	var exit *exec.ExitError
	if err := c.command.Wait(); !errors.As(err, &exit) {
		t.Errorf("the child ended by itself: %v", err)
	}
}

// post sends a request; an answer that does not come is status 0.
func (c *child) post(token, path, key string, body any) (status int, text string) {
	sent, err := json.Marshal(body)
	if err != nil {
		return 0, ""
	}
	request, err := http.NewRequestWithContext(context.Background(), http.MethodPost, "http://"+c.address+path, strings.NewReader(string(sent)))
	if err != nil {
		return 0, ""
	}
	request.Header = http.Header{"Authorization": {"Bearer " + token}, "Content-Type": {"application/json"}, "Idempotency-Key": {key}}
	transport := &http.Transport{DisableKeepAlives: true}
	response, err := (&http.Client{Transport: transport}).Do(request)
	if err != nil {
		return 0, ""
	}
	defer response.Body.Close()
	got, err := io.ReadAll(response.Body)
	if err != nil {
		return 0, ""
	}
	return response.StatusCode, string(got)
}

// TestKilledBetween: the server is killed as soon as the first of several
// requests is answered, the others being anywhere on their way. Sent again to a
// new one, each has exactly one effect, and those that were answered get the
// answer they had.
func TestKilledBetween(t *testing.T) {
	w := newWorld(t)
	token := w.Ours.Token[auth.Owner]
	if err := w.Store.Close(); err != nil {
		t.Fatal(err)
	}
	const cycles, each = 3, 6
	body := func(cycle, i int) map[string]any {
		return map[string]any{"name": "Robin", "email": fmt.Sprintf("c%dr%d@withermere.example", cycle, i), "role": "sales", "password": "a-long-enough-password"}
	}
	key := func(cycle, i int) string { return fmt.Sprintf("0199c0de-%d-%d", cycle, i) }
	for cycle := range cycles {
		server := startServer(t, w.Address)
		type answer struct {
			i, status int
			text      string
		}
		answers := make(chan answer, each)
		for i := range each {
			go func() {
				status, text := server.post(token, "/v1/people", key(cycle, i), body(cycle, i))
				answers <- answer{i, status, text}
			}()
		}
		first := map[int]string{}
		killed := false
		for range each {
			a := <-answers
			if a.status == http.StatusCreated {
				first[a.i] = a.text
			}
			if !killed {
				server.kill(t)
				killed = true
			}
		}
		if len(first) == 0 {
			t.Errorf("cycle %d: nothing was answered before the end", cycle)
		}
		server = startServer(t, w.Address)
		for i := range each {
			status, text := server.post(token, "/v1/people", key(cycle, i), body(cycle, i))
			if status != http.StatusCreated || (first[i] != "" && first[i] != text) {
				t.Errorf("cycle %d, request %d: %d %s; before the end %s", cycle, i, status, text, first[i])
			}
		}
		server.kill(t)
		t.Logf("cycle %d: %d of %d were answered before the end", cycle, len(first), each)
	}
	w = w.another(t)
	for cycle := range cycles {
		for i := range each {
			if n := w.people(t, fmt.Sprintf("c%dr%d@", cycle, i)); n != 1 {
				t.Errorf("cycle %d, request %d: %d effects", cycle, i, n)
			}
		}
	}
	w.verify(t, w.Ours)
}
