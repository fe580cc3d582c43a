package catalogue

import "wainscot/bom/document"

// hashDomain names what is hashed and the version of its canonical form.
const hashDomain = "wainscot catalogue 1\n"

// Hash identifies a catalogue by its content: how its files are laid out does
// not matter, any value and the order of lists do. document.Hash says how.
func Hash(c *Catalogue) string { return document.Hash(hashDomain, c) }
