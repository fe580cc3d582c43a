// Package api is who may ask: the REST interface of Wainscot, as
// openapi/openapi.yaml describes it. A handler reads the request, calls the
// store and the domain, and answers in the contract's types; there is no
// further layer.
//
// What every request goes through, in order: a request id and the log, a net
// for panics, the token and the role, the size and strictness of the body, the
// contract, If-Match, and whether the same request has been answered before.
// Only then does a handler see it.
package api

import (
	"context"
	"crypto/hkdf"
	"crypto/sha256"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/gin-gonic/gin"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/openapi"
	"wainscot/pricing/pricebook"
)

// Time limits of one connection and one request. A full build sheet is sent
// in milliseconds; these are for those who dawdle.
const (
	readHeaderTimeout = 5 * time.Second
	readTimeout       = 15 * time.Second
	writeTimeout      = 40 * time.Second
	idleTimeout       = 90 * time.Second
	handlerTimeout    = 30 * time.Second
	stopTimeout       = 20 * time.Second
	maxHeaderBytes    = 16 << 10
)

// Issuer and audience of the tokens: this server signs them for itself.
const tokenIssuer = "wainscot"

// Config is what a server is made of.
type Config struct {
	Store *store.Store
	// Keys sign tokens and cursors: the first signs, all are believed. Each
	// has at least auth.MinKeyBytes.
	Keys []auth.Key
	// Now is the clock; nil is time.Now.
	Now func() time.Time
	// Logger gets one line a request, without bodies or secrets; nil is
	// slog.Default.
	Logger *slog.Logger
	// Limits say how often may be asked.
	Limits Limits
	// Proxies that stand in front; none is believed unless they are counted.
	Proxies Proxies
	// SignInsAtOnce is how many passwords are checked at the same time, each
	// taking 19 MiB and some 25 ms of one processor; 0 is 2.
	SignInsAtOnce int
}

// Server answers requests. It is safe for use by many at once.
type Server struct {
	store     *store.Store
	now       func() time.Time
	log       *slog.Logger
	tokens    *auth.Tokens
	passwords *auth.Passwords
	// signIns holds a place for each sign-in under way or waiting.
	signIns    chan struct{}
	cursorKeys [][]byte
	// fingerprintKeys take the fingerprints of requests with a key.
	fingerprintKeys [][]byte
	// sealKeys close what is kept of an answer with a secret in it.
	sealKeys   [][]byte
	flights    flights
	keptWrites keptWrites
	limits     limits
	proxies    Proxies
	standings  *standings
	grounds    *grounds
	agreements *shared[agreedKey, agreedMoney]
	matchings  *shared[matchingKey, *matching]
	drafts     *drafts
	plans      *plans
	contract   *contract
	releases   *compiled[*bom.Release]
	editions   *compiled[*pricebook.Compiled]
	needs      *compiled[*jobNeeds]
	engine     *gin.Engine
	stopping   atomic.Bool
}

