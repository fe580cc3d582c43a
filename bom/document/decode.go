package document

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"
)

// Limits of one document; more is refused.
const (
	MaxFileBytes = 8 << 20   // of one file
	MaxValues    = 1_000_000 // lists, objects and scalars of one file
	MaxDepth     = 32        // objects and lists inside each other
	MaxText      = 20_000    // bytes of one text
	MaxFaults    = 200       // told at once
)

// formatKey is the key every document says its format with.
const formatKey = "format"

// File is one document as it was written.
type File struct {
	// Name is what faults call it.
	Name string
	Data []byte
	// JSON says that Data is JSON; a Name that ends in ".json" says so too.
	// Everything else is YAML.
	JSON bool
}

// Decode reads one file into a struct whose keys are named by yaml tags. A key
// is required unless the field's json tag says omitempty or omitzero. The
// file must say the format, as the value of its key "format"; an empty format
// asks for none. With any faults the struct is only partly filled.
func Decode[T any](f File, into *T, format string) (Positions, Faults) {
	return DecodeAll([]File{f}, into, format)
}

// DecodeAll reads several files as one document, in the order of their names.
// Each says the format. A list given in several files is their members one
// after another; any other key may be given once only.
func DecodeAll[T any](files []File, into *T, format string) (Positions, Faults) {
	root, faults, whole := readAll(files, format)
	p := Positions{root: root, files: names(files)}
	if len(files) == 0 {
		faults.Add(Fault{Code: "no_document", Reason: "There is no document.",
			Remedy: "Give at least one file."})
		return p, faults.Faults()
	}
	b := binder{positions: p, faults: faults, plans: map[reflect.Type]*plan{}}
	// What a missing file would have said is not missed: its own fault is enough.
	b.partial = !whole
	b.value(&p.root, reflect.ValueOf(into).Elem())
	return p, b.faults.Faults()
}

func names(files []File) []string {
	list := make([]string, len(files))
	for i, f := range sorted(files) {
		list[i] = f.Name
	}
	return list
}

func sorted(files []File) []File {
	files = slices.Clone(files)
	slices.SortStableFunc(files, func(a, b File) int { return strings.Compare(a.Name, b.Name) })
	return files
}

// readAll parses all files and joins their top objects. whole says that every
// file could be read.
func readAll(files []File, format string) (root node, faults Collector, whole bool) {
	files = sorted(files)
	trees := make([]node, len(files))
	found := make([]Collector, len(files))
	var wait sync.WaitGroup
	for i := range files {
		wait.Go(func() { trees[i], found[i] = parse(files[i], uint16(i)) })
	}
	wait.Wait()

	root = node{kind: objectNode, line: 1}
	whole = true
	at := map[string]int{} // of keys, in root.entries
	for i, tree := range trees {
		faults.Join(found[i])
		if tree.kind != objectNode {
			whole = false
			continue
		}
		if format != "" {
			checkFormat(files[i].Name, &tree, format, &faults)
		}
		mine := map[string]bool{}
		for _, e := range tree.entries {
			if format != "" && e.key == formatKey {
				continue
			}
			seen, again := at[e.key]
			switch {
			case !again || mine[e.key]: // a key twice in one file is the binder's to find
				at[e.key] = len(root.entries)
				root.entries = append(root.entries, e)
			case root.entries[seen].value.kind == listNode && e.value.kind == listNode:
				first := &root.entries[seen].value
				first.items = append(slices.Clip(first.items), e.value.items...)
			default:
				faults.Add(Fault{Code: "given_twice", At: e.key, File: files[i].Name, Line: int(e.line),
					Reason: fmt.Sprintf("%q is also given in %s, line %d.", e.key,
						files[root.entries[seen].value.file].Name, root.entries[seen].line),
					Remedy: "Give it in one file only; only lists may be spread over several."})
			}
			mine[e.key] = true
		}
	}
	return root, faults, whole
}

func checkFormat(name string, tree *node, format string, faults *Collector) {
	for _, e := range tree.entries {
		if e.key != formatKey {
			continue
		}
		if e.value.kind != scalarNode || e.value.text != format {
			faults.Add(Fault{Code: "wrong_format", At: formatKey, File: name, Line: int(e.line),
				Reason: fmt.Sprintf("The document says that its format is %s.", e.value.describe()),
				Remedy: fmt.Sprintf("This reads %q only.", format)})
		}
		return
	}
	faults.Add(Fault{Code: "missing_format", At: formatKey, File: name, Line: 1,
		Reason: "The document does not say its format.",
		Remedy: fmt.Sprintf("Let its first line be \"format: %s\".", format)})
}

// parse reads one file into a tree, which is an object unless there are faults
// that stopped it.
func parse(f File, file uint16) (tree node, faults Collector) {
	stop := func(code string, line int, reason, remedy string) (node, Collector) {
		faults.Add(Fault{Code: code, File: f.Name, Line: line, Reason: reason, Remedy: remedy})
		return node{}, faults
	}
	if len(f.Data) > MaxFileBytes {
		return stop("too_large", 0, fmt.Sprintf("The file has %d bytes.", len(f.Data)),
			fmt.Sprintf("At most %d are read; split it into several files.", MaxFileBytes))
	}
	if line := firstNotUTF8(f.Data); line > 0 {
		return stop("not_utf8", line, "There are bytes here that are not UTF-8.",
			"Save the file in the encoding UTF-8.")
	}
	if n := valuesBound(f.Data); n > MaxValues {
		return stop("too_many_values", 0, fmt.Sprintf("The file may hold up to %d values.", n),
			fmt.Sprintf("At most %d are read; split it into several files.", MaxValues))
	}
	p := parser{file: file, name: f.Name, faults: &faults}
	if f.JSON || strings.HasSuffix(f.Name, ".json") {
		tree = p.json(f.Data)
	} else {
		tree = p.yaml(f.Data)
	}
	if p.halted {
		return node{}, faults
	}
	if tree.kind != objectNode {
		return stop("wrong_kind", max(int(tree.line), 1),
			fmt.Sprintf("The document is %s, not an object.", tree.describe()),
			"Write it as keys with values, the first of them \"format\".")
	}
	return tree, faults
}

func firstNotUTF8(data []byte) (line int) {
	if utf8.Valid(data) {
		return 0
	}
	line = 1
	for len(data) > 0 {
		r, size := utf8.DecodeRune(data)
		if r == utf8.RuneError && size == 1 {
			return line
		}
		if r == '\n' {
			line++
		}
		data = data[size:]
	}
	return line
}

// valuesBound is at least the number of values in a document: every value but
// the first follows one of these bytes. It is worked out before a tree is
// built, so that a small file cannot ask for a great deal of memory.
func valuesBound(data []byte) int {
	n := 1
	for _, c := range data {
		switch c {
		case '\n', ',', ':', '[', '{', '-', '?':
			n++
		}
	}
	return n
}
