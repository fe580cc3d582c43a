package api

import (
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"wainscot/openapi"
)

// sequenceMediaType is a sequence of JSON texts (RFC 7464), each after a record
// separator: who accepts it is told how far a long piece of work has come, then
// its answer or what went wrong. Nothing about it is kept anywhere: it is told
// by the very work it is about, so it cannot be ahead of it.
const sequenceMediaType = "application/json-seq"

// tellEvery so many of what is counted one by one.
const tellEvery = 500

const progressKey = "progress"

// progress is whom to tell. A nil one tells nobody.
type progress struct {
	c *gin.Context
	// begun: the status is sent, so whatever comes is a record.
	begun bool
}

// progressFor is whom a request wants to be told; nil for nobody.
func progressFor(c *gin.Context) *progress {
	wants := slices.ContainsFunc(c.Request.Header.Values("Accept"), func(list string) bool {
		return slices.ContainsFunc(strings.Split(list, ","), func(kind string) bool {
			kind, _, _ = strings.Cut(kind, ";")
			return strings.EqualFold(strings.TrimSpace(kind), sequenceMediaType)
		})
	})
	if !wants {
		return nil
	}
	p := &progress{c: c}
	c.Set(progressKey, p)
	return p
}

// begunProgress is the one of a request that was told something already; nil
// for none.
func begunProgress(c *gin.Context) *progress {
	if p, ok := c.Value(progressKey).(*progress); ok && p.begun {
		return p
	}
	return nil
}

// tell says that so many of a step are done.
func (p *progress) tell(step openapi.ProgressStep, done, of int) {
	if p != nil {
		p.record("progress", openapi.Progress{Step: step, Done: whole(done), Of: whole(of)})
	}
}

// end gives the answer that an ordinary request would have had. body is JSON.
func (p *progress) end(status int, location string, body []byte) {
	p.record("answer", struct {
		Status   int            `json:"status"`
		Location string         `json:"location,omitzero"`
		Body     jsontext.Value `json:"body"`
	}{status, location, body})
}

func (p *progress) record(name string, value any) {
	if !p.begun {
		p.begun = true
		p.c.Header("Content-Type", sequenceMediaType)
		p.c.Header("Cache-Control", "no-store")
		p.c.Status(http.StatusOK)
	}
	text, err := json.Marshal(map[string]any{name: value})
	if err != nil {
		return // no type that is told of cannot be written
	}
	// One that cannot be sent is to nobody: they have gone.
	_, _ = p.c.Writer.Write(slices.Concat([]byte{0x1e}, text, []byte{'\n'}))
	p.c.Writer.Flush()
}
