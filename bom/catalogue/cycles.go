package catalogue

import (
	"strings"

	"wainscot/bom/document"
)

// cycles finds members of a section that come back to themselves and shows
// each way round once. next gives where a member leads; it answers whether
// there is any. It goes over every arrow once and does not recurse, so that
// neither a long chain nor a dense one is a problem.
func (v *checker) cycles(section, fault string, n int, next func(int) []int, code func(int) string, reason, remedy string) bool {
	const (
		unseen = iota
		onPath
		done
	)
	state := make([]uint8, n)
	type visit struct {
		member int
		next   []int
	}
	found := false
	for start := range n {
		if state[start] != unseen {
			continue
		}
		state[start] = onPath
		path := []visit{{start, next(start)}}
		for len(path) > 0 {
			top := &path[len(path)-1]
			if len(top.next) == 0 {
				state[top.member] = done
				path = path[:len(path)-1]
				continue
			}
			to := top.next[0]
			top.next = top.next[1:]
			switch state[to] {
			case unseen:
				state[to] = onPath
				path = append(path, visit{to, next(to)})
			case onPath:
				found = true
				from := len(path) - 1
				for path[from].member != to {
					from--
				}
				v.fault(fault, document.Join(section, code(to)), reason+": "+round(path[from:], func(p visit) string { return code(p.member) })+".", remedy)
			}
		}
	}
	return found
}

// round writes a cycle: a → b → a. A very long one is cut in its middle.
func round[T any](path []T, code func(T) string) string {
	const most = 20
	var names []string
	for i, p := range path {
		if len(path) > most && i == most/2 {
			names = append(names, "…")
		}
		if len(path) <= most || i < most/2 || i >= len(path)-most/2 {
			names = append(names, code(p))
		}
	}
	return strings.Join(append(names, code(path[0])), " → ")
}
