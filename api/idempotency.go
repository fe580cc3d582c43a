package api

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/openapi"
)

// A request that stores something may have to be sent again: its answer was
// lost, the server was stopped, a finger was quick. So it carries a key its
// sender made up (Idempotency-Key, draft-ietf-httpapi-idempotency-key-header),
// and the answer is kept under the key in the very transaction that stores the
// effect. The same request under the same key gets that answer and does
// nothing. Only what stored something is kept: a refused request may be mended
// or tried again under its key.

const (
	// answersKeptFor is how long an answer can be had again at least. Long
	// enough for a weekend without a line; no longer, because bodies hold
	// personal data.
	answersKeptFor = 7 * 24 * time.Hour
	// One write in clearEvery takes at most clearBite answers of its workshop
	// that are older than that away, so that no write is ever held up by many.
	clearEvery = 32
	clearBite  = 100
	// firstWait is how long an equal request waits for the first one.
	firstWait = 10 * time.Second
	// lookTimeout is for looking an answer up.
	lookTimeout = 5 * time.Second

	minKeyLength = 8
	maxKeyLength = 100
)

// reply is what a write comes to, and all that is kept of it.
type reply struct {
	status int
	// location of what was made, sent as Location; "" for none.
	location string
	// about is the address of what the answer tells of, where it is not the
	// location or what the request was sent to.
	about string
	// version of what was made or changed, sent as ETag; 0 for none.
	version int64
	// sealed: the body has a secret in it, so it is kept encrypted.
	sealed bool
	// body is a contract type, or a jsontext.Value that a handler encoded
	// before the transaction because it is large; nil for no body. Other
	// writes wait while it is encoded.
	body any
}

// keep runs write as the request's principal and answers with its reply. When
// the request has an Idempotency-Key the answer is kept under it in the same
// transaction, so that there is never an effect without its answer or an
// answer without its effect. What write may do is said at store.Handle.Write;
// in particular it must be short, and may have run although keep gives an
// error.
func (s *Server) keep(c *gin.Context, write func(tx store.WriteTx) (reply, error)) error {
	request, keyed := c.Value(requestKeyKey).(*keyedRequest)
	var first store.KeptAnswer
	err := s.store.As(principal(c)).Write(c.Request.Context(), func(tx store.WriteTx) error {
		done, err := write(tx)
		if err != nil {
			return err
		}
		if first, err = done.answer(); err != nil || !keyed {
			return err
		}
		first.Key, first.Fingerprint = request.key.text, request.fingerprints[0]
		first.About = aboutOf(c, done)
		if request.clears {
			if err := tx.ClearAnswers(tx.Now().Add(-answersKeptFor), clearBite); err != nil {
				return err
			}
		}
		kept := first
		if done.sealed {
			if kept.Body, err = s.seal(first.Body); err != nil {
				return err
			}
		}
		return tx.KeepAnswer(kept)
	})
	if err != nil {
		return err
	}
	if keyed {
		request.flight.answer = &first
	}
	sendKept(c, first)
	return nil
}

// answer encodes a reply.
func (r reply) answer() (store.KeptAnswer, error) {
	a := store.KeptAnswer{Status: r.status, Location: r.location, Version: r.version}
	switch body := r.body.(type) {
	case nil:
	case jsontext.Value:
		a.Body = body
	default:
		var err error
		if a.Body, err = encode(body); err != nil {
			return a, fmt.Errorf("encoding the answer: %w", err)
		}
	}
	return a, nil
}

// aboutOf is the address of the thing a reply tells of: what was made, or the
// thing the request was sent to, without what was to be done with it.
func aboutOf(c *gin.Context, r reply) string {
	if r.about != "" {
		return r.about
	}
	if r.location != "" {
		return r.location
	}
	if c.Param("link") != "" {
		return "" // the address itself is a secret
	}
	path := c.Request.URL.Path
	if id := c.Param("id"); id != "" {
		if before, _, ok := strings.Cut(path, id); ok {
			return before + id
		}
	}
	return path
}

// keptAnswer looks up what a request was answered before, also for one whose
// sender does not wait any more: others may.
func (s *Server) keptAnswer(c *gin.Context, request *keyedRequest) (kept store.KeptAnswer, found bool, err error) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(c.Request.Context()), lookTimeout)
	defer cancel()
	err = s.store.As(principal(c)).Read(ctx, func(tx store.ReadTx) (err error) {
		kept, err = tx.KeptAnswer(request.key.text)
		return err
	})
	if errors.Is(err, store.ErrNotFound) {
		return kept, false, nil
	}
	return kept, err == nil, err
}

