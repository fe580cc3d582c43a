package document

import "unicode/utf8"

// The YAML reader of yaml.go is right about all of YAML and slow: some 160 ms
// of processor time for a megabyte (BenchmarkRead), much of what a command
// takes from start to end. This file reads the way most people write a
// catalogue, in about a twelfth of that, and answers nothing at all as soon as
// anything is unusual: then yaml.go reads the file from its beginning, and
// says what is wrong with it if anything is. So this reader refuses nothing,
// and what it accepts is the very tree that yaml.go would give, line for line;
// FuzzQuickReader holds it to that.
//
// Usual are block lists and objects with plain words as keys; values of one
// line: plain, in single quotes, in double quotes without escapes, or flow
// lists and objects; comments; indentation by spaces.

// quick reads a document; false when it cannot say what yaml.go would.
func (p *parser) quick(data []byte) (root node, ok bool) {
	if !usualBytes(data) {
		return node{}, false
	}
	q := quickReader{text: string(data), file: p.file}
	q.nextLine()
	if q.done || q.indent != 0 {
		return node{}, false
	}
	root = q.block(0, 1)
	return root, !q.unusual && q.done && root.kind == objectNode
}

// usualBytes says that there are no tabs, carriage returns, other control
// characters or line breaks beyond ASCII, and nothing YAML calls unprintable.
func usualBytes(data []byte) bool {
	for i := 0; i < len(data); {
		c := data[i]
		if c < utf8.RuneSelf {
			if c < ' ' && c != '\n' || c == 0x7f {
				return false
			}
			i++
			continue
		}
		r, size := utf8.DecodeRune(data[i:])
		if r < 0xa0 || r == 0x2028 || r == 0x2029 || r == 0xfeff || r == 0xfffe || r == 0xffff || r == utf8.RuneError && size == 1 {
			return false
		}
		i += size
	}
	return true
}

// quickReader stands at a place of a line that has content.
type quickReader struct {
	text    string
	file    uint16
	next    int // where the line after this one begins
	at, end int // what is left of this line
	line    int32
	indent  int // spaces before the content
	done    bool
	unusual bool

	// Members of lists and objects not yet ended wait on a stack and are then
	// cut from slabs at their number: few allocations, no growing.
	items    []node
	entries  []entry
	itemSlab []node
	slab     []entry
}

func (q *quickReader) itemsFrom(mark int) []node {
	n := len(q.items) - mark
	if n > cap(q.itemSlab)-len(q.itemSlab) {
		q.itemSlab = make([]node, 0, max(n, 256))
	}
	at := len(q.itemSlab)
	q.itemSlab = append(q.itemSlab, q.items[mark:]...)
	q.items = q.items[:mark]
	return q.itemSlab[at : at+n : at+n]
}

func (q *quickReader) entriesFrom(mark int) []entry {
	n := len(q.entries) - mark
	if n > cap(q.slab)-len(q.slab) {
		q.slab = make([]entry, 0, max(n, 256))
	}
	at := len(q.slab)
	q.slab = append(q.slab, q.entries[mark:]...)
	q.entries = q.entries[:mark]
	return q.slab[at : at+n : at+n]
}

// nextLine goes to the next line that is neither blank nor only a comment.
func (q *quickReader) nextLine() {
	for q.next < len(q.text) {
		start := q.next
		end := start
		for end < len(q.text) && q.text[end] != '\n' {
			end++
		}
		q.next = min(end+1, len(q.text))
		q.line++
		at := start
		for at < end && q.text[at] == ' ' {
			at++
		}
		if at == end || q.text[at] == '#' {
			if end == len(q.text) {
				break
			}
			continue
		}
		for q.text[end-1] == ' ' {
			end--
		}
		q.at, q.end, q.indent = at, end, at-start
		return
	}
	q.done = true
	q.at, q.end, q.indent = 0, 0, -1
}

func (q *quickReader) stop() node {
	q.unusual = true
	return node{}
}

