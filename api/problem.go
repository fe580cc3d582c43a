package api

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/go-json-experiment/json"

	"wainscot/openapi"
)

// maxFieldErrors is how many fields at fault one problem names; those cut are
// counted. Enough to mend a form in one go, little enough to read.
const maxFieldErrors = 50

// problemMediaType is RFC 9457's.
const problemMediaType = "application/problem+json"

// statuses says which HTTP status each problem code has: the closed list of
// what can go wrong, as docs/api.md lists it.
var statuses = map[openapi.ProblemCode]int{
	openapi.ProblemCodeMalformed:        http.StatusBadRequest,
	openapi.ProblemCodeContractBroken:   http.StatusBadRequest,
	openapi.ProblemCodeNotSignedIn:      http.StatusUnauthorized,
	openapi.ProblemCodeSignInRefused:    http.StatusUnauthorized,
	openapi.ProblemCodeRoleNotAllowed:   http.StatusForbidden,
	openapi.ProblemCodeNoSuchPath:       http.StatusNotFound,
	openapi.ProblemCodeNotFound:         http.StatusNotFound,
	openapi.ProblemCodeNothingPublished: http.StatusConflict,
	openapi.ProblemCodeMethodNotAllowed: http.StatusMethodNotAllowed,
	openapi.ProblemCodeStateConflict:    http.StatusConflict,
	openapi.ProblemCodePasswordRefused:  http.StatusUnprocessableEntity,
	openapi.ProblemCodeNotReady:         http.StatusUnprocessableEntity,
	openapi.ProblemCodeDocumentRefused:  http.StatusUnprocessableEntity,
	openapi.ProblemCodeBodyTooLarge:     http.StatusRequestEntityTooLarge,
	openapi.ProblemCodeWrongContentType: http.StatusUnsupportedMediaType,
	openapi.ProblemCodeChoicesRefused:   http.StatusUnprocessableEntity,
	openapi.ProblemCodeTermsRefused:     http.StatusUnprocessableEntity,
	openapi.ProblemCodeUnknownReference: http.StatusUnprocessableEntity,
	openapi.ProblemCodeTooHard:          http.StatusUnprocessableEntity,
	openapi.ProblemCodeKeyMissing:       http.StatusBadRequest,
	openapi.ProblemCodeKeyReused:        http.StatusUnprocessableEntity,
	openapi.ProblemCodeKeyInUse:         http.StatusConflict,
	openapi.ProblemCodeIfMatchMissing:   http.StatusPreconditionRequired,
	openapi.ProblemCodeChangedMeanwhile: http.StatusPreconditionFailed,
	openapi.ProblemCodeTooManyRequests:  http.StatusTooManyRequests,
	openapi.ProblemCodeNotNow:           http.StatusServiceUnavailable,
	openapi.ProblemCodeFaultOfOurs:      http.StatusInternalServerError,
}

// problem is an answer that is not what was asked for. Handlers return it as
// their error; everything in it may be shown to whoever asked.
type problem struct {
	code   openapi.ProblemCode
	detail string
	remedy string
	errors []openapi.FieldError
	// cut counts field errors that were never collected.
	cut int
	// retry, when not 0, is sent as Retry-After.
	retry time.Duration
	// allow, when not empty, is sent as Allow.
	allow string
	// challenge, when not empty, is sent as WWW-Authenticate.
	challenge string
}

// Error is for the log.
func (p *problem) Error() string {
	var text strings.Builder
	text.WriteString(string(p.code) + ": " + p.detail)
	for _, e := range p.errors {
		text.WriteString("; " + e.Field + ": " + e.Code)
	}
	return text.String()
}

// document is the problem as the contract has it.
func (p *problem) document(requestID string) openapi.Problem {
	status := statuses[p.code]
	shown := p.errors[:min(len(p.errors), maxFieldErrors)]
	return openapi.Problem{
		Type:      "about:blank",
		Title:     http.StatusText(status),
		Status:    int32(status),
		Code:      p.code,
		Detail:    p.detail,
		Remedy:    p.remedy,
		RequestId: requestID,
		Errors:    shown,
		ErrorsCut: int32(min(p.cut+len(p.errors)-len(shown), 10_000_000)),
	}
}

// malformed is a body that is not a JSON document we read at all.
func malformed(remedy, format string, args ...any) *problem {
	return &problem{code: openapi.ProblemCodeMalformed, detail: fmt.Sprintf(format, args...), remedy: remedy}
}

// brokenField is a request that breaks the contract in one field.
func brokenField(field, code, reason, remedy string) *problem {
	return &problem{
		code:   openapi.ProblemCodeContractBroken,
		detail: "The request breaks the contract.",
		remedy: "Mend the fields named in errors; the contract is at /v1/openapi.yaml.",
		errors: []openapi.FieldError{{Field: field, Code: code, Reason: reason, Remedy: remedy}},
	}
}

func notFound(what string) *problem {
	return &problem{
		code:   openapi.ProblemCodeNotFound,
		detail: "There is no such " + what + " in this workshop.",
		remedy: "Check the id; a list of what there is comes from the collection above it.",
	}
}

func notNow(why string) *problem {
	return &problem{
		code:   openapi.ProblemCodeNotNow,
		detail: why,
		remedy: "Try again after the seconds in Retry-After.",
		retry:  time.Second,
	}
}

// faultOfOurs tells nothing but the request's id, by which the log has the
// rest.
func faultOfOurs() *problem {
	return &problem{
		code:   openapi.ProblemCodeFaultOfOurs,
		detail: "The server failed at something it should be able to do.",
		remedy: "Tell whoever runs it the request_id; the log has the cause under it.",
	}
}

// refuse ends a request with the problem that err is or stands for, and logs
// what the caller is not told.
func (s *Server) refuse(c *gin.Context, err error) {
	p := s.problemOf(c, err)
	if told := begunProgress(c); told != nil {
		c.Set(problemKey, p.code)
		told.record("problem", p.document(requestID(c)))
		c.Abort()
		return
	}
	header := c.Writer.Header()
	if p.retry > 0 {
		header.Set("Retry-After", strconv.Itoa(int((p.retry+time.Second-1)/time.Second)))
	}
	if p.allow != "" {
		header.Set("Allow", p.allow)
	}
	if p.challenge != "" {
		header.Set("WWW-Authenticate", p.challenge)
	}
	body, marshalErr := json.Marshal(p.document(requestID(c)))
	if marshalErr != nil { // the types rule it out; an empty body is still an answer
		s.log.ErrorContext(c, "problem not encoded", slog.Any("error", marshalErr))
	}
	header.Set("Cache-Control", "no-store")
	c.Set(problemKey, p.code)
	c.Abort()
	c.Data(statuses[p.code], problemMediaType, body)
}

// problemOf turns any error into a problem. What is not known here is a fault
// of ours.
func (s *Server) problemOf(c *gin.Context, err error) *problem {
	var p *problem
	switch {
	case errors.As(err, &p):
		return p
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, context.Canceled):
		return notNow("The answer was not ready in time.")
	}
	if p := storeProblem(err); p != nil {
		return p
	}
	s.log.ErrorContext(c, "request failed", slog.String("request_id", requestID(c)), slog.Any("error", err))
	return faultOfOurs()
}
