package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/openapi"
)

// storyFormat is the first line of a file of a story.
const storyFormat = "wainscot-story/1"

// storyFile is what happened in a workshop before today: requests to the API,
// in order, as its people would have sent them.
type storyFile struct {
	Steps []storyStep `yaml:"steps" json:"steps"`
}

// storyStep is one request. In Ask, From and Body, <name.field> is a field of a
// kept answer, with numbers for the places of a list from 0, <day-3> the third
// working day before today, <day+2> the second after it, <day> today.
type storyStep struct {
	// On is the day, in working days from today, today or before it.
	On int       `yaml:"on" json:"on,omitempty"`
	As auth.Role `yaml:"as" json:"as"`
	// Says is what happens, for whoever reads the story.
	Says string `yaml:"says" json:"says"`
	// Ask is method and path.
	Ask string `yaml:"ask" json:"ask"`
	// From is the path of what is changed: its ETag is the If-Match.
	From string `yaml:"from" json:"from,omitempty"`
	// Choices is a file in demo/choices: its quote, or its van, is what Body
	// adds to.
	Choices string `yaml:"choices" json:"choices,omitempty"`
	// Body is JSON.
	Body string `yaml:"body" json:"body,omitempty"`
	// Keeps gives the answer a name.
	Keeps string `yaml:"keeps" json:"keeps,omitempty"`
}

// readStory reads the story that is built in: all its files, day by day, and of
// a day by the names of the files.
func readStory() ([]storyStep, error) {
	folder, err := builtIn("story")
	if err != nil {
		return nil, err
	}
	files, err := folder.documents(".")
	if err != nil {
		return nil, err
	}
	var steps []storyStep
	for _, f := range files {
		var one storyFile
		if _, faults := document.Decode(f, &one, storyFormat); len(faults) > 0 {
			return nil, faults
		}
		steps = append(steps, one.Steps...)
	}
	slices.SortStableFunc(steps, func(a, b storyStep) int { return a.On - b.On })
	return steps, nil
}

// storyClock goes by the days of a story, and then by the clock.
type storyClock struct {
	now func() time.Time

	mu   sync.Mutex
	told time.Time // zero: as it is
}

func (k *storyClock) Now() time.Time {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.told.IsZero() {
		return k.now()
	}
	return k.told
}

// tell sets the clock; a zero time lets it go.
func (k *storyClock) tell(at time.Time) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.told = at
}

// storyOpens is when the workshop opens on a day of a story, and storyStride
// how long after one request the next is sent: all of a day fits into one
// sign-in.
const (
	storyOpens  = 8 * time.Hour
	storyStride = 20 * time.Second
)

// teller plays a story.
type teller struct {
	demo    *demo
	clock   *storyClock
	address string
	today   time.Time // its beginning, UTC

	day    int // of the step before
	sent   int // that day
	tokens map[auth.Role]string
	kept   map[string]any
}

// begins is the day before a story: the workshop is opened then.
func begins(steps []storyStep, today time.Time) (time.Time, error) {
	if len(steps) == 0 {
		return time.Time{}, nil
	}
	day, err := workingDay(today, steps[0].On)
	return day.Add(storyOpens - time.Hour), err
}

// play sends every step's request; the clock is let go in the end.
func (t *teller) play(ctx context.Context, steps []storyStep) error {
	defer t.clock.tell(time.Time{})
	t.kept, t.day = map[string]any{}, 1
	for i, step := range steps {
		if err := t.step(ctx, step); err != nil {
			return fmt.Errorf("the story's step %d, %q: %w", i+1, step.Says, err)
		}
	}
	return nil
}

func (t *teller) step(ctx context.Context, s storyStep) error {
	if s.On != t.day {
		t.day, t.sent, t.tokens = s.On, 0, map[auth.Role]string{}
	}
	day, err := workingDay(t.today, s.On)
	if err != nil {
		return err
	}
	if s.On < 0 { // today's clock is the real one
		t.clock.tell(day.Add(storyOpens + time.Duration(t.sent)*storyStride))
	} else {
		t.clock.tell(time.Time{})
	}
	t.sent++
	token := t.tokens[s.As]
	if token == "" {
		if token, err = t.signIn(ctx, s.As); err != nil {
			return err
		}
		t.tokens[s.As] = token
	}
	return t.ask(ctx, s, token)
}

func (t *teller) signIn(ctx context.Context, role auth.Role) (string, error) {
	person, err := t.demo.workshop.person(role)
	if err != nil {
		return "", err
	}
	body, err := json.Marshal(map[string]string{"workshop": t.demo.workshop.Code, "email": person.Email, "password": person.Password})
	if err != nil {
		return "", err
	}
	answer, _, err := t.send(ctx, http.MethodPost, "/v1/sign-in", "", "", body)
	if err != nil {
		return "", err
	}
	signed, _ := answer.(map[string]any)
	token, _ := signed["token"].(string)
	return token, nil
}

func (t *teller) ask(ctx context.Context, s storyStep, token string) error {
	method, where, ok := strings.Cut(s.Ask, " ")
	if !ok {
		return fmt.Errorf("%q is not a method and a path", s.Ask)
	}
	where, err := t.fill(where)
	if err != nil {
		return err
	}
	var match string
	if s.From != "" {
		from, err := t.fill(s.From)
		if err != nil {
			return err
		}
		if _, match, err = t.send(ctx, http.MethodGet, from, token, "", nil); err != nil {
			return err
		}
	}
	body, err := t.body(s)
	if err != nil {
		return err
	}
	answer, _, err := t.send(ctx, method, where, token, match, body)
	if s.Keeps != "" {
		t.kept[s.Keeps] = answer
	}
	return err
}

