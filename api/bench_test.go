package api_test

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	_ "github.com/mattn/go-sqlite3"

	"wainscot/api"
	"wainscot/api/apitest"
	"wainscot/api/auth"
	"wainscot/openapi"
)

// clients is how many ask at the same time, each over a connection of its own
// that stays open and each waiting for its answer before it asks again.
const clients = 64

// BenchmarkFloorHTTP is what a request costs before anything is worked out:
// loopback, gin, the token checked, a constant answer of the size of a small
// one. BenchmarkResolveHTTP is measured against it.
func BenchmarkFloorHTTP(b *testing.B) {
	now := func() time.Time { return apitest.Noon }
	tokens, err := auth.NewTokens(auth.TokenOptions{Issuer: "wainscot", Audience: "wainscot", Keys: []auth.Key{apitest.SigningKey}, Now: now})
	if err != nil {
		b.Fatal(err)
	}
	gin.SetMode(gin.ReleaseMode)
	engine := gin.New()
	constant := bytes.Repeat([]byte("a"), 1000)
	engine.POST("/v1/resolve", func(c *gin.Context) {
		if _, err := tokens.Check(strings.TrimPrefix(c.GetHeader("Authorization"), "Bearer ")); err != nil {
			c.Status(http.StatusUnauthorized)
			return
		}
		c.Data(http.StatusOK, "application/json", constant)
	})
	w := openWorld(b)
	load(b, engine, call{path: "/v1/resolve", token: w.Ours.Token[auth.Sales], want: http.StatusOK, body: resolveBody(`,"include":[]`)})
}

// BenchmarkFloorCommit is what it costs to put one small row on the disk, by
// itself, so that a power cut cannot take it: the raw driver, one connection
// with its statement prepared, a write-ahead log, synchronous=FULL, every row
// its own commit. BenchmarkCreateQuote and BenchmarkIssueQuote are measured
// against it.
func BenchmarkFloorCommit(b *testing.B) {
	db, err := sql.Open("sqlite3", "file:"+filepath.Join(b.TempDir(), "floor.db")+"?_journal_mode=WAL&_synchronous=FULL")
	if err != nil {
		b.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	b.Cleanup(func() {
		if err := db.Close(); err != nil {
			b.Error(err)
		}
	})
	if _, err := db.ExecContext(b.Context(), "CREATE TABLE notes (id INTEGER PRIMARY KEY, says TEXT NOT NULL)"); err != nil {
		b.Fatal(err)
	}
	insert, err := db.PrepareContext(b.Context(), "INSERT INTO notes (says) VALUES (?)")
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		if err := insert.Close(); err != nil {
			b.Error(err)
		}
	})
	together(b, func() error {
		_, err := insert.ExecContext(b.Context(), "one small row")
		return err
	})
}

// BenchmarkResolveHTTP is one salesperson's click: some twenty choices, the
// standing of every option of the demo catalogue, and the totals of sheet and
// price.
func BenchmarkResolveHTTP(b *testing.B) {
	w := openWorld(b)
	load(b, w.Server.Handler(), call{path: "/v1/resolve", token: w.Ours.Token[auth.Sales], want: http.StatusOK, body: resolveBody(`,"include":[]`)})
}

// BenchmarkResolveWholeHTTP is the same with reasons, specification, sheet and
// price.
func BenchmarkResolveWholeHTTP(b *testing.B) {
	w := openWorld(b)
	load(b, w.Server.Handler(), call{path: "/v1/resolve", token: w.Ours.Token[auth.Sales], want: http.StatusOK, body: resolveBody("")})
}

