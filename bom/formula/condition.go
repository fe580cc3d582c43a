package formula

import (
	"strconv"
	"strings"

	"github.com/shopspring/decimal"
)

// Condition is a checked Boolean expression over atoms, the form in which the
// option-rules engine takes rules. Build it with Scope.Condition or with the
// constructors below; And, Or and Not simplify constants away.
type Condition struct {
	Op   Op
	Args []Condition // of And, Or (two or more) and Not (one)
	Atom Atom        // of an IsAtom
	Fact Comparison  // of an IsFact; gone after Fold
}

// Op is what a Condition node is.
type Op uint8

// The kinds of node; zero is invalid.
const (
	IsTrue Op = iota + 1
	IsFalse
	IsAtom
	IsFact
	IsNot
	IsAnd
	IsOr
)

// Atom is one yes-or-no statement about choices or the van in question.
//
// With Value empty it says "there are at least AtLeast of feature Name" (1 for
// one that is not counted). With Value set it says "the particular or finish
// Name (van.steering, finish.fabric) has that value".
type Atom struct {
	Name    string
	AtLeast int
	Value   string
}

// Comparison is a statement about one base-van fact, decided by Fold.
type Comparison struct {
	Fact   string // without "van."
	Op     string // == != < <= > >=; "" for a yes/no fact by itself
	Number *decimal.Decimal
	Text   string
	Yes    bool
}

// True and False are the constant conditions.
var (
	True  = Condition{Op: IsTrue}
	False = Condition{Op: IsFalse}
)

// On says that feature code is there (at least n of it; n < 1 counts as 1).
func On(code string, n int) Condition {
	return Condition{Op: IsAtom, Atom: Atom{Name: code, AtLeast: max(n, 1)}}
}

// Is says that a particular or finish has a value.
func Is(name, value string) Condition {
	return Condition{Op: IsAtom, Atom: Atom{Name: name, Value: value}}
}

// Not negates c.
func Not(c Condition) Condition {
	switch c.Op {
	case IsTrue:
		return False
	case IsFalse:
		return True
	case IsNot:
		return c.Args[0]
	}
	return Condition{Op: IsNot, Args: []Condition{c}}
}

// And holds when all of cs do.
func And(cs ...Condition) Condition { return join(IsAnd, IsTrue, IsFalse, cs) }

// Or holds when one of cs does.
func Or(cs ...Condition) Condition { return join(IsOr, IsFalse, IsTrue, cs) }

func join(op, neutral, decisive Op, cs []Condition) Condition {
	var args []Condition
	for _, c := range cs {
		switch c.Op {
		case neutral:
		case decisive:
			return Condition{Op: decisive}
		case op:
			args = append(args, c.Args...)
		default:
			args = append(args, c)
		}
	}
	switch len(args) {
	case 0:
		return Condition{Op: neutral}
	case 1:
		return args[0]
	}
	return Condition{Op: op, Args: args}
}

// Fold decides every fact by the base van's facts and simplifies. decide says
// whether one comparison holds.
func (c Condition) Fold(decide func(Comparison) bool) Condition {
	switch c.Op {
	case IsFact:
		if decide(c.Fact) {
			return True
		}
		return False
	case IsNot:
		return Not(c.Args[0].Fold(decide))
	case IsAnd, IsOr:
		args := make([]Condition, len(c.Args))
		for i, a := range c.Args {
			args[i] = a.Fold(decide)
		}
		if c.Op == IsAnd {
			return And(args...)
		}
		return Or(args...)
	}
	return c
}

// Atoms calls yield for every atom of c, in order, repeats included.
func (c Condition) Atoms(yield func(Atom)) {
	if c.Op == IsAtom {
		yield(c.Atom)
	}
	for _, a := range c.Args {
		a.Atoms(yield)
	}
}

// Holds evaluates a folded condition under an assignment of atoms.
func (c Condition) Holds(atom func(Atom) bool) bool {
	switch c.Op {
	case IsTrue:
		return true
	case IsAtom:
		return atom(c.Atom)
	case IsNot:
		return !c.Args[0].Holds(atom)
	case IsAnd:
		for _, a := range c.Args {
			if !a.Holds(atom) {
				return false
			}
		}
		return true
	case IsOr:
		for _, a := range c.Args {
			if a.Holds(atom) {
				return true
			}
		}
		return false
	}
	return false
}

// String writes c out for people, much as a formula; at least one of a counted
// feature looks like one that is not counted.
func (c Condition) String() string {
	switch c.Op {
	case IsTrue:
		return "true"
	case IsFalse:
		return "false"
	case IsAtom:
		switch {
		case c.Atom.Value != "":
			return c.Atom.Name + " == " + strconv.Quote(c.Atom.Value)
		case c.Atom.AtLeast > 1:
			return c.Atom.Name + " >= " + strconv.Itoa(c.Atom.AtLeast)
		}
		return c.Atom.Name
	case IsFact:
		return c.Fact.String()
	case IsNot:
		return "!(" + c.Args[0].String() + ")"
	case IsAnd, IsOr:
		words := make([]string, len(c.Args))
		for i, a := range c.Args {
			words[i] = a.String()
		}
		if c.Op == IsAnd {
			return "(" + strings.Join(words, " && ") + ")"
		}
		return "(" + strings.Join(words, " || ") + ")"
	}
	return "invalid"
}

// String writes c as a formula has it.
func (c Comparison) String() string {
	switch {
	case c.Number != nil:
		return "van." + c.Fact + " " + c.Op + " " + c.Number.String()
	case c.Op != "":
		return "van." + c.Fact + " " + c.Op + " " + strconv.Quote(c.Text)
	case !c.Yes:
		return "!van." + c.Fact
	}
	return "van." + c.Fact
}
