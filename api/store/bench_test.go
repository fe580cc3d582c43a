package store

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"sync/atomic"
	"testing"
)

// sheetLike is about as large, and packs about as well, as a frozen quote of
// 300 lines.
func sheetLike() []byte {
	r := rand.New(rand.NewPCG(1, 2))
	var b bytes.Buffer
	for i := range 300 {
		fmt.Fprintf(&b, `{"stage":"stage-%d","kind":"part","code":"part-%04d","name":"Panel screw, coated, %d mm","quantity":"%d.%02d","unit":"each","mass_kg":"0.%03d","because":[{"feature":"feature-%03d","quantity":"%d","says":"the bed frame brings it, for the van of this length"}]},`,
			i/25, r.IntN(3000), r.IntN(90), r.IntN(40), r.IntN(100), r.IntN(1000), r.IntN(90), r.IntN(40))
	}
	return b.Bytes()
}

// BenchmarkStoreCreateQuote creates durable drafts from many goroutines at
// once, packed beforehand, on the file system of the test's folder: with what a
// draft keeps, and with as much as a frozen document has. BenchmarkFloorCommit
// in the API's benchmarks is what it stands beside.
func BenchmarkStoreCreateQuote(b *testing.B) {
	whole := sheetLike()
	for _, c := range []struct {
		name    string
		plain   []byte
		clients int
	}{{"draft/clients=1", whole[:4000], 1}, {"draft/clients=64", whole[:4000], 64}, {"sheet/clients=64", whole, 64}} {
		packed := Pack(c.plain)
		b.Run(c.name, func(b *testing.B) { benchmarkCreate(b, packed, c.clients) })
	}
}

func benchmarkCreate(b *testing.B, packed Packed, clients int) {
	b.Helper()
	s := open(b, fresh(b), Options{})
	h := s.As(workshop(b, s, "fenland"))
	c := content("long")
	c.Asked = packed
	before := s.Stats()
	b.SetParallelism((clients + 1) / 2) // times GOMAXPROCS goroutines, on two cores as many as clients
	b.ReportAllocs()
	var failed atomic.Int64
	if clients == 1 {
		for b.Loop() {
			createOnce(h, c, &failed)
		}
	} else {
		b.RunParallel(func(pb *testing.PB) {
			for pb.Next() {
				createOnce(h, c, &failed)
			}
		})
	}
	b.StopTimer()
	after := s.Stats()
	b.ReportMetric(float64(after.Writes-before.Writes)/float64(after.Groups-before.Groups), "writes/commit")
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "quotes/s")
	b.ReportMetric(float64(packed.StoredBytes()), "bytes/document")
	if n := failed.Load(); n > 0 {
		b.Errorf("%d failed", n)
	}
}

func createOnce(h Handle, c QuoteContent, failed *atomic.Int64) {
	err := h.Write(context.Background(), func(tx WriteTx) error {
		_, err := tx.CreateQuote(c)
		return err
	})
	if err != nil {
		failed.Add(1)
	}
}

// BenchmarkPack is what a document of 300 lines costs before a transaction.
func BenchmarkPack(b *testing.B) {
	plain := sheetLike()
	b.SetBytes(int64(len(plain)))
	for b.Loop() {
		Pack(plain)
	}
}
