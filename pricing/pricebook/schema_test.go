package pricebook

import (
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"wainscot/bom/document"
)

var updateSchema = flag.Bool("update-schema", false, "write the JSON Schema of price-books anew")

const schemaPath = "../../openapi/pricebook.schema.json"

// The schema is written from the Go types, with -update-schema; their comments
// are its descriptions.
func TestSchemaIsOfTheTypes(t *testing.T) {
	source, err := os.ReadFile("pricebook.go")
	if err != nil {
		t.Fatal(err)
	}
	const day = `^[0-9]{4}-[0-9]{2}-[0-9]{2}$`
	pattern := map[string]string{
		"Edition.InForceFrom": day, "Edition.Currency": "^[A-Z]{3}$", "VATRate.From": day, "Cost.Until": day,
	}
	got, err := document.SchemaOf[Edition](document.Schema{
		ID:     "https://wainscot.invalid/schemas/pricebook-1.json",
		Title:  "Wainscot price-book edition",
		Format: Format,
		Says:   document.CommentsIn(source),
		Narrow: func(typ, field string) document.Keywords {
			if p := pattern[typ+"."+field]; p != "" {
				return document.Keywords{{Name: "pattern", Value: p}}
			}
			return nil
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	if *updateSchema {
		if err := os.WriteFile(schemaPath, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(schemaPath)
	if err != nil {
		t.Fatal(err)
	}
	if string(got) != string(want) {
		t.Errorf("%s is not of the types any more: write it anew with -update-schema", schemaPath)
	}
}

// The schema, as a tool outside reads it, accepts the demo's price-books.
func TestSchemaAcceptsTheDemo(t *testing.T) {
	schema, err := jsonschema.NewCompiler().Compile(schemaPath)
	if err != nil {
		t.Fatal(err)
	}
	paths, err := filepath.Glob("../../testdata/demo/pricebook/*.yaml")
	if err != nil || len(paths) == 0 {
		t.Fatalf("no price-books: %v", err)
	}
	for _, path := range paths {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		e, _, faults := Decode([]document.File{{Name: filepath.Base(path), Data: data}})
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		text, err := json.Marshal(e)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			text     string
			accepted bool
		}{
			{string(text), true},
			{strings.Replace(string(text), `"treatment":"standard"`, `"treatment":"full"`, 1), false},
			{strings.Replace(string(text), `"currency":"GBP"`, `"currency":"pounds"`, 1), false},
			{strings.Replace(string(text), `"costs":`, `"cost":`, 1), false},
		} {
			v, err := jsonschema.UnmarshalJSON(strings.NewReader(c.text))
			if err != nil {
				t.Fatal(err)
			}
			if err := schema.Validate(v); (err == nil) != c.accepted {
				t.Errorf("%s: accepted %v: %v", path, err == nil, err)
			}
		}
	}
}
