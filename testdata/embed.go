// Package testdata carries the demo workshop inside the program, so that it
// runs from one file, and the check values published elsewhere for the tests.
package testdata

import "embed"

// Demo is the demo workshop: demo/workshop.yaml, demo/catalogue,
// demo/pricebook, demo/choices and
// demo/story. docs/demo.md describes it.
//
//go:embed all:demo
var Demo embed.FS

// Published are check values from outside, each file naming its source.
//
//go:embed all:published
var Published embed.FS

// TakeOn is what a workshop brings along on the day it begins: good as it
// should be, faulty with something wrong in every file.
//
//go:embed all:take_on
var TakeOn embed.FS
