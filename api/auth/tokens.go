package auth

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/golang-jwt/jwt/v5"
	"github.com/google/uuid"
)

// Rules of the tokens.
const (
	// TokenType is the typ in a token's header (RFC 9068).
	TokenType = "at+jwt"
	// TokenLife is how long a token holds unless told otherwise.
	TokenLife = 15 * time.Minute
	// Leeway is how far two clocks may be apart.
	Leeway = 30 * time.Second
	// MinKeyBytes is the least length of a key for HS256 (RFC 7518, 3.2).
	MinKeyBytes = 32

	maxTokenLife  = time.Hour
	maxTokenBytes = 2048
)

// Errors of Tokens.Check. ErrExpired is also an ErrToken.
var (
	// ErrToken: the token is not one of ours, or not for here.
	ErrToken = errors.New("token not valid")
	// ErrExpired: the token was good, and is so no longer.
	ErrExpired = fmt.Errorf("%w: it has expired", ErrToken)
)

// Key signs tokens; ID is named in their header, so that keys can be changed
// while tokens of the one before are still about.
type Key struct {
	ID     string
	Secret []byte
}

// TokenOptions are what tokens are made with.
type TokenOptions struct {
	// Issuer and Audience must be in every token.
	Issuer, Audience string
	// Keys: the first signs; all of them are believed.
	Keys []Key
	// Life of a token; 0 is TokenLife. At most an hour.
	Life time.Duration
	// Now is the clock; nil is time.Now.
	Now func() time.Time
}

// Tokens signs and checks access tokens: JSON Web Tokens under HMAC-SHA256
// and nothing else.
type Tokens struct {
	options TokenOptions
	keys    map[string][]byte
	parser  *jwt.Parser
}

// claims of a token. The person is the subject; sid is the sign-in, as OpenID
// Connect names a session.
type claims struct {
	Tenant string `json:"tenant"`
	SignIn string `json:"sid"`
	Role   Role   `json:"role"`
	jwt.RegisteredClaims
}

