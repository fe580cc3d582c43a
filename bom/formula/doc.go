// Package formula reads the expressions of a catalogue, written in CEL, the
// open Common Expression Language, cut down to what a bill of materials needs:
// numbers are decimals (never floats), there are no macros, no lists, no maps,
// no strings but in comparisons, no regular expressions, so the cost of a
// formula is known before it runs and its answer is the same everywhere.
//
// CEL's parser reads a formula; names, kinds and units are checked here, so that
// every refusal says what to write instead; the checked formula is worked out
// here, each operation at most once, so its length bounds its cost.
// CEL's own checker and interpreter bear witness in the tests. docs/formulas.md
// is the page for those who write formulas, and says why it is built like this.
//
// Two things come out of it. A Formula computes a number or a truth from
// values. A Condition is the Boolean shape of a rule, which the option-rules
// engine compiles to clauses and which never runs as CEL.
//
// # Names
//
//	hob              a feature: true or false; a counted one: how many
//	fit.hob          how many of it this job fits (those already there left out)
//	van.load_length_mm   a fact of the base van; van.steering a particular
//	finish.fabric    the choice made for a finish ("" while open)
//	gas_input_kw     a figure
//	sheet.mass_kg    totals of the build sheet, in checks only
//
// # Numbers
//
// Every arithmetic result is rounded half up to Places decimal places and must
// stay below Largest; a larger one, or a division by zero, is an error of that
// formula. Both limits keep chains of figures from growing without end.
package formula

// Limits of arithmetic.
const (
	Places  = 12                    // decimal places kept by each operation
	Largest = 1_000_000_000_000_000 // absolute value no result may reach
)
