// Package openapi is the contract of the API: openapi.yaml, as the server and
// the tests hold every exchange against it; the types made from it, the only
// things the API sends or takes; and a client made from it, for programs that
// ask.
//
// After a change of openapi.yaml run `go generate ./openapi`; .ci/run fails
// while what is generated and the contract differ.
package openapi

import _ "embed"

//go:generate go tool -modfile=../.ci/tools.mod oapi-codegen -config oapi-codegen.yaml openapi.yaml
//go:generate go tool -modfile=../.ci/tools.mod oapi-codegen -config oapi-codegen-client.yaml openapi.yaml

// Contract is openapi.yaml.
//
//go:embed openapi.yaml
var Contract []byte

// CatalogueSchema is the JSON Schema of a catalogue, as bom/catalogue reads it.
//
//go:embed catalogue.schema.json
var CatalogueSchema []byte

// PricebookSchema is the JSON Schema of a price-book edition, as
// pricing/pricebook reads it.
//
//go:embed pricebook.schema.json
var PricebookSchema []byte
