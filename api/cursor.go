package api

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"strings"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// A cursor says where a list goes on: a position, signed together with who
// asked what, so that it can neither be made up nor carried to another
// workshop or question. It is not secret.

var cursorEncoding = base64.RawURLEncoding.Strict()

// writeCursor makes a cursor for a position in the answer to a question.
func (s *Server) writeCursor(p auth.Principal, question, position string) openapi.Cursor {
	return cursorEncoding.EncodeToString([]byte(position)) + "." +
		cursorEncoding.EncodeToString(cursorSeal(s.cursorKeys[0], p, question, position))
}

// readCursor gives the position in a cursor; ok is false for one that is not
// ours, or was made for another workshop or question.
func (s *Server) readCursor(p auth.Principal, question string, cursor openapi.Cursor) (position string, ok bool) {
	head, tail, _ := strings.Cut(cursor, ".")
	text, err := cursorEncoding.DecodeString(head)
	if err != nil {
		return "", false
	}
	seal, err := cursorEncoding.DecodeString(tail)
	if err != nil {
		return "", false
	}
	for _, key := range s.cursorKeys {
		if hmac.Equal(seal, cursorSeal(key, p, question, string(text))) {
			return string(text), true
		}
	}
	return "", false
}

func cursorSeal(key []byte, p auth.Principal, question, position string) []byte {
	mac := hmac.New(sha256.New, key)
	// Every part has a length that is known or stands in front of it, so that
	// no two questions run together to the same bytes.
	mac.Write(p.Workshop[:])
	for _, part := range []string{question, position} {
		mac.Write([]byte{byte(len(part) >> 8), byte(len(part))})
		mac.Write([]byte(part))
	}
	return mac.Sum(nil)
}
