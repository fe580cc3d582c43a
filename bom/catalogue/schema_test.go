package catalogue_test

import (
	"bytes"
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"wainscot/bom/catalogue"
	"wainscot/bom/document"
)

const schemaPath = "../../openapi/catalogue.schema.json"

// The schema is written from the Go types, with -update; their comments are
// its descriptions.
func TestSchemaIsOfTheTypes(t *testing.T) {
	source, err := os.ReadFile("catalogue.go")
	if err != nil {
		t.Fatal(err)
	}
	own, err := document.SchemaOf[catalogue.Catalogue](document.Schema{
		ID:     "https://wainscot.invalid/schemas/catalogue-1.json",
		Title:  "Wainscot catalogue",
		Format: catalogue.Format,
		Says:   document.CommentsIn(source),
		Narrow: narrow,
		Own: map[string]document.Keywords{"Facts": {
			{Name: "description", Value: "Facts by name. A numeric fact's name ends in its unit."},
			{Name: "type", Value: "object"},
			{Name: "propertyNames", Value: document.Keywords{{Name: "pattern", Value: identifier}}},
			{Name: "additionalProperties", Value: document.Keywords{{Name: "type", Value: []string{"number", "string", "boolean"}}}},
			{Name: "required", Value: catalogue.RequiredFacts},
		}},
	})
	if err != nil {
		t.Fatal(err)
	}
	golden(t, schemaPath, string(own))
}

const (
	identifier = "^[a-z][a-z0-9_]{0,59}$"
	label      = "^[a-z][a-z0-9_-]{0,59}$"
	stock      = "^[A-Za-z0-9][A-Za-z0-9_-]{1,59}$"
	value      = "^[A-Za-z0-9][A-Za-z0-9 _-]{0,59}$"
)

// narrow is how codes are written.
func narrow(typ, field string) document.Keywords {
	pattern := map[string]string{
		"Trade.Code": identifier, "Stage.Code": identifier, "Group.Code": identifier, "Feature.Code": identifier,
		"Finish.Code": identifier, "Figure.Code": identifier, "Particular.Name": identifier,
		"BaseVan.Code": label, "Package.Code": label, "Rule.Code": label, "SafetyRule.Code": label, "Check.Code": label, "OutsideWork.Code": label, "StageHold.Code": label,
		"Position.Code": label, "Load.Code": label, "ClassFeature.Code": label, "Evidence.Code": label,
		"Part.Code": stock, "Kit.Code": stock, "FinishChoice.Code": value,
	}[typ+"."+field]
	if pattern == "" {
		return nil
	}
	return document.Keywords{{Name: "pattern", Value: pattern}}
}

// The schema, as a tool outside reads it, accepts the sample and refuses what
// Decode refuses.
func TestSchemaSaysWhatDecodeSays(t *testing.T) {
	schema, err := jsonschema.NewCompiler().Compile(schemaPath)
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(sample(t))
	if err != nil {
		t.Fatal(err)
	}
	accepts := func(text string) error {
		v, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
		if err != nil {
			return err
		}
		return schema.Validate(v)
	}
	if err := accepts(string(text)); err != nil {
		t.Errorf("the sample is refused: %v", err)
	}
	for _, c := range []struct{ was, is string }{
		{`"format":"wainscot-catalogue/1"`, `"format":"wainscot-catalogue/2"`},
		{`"title":`, `"titel":`},
		{`"code":"joiner"`, `"code":"Joiner"`},
		{`"code":"joiner"`, `"code":12`},
		{`"code":"HOB-2"`, `"code":"HOB 2"`},
		{`"pick":"any"`, `"pick":"some"`},
		{`"unit":"each"`, `"unit":"piece"`},
		{`"mass_kg":"41.5"`, `"mass_kg":"41,5"`},
		{`"mass_kg":"41.5"`, `"mass_kg":"0041.5"`},
		{`"mass_kg":"41.5"`, `"mass_kg":1e15`},
		{`"mass_kg":"41.5",`, ``},
		{`"serial":true`, `"serial":"yes"`},
		{`"least":1`, `"least":1.5`},
		{`"rib_count":4`, `"rib_count":null`},
		{`"rib_count":4`, `"Rib":4`},
		{`"trades":[`, `"trades":{},"parts":[`},
	} {
		t.Run(c.is, func(t *testing.T) {
			broken := bytes.Replace(text, []byte(c.was), []byte(c.is), 1)
			if bytes.Equal(broken, text) {
				t.Fatalf("the sample has no %s", c.was)
			}
			if err := accepts(string(broken)); err == nil {
				t.Error("the schema accepts it")
			}
			if _, _, faults := catalogue.DecodeJSON(broken); len(faults) == 0 {
				t.Error("Decode accepts it")
			}
		})
	}
	// What both accept although it is written another way.
	for _, c := range []struct{ was, is string }{
		{`"mass_kg":"41.5"`, `"mass_kg":41.50`},
		{`"formula":"floor_vent * 5000"`, `"formula":5000`},
	} {
		changed := strings.Replace(string(text), c.was, c.is, 1)
		if err := accepts(changed); err != nil || changed == string(text) {
			t.Errorf("%s: %v", c.is, err)
		}
		if _, _, faults := catalogue.DecodeJSON([]byte(changed)); len(faults) > 0 {
			t.Errorf("%s: %v", c.is, faults)
		}
	}
}
