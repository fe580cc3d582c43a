package auth

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"
)

// How long a sign-in holds.
const (
	// SignInIdle ends a sign-in that has not been renewed for so long.
	SignInIdle = 30 * 24 * time.Hour
	// SignInLongest ends a sign-in however often it is renewed: then the
	// password is asked for again.
	SignInLongest = 90 * 24 * time.Hour
	// RenewalGrace is how long the token before the newest may still be used:
	// for an answer that was lost on its way, and for two windows of one
	// browser that renew at the same moment. It makes a newest token like any
	// other use, so there is never more than one that is good: whoever of two
	// holders renews first in the next round, the other one's is an old token
	// used again, and the sign-in ends. A thief is found out one round later,
	// not less surely.
	RenewalGrace = 30 * time.Second
)

// ErrRenewal says that a text is not a renewal token.
var ErrRenewal = errors.New("not a renewal token")

const secretBytes = 32

// Renewal is the secret with which a sign-in is renewed without the password.
// It is good once: each renewal gives the next one. Only hashes of it are
// ever stored.
type Renewal struct {
	Workshop uuid.UUID
	SignIn   uuid.UUID
	// family is the same in all renewals of one sign-in: it tells an old one
	// that is used again from one that was made up.
	family [secretBytes]byte
	newest [secretBytes]byte
}

// NewRenewal makes the first renewal of a sign-in.
func NewRenewal(workshop, signIn uuid.UUID) (Renewal, error) {
	r := Renewal{Workshop: workshop, SignIn: signIn}
	return r, random(r.family[:], r.newest[:])
}

// Next makes the renewal that takes this one's place.
func (r Renewal) Next() (Renewal, error) {
	return r, random(r.newest[:])
}

// FamilyHash is what is stored of the part that all renewals of a sign-in
// share; NewestHash of the part that is this one's alone. SHA-256 in
// hexadecimal: what is hashed is random, so no slow hash is called for.
func (r Renewal) FamilyHash() string { return hashOf(r.family) }

// NewestHash is described at FamilyHash.
func (r Renewal) NewestHash() string { return hashOf(r.newest) }

func hashOf(secret [secretBytes]byte) string {
	sum := sha256.Sum256(secret[:])
	return hex.EncodeToString(sum[:])
}

var renewalText = base64.RawURLEncoding.Strict()

// renewalBytes is the length of a renewal before it is written as text.
const renewalBytes = 2*16 + 2*secretBytes

// Token is the renewal as it is handed out: to whoever holds it, one word.
func (r Renewal) Token() string {
	b := make([]byte, 0, renewalBytes)
	b = append(b, r.Workshop[:]...)
	b = append(b, r.SignIn[:]...)
	b = append(b, r.family[:]...)
	b = append(b, r.newest[:]...)
	return renewalText.EncodeToString(b)
}

// ParseRenewal reads what Token wrote; anything else is an ErrRenewal.
func ParseRenewal(token string) (Renewal, error) {
	// The library skips line ends; a token has none.
	if len(token) != renewalText.EncodedLen(renewalBytes) || strings.ContainsAny(token, "\r\n") {
		return Renewal{}, ErrRenewal
	}
	b, err := renewalText.DecodeString(token)
	if err != nil {
		return Renewal{}, fmt.Errorf("%w: %w", ErrRenewal, err)
	}
	var r Renewal
	for _, part := range [][]byte{r.Workshop[:], r.SignIn[:], r.family[:], r.newest[:]} {
		b = b[copy(part, b):]
	}
	return r, nil
}