// sendKept sends an answer as it was kept.
func sendKept(c *gin.Context, a store.KeptAnswer) {
	if p := begunProgress(c); p != nil {
		p.end(a.Status, a.Location, a.Body)
		return
	}
	c.Header("Cache-Control", "no-store")
	if a.Location != "" {
		c.Header("Location", a.Location)
	}
	if a.Version > 0 {
		c.Header("ETag", etag(a.Version))
	}
	if len(a.Body) == 0 {
		c.Status(a.Status)
		c.Writer.WriteHeaderNow()
		return
	}
	c.Data(a.Status, "application/json", a.Body)
}

// again gives the first answer once more, or says that the key was used for
// another request: which it also says when the answer was kept under keys this
// server has not any more.
func (s *Server) again(c *gin.Context, request *keyedRequest, kept store.KeptAnswer) error {
	if !slices.Contains(request.fingerprints, kept.Fingerprint) {
		return keyReused()
	}
	var err error
	if kept.Body, err = s.unseal(kept.Body); err != nil {
		return err
	}
	c.Header(answeredBefore, "?1")
	sendKept(c, kept)
	return nil
}

// answeredBefore tells that this is an answer given before, and that nothing
// was done this time. The draft names no header for it; the value is a Boolean
// of RFC 9651.
const answeredBefore = "Answered-Before"

// keyedRequest is a request with an Idempotency-Key, on its way.
type keyedRequest struct {
	key requestKey
	// fingerprints of the request under each of the server's keys: the first
	// is kept, all are known again.
	fingerprints []string
	clears       bool
	flight       *flight
}

// requestKey is an Idempotency-Key: one person's.
type requestKey struct {
	workshop, person uuid.UUID
	text             string
}

// once lets a request with an Idempotency-Key through to its handler, and
// answers with what was answered before when it stored something before. That
// is found out afterwards, because hardly any request comes twice: the store
// takes no second answer under one key, so that the whole write falls with it,
// and whatever else such a request is refused for (a quote is no draft any
// more) may be what it did itself the first time. A commit whose end is not
// known is settled in the same way.
func (s *Server) once(c *gin.Context, handle func() error) error {
	request, err := s.keyed(c)
	if err != nil {
		return err
	}
	first, err := s.flights.board(c.Request.Context(), request)
	if err != nil {
		return err
	}
	if first != nil { // it came back while we waited
		return s.again(c, request, *first)
	}
	defer s.flights.land(request)
	c.Set(requestKeyKey, request)
	if err = handle(); err == nil || !mayBeKnown(err) {
		return err
	}
	kept, found, lookErr := s.keptAnswer(c, request)
	switch {
	case lookErr != nil:
		s.log.WarnContext(c, "kept answer not looked up", slog.String("request_id", requestID(c)), slog.Any("error", lookErr))
		if !errors.Is(err, store.ErrUnknown) {
			return lookErr // it may have been done: nobody is to be told that it was not
		}
	case found:
		request.flight.answer = &kept // for those who wait
		return s.again(c, request, kept)
	}
	return err
}

// servedBefore answers a request that was served before, and says that it did:
// for what stores more than one transaction does, and so does not fall with the
// last of them.
func (s *Server) servedBefore(c *gin.Context) (bool, error) {
	request, keyed := c.Value(requestKeyKey).(*keyedRequest)
	if !keyed {
		return false, nil
	}
	kept, found, err := s.keptAnswer(c, request)
	if err != nil || !found {
		return false, err
	}
	request.flight.answer = &kept // for those who wait
	return true, s.again(c, request, kept)
}

// mayBeKnown says whether what a request is refused for leaves room for it
// having been served before, and its sender for being told.
func mayBeKnown(err error) bool {
	return !errors.Is(err, store.ErrNobody) && !errors.Is(err, store.ErrShutOut) && !errors.Is(err, store.ErrClosed)
}

// keyed reads the key and takes the request's fingerprint.
func (s *Server) keyed(c *gin.Context) (*keyedRequest, error) {
	text, err := idempotencyKey(c.Request.Header)
	if err != nil {
		return nil, err
	}
	p := principal(c)
	sent, _ := c.Value(bodyKey).(body)
	request := &keyedRequest{
		key:    requestKey{workshop: p.Workshop, person: p.Person, text: text},
		clears: s.keptWrites.Add(1)%clearEvery == 0,
	}
	for _, key := range s.fingerprintKeys {
		request.fingerprints = append(request.fingerprints, fingerprint(key, p.Role, c.Request, sent.text))
	}
	return request, nil
}

