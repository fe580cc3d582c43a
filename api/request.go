package api

import (
	"bytes"
	stdjson "encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"mime"
	"net/http"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/gin-gonic/gin"
	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"wainscot/openapi"
)

// Limits of a request's body, past which it is refused before anything is
// made of it, where the contract names no others (x-max-body-bytes). The longest list the contract allows has 2,000 members of some
// 50 bytes.
const (
	maxBodyBytes   = 256 << 10
	maxDepth       = 16
	maxMembers     = 5_000  // of one list
	maxBodyValues  = 20_000 // in all
	maxNumberBytes = 60
)

const sendJSON = "Send one JSON document."

// body of a request, as it came and as a tree of plain values.
type body struct {
	text []byte
	tree any // map[string]any, []any, string, json.Number, bool, nil
}

// readBody reads the body of a request whose operation takes one, and refuses
// what is too large, of another type, or not strict JSON.
func readBody(c *gin.Context, o operation) (body, error) {
	request := c.Request
	kind, params, err := mime.ParseMediaType(request.Header.Get("Content-Type"))
	charset := params["charset"]
	if err != nil || kind != "application/json" || (charset != "" && !strings.EqualFold(charset, "utf-8")) ||
		request.Header.Get("Content-Encoding") != "" {
		return body{}, &problem{
			code:   openapi.ProblemCodeWrongContentType,
			detail: "The body is not announced as application/json.",
			remedy: "Send Content-Type: application/json, UTF-8, and no Content-Encoding.",
		}
	}
	text, err := io.ReadAll(http.MaxBytesReader(c.Writer, request.Body, o.maxBytes))
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &tooLarge):
		return body{}, &problem{
			code:   openapi.ProblemCodeBodyTooLarge,
			detail: fmt.Sprintf("The body is larger than %d bytes.", o.maxBytes),
			remedy: "Send less; no request the contract allows comes near.",
		}
	case err != nil:
		return body{}, malformed(sendJSON, "The body ended early.")
	}
	b := body{text: text}
	if !o.document { // those have a reader of their own, as strict
		if b.tree, err = strictJSON(text); err != nil {
			return body{}, err
		}
	}
	c.Set(bodyKey, b)
	return b, nil
}

// strictJSON reads a JSON document and refuses what a lenient reader would let
// through: bytes that are not UTF-8, a name twice in one object, anything
// after the end, NUL, numbers no float can hold, and shapes too deep or too
// long for any request of ours.
func strictJSON(text []byte) (any, error) {
	if !utf8.Valid(text) {
		return nil, malformed("Send the body in UTF-8.", "The body is not UTF-8.")
	}
	if len(bytes.TrimSpace(text)) == 0 {
		return nil, malformed(sendJSON, "The body is empty.")
	}
	r := reader{d: jsontext.NewDecoder(bytes.NewReader(text))}
	tree, err := r.value(0)
	if err != nil {
		return nil, err
	}
	if rest := bytes.TrimSpace(text[r.d.InputOffset():]); len(rest) > 0 {
		return nil, malformed("End the body there.", "Something follows the end of the JSON document, at byte %d.", r.d.InputOffset())
	}
	return tree, nil
}

// reader makes a tree of a JSON text; what it holds it to is in strictJSON.
type reader struct {
	d      *jsontext.Decoder
	values int
}

func (r *reader) value(depth int) (any, error) {
	token, err := r.d.ReadToken()
	if err != nil {
		return nil, notJSON(err, r.d)
	}
	if r.values++; r.values > maxBodyValues {
		return nil, malformed("Send fewer.", "The body holds more than %d values; the first too many is at %s.", maxBodyValues, pointer(r.d.StackPointer()))
	}
	if depth > maxDepth {
		return nil, malformed("Nothing the contract allows nests as deep.", "The body nests deeper than %d levels.", maxDepth)
	}
	switch token.Kind() {
	case '{':
		return r.object(depth)
	case '[':
		return r.list(depth)
	case '"':
		return r.text(token)
	case '0':
		number := token.String()
		if f, err := strconv.ParseFloat(number, 64); err != nil || math.IsInf(f, 0) || len(number) > maxNumberBytes {
			return nil, malformed("Send a number the contract allows.", "The number at %s is out of all bounds.", pointer(r.d.StackPointer()))
		}
		return stdjson.Number(number), nil
	case 't', 'f':
		return token.Bool(), nil
	}
	return nil, nil //nolint:nilnil // JSON's null
}

func (r *reader) object(depth int) (any, error) {
	object := map[string]any{}
	for r.d.PeekKind() != '}' {
		name, err := r.d.ReadToken()
		if err != nil {
			return nil, notJSON(err, r.d)
		}
		key, err := r.text(name)
		if err != nil {
			return nil, err
		}
		if object[key], err = r.value(depth + 1); err != nil {
			return nil, err
		}
	}
	return object, r.end()
}

func (r *reader) list(depth int) (any, error) {
	list := []any{}
	for r.d.PeekKind() != ']' {
		if len(list) == maxMembers {
			at := strings.TrimSuffix(pointer(r.d.StackPointer()), "/"+strconv.Itoa(maxMembers-1))
			return nil, brokenField(at, "too_many", fmt.Sprintf("The list holds more than %d members.", maxMembers), "Send fewer.")
		}
		v, err := r.value(depth + 1)
		if err != nil {
			return nil, err
		}
		list = append(list, v)
	}
	return list, r.end()
}

func (r *reader) end() error {
	if _, err := r.d.ReadToken(); err != nil {
		return notJSON(err, r.d)
	}
	return nil
}

func (r *reader) text(token jsontext.Token) (string, error) {
	text := token.String()
	if strings.ContainsRune(text, 0) {
		return "", malformed("Take it out.", "The text at %s contains a NUL character.", pointer(r.d.StackPointer()))
	}
	return text, nil
}

func notJSON(err error, d *jsontext.Decoder) error {
	at := pointer(d.StackPointer())
	var syntax *jsontext.SyntacticError
	switch {
	case errors.Is(err, jsontext.ErrDuplicateName):
		if errors.As(err, &syntax) {
			at = pointer(syntax.JSONPointer)
		}
		return malformed("Give every name once in its object.", "The name at %s is there twice.", at)
	case errors.As(err, &syntax):
		return malformed(sendJSON, "The body is not JSON: at byte %d, in %s.", syntax.ByteOffset, at)
	case errors.Is(err, io.ErrUnexpectedEOF):
		return malformed(sendJSON, "The body ends in the middle of %s.", at)
	}
	return malformed(sendJSON, "The body is not JSON, from byte %d on.", d.InputOffset())
}

// pointer is a place in the body for people, short whatever was sent.
func pointer(p jsontext.Pointer) string {
	if p == "" {
		return "the top"
	}
	return clip(string(p))
}

// decode reads the body that readBody left into a contract type.
func decode[T any](c *gin.Context) (T, error) {
	var into T
	b, _ := c.Value(bodyKey).(body)
	if err := json.Unmarshal(b.text, &into, json.RejectUnknownMembers(true)); err != nil {
		if semantic, ok := errors.AsType[*json.SemanticError](err); ok {
			return into, malformed("Send the type the contract names.", "The value at %s cannot be read.", pointer(semantic.JSONPointer))
		}
		return into, malformed(sendJSON, "The body cannot be read.")
	}
	return into, nil
}
