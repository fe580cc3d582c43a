// Package openapi is the contract of the API: openapi.yaml, as the server and
// the tests hold every exchange against it, and the types made from it, the
// only things the API sends or takes.
//
// After a change of openapi.yaml run `go generate ./openapi`; a test fails
// while types.gen.go and the contract differ.
package openapi

import _ "embed"

//go:generate go tool -modfile=../.ci/tools.mod oapi-codegen -config oapi-codegen.yaml openapi.yaml

// Contract is openapi.yaml.
//
//go:embed openapi.yaml
var Contract []byte
