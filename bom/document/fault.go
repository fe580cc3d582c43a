// Package document reads what people write by hand, YAML or JSON, into typed
// values, strictly: an unknown key, a key given twice, a value of the wrong
// kind, an anchor, a second document, bytes that are not UTF-8 are all faults.
// It never stops at the first fault: all of them come back together, each with
// where it is and what would mend it.
package document

import (
	"fmt"
	"slices"
	"strings"
)

// Fault is one thing wrong with a document, said so that its writer can mend
// it without asking anybody.
type Fault struct {
	// Code is stable and meant for programs: "unknown_key", "duplicate_code".
	Code string `json:"code"`
	// At is the path of the field from the top of the document, list members
	// named by their code where they have one: "features/hob/lines/2/quantity".
	At string `json:"at"`
	// File and Line (from 1) say where the field stands; Line is 0 where the
	// value came from no text.
	File string `json:"file,omitempty"`
	Line int    `json:"line,omitempty"`
	// Reason says what is wrong, Remedy what would put it right; both are
	// whole sentences.
	Reason string `json:"reason"`
	Remedy string `json:"remedy"`
}

// Error gives the fault as one line: file, line, field, reason, remedy.
func (f Fault) Error() string {
	var b strings.Builder
	if f.File != "" {
		fmt.Fprintf(&b, "%s:%d: ", f.File, f.Line)
	}
	fmt.Fprintf(&b, "%s: %s %s", f.At, f.Reason, f.Remedy)
	return b.String()
}

// Faults are all that is wrong with an input, in the order of files, lines and
// fields. The zero value is "nothing wrong".
type Faults []Fault

// Error lists the faults, one a line.
func (fs Faults) Error() string {
	lines := make([]string, len(fs))
	for i, f := range fs {
		lines[i] = f.Error()
	}
	return strings.Join(lines, "\n")
}

// Err is nil when there are no faults, else the faults as an error.
func (fs Faults) Err() error {
	if len(fs) == 0 {
		return nil
	}
	return fs
}

// Sort puts the faults in reading order and drops exact repeats.
func (fs Faults) Sort() Faults {
	slices.SortStableFunc(fs, func(a, b Fault) int {
		if c := strings.Compare(a.File, b.File); c != 0 {
			return c
		}
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		if c := strings.Compare(a.At, b.At); c != 0 {
			return c
		}
		return strings.Compare(a.Reason, b.Reason)
	})
	return slices.Compact(fs)
}

// Position is a place in a text.
type Position struct {
	File string
	Line int // from 1
}

// Positions says where each field of a decoded document stands, by the same
// paths as Fault.At.
type Positions map[string]Position

// Locate fills in file and line of every fault whose field, or failing that
// the nearest field above it, has a known place.
func (p Positions) Locate(fs Faults) Faults {
	for i := range fs {
		if fs[i].File != "" {
			continue
		}
		at := fs[i].At
		for {
			if pos, ok := p[at]; ok {
				fs[i].File, fs[i].Line = pos.File, pos.Line
				break
			}
			cut := strings.LastIndexByte(at, '/')
			if cut < 0 {
				break
			}
			at = at[:cut]
		}
	}
	return fs.Sort()
}
