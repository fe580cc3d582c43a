package catalogue

import "wainscot/bom/document"

// Validate says all that is wrong with the structure of a catalogue.
func (c *Catalogue) Validate() document.Faults { return nil }
