package document

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// parser turns one file's text into a tree.
type parser struct {
	file   uint16
	name   string
	faults *Collector
	halted bool // the file cannot be read any further
}

func (p *parser) fault(code string, line int, reason, remedy string) {
	p.faults.Add(Fault{Code: code, File: p.name, Line: line, Reason: reason, Remedy: remedy})
}

// yaml reads a YAML document, leaving out of YAML what can surprise: anchors,
// aliases, merge keys, tags, keys that are not text, several documents.
func (p *parser) yaml(data []byte) node {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	decoder := yaml.NewDecoder(bytes.NewReader(data))
	var first, second yaml.Node
	if err := decodeNode(decoder, &first); err != nil {
		p.halted = true
		if errors.Is(err, io.EOF) {
			p.fault("empty_document", 1, "The document is empty.", "Write at least its format and one section.")
			return node{}
		}
		p.malformed(data, err)
		return node{}
	}
	switch err := decodeNode(decoder, &second); {
	case err == nil:
		p.fault("several_documents", second.Line, "A second document begins here.",
			"Keep one document in a file; take out the line \"---\".")
	case !errors.Is(err, io.EOF):
		p.halted = true
		p.malformed(data, err)
		return node{}
	}
	root := &first
	if root.Kind == yaml.DocumentNode && len(root.Content) == 1 {
		root = root.Content[0]
	}
	return p.convert(root, 1)
}

// decodeNode guards against a panic of the YAML reader on hostile text: for us
// it is one more way of being malformed.
func decodeNode(d *yaml.Decoder, n *yaml.Node) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("yaml: %v", r)
		}
	}()
	return d.Decode(n)
}

var yamlErrorLine = regexp.MustCompile(`line (\d+): `)

func (p *parser) malformed(data []byte, err error) {
	message := strings.TrimPrefix(err.Error(), "yaml: ")
	line := 0
	if m := yamlErrorLine.FindStringSubmatchIndex(message); m != nil {
		line, _ = strconv.Atoi(message[m[2]:m[3]])
		message = message[:m[0]] + message[m[1]:]
	}
	if name, ok := strings.CutPrefix(message, "unknown anchor '"); ok {
		name, _, _ = strings.Cut(name, "'")
		if i := bytes.Index(data, []byte("*"+name)); i >= 0 {
			line = 1 + bytes.Count(data[:i], []byte{'\n'})
		}
		p.fault("alias", line, fmt.Sprintf("A reference (*%s) to another place of the document is used.", shorten(name)),
			"Write the value out where it is wanted.")
		return
	}
	p.fault("malformed", line, fmt.Sprintf("This is not well-formed YAML: %s.", strings.TrimSuffix(message, ".")),
		"Look at this line and the one before it: indentation, quotes, a colon without a space after it.")
}

func (p *parser) convert(y *yaml.Node, depth int) node {
	n := node{file: p.file, line: int32(y.Line)}
	if depth > MaxDepth {
		p.fault("too_deep", y.Line, fmt.Sprintf("Values are more than %d deep inside each other here.", MaxDepth),
			"Nothing that is read goes this deep; look for an indentation or a bracket too many.")
		p.halted = true
		return n
	}
	if y.Anchor != "" {
		p.fault("anchor", y.Line, fmt.Sprintf("An anchor (&%s) is used.", shorten(y.Anchor)),
			"Take it out; each value is written where it is wanted.")
	}
	if y.Style&yaml.TaggedStyle != 0 {
		p.fault("tag", y.Line, fmt.Sprintf("A tag (%s) is used.", shorten(y.Tag)),
			"Take it out; a text that looks like a number goes in quotes.")
	}
	switch y.Kind {
	case yaml.ScalarNode:
		n.kind = scalarNode
		n.text = y.Value
		n.quoted = y.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle|yaml.LiteralStyle|yaml.FoldedStyle) != 0
		if y.Style&(yaml.LiteralStyle|yaml.FoldedStyle) != 0 {
			// Line breaks at a block's end are the way it is written, not text.
			n.text = strings.TrimRight(n.text, "\n")
		}
	case yaml.SequenceNode:
		n.kind = listNode
		n.items = make([]node, len(y.Content))
		for i, c := range y.Content {
			n.items[i] = p.convert(c, depth+1)
		}
	case yaml.MappingNode:
		n.kind = objectNode
		n.entries = make([]entry, 0, len(y.Content)/2)
		for i := 0; i+1 < len(y.Content); i += 2 {
			k := y.Content[i]
			switch {
			case k.Kind == yaml.ScalarNode && k.Tag == "!!merge":
				p.fault("merge_key", k.Line, "A merge key (<<) is used.", "Write the keys out where they are wanted.")
				continue
			case k.Kind != yaml.ScalarNode:
				p.fault("wrong_kind", k.Line, "A key is not a text.", "Write keys as plain words.")
				continue
			}
			key := p.convert(k, depth+1)
			n.entries = append(n.entries, entry{key.text, key.line, p.convert(y.Content[i+1], depth+1)})
		}
	case yaml.AliasNode:
		p.fault("alias", y.Line, fmt.Sprintf("A reference (*%s) to another place of the document is used.", shorten(y.Value)),
			"Write the value out where it is wanted.")
	}
	return n
}
