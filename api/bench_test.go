package api_test

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	_ "github.com/mattn/go-sqlite3"

	"wainscot/api/apitest"
	"wainscot/api/auth"
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

// BenchmarkCreateQuote makes drafts: choices taken, worked out and priced, the
// draft on the disk before it is answered.
func BenchmarkCreateQuote(b *testing.B) {
	w := openWorld(b)
	load(b, w.Server.Handler(), call{path: "/v1/quotes", token: w.Ours.Token[auth.Sales], want: http.StatusCreated, body: resolveBody("")})
}

// resolveBody gives the body of the n-th request. Six numbers of things to be
// fitted vary, and with them the price, so that one set of choices comes again
// only after 6,335 others.
func resolveBody(rest string) func(n int64) string {
	return func(n int64) string {
		digit := func(least, most int64) int64 {
			d := n % (most - least + 1)
			n /= most - least + 1
			return least + d
		}
		return fmt.Sprintf(`{"van":{"base_van":"short_panel_van","registration":"WT24 DMO"},"choices":{"features":[`+
			`{"want":"whole_conversion"},{"want":"roof_elevating"},{"want":"win_near_slide"},{"want":"win_off_fixed"},{"want":"step_insert"},`+
			`{"want":"insulation_wool"},{"want":"floor_vinyl"},{"want":"lining_ply"},{"want":"battery_gel","count":%d},{"want":"charge_booster"},`+
			`{"want":"mains_hookup"},{"want":"sockets_mains","count":%d},{"want":"sockets_usb","count":%d},{"want":"sockets_12v","count":%d},`+
			`{"want":"lights_ceiling","count":%d},{"want":"lights_reading","count":%d},{"want":"locker_small"},{"want":"hob_two"},`+
			`{"want":"heater_diesel"},{"want":"tank_inside_40"},{"want":"sink_lid"},{"want":"kitchen_unit"},{"want":"bed_folding_bench"}],`+
			`"finishes":[{"finish":"fabric","choice":"harbour"}]}%s}`,
			digit(1, 2), digit(1, 3), digit(1, 6), digit(1, 4), digit(2, 12), digit(1, 4), rest)
	}
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
	want        int // status
}

// load makes calls over loopback.
func load(b *testing.B, handler http.Handler, k call) {
	b.Helper()
	server := httptest.NewServer(handler)
	defer server.Close()
	client := server.Client()
	client.Transport.(*http.Transport).MaxIdleConnsPerHost = clients
	var asked, bytesBack atomic.Int64
	ask := func() error {
		request, err := http.NewRequestWithContext(b.Context(), http.MethodPost, server.URL+k.path, strings.NewReader(k.body(asked.Add(1))))
		if err != nil {
			return err
		}
		request.Header.Set("Authorization", "Bearer "+k.token)
		request.Header.Set("Content-Type", "application/json")
		response, err := client.Do(request)
		if err != nil {
			return err
		}
		text, err := io.ReadAll(response.Body)
		if err == nil && response.StatusCode != k.want {
			err = fmt.Errorf("%d: %s", response.StatusCode, text)
		}
		bytesBack.Store(int64(len(text)))
		return errors.Join(err, response.Body.Close())
	}
	if err := ask(); err != nil { // compiles the release
		b.Fatal(err)
	}
	together(b, ask)
	b.ReportMetric(float64(bytesBack.Load()), "bytes/answer")
}

// together does something from as many goroutines as there are clients.
func together(b *testing.B, do func() error) {
	b.Helper()
	b.SetParallelism((clients + runtime.GOMAXPROCS(0) - 1) / runtime.GOMAXPROCS(0)) // goroutines for each processor
	b.ResetTimer()
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
}
