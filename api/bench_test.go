package api_test

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gin-gonic/gin"

	"wainscot/api/apitest"
	"wainscot/api/auth"
)

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
	load(b, engine, w.Ours.Token[auth.Sales], resolveBody)
}

// BenchmarkResolveHTTP is one salesperson's click: some twenty choices, the
// standing of every option of the demo catalogue, and the totals of sheet and
// price.
func BenchmarkResolveHTTP(b *testing.B) {
	w := openWorld(b)
	load(b, w.Server.Handler(), w.Ours.Token[auth.Sales], resolveBody)
}

// BenchmarkResolveWholeHTTP is the same with reasons, specification, sheet and
// price.
func BenchmarkResolveWholeHTTP(b *testing.B) {
	w := openWorld(b)
	load(b, w.Server.Handler(), w.Ours.Token[auth.Sales], strings.Replace(resolveBody, `,"include":[]`, "", 1))
}

const resolveBody = `{"van":{"base_van":"short_panel_van","registration":"WT24 DMO"},"choices":{"features":[` +
	`{"want":"whole_conversion"},{"want":"roof_elevating"},{"want":"win_near_slide"},{"want":"win_off_fixed"},{"want":"step_insert"},` +
	`{"want":"insulation_wool"},{"want":"floor_vinyl"},{"want":"lining_ply"},{"want":"battery_gel","count":2},{"want":"charge_booster"},` +
	`{"want":"mains_hookup"},{"want":"sockets_mains","count":2},{"want":"lights_ceiling","count":6},{"want":"locker_small"},{"want":"hob_two"},` +
	`{"want":"heater_diesel"},{"want":"tank_inside_40"},{"want":"sink_lid"},{"want":"kitchen_unit"},{"want":"bed_folding_bench"}],` +
	`"finishes":[{"finish":"fabric","choice":"harbour"}]},"include":[]}`

func openWorld(b *testing.B) *apitest.World {
	b.Helper()
	w, err := apitest.Open(b.Context(), b.TempDir())
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		if err := w.Store.Close(); err != nil {
			b.Error(err)
		}
	})
	return w
}

// load sends requests over loopback from as many clients as there are
// processors, connections kept open.
func load(b *testing.B, handler http.Handler, token, body string) {
	b.Helper()
	server := httptest.NewServer(handler)
	defer server.Close()
	client := server.Client()
	client.Transport.(*http.Transport).MaxIdleConnsPerHost = 64
	var bytesBack atomic.Int64
	ask := func() error {
		request, err := http.NewRequestWithContext(context.Background(), http.MethodPost, server.URL+"/v1/resolve", strings.NewReader(body))
		if err != nil {
			return err
		}
		request.Header.Set("Authorization", "Bearer "+token)
		request.Header.Set("Content-Type", "application/json")
		response, err := client.Do(request)
		if err != nil {
			return err
		}
		text, err := io.ReadAll(response.Body)
		if err == nil && response.StatusCode != http.StatusOK {
			b.Errorf("%d: %s", response.StatusCode, text)
		}
		bytesBack.Store(int64(len(text)))
		return response.Body.Close()
	}
	if err := ask(); err != nil { // compiles the release
		b.Fatal(err)
	}
	size := float64(bytesBack.Load())
	b.ResetTimer()
	b.RunParallel(func(pb *testing.PB) {
		for pb.Next() {
			if err := ask(); err != nil {
				b.Error(err)
				return
			}
		}
	})
	b.ReportMetric(size, "bytes/answer")
}
