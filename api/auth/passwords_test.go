package auth

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
)

func passwords(t *testing.T, atOnce int) *Passwords {
	t.Helper()
	p, err := NewPasswords(atOnce)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestPasswordIsKnownAgain(t *testing.T) {
	t.Parallel()
	p := passwords(t, 2)
	ctx := t.Context()
	stored, err := p.Hash(ctx, "correct horse café")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(stored, "$argon2id$v=19$m=19456,t=2,p=1$") {
		t.Errorf("stored as %s", stored)
	}
	again, err := p.Hash(ctx, "correct horse café")
	if err != nil || again == stored {
		t.Errorf("two hashes of one password are the same, or %v", err)
	}
	for typed, want := range map[string]bool{
		"correct horse café":       true,
		"correct horse cafe\u0301": true, // the accent typed as a character of its own
		"correct horse cafe":       false,
		"Correct horse café":       false,
		"":                         false,
	} {
		if got, err := p.Check(ctx, stored, typed); err != nil || got != want {
			t.Errorf("Check(%q) = %v, %v; want %v", typed, got, err, want)
		}
	}
	if p.Outdated(stored) {
		t.Error("a fresh hash is called outdated")
	}
}

// Vectors of the argon2 reference code, phc-winner-argon2 src/test.c (v=19),
// from memory; the encoded form and the digest are both given there.
func TestReferenceVectors(t *testing.T) {
	t.Parallel()
	p := passwords(t, 1)
	for _, v := range []struct{ encoded, digest string }{
		{
			"$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc",
			"09316115d5cf24ed5a15a31a3ba326e5cf32edc24702987c02b6566f61913cf7",
		},
		{
			"$argon2id$v=19$m=256,t=2,p=1$c29tZXNhbHQ$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4",
			"9dfeb910e80bad0311fee20f9c0e2b12c17987b4cac90c2ef54d5b3021c68bfe",
		},
	} {
		h, err := parsePHC(v.encoded)
		if err != nil {
			t.Fatal(err)
		}
		if got := hex.EncodeToString(h.digest); got != v.digest {
			t.Errorf("digest read as %s", got)
		}
		if h.String() != v.encoded {
			t.Errorf("written again as %s", h)
		}
		if ok, err := p.Check(t.Context(), v.encoded, "password"); !ok || err != nil {
			t.Errorf("%s: %v, %v", v.encoded, ok, err)
		}
		if !p.Outdated(v.encoded) {
			t.Error("another cost is not called outdated")
		}
	}
}

// An unknown person must cost what a wrong password costs: the same
// derivations of the same size. Counted, not timed.
func TestUnknownPersonCostsTheSame(t *testing.T) {
	t.Parallel()
	p := passwords(t, 1)
	type work struct {
		cost cost
		salt int
		size int
	}
	var done []work
	p.derive = func(_, salt []byte, c cost, size int) []byte {
		done = append(done, work{c, len(salt), size})
		return make([]byte, size)
	}
	stored := phc{cost: ours, salt: make([]byte, saltBytes), digest: bytes.Repeat([]byte{1}, digestBytes)}.String()
	for _, c := range []struct{ stored, password string }{
		{stored, "a wrong password"}, {"", "a wrong password"},
		{stored, strings.Repeat("x", MaxPassword+1)}, {"", "not UTF-8 \xff"},
	} {
		if ok, err := p.Check(t.Context(), c.stored, c.password); ok || err != nil {
			t.Errorf("Check = %v, %v", ok, err)
		}
	}
	want := work{ours, saltBytes, digestBytes}
	for i, w := range done {
		if w != want {
			t.Errorf("check %d worked %+v, want %+v", i, w, want)
		}
	}
	if len(done) != 4 {
		t.Errorf("%d derivations for 4 checks", len(done))
	}
}

// Even a password that happens to derive to the dummy's digest lets nobody in.
func TestNobodySignsInAsNobody(t *testing.T) {
	t.Parallel()
	p := passwords(t, 1)
	dummy, err := parsePHC(p.nobody)
	if err != nil {
		t.Fatal(err)
	}
	p.derive = func(_, _ []byte, _ cost, _ int) []byte { return dummy.digest }
	if ok, err := p.Check(t.Context(), "", "whatever it is"); ok || err != nil {
		t.Errorf("Check = %v, %v", ok, err)
	}
}

func TestOnlySoManyAtOnce(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		const atOnce, callers = 3, 12
		p := passwords(t, atOnce)
		var running atomic.Int32
		release := make(chan struct{})
		p.derive = func(_, _ []byte, _ cost, size int) []byte {
			running.Add(1)
			<-release
			running.Add(-1)
			return make([]byte, size)
		}
		check := func(ctx context.Context) error {
			_, err := p.Check(ctx, "", "some password")
			return err
		}
		var all sync.WaitGroup
		for range callers {
			all.Go(func() {
				if err := check(context.Background()); err != nil {
					t.Error(err)
				}
			})
		}
		synctest.Wait()
		if n := running.Load(); n != atOnce {
			t.Errorf("%d derivations at once, want %d", n, atOnce)
		}
		ctx, cancel := context.WithCancel(context.Background())
		cancel()
		if err := check(ctx); !errors.Is(err, context.Canceled) {
			t.Errorf("giving up at a full door: %v", err)
		}
		close(release)
		all.Wait()
	})
}

