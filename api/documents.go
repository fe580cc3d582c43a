package api

import (
	"bytes"
	"net/http"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"wainscot/api/store"
	"wainscot/bom/document"
	"wainscot/openapi"
)

// Catalogues and price-book editions are documents with readers and schemas of
// their own, stricter than the contract could be: they come and go as they
// are, and are not held against it.

// sentDocument is the body of a request that is such a document.
func sentDocument(c *gin.Context) []byte {
	b, _ := c.Value(bodyKey).(body)
	return b.text
}

// answerDocument sends a document as it is kept.
func answerDocument(c *gin.Context, kept store.Packed) error {
	text, err := kept.Unpack()
	if err != nil {
		return err
	}
	c.Header("Cache-Control", "no-store")
	c.Data(http.StatusOK, "application/json", text)
	return nil
}

// documentRefused tells all that is wrong with a document that was sent, which
// stands in the body under a pointer ("" where it is the whole body).
func documentRefused(text []byte, under, what string, faults document.Faults) *problem {
	p := &problem{
		code:   openapi.ProblemCodeDocumentRefused,
		detail: "The " + what + " has faults.",
		remedy: "Mend what errors name; wainscot check says the same of files, with their lines.",
	}
	tree := documentTree(text) // nil: it could not be read, and the faults are of the whole
	for _, f := range faults {
		if f.Code == "more_faults" {
			more, _, _ := strings.Cut(f.Reason, " ")
			if n, err := strconv.Atoi(more); err == nil {
				p.cut += n
			}
			continue
		}
		field := under + documentPointer(tree, f.At)
		if tree == nil && f.Line > 0 {
			field = "/" // and the line says where
			f.Reason = "Line " + strconv.Itoa(f.Line) + ": " + f.Reason
		}
		p.errors = append(p.errors, openapi.FieldError{Field: field, Code: f.Code, Reason: f.Reason, Remedy: f.Remedy})
	}
	return p
}

// documentPointer turns a path as faults have it, members of lists by their
// codes, into a JSON pointer (RFC 6901) into the document. What cannot be
// found there is taken over as it stands.
func documentPointer(tree any, at string) string {
	if at == "" {
		return "/"
	}
	var b strings.Builder
	for part := range strings.SplitSeq(at, "/") {
		switch node := tree.(type) {
		case map[string]any:
			tree = node[part]
		case []any:
			i := memberAt(node, part)
			if i >= 0 {
				part, tree = strconv.Itoa(i), node[i]
			} else {
				tree = nil
			}
		default:
			tree = nil
		}
		b.WriteString("/" + strings.NewReplacer("~", "~0", "/", "~1").Replace(part))
	}
	const most = 400 // the contract allows 500
	if b.Len() > most {
		return strings.ToValidUTF8(b.String()[:most], "") + "…"
	}
	return b.String()
}

// memberAt is the place of a list's member by its code, or by its place from
// 1 as faults count; -1 for none.
func memberAt(list []any, name string) int {
	for i, member := range list {
		if object, ok := member.(map[string]any); ok && object["code"] == name {
			return i
		}
	}
	if n, err := strconv.Atoi(name); err == nil && n >= 1 && n <= len(list) {
		return n - 1
	}
	return -1
}

func (s *Server) getCatalogueSchema(c *gin.Context) error {
	return answerSchema(c, openapi.CatalogueSchema)
}

func (s *Server) getPricebookSchema(c *gin.Context) error {
	return answerSchema(c, openapi.PricebookSchema)
}

func answerSchema(c *gin.Context, schema []byte) error {
	c.Data(http.StatusOK, "application/schema+json", bytes.Clone(schema))
	return nil
}
