package catalogue

import (
	"encoding/json"

	"wainscot/bom/document"
)

// Decode reads a catalogue written as one or more YAML files (a file whose
// name ends in .json is read as JSON), taken in the order of their names: a
// list may go on in the next file, everything else is given once. It answers
// either the catalogue and where each field stands, or all that is wrong with
// the files; never both a catalogue and faults.
func Decode(files []document.File) (*Catalogue, document.Positions, document.Faults) {
	var c Catalogue
	positions, faults := document.DecodeAll(files, &c, Format)
	if unreadable(faults) {
		return nil, positions, faults
	}
	for i := range c.Stages {
		stage := &c.Stages[i]
		for j := range stage.Lines {
			if stage.Lines[j].Stage == "" {
				stage.Lines[j].Stage = stage.Code
			}
		}
	}
	found := c.validate()
	found.Locate(positions)
	found.LeaveOut(faults)
	for _, f := range faults {
		found.Add(f)
	}
	if faults := found.Faults(); len(faults) > 0 {
		return nil, positions, faults
	}
	return &c, positions, nil
}

// DecodeJSON is Decode for one JSON document.
func DecodeJSON(data []byte) (*Catalogue, document.Positions, document.Faults) {
	return Decode([]document.File{{Data: data, JSON: true}})
}

// unreadable says that so little could be read, or so much is wrong, that
// validating would only add noise.
func unreadable(faults document.Faults) bool {
	if len(faults) >= document.MaxFaults {
		return true
	}
	for _, f := range faults {
		if f.At == "" {
			return true
		}
	}
	return false
}

// MarshalJSON writes the catalogue as the JSON that DecodeJSON reads.
func (c Catalogue) MarshalJSON() ([]byte, error) {
	type fields Catalogue // without this method
	return json.Marshal(struct {
		Format string `json:"format"`
		fields
	}{Format, fields(c)})
}