// NewTokens makes a signer and checker of tokens. It refuses a missing issuer
// or audience, no keys, equal or empty key ids, and secrets under MinKeyBytes.
func NewTokens(o TokenOptions) (*Tokens, error) {
	if o.Issuer == "" || o.Audience == "" {
		return nil, errors.New("tokens need an issuer and an audience")
	}
	if o.Life == 0 {
		o.Life = TokenLife
	}
	if o.Life < time.Second || o.Life > maxTokenLife {
		return nil, fmt.Errorf("a token's life must be between a second and %v, not %v", maxTokenLife, o.Life)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if len(o.Keys) == 0 {
		return nil, errors.New("tokens need at least one key")
	}
	t := &Tokens{options: o, keys: map[string][]byte{}}
	t.options.Keys = nil
	for _, k := range o.Keys {
		if _, twice := t.keys[k.ID]; k.ID == "" || twice {
			return nil, fmt.Errorf("key id %q is empty or used twice", k.ID)
		}
		if len(k.Secret) < MinKeyBytes {
			return nil, fmt.Errorf("key %q has %d bytes; HS256 needs at least %d", k.ID, len(k.Secret), MinKeyBytes)
		}
		t.keys[k.ID] = slices.Clone(k.Secret)
		t.options.Keys = append(t.options.Keys, Key{ID: k.ID})
	}
	// The library's defaults accept a token without exp, for another
	// audience, from the future and of any type: each is asked for here.
	t.parser = jwt.NewParser(
		jwt.WithValidMethods([]string{jwt.SigningMethodHS256.Alg()}),
		jwt.WithExpirationRequired(),
		jwt.WithIssuedAt(),
		jwt.WithIssuer(o.Issuer),
		jwt.WithAudience(o.Audience),
		jwt.WithLeeway(Leeway),
		jwt.WithTimeFunc(o.Now),
		jwt.WithStrictDecoding(),
	)
	return t, nil
}

// Issue signs a token for the principal and says until when it holds.
func (t *Tokens) Issue(p Principal) (token string, expires time.Time, err error) {
	if !p.Valid() || p.SignIn == uuid.Nil {
		return "", time.Time{}, errors.New("a token needs a workshop, a person, a role and a sign-in")
	}
	now := t.options.Now().UTC().Truncate(time.Second)
	expires = now.Add(t.options.Life)
	id, err := uuid.NewRandom()
	if err != nil {
		return "", time.Time{}, fmt.Errorf("no randomness to be had: %w", err)
	}
	made := jwt.NewWithClaims(jwt.SigningMethodHS256, claims{
		Tenant: p.Workshop.String(),
		SignIn: p.SignIn.String(),
		Role:   p.Role,
		RegisteredClaims: jwt.RegisteredClaims{
			Issuer:    t.options.Issuer,
			Audience:  jwt.ClaimStrings{t.options.Audience},
			Subject:   p.Person.String(),
			IssuedAt:  jwt.NewNumericDate(now),
			ExpiresAt: jwt.NewNumericDate(expires),
			ID:        id.String(),
		},
	})
	first := t.options.Keys[0].ID
	made.Header["typ"] = TokenType
	made.Header["kid"] = first
	token, err = made.SignedString(t.keys[first])
	return token, expires, err
}

// Check returns whom a token was issued to, or ErrExpired, or another
// ErrToken whose text is for the log and not for the caller.
func (t *Tokens) Check(token string) (Principal, error) {
	if len(token) > maxTokenBytes {
		return Principal{}, fmt.Errorf("%w: longer than %d bytes", ErrToken, maxTokenBytes)
	}
	var c claims
	_, err := t.parser.ParseWithClaims(token, &c, t.key)
	switch {
	// Every fault found is in err: only a token whose single fault is its
	// age is called expired.
	case onlyExpired(err):
		return Principal{}, ErrExpired
	case err != nil:
		return Principal{}, fmt.Errorf("%w: %w", ErrToken, err)
	}
	if c.IssuedAt == nil || c.ExpiresAt.Sub(c.IssuedAt.Time) > maxTokenLife {
		return Principal{}, fmt.Errorf("%w: no iat, or a life over %v", ErrToken, maxTokenLife)
	}
	p := Principal{Role: c.Role}
	if p.Workshop, err = canonicalUUID(c.Tenant); err != nil {
		return Principal{}, fmt.Errorf("%w: tenant: %w", ErrToken, err)
	}
	if p.Person, err = canonicalUUID(c.Subject); err != nil {
		return Principal{}, fmt.Errorf("%w: sub: %w", ErrToken, err)
	}
	if p.SignIn, err = canonicalUUID(c.SignIn); err != nil {
		return Principal{}, fmt.Errorf("%w: sid: %w", ErrToken, err)
	}
	if !p.Valid() || p.SignIn == uuid.Nil {
		return Principal{}, fmt.Errorf("%w: names nobody, or the role %q that is not known", ErrToken, c.Role)
	}
	return p, nil
}

// key looks at the header, before the signature is checked with what it
// returns.
func (t *Tokens) key(token *jwt.Token) (any, error) {
	if typ, _ := token.Header["typ"].(string); typ != TokenType {
		return nil, fmt.Errorf("typ is %q, not %q", typ, TokenType)
	}
	// A critical extension we do not know must not be passed over
	// (RFC 7515, 4.1.11), and we know none.
	if _, there := token.Header["crit"]; there {
		return nil, errors.New("crit is not understood")
	}
	id, _ := token.Header["kid"].(string)
	secret, ok := t.keys[id]
	if !ok {
		return nil, fmt.Errorf("no key has the id %q", id)
	}
	return secret, nil
}

func onlyExpired(err error) bool {
	if !errors.Is(err, jwt.ErrTokenExpired) {
		return false
	}
	for _, other := range []error{
		jwt.ErrTokenInvalidAudience, jwt.ErrTokenInvalidIssuer, jwt.ErrTokenUsedBeforeIssued,
		jwt.ErrTokenNotValidYet, jwt.ErrTokenRequiredClaimMissing, jwt.ErrTokenSignatureInvalid,
	} {
		if errors.Is(err, other) {
			return false
		}
	}
	return true
}

func canonicalUUID(s string) (uuid.UUID, error) {
	id, err := uuid.Parse(s)
	if err == nil && id.String() != s {
		err = errors.New("not in canonical form")
	}
	return id, err
}
