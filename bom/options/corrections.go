package options

import (
	"cmp"
	"container/heap"
	"encoding/binary"
	"slices"
)

// mostLooked bounds how many sets of choices to undo are kept in mind while
// the smallest that help are looked for.
const mostLooked = 20_000

// corrections finds the smallest sets of the customer's choices whose undoing
// leaves something allowed, one after another, smaller ones first. Each is
// minimal: undoing only a part of it would not do.
//
// Such a set must take something out of every conflict. So sets grow by one
// choice of a conflict they do not meet yet, those first that can lead to the
// fewest choices undone: a set needs at least one more for each conflict it does
// not meet that shares nothing with the others counted. Conflicts are found
// when a set that meets all known ones does not help.
//
// Sources, from memory: R. Reiter, "A theory of diagnosis from first
// principles", Artificial Intelligence 32, 1987 (the sets are hitting sets,
// conflicts found when needed); P. Hart, N. Nilsson and B. Raphael, "A formal
// basis for the heuristic determination of minimum cost paths", 1968 (which to
// grow first).
type corrections struct {
	u     *undoing
	known [][]int // conflicts, each in order
	open  grown
	seen  map[string]bool
	found [][]int
}

// grown are sets still to be looked at, the most promising first.
type grown []grownSet

// grownSet is a set of choices to undo. It leads to at least bound of them.
type grownSet struct {
	out   []int
	bound int
	at    int // the how manyth it is
}

func (g *grown) Len() int      { return len(*g) }
func (g *grown) Swap(i, j int) { (*g)[i], (*g)[j] = (*g)[j], (*g)[i] }
func (g *grown) Push(x any)    { *g = append(*g, x.(grownSet)) } //nolint:errcheck,forcetypeassert // only through heap
func (g *grown) Pop() any {
	old := *g
	last := old[len(old)-1]
	*g = old[:len(old)-1]
	return last
}

func (g *grown) Less(i, j int) bool {
	a, b := &(*g)[i], &(*g)[j]
	return cmp.Or(cmp.Compare(a.bound, b.bound), cmp.Compare(len(b.out), len(a.out)), cmp.Compare(a.at, b.at)) < 0
}

func (u *undoing) corrections() *corrections {
	c := &corrections{u: u, seen: map[string]bool{}}
	c.push(nil)
	return c
}

// next gives the next set, in the order of the choices; false when there is
// none. The question then stands with all other choices taken. ErrBudget also
// when too many sets had to be kept in mind.
func (c *corrections) next() ([]int, bool, error) {
	for c.open.Len() > 0 {
		set, _ := heap.Pop(&c.open).(grownSet)
		if c.covered(set.out) {
			continue
		}
		if bound := c.bound(set.out); bound > set.bound { // more is known by now
			set.bound = bound
			heap.Push(&c.open, set)
			continue
		}
		conflict := c.unmet(set.out)
		if conflict == nil {
			var err error
			if conflict, err = c.conflict(set.out); err != nil {
				return nil, false, err
			}
			if conflict == nil {
				c.found = append(c.found, set.out)
				return set.out, true, nil
			}
		}
		// What was said last is undone first.
		for _, i := range slices.Backward(conflict) {
			at, _ := slices.BinarySearch(set.out, i)
			c.push(slices.Insert(slices.Clone(set.out), at, i))
		}
		if c.open.Len() > mostLooked {
			return nil, false, ErrBudget
		}
	}
	return nil, false, nil
}

// conflict looks for one that a set does not meet and keeps it; nil when there
// is none, all other choices then being taken.
func (c *corrections) conflict(out []int) ([]int, error) {
	in := slices.DeleteFunc(slices.Clone(c.u.own), func(i int) bool { return slices.Contains(out, i) })
	last, _, err := c.u.together(in)
	if err != nil || last < 0 {
		return nil, err
	}
	kept, _, err := c.u.narrow(in[:last+1])
	if err != nil {
		return nil, err
	}
	c.known = append(c.known, kept)
	return kept, nil
}

func (c *corrections) push(out []int) {
	key := make([]byte, 0, 4*len(out))
	for _, i := range out {
		key = binary.LittleEndian.AppendUint32(key, uint32(i))
	}
	if c.seen[string(key)] || c.covered(out) {
		return
	}
	c.seen[string(key)] = true
	heap.Push(&c.open, grownSet{out, c.bound(out), len(c.seen)})
}

// covered says whether a set found is all in out.
func (c *corrections) covered(out []int) bool {
	return slices.ContainsFunc(c.found, func(f []int) bool {
		return !slices.ContainsFunc(f, func(i int) bool { return !slices.Contains(out, i) })
	})
}

func meets(a, b []int) bool {
	return slices.ContainsFunc(a, func(i int) bool { return slices.Contains(b, i) })
}

// unmet gives a known conflict that out takes nothing out of.
func (c *corrections) unmet(out []int) []int {
	for _, k := range c.known {
		if !meets(k, out) {
			return k
		}
	}
	return nil
}

// bound is how many choices are undone at least by what out leads to.
func (c *corrections) bound(out []int) int {
	n := len(out)
	var counted []int
	for _, k := range c.known {
		if !meets(k, out) && !meets(k, counted) {
			n++
			counted = append(counted, k...)
		}
	}
	return n
}