// BenchmarkExplainHTTP asks what a salesperson asks about a conversion of some
// twenty choices: why one option stands as it does and why all of twenty do,
// what contradicts when there is one more choice that does not fit, and the
// ways to that choice with what each does to the price.
func BenchmarkExplainHTTP(b *testing.B) {
	w := openWorld(b)
	about := func(n int) string {
		return `,"about":[` + strings.Repeat(`{"feature":"hob_sink"},`, n-1) + `{"feature":"hob_sink"}]`
	}
	for _, k := range []struct {
		name, path string
		body       func(n int64) string
	}{
		{"one-reason", "/v1/reasons", resolveBody(about(1))},
		{"twenty-reasons", "/v1/reasons", resolveBody(about(20))},
		{"conflicts", "/v1/conflicts", func(n int64) string {
			return strings.Replace(resolveBody("")(n), `{"want":"heater_diesel"}`, `{"want":"heater_diesel"},{"want":"hob_sink"}`, 1)
		}},
		{"ways-out", "/v1/ways-out", resolveBody(`,"wish":{"want":"hob_sink"},"settle":"by defaults"`)},
	} {
		b.Run(k.name, func(b *testing.B) {
			load(b, w.Server.Handler(), call{path: k.path, token: w.Ours.Token[auth.Sales], want: http.StatusOK, body: k.body})
		})
	}
}

// BenchmarkCreateQuote makes drafts: choices taken, worked out and priced, the
// draft on the disk before it is answered.
func BenchmarkCreateQuote(b *testing.B) {
	w := openWorld(b)
	load(b, w.Server.Handler(), call{path: "/v1/quotes", token: w.Ours.Token[auth.Sales], want: http.StatusCreated, body: quoteBody, keyed: true})
}

// BenchmarkIssueQuote issues drafts that were made before: each is read, worked
// out for the last time, frozen, packed and hashed, and on the disk before it
// is answered.
func BenchmarkIssueQuote(b *testing.B) {
	w := openWorld(b)
	h := open(b, w.Server.Handler(), w.Ours.Token[auth.Sales])
	drafts := make([]string, b.N)
	var asked atomic.Int64
	together(b, func() error {
		n := asked.Add(1)
		text, err := h.post(b.Context(), "/v1/quotes", fmt.Sprintf("the-draft-%d", n), "",
			`{"vans":[{`+vanAndChoices(n)+`,"settle":"by defaults"}]}`, http.StatusCreated)
		if err != nil {
			return err
		}
		var draft openapi.QuoteKept
		if err := json.Unmarshal(text, &draft); err != nil {
			return err
		}
		drafts[n-1] = draft.Id
		return nil
	})
	if b.Failed() {
		return
	}
	asked.Store(0)
	together(b, func() error {
		n := asked.Add(1)
		_, err := h.post(b.Context(), "/v1/quotes/"+drafts[n-1]+"/issue", fmt.Sprintf("the-issue-%d", n), `"1"`, "{}", http.StatusOK)
		return err
	})
}

// resolveBody gives the body of the n-th resolve, quoteBody of the n-th quote.
func resolveBody(rest string) func(n int64) string {
	return func(n int64) string { return "{" + vanAndChoices(n) + rest + "}" }
}

func quoteBody(n int64) string { return `{"vans":[{` + vanAndChoices(n) + "}]}" }

// vanAndChoices is a van and a conversion for it. Six numbers of things to be
// fitted vary with n, and with them the price, so that one set of choices comes
// again only after 6,335 others.
func vanAndChoices(n int64) string {
	digit := func(least, most int64) int64 {
		d := n % (most - least + 1)
		n /= most - least + 1
		return least + d
	}
	return fmt.Sprintf(`"van":{"base_van":"short_panel_van","registration":"WT24 DMO"},"choices":{"features":[`+
		`{"want":"whole_conversion"},{"want":"roof_elevating"},{"want":"win_near_slide"},{"want":"win_off_fixed"},{"want":"step_insert"},`+
		`{"want":"insulation_wool"},{"want":"floor_vinyl"},{"want":"lining_ply"},{"want":"battery_lithium","count":%d},{"want":"charge_booster"},`+
		`{"want":"mains_hookup"},{"want":"sockets_mains","count":%d},{"want":"sockets_usb","count":%d},{"want":"sockets_12v","count":%d},`+
		`{"want":"lights_ceiling","count":%d},{"want":"lights_reading","count":%d},{"want":"locker_small"},{"want":"hob_two"},`+
		`{"want":"heater_diesel"},{"want":"tank_inside_40"},{"want":"sink_lid"},{"want":"kitchen_unit"},{"want":"bed_folding_bench"},{"want":"roof_bed_board"}],`+
		`"finishes":[{"finish":"fabric","choice":"harbour"}]}`,
		digit(2, 3), digit(1, 3), digit(1, 6), digit(1, 4), digit(2, 12), digit(1, 4))
}

