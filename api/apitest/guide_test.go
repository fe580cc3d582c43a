package apitest

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/uuid"

	"wainscot/openapi"
)

var fenced = regexp.MustCompile("(?s)```(sh|json)\n(.*?)```")

// TestGuide runs the commands of docs/api.md, and holds the answers against
// what is printed below them: whatever stands there must be in the answer, …
// stands for anything.
func TestGuide(t *testing.T) {
	w := newWorld(t)
	text, err := os.ReadFile(filepath.Join("..", "..", "docs", "api.md"))
	if err != nil {
		t.Fatal(err)
	}
	known := map[string]string{"$API": ""}
	var last got
	run, held := 0, 0
	for _, block := range fenced.FindAllStringSubmatch(string(text), -1) {
		if block[1] == "json" {
			var want, is any
			if err := json.Unmarshal([]byte(block[2]), &want); err != nil {
				t.Fatalf("%v in %s", err, block[2])
			}
			if err := json.Unmarshal(last.body, &is); err != nil {
				t.Fatal(err)
			}
			for _, difference := range within("", want, is) {
				t.Errorf("after %s %s: %s", last.call.method, last.call.path, difference)
			}
			held++
			continue
		}
		if !strings.HasPrefix(block[2], "curl") {
			continue
		}
		last = w.exchange(t, w.curl(t, block[2], known))
		run++
		var answer map[string]any
		if err := json.Unmarshal(last.body, &answer); err != nil {
			t.Fatal(err)
		}
		for variable, field := range map[string]string{"$TOKEN": "token", "$ID": "id"} {
			if value, ok := answer[field].(string); ok {
				known[variable] = value
			}
		}
	}
	if run < 7 || held < 7 {
		t.Errorf("only %d commands and %d answers were found", run, held)
	}
}

var shellWord = regexp.MustCompile(`"[^"]*"|'[^']*'|[^\s"']+`)

// curl reads a curl command as it stands in the guide.
func (w *world) curl(t *testing.T, command string, known map[string]string) call {
	t.Helper()
	words := shellWord.FindAllString(command, -1)
	c := call{method: http.MethodGet, of: w.Ours, header: http.Header{}, broken: true}
	for i := 1; i < len(words); i++ {
		word := words[i]
		if !strings.HasPrefix(word, "'") {
			for name, value := range known {
				word = strings.ReplaceAll(word, name, value)
			}
			if strings.Contains(word, "$") {
				t.Fatalf("%s is not known at %s", word, command)
			}
		}
		word = strings.Trim(word, `'"`)
		switch {
		case word == "-s":
		case word == "-H" && i+1 < len(words):
			i++
			name, value, _ := strings.Cut(words[i][1:len(words[i])-1], ": ") // without its quotes
			value = strings.ReplaceAll(value, "$(uuidgen)", uuid.NewString())
			c.header.Set(name, strings.ReplaceAll(value, "$TOKEN", known["$TOKEN"]))
		case word == "--json" && i+1 < len(words):
			i++
			c.body = []byte(strings.Trim(words[i], "'"))
			if c.method == http.MethodGet {
				c.method = http.MethodPost
			}
		case word == "-X" && i+1 < len(words):
			i++
			c.method = words[i]
		case strings.HasPrefix(word, "/"):
			c.path = word
		default:
			t.Fatalf("this test does not know %q in %s", word, command)
		}
	}
	return c
}

// within lists where want is not part of is: fields and first members of
// lists must be there and the same, except for "…".
func within(at string, want, is any) []string {
	if want == "…" {
		if is == nil {
			return []string{at + " is not there"}
		}
		return nil
	}
	var differences []string
	switch want := want.(type) {
	case map[string]any:
		object, ok := is.(map[string]any)
		if !ok {
			return []string{at + " is no object"}
		}
		for name, value := range want {
			differences = append(differences, within(at+"/"+name, value, object[name])...)
		}
	case []any:
		list, ok := is.([]any)
		if !ok || len(list) < len(want) {
			return []string{at + " is no such list"}
		}
		for i := range want {
			differences = append(differences, within(fmt.Sprintf("%s/%d", at, i), want[i], list[i])...)
		}
	default:
		if want != is {
			return []string{fmt.Sprintf("%s is %v and not %v", at, is, want)}
		}
	}
	return differences
}

// TestGuideNamesEveryCode: a program's author finds each code explained.
func TestGuideNamesEveryCode(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "docs", "api.md"))
	if err != nil {
		t.Fatal(err)
	}
	enum := regexp.MustCompile(`(?s)ProblemCode:.*?enum:\n(.*?)\n    \w`).FindSubmatch(openapi.Contract)
	codes := regexp.MustCompile(`- (\w+)`).FindAllSubmatch(enum[1], -1)
	if len(codes) < 15 {
		t.Fatalf("only %d codes found", len(codes))
	}
	for _, code := range codes {
		if !strings.Contains(string(text), "`"+string(code[1])+"`") {
			t.Errorf("docs/api.md does not explain %s", code[1])
		}
	}
}
