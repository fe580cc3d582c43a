package api

import (
	"errors"
	"io"
	"log/slog"
	"net/http"
	"runtime/debug"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// Keys of what a request carries through gin's context.
const (
	requestIDKey  = "request id"
	principalKey  = "principal"
	bodyKey       = "body"
	requestKeyKey = "request key"
	problemKey    = "problem"
	roomKey       = "room"
)

// observe gives a request its id and writes its line in the log: the route's
// template and never the address, no bodies, no tokens.
func (s *Server) observe(c *gin.Context) {
	begin := s.now()
	id, err := uuid.NewV7()
	if err != nil {
		id = uuid.Nil // no randomness to be had: a request without an id is still answered
	}
	c.Set(requestIDKey, id.String())
	c.Header("X-Request-Id", id.String())
	c.Header("X-Content-Type-Options", "nosniff")
	c.Next()
	attributes := []slog.Attr{
		slog.String("request_id", id.String()),
		slog.String("method", knownMethod(c.Request.Method)),
		slog.String("route", c.FullPath()),
		slog.Int("status", c.Writer.Status()),
		slog.Int("bytes", max(c.Writer.Size(), 0)),
		slog.Duration("took", s.now().Sub(begin)),
	}
	if p, ok := c.Value(principalKey).(auth.Principal); ok {
		attributes = append(attributes,
			slog.String("workshop", p.Workshop.String()), slog.String("person", p.Person.String()), slog.String("role", string(p.Role)))
	}
	if code, ok := c.Value(problemKey).(openapi.ProblemCode); ok {
		attributes = append(attributes, slog.String("problem", string(code)))
	}
	level := slog.LevelInfo
	if c.Writer.Status() >= http.StatusInternalServerError {
		level = slog.LevelError
	}
	s.log.LogAttrs(c, level, "request", attributes...)
}

// knownMethod keeps what a stranger typed out of the log.
func knownMethod(method string) string {
	switch method {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodOptions:
		return method
	}
	return "other"
}

// net catches a panic: the log gets the cause, the caller a problem.
func (s *Server) net(c *gin.Context) {
	defer func() {
		cause := recover()
		if cause == nil {
			return
		}
		if err, ok := cause.(error); ok && errors.Is(err, http.ErrAbortHandler) {
			panic(cause) // net/http's own way to drop a connection
		}
		s.log.ErrorContext(c, "panic", slog.String("request_id", requestID(c)), slog.Any("cause", cause), slog.String("stack", string(debug.Stack())))
		if c.Writer.Written() {
			c.Abort()
			return
		}
		s.refuse(c, faultOfOurs())
	}()
	c.Next()
}

// signedIn reads the token and holds its role against those the route allows.
func (s *Server) signedIn(c *gin.Context, roles []auth.Role) error {
	kind, token, _ := strings.Cut(c.GetHeader("Authorization"), " ")
	if !strings.EqualFold(kind, "Bearer") || token == "" || len(c.Request.Header.Values("Authorization")) > 1 {
		return notSignedIn("The request carries no token.", `Bearer realm="wainscot"`)
	}
	p, err := s.tokens.Check(token)
	switch {
	case errors.Is(err, auth.ErrExpired):
		return notSignedIn("The token has expired.", `Bearer realm="wainscot", error="invalid_token"`)
	case err != nil:
		s.log.InfoContext(c, "token refused", slog.String("request_id", requestID(c)), slog.Any("error", err))
		return notSignedIn("The token is not good here.", `Bearer realm="wainscot", error="invalid_token"`)
	}
	c.Set(principalKey, p)
	if err := s.limitPrincipal(c, p); err != nil {
		return err
	}
	if err := s.stands(c.Request.Context(), p); err != nil {
		return err
	}
	if !slices.Contains(roles, p.Role) {
		return &problem{
			code:   openapi.ProblemCodeRoleNotAllowed,
			detail: "The role " + string(p.Role) + " may not do this.",
			remedy: "Ask someone who is " + oneOf(roles) + ".",
		}
	}
	return nil
}

func notSignedIn(why, challenge string) *problem {
	return &problem{
		code:      openapi.ProblemCodeNotSignedIn,
		detail:    why,
		remedy:    "Sign in at /v1/sign-in and send the token as Authorization: Bearer.",
		challenge: challenge,
	}
}

func oneOf(roles []auth.Role) string {
	names := make([]string, len(roles))
	for i, r := range roles {
		names[i] = string(r)
	}
	return strings.Join(names, " or ")
}

// principal is who asks; only routes with roles have one.
func principal(c *gin.Context) auth.Principal {
	p, _ := c.Value(principalKey).(auth.Principal)
	return p
}

func requestID(c *gin.Context) string {
	id, _ := c.Value(requestIDKey).(string)
	return id
}

// noBody refuses a body where none belongs, reading at most one byte of it.
func noBody(c *gin.Context) error {
	if c.Request.Body == nil {
		return nil
	}
	if n, _ := io.ReadFull(c.Request.Body, make([]byte, 1)); n > 0 {
		return malformed("Leave it out.", "This request takes no body.")
	}
	c.Request.Body = http.NoBody
	return nil
}
