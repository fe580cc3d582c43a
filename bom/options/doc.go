// Package options is the option-rules engine: given a van and what a customer
// picked so far, it says of every feature whether it is chosen, comes with it,
// is already there, is open or is ruled out, and why.
//
// # Words
//
//   - An atom is a yes-or-no statement: "there is a hob", "there are at least
//     two sockets", "the van steers on the right". A counted feature has one
//     atom for each number it can reach; a setting has one for each value.
//   - A rule says that something must hold: needs, brings, clashes. A group
//     says how many of its features there may be. A follower is there only
//     while something brings it.
//   - An allowed specification is a set of features, counts and settings that
//     keeps every rule, group and follower.
//   - A choice is something the customer said, in order. A choice that leaves
//     nothing allowed after those before it is put aside.
//
// # What an answer means
//
// Let A be the allowed specifications that agree with all choices taken. A
// feature is open when some of A have it and some have not; it comes with the
// choices when all of A have it; it is ruled out when none has. That is exact,
// not an estimate: behind every "open" stands a specification that was found,
// behind every other answer a derivation that Why can tell. It speaks of rules
// only: figures such as payload are worked out after expansion.
//
// # How it works
//
// Compile writes the model as clauses (compile.go): a rule is a clause or a
// few, a group of which at most one may be picked is kept whole and handled
// natively, a condition too large to multiply out gets helper variables that
// are defined both ways, so that each specification is one model.
//
// Resolve (resolve.go) takes the choices one after another on levels of their
// own, asking each time whether anything allowed is left. It keeps one whole
// model of what was taken. Propagation then decides most features. For each
// one it leaves undecided, the question "can it be the other way?" is put to
// the search inside (internal/sat): what the question implies is laid over the
// kept model, and only where a clause loses its last true literal is there
// anything to search for. Each model met on the way answers for every literal
// in it, so most questions are never asked.
//
// The search starts from the same state for every Resolve, so the same choices
// give the same reasons, and not only the same answer: a frozen quote can be
// worked out again to the byte.
//
// # What more can be asked
//
// A reason is valid at once. WhyMinimal makes it minimal (minimal.go): a small
// solver over nothing but what the reason names drops what is not needed.
// Conflicts (conflicts.go) finds every set of the customer's choices that
// cannot be had together. WaysOut (ways_out.go) finds the fewest choices to undo
// (corrections.go), puts the nearest there can be in their place and ranks the
// results by a price that the caller works out.
//
// # Limits
//
// Deciding rules is hard in general, and a catalogue is somebody's input: work
// is counted, and a question that takes too much of it ends with ErrBudget.
package options
