package pricebook

import "wainscot/bom/document"

// Decode reads an edition from one or more files, strictly: a list may be
// spread over several files, everything else stands once. The faults are all
// that is wrong with the writing; what is wrong against a catalogue is
// Validate's to find, and Positions.Locate puts its faults in their lines.
func Decode(files []document.File) (*Edition, document.Positions, document.Faults) {
	var e Edition
	positions, faults := document.DecodeAll(files, &e, Format)
	return &e, positions, faults
}

// DecodeJSON reads an edition sent as one JSON object of the same shape.
func DecodeJSON(data []byte) (*Edition, document.Positions, document.Faults) {
	return Decode([]document.File{{Name: "pricebook.json", Data: data, JSON: true}})
}