// dash says that the line goes on with a list member.
func (q *quickReader) dash() bool {
	return q.at < q.end && q.text[q.at] == '-' && (q.at+1 == q.end || q.text[q.at+1] == ' ')
}

// block reads the list or object whose first line this is, at its column.
func (q *quickReader) block(column, depth int) node {
	if depth > MaxDepth {
		return q.stop()
	}
	if q.dash() {
		return q.list(column, depth)
	}
	return q.object(column, depth)
}

func (q *quickReader) list(column, depth int) node {
	n := node{kind: listNode, file: q.file, line: q.line}
	mark := len(q.items)
	for !q.done && !q.unusual && q.indent == column && q.dash() {
		q.at++
		q.spaces()
		var item node
		switch {
		case q.rest():
			q.nextLine()
			if q.done || q.indent <= column {
				return q.stop() // nothing, or a line that belongs elsewhere
			}
			item = q.block(q.indent, depth+1)
		case q.key() != "":
			// An object that begins in the dash's line stands at the column
			// of its first key.
			q.indent = q.at - q.lineStart()
			item = q.block(q.indent, depth+1)
		default:
			item = q.value(depth + 1)
		}
		q.items = append(q.items, item)
	}
	n.items = q.itemsFrom(mark)
	return n
}

func (q *quickReader) lineStart() int {
	i := q.at
	for i > 0 && q.text[i-1] != '\n' {
		i--
	}
	return i
}

func (q *quickReader) object(column, depth int) node {
	n := node{kind: objectNode, file: q.file, line: q.line}
	mark := len(q.entries)
	for !q.done && !q.unusual && q.indent == column {
		key := q.key()
		if key == "" {
			return q.stop()
		}
		e := entry{key: key, line: q.line}
		q.at += len(key) + 1
		q.spaces()
		if q.rest() {
			q.nextLine()
			switch {
			case q.done, q.indent < column, q.indent == column && !q.dash():
				return q.stop() // nothing
			case q.indent == column:
				e.value = q.list(column, depth+1)
			default:
				e.value = q.block(q.indent, depth+1)
			}
		} else {
			e.value = q.value(depth + 1)
		}
		q.entries = append(q.entries, e)
	}
	if q.indent > column {
		return q.stop()
	}
	n.entries = q.entriesFrom(mark)
	return n
}

// key is the key the line goes on with, "" for none: a plain word, a colon,
// then a space or the line's end.
func (q *quickReader) key() string {
	i := q.at
	for i < q.end && wordByte(q.text[i], i > q.at) {
		i++
	}
	const longest = 200 // YAML reads a little over a thousand
	if i == q.at || i == q.end || i > q.at+longest || q.text[i] != ':' || i+1 < q.end && q.text[i+1] != ' ' {
		return ""
	}
	return q.text[q.at:i]
}

func wordByte(c byte, inside bool) bool {
	return 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || c == '_' || inside && ('0' <= c && c <= '9' || c == '-')
}

func (q *quickReader) spaces() {
	for q.at < q.end && q.text[q.at] == ' ' {
		q.at++
	}
}

// rest says that nothing but a comment is left of the line. A comment has a
// space before it: whoever asks has passed one, or stands at the end.
func (q *quickReader) rest() bool {
	return q.at == q.end || q.text[q.at] == '#' && q.text[q.at-1] == ' '
}

// value reads a value that begins and ends in this line and goes to the next.
// Should that stand deeper it is more of the value: the object around, whose
// column it then passes, finds out.
func (q *quickReader) value(depth int) node {
	var n node
	switch c := q.text[q.at]; c {
	case '[', '{':
		n = q.flow(depth)
		if after := q.at; !q.unusual && after < q.end {
			if q.spaces(); !q.rest() {
				return q.stop()
			}
		}
	case '"', '\'':
		n = q.quoted(c)
		if after := q.at; !q.unusual && after < q.end {
			if q.spaces(); !q.rest() || after == q.at {
				return q.stop()
			}
		}
	default:
		n = q.plain()
	}
	if q.unusual {
		return node{}
	}
	q.nextLine()
	return n
}

