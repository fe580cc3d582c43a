package document

import (
	"encoding/json"
	"testing"

	"pgregory.net/rapid"
)

// rack is something with every kind of value.
type rack struct {
	Title string   `yaml:"title" json:"title"`
	Texts []string `yaml:"texts" json:"texts,omitempty"`
	Whole int      `yaml:"whole" json:"whole"`
	Yes   bool     `yaml:"yes" json:"yes"`
	In    []rack   `yaml:"in" json:"in,omitempty"`
}

// What is written as YAML is read back as what it was, whatever the texts look
// like to somebody else.
func TestYAMLIsReadBackAsItWas(t *testing.T) {
	t.Parallel()
	odd := rapid.SampledFrom([]string{
		"10", "1.50", "true", "yes", "no", "null", "~", "", " leading", "trailing ", "a: b", "- a", "# not a comment", "&a", "*a", "!t",
		"2026-04-01", "0x1f", "1_000", ".inf", "line\nand line", "line\n", "\n", "\ttab", "it's", `"q"`, "'", "a #b", "{", "[a]", "|", ">", "%", "@", "`", "é 🚐", "12e3", "1:30", "\\", "<<", "=",
	})
	text := rapid.OneOf(odd, rapid.StringMatching(`[a-z0-9:#' "\-]{0,12}`), rapid.String())
	var one *rapid.Generator[rack]
	one = rapid.Custom(func(t *rapid.T) rack {
		s := rack{
			Title: text.Draw(t, "title"), Texts: rapid.SliceOfN(text, 0, 4).Draw(t, "texts"),
			Whole: rapid.IntRange(-1e6, 1e6).Draw(t, "whole"), Yes: rapid.Bool().Draw(t, "yes"),
		}
		if rapid.IntRange(0, 3).Draw(t, "deeper") == 0 {
			s.In = rapid.SliceOfN(rapid.Deferred(func() *rapid.Generator[rack] { return one }), 0, 2).Draw(t, "in")
		}
		return s
	})
	rapid.Check(t, func(t *rapid.T) {
		s := one.Draw(t, "rack")
		written, err := json.Marshal(s)
		if err != nil {
			t.Fatal(err)
		}
		out, err := YAML(written)
		if err != nil {
			t.Fatal(err)
		}
		var fromJSON, fromYAML rack
		_, asJSON := Decode(File{Name: "a.json", Data: written}, &fromJSON, "")
		_, asYAML := Decode(File{Name: "a.yaml", Data: out}, &fromYAML, "")
		if len(asJSON) > 0 {
			t.Skip("nobody may write that at all: " + asJSON[0].Error())
		}
		if len(asYAML) > 0 {
			t.Fatalf("%v in\n%s", asYAML, out)
		}
		again, err := json.Marshal(fromYAML)
		if err != nil {
			t.Fatal(err)
		}
		if first, _ := json.Marshal(fromJSON); string(again) != string(first) {
			t.Fatalf("read back as\n%s\nand was\n%s\nwritten as\n%s", again, first, out)
		}
	})
}