func TestUnusablePasswords(t *testing.T) {
	t.Parallel()
	p := passwords(t, 1)
	for name, password := range map[string]string{
		"short": "ninechars", "long": strings.Repeat("x", MaxPassword+1), "not UTF-8": "ten or more \xff\xfe",
	} {
		if _, err := p.Hash(t.Context(), password); !errors.Is(err, ErrPassword) {
			t.Errorf("%s: %v, want ErrPassword", name, err)
		}
	}
}

func TestUnreadableStoredHashes(t *testing.T) {
	t.Parallel()
	p := passwords(t, 1)
	p.derive = func(_, _ []byte, _ cost, size int) []byte { t.Error("worked on it"); return make([]byte, size) }
	const salt, sum = "c29tZXNhbHQ", "nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4"
	for _, stored := range []string{
		"plain", "$2a$10$abcdefghijklmnopqrstuv",
		"$argon2i$v=19$m=256,t=2,p=1$" + salt + "$" + sum,
		"$argon2id$v=16$m=256,t=2,p=1$" + salt + "$" + sum,
		"$argon2id$v=19$m=99999999,t=2,p=1$" + salt + "$" + sum, // 100 GB
		"$argon2id$v=19$m=256,t=4294967295,p=1$" + salt + "$" + sum,
		"$argon2id$v=19$m=256,t=2,p=0$" + salt + "$" + sum,
		"$argon2id$v=19$m=256,t=2$" + salt + "$" + sum,
		"$argon2id$v=19$t=2,m=256,p=1$" + salt + "$" + sum,
		"$argon2id$v=19$m=256,t=2,p=1$c29t$" + sum,
		"$argon2id$v=19$m=256,t=2,p=1$" + salt + "$c29t",
		"$argon2id$v=19$m=256,t=2,p=1$" + salt + "$" + sum + "=",
		"$argon2id$v=19$m=256,t=2,p=1$" + salt + "$" + sum + "$",
		strings.Repeat("$", 600),
	} {
		if ok, err := p.Check(t.Context(), stored, "some password"); ok || !errors.Is(err, ErrStoredHash) {
			t.Errorf("%.60s: %v, %v; want ErrStoredHash", stored, ok, err)
		}
		if !p.Outdated(stored) {
			t.Errorf("%.60s is not called outdated", stored)
		}
	}
}

func TestRoles(t *testing.T) {
	t.Parallel()
	for _, r := range Roles() {
		if got, err := ParseRole(string(r)); err != nil || got != r {
			t.Errorf("ParseRole(%q) = %v, %v", r, got, err)
		}
	}
	if _, err := ParseRole("admin"); err == nil {
		t.Error("an unknown role was accepted")
	}
	if Sales.SeesCost() || Workshop.SeesCost() || !Owner.SeesCost() || !Books.SeesCost() {
		t.Error("the wrong roles see costs")
	}
}

func BenchmarkHashPassword(b *testing.B) {
	p, err := NewPasswords(1)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := p.Hash(b.Context(), "correct horse café"); err != nil {
			b.Fatal(err)
		}
	}
}
