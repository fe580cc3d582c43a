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
	switch {
	case f.File != "" && f.Line > 0:
		fmt.Fprintf(&b, "%s:%d: ", f.File, f.Line)
	case f.File != "":
		fmt.Fprintf(&b, "%s: ", f.File)
	case f.Line > 0:
		fmt.Fprintf(&b, "line %d: ", f.Line)
	}
	if f.At != "" {
		fmt.Fprintf(&b, "%s: ", f.At)
	}
	fmt.Fprintf(&b, "%s %s", f.Reason, f.Remedy)
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

// Limit puts the faults in reading order and keeps at most MaxFaults of them
// and, if any were cut, one more that says how many.
func (fs Faults) Limit() Faults { return fs.limit(MaxFaults, 0) }

func (fs Faults) limit(most, more int) Faults {
	fs = fs.Sort()
	if cut := more + len(fs) - most; cut > 0 {
		fs = append(fs[:min(most, len(fs))], Fault{Code: "more_faults",
			Reason: plural(cut, "more fault") + " left out here.",
			Remedy: "Mend these first and try again."})
	}
	return fs
}
