// Package engineering holds the published formulas by which a converter works
// out what a van needs: gas and air, masses and axles, cables and fuses, energy,
// water, heat, glue.
//
// Every function takes plain decimals, each in the unit its parameter is named
// for (areaM2 is in square metres), and gives a decimal in the unit its own name
// ends in. It opens nothing, knows no clock and remembers nothing. Outside the
// range a formula holds for there is no number but a *LimitError, the only error
// there is.
//
// Each docstring says where its formula comes from: a standard and its clause, a
// handbook, "common practice, no source", or "from memory" where the standard is
// known but its text was not at hand. docs/engineering.md has them all in
// mathematical notation with an example each. They are estimates: local codes
// and licensed gas and electrical engineers decide.
package engineering