func openWorld(b *testing.B) *apitest.World {
	b.Helper()
	w, err := apitest.Open(b.Context(), b.TempDir())
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		if err := w.Close(); err != nil {
			b.Error(err)
		}
	})
	return w
}

// call is a request that is made again and again.
type call struct {
	path, token string
	body        func(n int64) string
	keyed       bool // with an Idempotency-Key, new each time
	want        int  // status
}

// load makes calls over loopback.
func load(b *testing.B, handler http.Handler, k call) {
	b.Helper()
	h := open(b, handler, k.token)
	var asked, bytesBack atomic.Int64
	ask := func() error {
		n := asked.Add(1)
		key := ""
		if k.keyed {
			key = fmt.Sprintf("request-%d", n)
		}
		text, err := h.post(b.Context(), k.path, key, "", k.body(n), k.want)
		bytesBack.Store(int64(len(text)))
		return err
	}
	if err := ask(); err != nil { // compiles the release
		b.Fatal(err)
	}
	together(b, ask)
	b.ReportMetric(float64(bytesBack.Load()), "bytes/answer")
}

// house is a server over loopback and somebody who asks it.
type house struct {
	address, token string
	client         *http.Client
}

func open(b *testing.B, handler http.Handler, token string) *house {
	b.Helper()
	server := httptest.NewServer(handler)
	b.Cleanup(server.Close)
	client := server.Client()
	client.Transport.(*http.Transport).MaxIdleConnsPerHost = clients
	return &house{server.URL, token, client}
}

// post sends a body and gives the answer, which must have the status wanted.
func (h *house) post(ctx context.Context, path, key, version, body string, want int) ([]byte, error) {
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, h.address+path, strings.NewReader(body))
	if err != nil {
		return nil, err
	}
	request.Header.Set("Authorization", "Bearer "+h.token)
	request.Header.Set("Content-Type", "application/json")
	if key != "" {
		request.Header.Set("Idempotency-Key", key)
	}
	if version != "" {
		request.Header.Set("If-Match", version)
	}
	response, err := h.client.Do(request)
	if err != nil {
		return nil, err
	}
	text, err := io.ReadAll(response.Body)
	if err == nil && response.StatusCode != want {
		err = fmt.Errorf("%d: %s", response.StatusCode, text)
	}
	return text, errors.Join(err, response.Body.Close())
}

// together does something from as many goroutines as there are clients, with
// the garbage collected as seldom as wainscot serve has it: floors too.
func together(b *testing.B, do func() error) {
	b.Helper()
	defer api.CollectSeldom(api.MemoryMiB)()
	b.SetParallelism((clients + runtime.GOMAXPROCS(0) - 1) / runtime.GOMAXPROCS(0)) // goroutines for each processor
	before := processorTime(b)
	b.ResetTimer()
	b.StartTimer() // it stands still after an earlier one
	b.RunParallel(func(pb *testing.PB) {
		for pb.Next() {
			if err := do(); err != nil {
				b.Error(err)
				return
			}
		}
	})
	b.StopTimer()
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "a-second")
	b.ReportMetric(float64((processorTime(b)-before).Microseconds())/float64(b.N), "processor-us/op")
}

// processorTime is what this process has used so far, on all processors: it
// says the same on a busy machine, or nearly.
func processorTime(b *testing.B) time.Duration {
	b.Helper()
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		b.Fatal(err)
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}
