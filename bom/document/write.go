package document

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/go-json-experiment/json/jsontext"
	"go.yaml.in/yaml/v3"
)

// YAML writes a JSON document as the YAML that people write: the same values
// in the same order, read back by Decode as what they were.
func YAML(written []byte) ([]byte, error) {
	d := jsontext.NewDecoder(bytes.NewReader(written))
	root, err := yamlNode(d)
	if err != nil {
		return nil, fmt.Errorf("writing YAML: %w", err)
	}
	var b bytes.Buffer
	e := yaml.NewEncoder(&b)
	e.SetIndent(2)
	if err := e.Encode(root); err != nil {
		return nil, fmt.Errorf("writing YAML: %w", err)
	}
	return b.Bytes(), nil
}

func yamlNode(d *jsontext.Decoder) (*yaml.Node, error) {
	token, err := d.ReadToken()
	if err != nil {
		return nil, err
	}
	n := &yaml.Node{Kind: yaml.ScalarNode}
	switch kind := token.Kind(); kind {
	case '{', '[':
		n.Kind, n.Tag = yaml.MappingNode, "!!map"
		if kind == '[' {
			n.Kind, n.Tag = yaml.SequenceNode, "!!seq"
		}
		for d.PeekKind() != kind+2 { // the bracket that closes it
			item, err := yamlNode(d)
			if err != nil {
				return nil, err
			}
			n.Content = append(n.Content, item)
		}
		if _, err := d.ReadToken(); err != nil {
			return nil, err
		}
		if len(n.Content) == 0 {
			n.Style = yaml.FlowStyle
		}
	case '"':
		n.Tag, n.Value = "!!str", token.String()
		// What looks like something else to our reader is put in quotes, and
		// what has space or lines at its ends, which a block would lose; the
		// library sees to what looks like something else to itself.
		if (&node{kind: scalarNode, text: n.Value}).scalar() != text || strings.TrimSpace(n.Value) != n.Value {
			n.Style = yaml.DoubleQuotedStyle
		}
	case 'n':
		n.Tag, n.Value = "!!null", "null"
	case 't', 'f':
		n.Tag, n.Value = "!!bool", token.String()
	default:
		n.Value = token.String() // a number, digit for digit
	}
	return n, nil
}