// plainStart says that a plain scalar can begin with c here, whatever follows;
// a dash must be followed by something that is neither a space nor a mark.
func (q *quickReader) plainStart() bool {
	switch c := q.text[q.at]; {
	case 'a' <= c && c <= 'z', 'A' <= c && c <= 'Z', '0' <= c && c <= '9', c == '_', c == '.', c == '+', c == '(', c == '/', c == '$', c == '~', c >= utf8.RuneSelf:
		return true
	case c == '-' && q.at+1 < q.end:
		c = q.text[q.at+1]
		return 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9' || c == '.'
	}
	return false
}

// plain reads a plain scalar to the end of the line.
func (q *quickReader) plain() node {
	n := node{kind: scalarNode, file: q.file, line: q.line}
	if !q.plainStart() {
		return q.stop()
	}
	i := q.at
	for ; i < q.end; i++ {
		switch q.text[i] {
		case ':':
			if i+1 == q.end || q.text[i+1] == ' ' {
				return q.stop()
			}
		case '#':
			if q.text[i-1] == ' ' {
				n.text = trimRight(q.text[q.at:i])
				return n
			}
		}
	}
	n.text = q.text[q.at:q.end]
	return n
}

func trimRight(s string) string {
	for s[len(s)-1] == ' ' {
		s = s[:len(s)-1]
	}
	return s
}

// quoted reads a scalar in quotes that ends in this line and escapes nothing.
func (q *quickReader) quoted(quote byte) node {
	n := node{kind: scalarNode, file: q.file, line: q.line, quoted: true}
	for i := q.at + 1; i < q.end; i++ {
		switch c := q.text[i]; {
		case c == '\\' && quote == '"':
			return q.stop()
		case c == quote:
			if quote == '\'' && i+1 < q.end && q.text[i+1] == quote {
				return q.stop() // two are one
			}
			n.text = q.text[q.at+1 : i]
			q.at = i + 1
			return n
		}
	}
	return q.stop()
}

// flow reads a flow list or object that ends in this line.
func (q *quickReader) flow(depth int) node {
	if depth > MaxDepth {
		return q.stop()
	}
	n := node{file: q.file, line: q.line, kind: listNode}
	closing := byte(']')
	if q.text[q.at] == '{' {
		n.kind, closing = objectNode, '}'
	}
	q.at++
	q.spaces()
	if q.at < q.end && q.text[q.at] == closing {
		q.at++
		return n
	}
	items, entries := len(q.items), len(q.entries)
	for {
		if q.at == q.end {
			return q.stop()
		}
		if n.kind == objectNode {
			key := q.key()
			if key == "" || q.at+len(key)+1 == q.end {
				return q.stop()
			}
			q.at += len(key) + 1
			q.spaces()
			value := q.flowValue(depth + 1)
			q.entries = append(q.entries, entry{key, q.line, value})
		} else {
			value := q.flowValue(depth + 1)
			q.items = append(q.items, value)
		}
		q.spaces()
		if q.unusual || q.at == q.end {
			return q.stop()
		}
		switch q.text[q.at] {
		case closing:
			q.at++
			n.items, n.entries = q.itemsFrom(items), q.entriesFrom(entries)
			return n
		case ',':
			q.at++
			q.spaces()
		default:
			return q.stop()
		}
	}
}

func (q *quickReader) flowValue(depth int) node {
	if q.at == q.end {
		return q.stop()
	}
	switch c := q.text[q.at]; c {
	case '[', '{':
		return q.flow(depth)
	case '"', '\'':
		return q.quoted(c)
	}
	if !q.plainStart() {
		return q.stop()
	}
	n := node{kind: scalarNode, file: q.file, line: q.line}
	for i := q.at; i < q.end; i++ {
		switch q.text[i] {
		case ',', ']', '}':
			n.text = trimRight(q.text[q.at:i])
			q.at = i
			return n
		case '[', '{', ':', '?', '#':
			return q.stop()
		}
	}
	return q.stop()
}
