package auth

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
	"golang.org/x/text/unicode/norm"
)

// Cost of one argon2id derivation: about 24 ms and 19 MiB on a small server.
// Source: OWASP Password Storage Cheat Sheet (m=19456 KiB, t=2, p=1); the
// function itself is RFC 9106.
const (
	memoryKiB   = 19456
	passes      = 2
	lanes       = 1
	saltBytes   = 16
	digestBytes = 32
)

// Bounds on what a stored hash may ask of us, so that a hash that came from
// elsewhere cannot be used to exhaust the machine.
const (
	maxMemoryKiB = 1 << 18 // 256 MiB
	maxPasses    = 16
	maxLanes     = 8
)

// Bounds on a password, in characters (MinPassword) and bytes (MaxPassword).
const (
	MinPassword = 10
	MaxPassword = 256
)

// Errors of Hash and Check.
var (
	// ErrPassword: the password given cannot be used; its text says why.
	ErrPassword = errors.New("password not usable")
	// ErrStoredHash: what is stored for the person is not an argon2id hash
	// in PHC string form.
	ErrStoredHash = errors.New("stored password hash is not readable")
)

// Passwords hashes and checks passwords. Each derivation takes memory and
// time on purpose, so only a few run at once and the rest wait at the door.
type Passwords struct {
	door chan struct{}
	// nobody is checked for people who are not there, so that a wrong name
	// costs as much work as a wrong password and the two cannot be told
	// apart by a stopwatch.
	nobody string
	derive func(password, salt []byte, c cost, size int) []byte
}

// NewPasswords lets at most atOnce derivations run at the same time, each
// taking 19 MiB; atOnce below 1 means 1.
func NewPasswords(atOnce int) (*Passwords, error) {
	p := &Passwords{door: make(chan struct{}, max(atOnce, 1)), derive: argon2id}
	unguessable := make([]byte, digestBytes)
	salt := make([]byte, saltBytes)
	if err := random(unguessable, salt); err != nil {
		return nil, err
	}
	// No derivation is needed: nothing but the same work has to be asked.
	p.nobody = phc{cost: ours, salt: salt, digest: unguessable}.String()
	return p, nil
}

// Hash makes the PHC string to store for a password. It waits at the door
// until ctx ends. A password that is too short, too long or not UTF-8 gives
// an ErrPassword.
func (p *Passwords) Hash(ctx context.Context, password string) (string, error) {
	if err := usable(password); err != nil {
		return "", err
	}
	salt := make([]byte, saltBytes)
	if err := random(salt); err != nil {
		return "", err
	}
	digest, err := p.work(ctx, password, salt, ours, digestBytes)
	if err != nil {
		return "", err
	}
	return phc{cost: ours, salt: salt, digest: digest}.String(), nil
}

// Check reports whether password is the one stored was made from. Pass ""
// as stored for a person who is not there: the work is the same and the
// answer is false. It waits at the door until ctx ends.
func (p *Passwords) Check(ctx context.Context, stored, password string) (bool, error) {
	known := stored != ""
	if !known {
		stored = p.nobody
	}
	want, err := parsePHC(stored)
	if err != nil {
		return false, err
	}
	if len(password) > MaxPassword || !utf8.ValidString(password) {
		password = "" // cannot match; the work is still done
		known = false
	}
	got, err := p.work(ctx, password, want.salt, want.cost, len(want.digest))
	if err != nil {
		return false, err
	}
	same := subtle.ConstantTimeCompare(got, want.digest) == 1
	return same && known, nil
}

// Outdated reports whether stored was made at another cost than today's, so
// that it should be made anew at the next successful sign-in.
func (p *Passwords) Outdated(stored string) bool {
	h, err := parsePHC(stored)
	return err != nil || h.cost != ours
}

func (p *Passwords) work(ctx context.Context, password string, salt []byte, c cost, size int) ([]byte, error) {
	select {
	case p.door <- struct{}{}:
		defer func() { <-p.door }()
	case <-ctx.Done():
		return nil, fmt.Errorf("waiting to check a password: %w", ctx.Err())
	}
	// The same characters typed on another keyboard must give the same
	// bytes (RFC 8265, OpaqueString: normalisation form C).
	return p.derive(norm.NFC.Bytes([]byte(password)), salt, c, size), nil
}

func usable(password string) error {
	switch {
	case !utf8.ValidString(password):
		return fmt.Errorf("%w: not valid UTF-8", ErrPassword)
	case utf8.RuneCountInString(password) < MinPassword:
		return fmt.Errorf("%w: shorter than %d characters", ErrPassword, MinPassword)
	case len(password) > MaxPassword:
		return fmt.Errorf("%w: longer than %d bytes", ErrPassword, MaxPassword)
	}
	return nil
}

func random(into ...[]byte) error {
	for _, b := range into {
		if _, err := rand.Read(b); err != nil {
			return fmt.Errorf("no randomness to be had: %w", err)
		}
	}
	return nil
}

func argon2id(password, salt []byte, c cost, size int) []byte {
	return argon2.IDKey(password, salt, c.passes, c.memoryKiB, c.lanes, uint32(size))
}

type cost struct {
	memoryKiB, passes uint32
	lanes             uint8
}

var ours = cost{memoryKiB: memoryKiB, passes: passes, lanes: lanes}

// phc is a hash in the PHC string form, as the argon2 reference code writes
// it: $argon2id$v=19$m=19456,t=2,p=1$salt$digest, in base64 without padding.
type phc struct {
	cost         cost
	salt, digest []byte
}

var b64 = base64.RawStdEncoding.Strict()

func (h phc) String() string {
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version,
		h.cost.memoryKiB, h.cost.passes, h.cost.lanes,
		b64.EncodeToString(h.salt), b64.EncodeToString(h.digest))
}

func parsePHC(s string) (phc, error) {
	bad := func(why string) (phc, error) { return phc{}, fmt.Errorf("%w: %s", ErrStoredHash, why) }
	fields := strings.Split(s, "$")
	if len(s) > 512 || len(fields) != 6 || fields[0] != "" {
		return bad("not of the form $argon2id$v=…$m=…,t=…,p=…$salt$digest")
	}
	if fields[1] != "argon2id" || fields[2] != "v="+strconv.Itoa(argon2.Version) {
		return bad("not argon2id version 19")
	}
	params := strings.Split(fields[3], ",")
	if len(params) != 3 {
		return bad("needs m, t and p")
	}
	var n [3]uint64
	for i, limit := range []struct {
		name string
		most uint64
	}{{"m=", maxMemoryKiB}, {"t=", maxPasses}, {"p=", maxLanes}} {
		digits, ok := strings.CutPrefix(params[i], limit.name)
		v, err := strconv.ParseUint(digits, 10, 32)
		if !ok || err != nil || v < 1 || v > limit.most {
			return bad(limit.name + " missing or out of bounds")
		}
		n[i] = v
	}
	salt, err := b64.DecodeString(fields[4])
	if err != nil || len(salt) < 8 || len(salt) > 64 {
		return bad("salt not 8 to 64 bytes of base64")
	}
	digest, err := b64.DecodeString(fields[5])
	if err != nil || len(digest) < 16 || len(digest) > 64 {
		return bad("digest not 16 to 64 bytes of base64")
	}
	c := cost{memoryKiB: uint32(n[0]), passes: uint32(n[1]), lanes: uint8(n[2])}
	return phc{cost: c, salt: salt, digest: digest}, nil
}
