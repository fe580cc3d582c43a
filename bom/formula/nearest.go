package formula

import (
	"strings"

	"wainscot/bom/document"
)

// nearest finds the name most like text among those readable there, "" when
// none is near. A name that is right but for its family (fit., van.) goes
// before one that is only spelt alike.
func (s *Scope) nearest(text string, where where) string {
	bare := text[strings.LastIndexByte(text, '.')+1:]
	var readable []string
	for _, n := range s.sorted {
		if !where.allows(n) {
			continue
		}
		if _, rest, _ := strings.Cut(n.text, "."); rest == bare || n.text == bare {
			return n.text
		}
		readable = append(readable, n.text)
	}
	return document.Nearest(text, readable)
}
