package bom

import "wainscot/bom/document"

// The domains of hashed documents: what is hashed and the version of its form.
const (
	sheetDomain         = "wainscot sheet 1\n"
	specificationDomain = "wainscot specification 1\n"
)

// CanonicalHash identifies a sheet by its content, in hexadecimal: two sheets
// with the same hash say the same thing. document.Hash says how it is made.
func CanonicalHash(s Sheet) string { return document.Hash(sheetDomain, s) }

// SpecificationHash identifies a specification by its content, as
// CanonicalHash does a sheet.
func SpecificationHash(s Specification) string { return document.Hash(specificationDomain, s) }
