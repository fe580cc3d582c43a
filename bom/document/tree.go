package document

import (
	"fmt"
	"strconv"
	"strings"
)

// node is one value of a document, whichever way it was written.
type node struct {
	kind    nodeKind
	quoted  bool // a scalar in quotes or a block: text, whatever it looks like
	file    uint16
	line    int32 // from 1
	text    string
	items   []node
	entries []entry
}

type entry struct {
	key   string
	line  int32
	value node
}

type nodeKind uint8

const (
	scalarNode nodeKind = iota + 1
	listNode
	objectNode
)

// describe says what a value is, for a fault.
func (n *node) describe() string {
	switch n.kind {
	case listNode:
		return "a list"
	case objectNode:
		return "an object"
	case scalarNode:
		switch n.scalar() {
		case nothing:
			return "nothing"
		case yesNo:
			return n.text
		case number:
			return "the number " + shorten(n.text)
		}
		return "the text " + strconv.Quote(shorten(n.text))
	}
	return "nothing"
}

func shorten(s string) string {
	const most = 40
	if len(s) <= most {
		return s
	}
	return strings.ToValidUTF8(s[:most], "") + "…"
}

// codeKey is the key whose value names a member of a list.
const codeKey = "code"

// code is what names a member of a list, or "".
func (n *node) code() string {
	if n.kind != objectNode {
		return ""
	}
	for i := range n.entries {
		if e := &n.entries[i]; e.key == codeKey {
			if e.value.kind == scalarNode && Nameable(e.value.text) {
				return e.value.text
			}
			return ""
		}
	}
	return ""
}

// Nameable says whether a code can name its member in a path.
func Nameable(code string) bool {
	if code == "" || len(code) > 60 {
		return false
	}
	for i := range len(code) {
		switch c := code[i]; {
		case 'a' <= c && c <= 'z', 'A' <= c && c <= 'Z':
		case i > 0 && ('0' <= c && c <= '9' || c == '_' || c == '-'):
		default:
			return false
		}
	}
	return true
}

// memberName is how a path names member i (from 0) of a list: by its code if
// it is the first to have it, else by its number from 1.
func (n *node) memberName(i int) string {
	if code := n.items[i].code(); code != "" {
		first := 0
		for first < i && n.items[first].code() != code {
			first++
		}
		if first == i {
			return code
		}
	}
	return strconv.Itoa(i + 1)
}

// member finds a list's member by its name in a path.
func (n *node) member(name string) *node {
	if i, err := strconv.Atoi(name); err == nil {
		if i >= 1 && i <= len(n.items) {
			return &n.items[i-1]
		}
		return nil
	}
	for i := range n.items {
		if n.items[i].code() == name {
			return &n.items[i]
		}
	}
	return nil
}

// Position is a place in a text.
type Position struct {
	File string
	Line int // from 1
}

// Positions says where each field of a decoded document stands, by the same
// paths as Fault.At. The zero value knows no places.
type Positions struct {
	root  node
	files []string
}

// At is where the field stands or, failing that, the nearest one above it;
// false when nothing of the path is known.
func (p Positions) At(path string) (Position, bool) {
	if p.root.kind == 0 || path == "" {
		return Position{}, false
	}
	var found Position
	ok := false
	n := &p.root
	for step := range strings.SplitSeq(path, "/") {
		var next *node
		switch n.kind {
		case objectNode:
			for i := range n.entries {
				if e := &n.entries[i]; e.key == step {
					next = &e.value
					found, ok = Position{p.file(next), int(e.line)}, true
					break
				}
			}
		case listNode:
			if next = n.member(step); next != nil {
				found, ok = Position{p.file(next), int(next.line)}, true
			}
		}
		if next == nil {
			break
		}
		n = next
	}
	return found, ok
}

func (p Positions) file(n *node) string {
	if int(n.file) < len(p.files) {
		return p.files[n.file]
	}
	return ""
}

// Locate fills in file and line of every fault whose field, or failing that
// the nearest field above it, has a known place, and puts them in order.
func (p Positions) Locate(fs Faults) Faults {
	p.locate(fs)
	return fs.Sort()
}

func (p Positions) locate(fs Faults) {
	for i := range fs {
		if fs[i].File != "" || fs[i].Line != 0 {
			continue
		}
		if pos, ok := p.At(fs[i].At); ok {
			fs[i].File, fs[i].Line = pos.File, pos.Line
		}
	}
}

// step is one part of the path to the value being bound.
type step struct {
	key  string
	list *node // of a member of a list
	i    int
}

type path []step

func (p path) String() string {
	var b strings.Builder
	for i, s := range p {
		if i > 0 {
			b.WriteByte('/')
		}
		if s.list != nil {
			b.WriteString(s.list.memberName(s.i))
		} else {
			b.WriteString(s.key)
		}
	}
	return b.String()
}

// Join makes a path of steps: strings as they are, whole numbers as they are
// (members of lists count from 1).
func Join(steps ...any) string {
	var b strings.Builder
	for i, s := range steps {
		if i > 0 {
			b.WriteByte('/')
		}
		fmt.Fprint(&b, s)
	}
	return b.String()
}