// New makes a server. It refuses keys that are too short and a configuration
// that lacks a store.
func New(config Config) (*Server, error) {
	if config.Store == nil {
		return nil, errors.New("a server needs a store")
	}
	s := &Server{store: config.Store, now: config.Now, log: config.Logger}
	if s.now == nil {
		s.now = time.Now
	}
	if s.log == nil {
		s.log = slog.Default()
	}
	if err := config.Proxies.check(); err != nil {
		return nil, err
	}
	s.proxies = config.Proxies
	var err error
	if s.tokens, err = auth.NewTokens(auth.TokenOptions{
		Issuer: tokenIssuer, Audience: tokenIssuer, Keys: config.Keys, Now: s.now,
	}); err != nil {
		return nil, err
	}
	atOnce := config.SignInsAtOnce
	if atOnce == 0 {
		atOnce = defaultSignInsAtOnce
	}
	if s.passwords, err = auth.NewPasswords(atOnce); err != nil {
		return nil, err
	}
	s.signIns = make(chan struct{}, atOnce*signInsWaitingForEach)
	s.limits, s.standings, s.grounds, s.drafts = newLimits(config.Limits), newStandings(), newGrounds(), newDrafts()
	s.agreements, s.matchings = newShared[agreedKey, agreedMoney](agreementsHeld), newShared[matchingKey, *matching](matchingsHeld)
	s.plans = newPlans()
	s.flights.under = map[requestKey]*flight{}
	if s.cursorKeys, err = derived(config.Keys, "wainscot cursor"); err != nil {
		return nil, err
	}
	if s.sealKeys, err = derived(config.Keys, "wainscot sealed answer"); err != nil {
		return nil, err
	}
	if s.fingerprintKeys, err = derived(config.Keys, "wainscot request fingerprint"); err != nil {
		return nil, err
	}
	s.releases = newCompiled[*bom.Release](maxReleaseBytes)
	s.editions = newCompiled[*pricebook.Compiled](maxEditionBytes)
	s.needs = newCompiled[*jobNeeds](maxNeedsBytes)
	if s.contract, err = readContract(); err != nil {
		return nil, err
	}
	return s, s.route()
}

// derived makes a key for one use of each of the server's.
func derived(keys []auth.Key, use string) ([][]byte, error) {
	list := make([][]byte, len(keys))
	for i, key := range keys {
		var err error
		if list[i], err = hkdf.Key(sha256.New, key.Secret, nil, use, sha256.Size); err != nil {
			return nil, fmt.Errorf("key %q: %w", key.ID, err)
		}
	}
	return list, nil
}

// releaseMode keeps gin from printing its routes; it is a setting of the
// whole process.
var releaseMode = sync.OnceFunc(func() { gin.SetMode(gin.ReleaseMode) })

// route builds the engine from the table of routes.
func (s *Server) route() error {
	releaseMode()
	e := gin.New()
	if err := e.SetTrustedProxies(nil); err != nil { // gin's own reading of X-Forwarded-For is not asked; see Proxies
		return fmt.Errorf("gin: %w", err)
	}
	// For the log only. What may outlive the handler (a query, a wait) gets
	// c.Request.Context(): gin hands this very context to the next request,
	// while database/sql may still be looking whether the last one has ended.
	e.ContextWithFallback = true
	e.HandleMethodNotAllowed = true
	e.RedirectTrailingSlash = false
	e.RedirectFixedPath = false
	e.Use(s.observe, s.net)
	e.NoRoute(func(c *gin.Context) {
		s.refuse(c, &problem{
			code:   openapi.ProblemCodeNoSuchPath,
			detail: "There is nothing at this address.",
			remedy: "Check the address; the contract is at /v1/openapi.yaml. There is no stroke at the end of one.",
		})
	})
	e.NoMethod(func(c *gin.Context) {
		allowed := s.allowed(c.Request.URL.Path)
		s.refuse(c, &problem{
			code:   openapi.ProblemCodeMethodNotAllowed,
			detail: "This address does not take " + clip(c.Request.Method) + ".",
			remedy: "Use " + strings.Join(allowed, " or ") + ".",
			allow:  strings.Join(allowed, ", "),
		})
	})
	for _, r := range routes() {
		template := contractPath(r.path)
		operation, ok := s.contract.operations[r.method+" "+template]
		if !ok {
			return fmt.Errorf("route %s %s is not in the contract", r.method, r.path)
		}
		e.Handle(r.method, r.path, s.serve(r, operation))
		if r.method == http.MethodGet { // as RFC 9110, 9.1, asks of everybody
			e.Handle(http.MethodHead, r.path, s.serve(r, operation))
		}
	}
	s.engine = e
	return nil
}

