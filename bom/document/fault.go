// Package document reads what people write by hand, YAML or JSON, into typed
// values, strictly: an unknown key, a key given twice, a value of the wrong
// kind, an anchor, a second document, bytes that are not UTF-8 are all faults.
// It never stops at the first fault: all of them come back together, each with
// where it is and what would mend it.
package document

import (
	"fmt"
	"slices"
	"strconv"
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
func (fs Faults) Limit() Faults {
	c := Collector{list: fs}
	return c.Faults()
}

// Collector gathers the faults of one input. It keeps more than will be told,
// so that repeats can be dropped, but not without end: the rest are counted.
type Collector struct {
	list Faults
	more int
}

// Add takes a fault in.
func (c *Collector) Add(f Fault) {
	if len(c.list) >= 4*MaxFaults {
		c.more++
		return
	}
	c.list = append(c.list, f)
}

// Join takes in all faults of another collector.
func (c *Collector) Join(o Collector) {
	for _, f := range o.list {
		c.Add(f)
	}
	c.more += o.more
}

// Locate gives each fault without a place the place of its field.
func (c *Collector) Locate(p Positions) { p.locate(c.list) }

// LeaveOut drops what follows from faults had already: a value that could not
// be read, or whose key is misspelt, is not also missing.
func (c *Collector) LeaveOut(had Faults) {
	faulted := make(map[string]bool, len(had))
	misspelt := map[string]bool{} // objects with a key nobody knows
	for _, f := range had {
		faulted[f.At] = true
		if f.Code == "unknown_key" {
			misspelt[parent(f.At)] = true
		}
	}
	c.list = slices.DeleteFunc(c.list, func(f Fault) bool {
		if f.Code == "missing_value" && misspelt[parent(f.At)] {
			return true
		}
		for at := f.At; at != ""; at = parent(at) {
			if faulted[at] {
				return true
			}
		}
		return false
	})
}

func parent(at string) string {
	return at[:max(strings.LastIndexByte(at, '/'), 0)]
}

// Faults gives the faults in reading order, at most MaxFaults of them and, if
// any were cut, one more that says how many.
func (c *Collector) Faults() Faults {
	fs := c.list.Sort()
	c.list = fs
	if cut := c.more + len(fs) - MaxFaults; cut > 0 {
		more := " more faults are left out here."
		if cut == 1 {
			more = " more fault is left out here."
		}
		fs = append(slices.Clip(fs[:min(MaxFaults, len(fs))]), Fault{Code: "more_faults",
			Reason: strconv.Itoa(cut) + more, Remedy: "Mend these first and try again."})
	}
	return fs
}