// body is what a step sends; nil for nothing.
func (t *teller) body(s storyStep) ([]byte, error) {
	text, err := t.fill(s.Body)
	if err != nil || s.Choices == "" {
		return []byte(text), err
	}
	for _, sample := range t.demo.samples {
		if strings.TrimSuffix(sample.name, path.Ext(sample.name)) != s.Choices {
			continue
		}
		content, err := quoteContent(sample.asked)
		if err != nil {
			return nil, err
		}
		content.Terms.Day = "" // the day of the story
		var under any = content
		if strings.HasSuffix(s.Ask, "/v1/vans") {
			under = openapi.KeptVanContent{Van: content.Vans[0].Van}
		}
		begun, err := json.Marshal(under)
		if err != nil {
			return nil, err
		}
		return laidOver(begun, []byte(text))
	}
	return nil, fmt.Errorf("there are no choices called %q", s.Choices)
}

// laidOver puts one JSON value over another: objects field by field, lists
// place by place, null takes away.
func laidOver(below, above []byte) ([]byte, error) {
	var under, over any
	if err := json.Unmarshal(below, &under); err != nil {
		return nil, err
	}
	if len(bytes.TrimSpace(above)) > 0 {
		if err := json.Unmarshal(above, &over); err != nil {
			return nil, err
		}
		under = merged(under, over)
	}
	return json.Marshal(under)
}

func merged(under, over any) any {
	switch above := over.(type) {
	case map[string]any:
		below, ok := under.(map[string]any)
		if !ok {
			return above
		}
		for name, value := range above {
			if value == nil {
				delete(below, name)
			} else {
				below[name] = merged(below[name], value)
			}
		}
		return below
	case []any:
		below, _ := under.([]any)
		for i, value := range above {
			if i < len(below) {
				below[i] = merged(below[i], value)
			} else {
				below = append(below, value)
			}
		}
		return below
	}
	return over
}

var (
	storyDay   = regexp.MustCompile(`<day([+-][0-9]+)?>`)
	storyField = regexp.MustCompile(`<[a-z_0-9]+(\.[a-zA-Z_0-9]+)*>`)
)

// fill puts days and fields of kept answers in their places.
func (t *teller) fill(text string) (string, error) {
	var failed error
	text = storyDay.ReplaceAllStringFunc(text, func(found string) string {
		n, _ := strconv.Atoi(storyDay.FindStringSubmatch(found)[1])
		day, err := workingDay(t.today, n)
		failed = errors.Join(failed, err)
		return day.Format(time.DateOnly)
	})
	text = storyField.ReplaceAllStringFunc(text, func(found string) string {
		value, err := t.look(strings.Split(strings.Trim(found, "<>"), "."))
		failed = errors.Join(failed, err)
		return value
	})
	return text, failed
}

func (t *teller) look(names []string) (string, error) {
	at := t.kept[names[0]]
	for _, name := range names[1:] {
		switch value := at.(type) {
		case map[string]any:
			at = value[name]
		case []any:
			i, err := strconv.Atoi(name)
			if err != nil || i >= len(value) {
				return "", fmt.Errorf("%s has no place %s", strings.Join(names, "."), name)
			}
			at = value[i]
		default:
			at = nil
		}
	}
	switch value := at.(type) {
	case string:
		return value, nil
	case json.Number:
		return value.String(), nil
	case map[string]any, []any:
		text, err := json.Marshal(value)
		return string(text), err
	}
	return "", fmt.Errorf("nothing is kept as %s", strings.Join(names, "."))
}

// send asks the API and gives the answer and its ETag; an answer that is a
// problem is an error.
func (t *teller) send(ctx context.Context, method, where, token, match string, body []byte) (answer any, etag string, err error) {
	request, err := http.NewRequestWithContext(ctx, method, t.address+where, bytes.NewReader(body))
	if err != nil {
		return nil, "", err
	}
	if len(body) > 0 {
		request.Header.Set("Content-Type", "application/json")
	}
	if token != "" {
		request.Header.Set("Authorization", "Bearer "+token)
	}
	if match != "" {
		request.Header.Set("If-Match", match)
	}
	if method != http.MethodGet {
		request.Header.Set("Idempotency-Key", uuid.NewString())
	}
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		return nil, "", err
	}
	text, err := io.ReadAll(response.Body)
	if err = errors.Join(err, response.Body.Close()); err != nil {
		return nil, "", err
	}
	if response.StatusCode >= http.StatusMultipleChoices {
		return nil, "", fmt.Errorf("%s %s answers %d: %s", method, where, response.StatusCode, text)
	}
	if len(text) > 0 {
		in := json.NewDecoder(bytes.NewReader(text))
		in.UseNumber()
		if err := in.Decode(&answer); err != nil {
			return nil, "", fmt.Errorf("%s %s: %w", method, where, err)
		}
	}
	return answer, response.Header.Get("ETag"), nil
}

// workingDay is the beginning of the day so many working days, Monday to
// Friday, from another.
func workingDay(from time.Time, n int) (time.Time, error) {
	day := from.Format(time.DateOnly)
	var plain calendar.Calendar
	for n != 0 {
		step := 1
		if n < 0 {
			step = -1
		}
		next, err := calendar.Add(day, step)
		if err != nil {
			return time.Time{}, err
		}
		day = next
		works, err := plain.Works(day)
		if err != nil {
			return time.Time{}, err
		}
		if works {
			n -= step
		}
	}
	return time.Parse(time.DateOnly, day)
}