// fingerprint of a request: all that decides what it does. It is made with a
// key of the server's, because a body may hold what a plain hash would give
// away to whoever guesses it, such as a new password or a telephone number. The
// role belongs to it: an answer made for an owner is not for the salesperson
// they have become.
func fingerprint(key []byte, role auth.Role, r *http.Request, body []byte) string {
	mac := hmac.New(sha256.New, key)
	for _, part := range []string{string(role), r.Method, r.URL.RequestURI(), strings.Join(r.Header.Values("If-Match"), ",")} {
		fmt.Fprintf(mac, "%d:%s", len(part), part)
	}
	mac.Write(body)
	return hex.EncodeToString(mac.Sum(nil))
}

// idempotencyKey reads the header: a string in quotes, as the draft has it
// (RFC 9651), or the same without them. Both are the same key.
func idempotencyKey(h http.Header) (string, error) {
	values := h.Values("Idempotency-Key")
	if len(values) == 0 {
		return "", &problem{
			code:   openapi.ProblemCodeKeyMissing,
			detail: "The request stores something and carries no Idempotency-Key.",
			remedy: "Send Idempotency-Key with a new UUID, and the same one when you send the same request again.",
		}
	}
	text := values[0]
	if inner, ok := strings.CutPrefix(text, `"`); ok {
		if text, ok = strings.CutSuffix(inner, `"`); !ok {
			text = ""
		}
	}
	if len(values) > 1 || len(text) < minKeyLength || len(text) > maxKeyLength || strings.IndexFunc(text, notInKey) >= 0 {
		return "", brokenField("header/Idempotency-Key", "wrong_form",
			"It is not one text of 8 to 100 letters, digits and the signs - _ . :", "Send a new UUID.")
	}
	return text, nil
}

func notInKey(r rune) bool {
	return (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && (r < '0' || r > '9') && !strings.ContainsRune("-_.:", r)
}

func keyReused() *problem {
	return &problem{
		code:   openapi.ProblemCodeKeyReused,
		detail: "The Idempotency-Key was used for another request.",
		remedy: "Make a new key for each request; send an old one only with the request it was made for, unchanged.",
	}
}

// flights are the requests with a key that this process is serving.
type flights struct {
	mu    sync.Mutex
	under map[requestKey]*flight
}

// flight is one of them. answer is set, if at all, before landed is closed.
type flight struct {
	fingerprint string
	landed      chan struct{}
	answer      *store.KeptAnswer
}

// board waits until no equal request is under way, for so long at most. It
// gives the answer of the one it waited for, or nil when the request is now the
// one under way and must land.
func (f *flights) board(ctx context.Context, request *keyedRequest) (*store.KeptAnswer, error) {
	ctx, cancel := context.WithTimeout(ctx, firstWait)
	defer cancel()
	for {
		before := f.join(request)
		if before == nil {
			return nil, nil //nolint:nilnil // no answer yet, and no fault
		}
		if before.fingerprint != request.fingerprints[0] {
			return nil, keyReused()
		}
		select {
		case <-before.landed:
			if before.answer != nil {
				return before.answer, nil
			}
		case <-ctx.Done():
			return nil, &problem{
				code:   openapi.ProblemCodeKeyInUse,
				detail: "The same request is still being served.",
				remedy: "Send it again, unchanged, after the seconds in Retry-After.",
				retry:  time.Second,
			}
		}
	}
}

// join gives the request that is under way with the same key; nil when there
// was none, and this one is now.
func (f *flights) join(request *keyedRequest) *flight {
	f.mu.Lock()
	defer f.mu.Unlock()
	if before, ok := f.under[request.key]; ok {
		return before
	}
	request.flight = &flight{fingerprint: request.fingerprints[0], landed: make(chan struct{})}
	f.under[request.key] = request.flight
	return nil
}

func (f *flights) land(request *keyedRequest) {
	f.mu.Lock()
	delete(f.under, request.key)
	f.mu.Unlock()
	close(request.flight.landed)
}

// keptWrites counts requests with a key, to clear old answers now and then.
type keptWrites = atomic.Int64
