package document

import (
	"bytes"
	"errors"
	"fmt"
	"io"

	"github.com/go-json-experiment/json/jsontext"
)

// json reads a JSON document into the same tree as YAML, so that all rules
// hold for it alike. YAML could read most JSON, but not all (it knows no
// surrogate pairs) and would let through much that is not JSON.
func (p *parser) json(data []byte) node {
	r := jsonReader{parser: p, data: data, line: 1,
		// Names given twice are the binder's to find, with their places.
		tokens: jsontext.NewDecoder(bytes.NewReader(data), jsontext.AllowDuplicateNames(true))}
	root, err := r.value(1)
	if err == nil {
		var end jsontext.Token
		if end, err = r.tokens.ReadToken(); err == nil {
			p.halted = true
			p.fault("several_documents", r.here(), fmt.Sprintf("Something (%s) follows the end of the document.", end.Kind()),
				"Keep one document in a file.")
			return node{}
		}
	}
	if errors.Is(err, io.EOF) && root.kind != 0 {
		return root
	}
	p.halted = true
	switch {
	case errors.Is(err, errTooDeep):
	case errors.Is(err, io.EOF):
		p.fault("empty_document", 1, "The document is empty.", "Write at least its format and one section.")
	default:
		p.fault("malformed", r.here(), fmt.Sprintf("This is not well-formed JSON: %s.", jsonReason(err)),
			"Look at this line and the one before it: commas, quotes, brackets.")
	}
	return node{}
}

var errTooDeep = errors.New("too deep")

func jsonReason(err error) string {
	var syntactic *jsontext.SyntacticError
	if errors.As(err, &syntactic) && syntactic.Err != nil {
		err = syntactic.Err
	}
	return err.Error()
}

type jsonReader struct {
	*parser
	data   []byte
	tokens *jsontext.Decoder
	offset int // up to which lines are counted
	line   int
}

// here is the line the reader has come to.
func (r *jsonReader) here() int {
	to := min(int(r.tokens.InputOffset()), len(r.data))
	if to > r.offset {
		r.line += bytes.Count(r.data[r.offset:to], []byte{'\n'})
		r.offset = to
	}
	return r.line
}

func (r *jsonReader) value(depth int) (node, error) {
	token, err := r.tokens.ReadToken()
	if err != nil {
		return node{}, err
	}
	n := node{file: r.file, line: int32(r.here()), kind: scalarNode}
	if depth > MaxDepth {
		r.fault("too_deep", r.here(), fmt.Sprintf("Values are more than %d deep inside each other here.", MaxDepth),
			"Nothing that is read goes this deep; look for a bracket too many.")
		return n, errTooDeep
	}
	switch token.Kind() {
	case '"':
		n.text, n.quoted = token.String(), true
	case '[':
		n.kind = listNode
		for r.tokens.PeekKind() != ']' {
			item, err := r.value(depth + 1)
			if err != nil {
				return n, notEnd(err)
			}
			n.items = append(n.items, item)
		}
		_, err = r.tokens.ReadToken()
	case '{':
		n.kind = objectNode
		for r.tokens.PeekKind() != '}' {
			name, err := r.tokens.ReadToken()
			if err != nil {
				return n, notEnd(err)
			}
			e := entry{key: name.String(), line: int32(r.here())}
			if e.value, err = r.value(depth + 1); err != nil {
				return n, notEnd(err)
			}
			n.entries = append(n.entries, e)
		}
		_, err = r.tokens.ReadToken()
	default:
		n.text = token.String()
	}
	return n, notEnd(err)
}

// notEnd makes an end of the text inside a value what it is, an error.
func notEnd(err error) error {
	if errors.Is(err, io.EOF) {
		return io.ErrUnexpectedEOF
	}
	return err
}