// serve makes a handler of a route: admit, handle, and whatever went wrong as
// a problem.
func (s *Server) serve(r route, o operation) gin.HandlerFunc {
	door := doorOf(r.path)
	return func(c *gin.Context) {
		ctx, cancel := context.WithTimeout(c.Request.Context(), handlerTimeout)
		defer cancel()
		// A HEAD is answered as the GET it stands for; net/http, which has the
		// request as it came, leaves the body out.
		method := c.Request.Method
		c.Request = c.Request.WithContext(ctx)
		c.Request.Method = r.method
		defer func() { c.Request.Method = method }() // for the log
		err := s.comesIn(c, r, door)
		if err == nil {
			err = s.admit(c, o)
		}
		switch {
		case err != nil:
		case o.keyed:
			err = s.once(c, func() error { return r.handle(s, c) })
		default:
			err = r.handle(s, c)
		}
		if err != nil {
			s.refuse(c, err)
		}
		leaveRoom(c)
	}
}

// comesIn finds out who asks, and whether they may.
func (s *Server) comesIn(c *gin.Context, r route, door func(*Server, *gin.Context) (auth.Principal, error)) error {
	switch {
	case len(r.roles) > 0:
		return s.signedIn(c, r.roles)
	case door == nil:
		return nil
	}
	if err := s.limitAddress(c); err != nil {
		return err
	}
	p, err := door(s, c)
	if err == nil {
		c.Set(principalKey, p)
	}
	return err
}

// admit lets a request through to its handler or says why not.
func (s *Server) admit(c *gin.Context, o operation) error {
	var sent body
	var err error
	if o.body != nil {
		sent, err = readBody(c, o)
	} else {
		err = noBody(c)
	}
	if err != nil {
		return err
	}
	if p := s.contract.broken(c.Request, o, sent); p != nil {
		return p
	}
	if o.conditional {
		_, err = ifMatch(c)
	}
	return err
}

// allowed are the methods a path takes.
func (s *Server) allowed(path string) []string {
	var methods []string
	for _, r := range routes() {
		if !matches(r.path, path) {
			continue
		}
		if methods = append(methods, r.method); r.method == http.MethodGet {
			methods = append(methods, http.MethodHead)
		}
	}
	return methods
}

func matches(template, path string) bool {
	want, got := strings.Split(template, "/"), strings.Split(path, "/")
	if len(want) != len(got) {
		return false
	}
	for i := range want {
		if !strings.HasPrefix(want[i], ":") && want[i] != got[i] {
			return false
		}
	}
	return true
}

// contractPath writes gin's :name as the contract's {name}.
func contractPath(path string) string {
	parts := strings.Split(path, "/")
	for i, part := range parts {
		if name, ok := strings.CutPrefix(part, ":"); ok {
			parts[i] = "{" + name + "}"
		}
	}
	return strings.Join(parts, "/")
}

// Handler is the server as an http.Handler, for tests and for whoever brings
// their own http.Server.
func (s *Server) Handler() http.Handler { return s.engine }

// Run serves on the listener until ctx ends, then lets the requests under way
// finish for at most 20 seconds. It returns nil after a stop that was asked
// for.
func (s *Server) Run(ctx context.Context, listener net.Listener) error {
	server := s.server()
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	select {
	case err := <-ended:
		return fmt.Errorf("serving: %w", err)
	case <-ctx.Done():
	}
	s.stopping.Store(true)
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTimeout)
	defer cancel()
	if err := server.Shutdown(stop); err != nil {
		return fmt.Errorf("stopping: %w", errors.Join(err, server.Close()))
	}
	if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("serving: %w", err)
	}
	return nil
}

// server is an http.Server on which nobody can dawdle.
func (s *Server) server() *http.Server {
	return &http.Server{
		Handler:           s.engine,
		ReadHeaderTimeout: readHeaderTimeout,
		ReadTimeout:       readTimeout,
		WriteTimeout:      writeTimeout,
		IdleTimeout:       idleTimeout,
		MaxHeaderBytes:    maxHeaderBytes,
		ErrorLog:          slog.NewLogLogger(s.log.Handler(), slog.LevelWarn),
	}
}
