package api

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"wainscot/openapi"
)

// A thing that changes has a version, sent as a strong ETag: "7". Who changes
// it says in If-Match which one they have seen, and the store writes only if it
// still is that one (RFC 9110, 13.1.1).

// etag is a version as the header has it.
func etag(version int64) string { return `"` + strconv.FormatInt(version, 10) + `"` }

// ifMatch is the version a change is made from. Without If-Match it is a
// problem of its own (428, RFC 6585); a weak tag, a list or * name no one
// version and are refused.
func ifMatch(c *gin.Context) (int64, error) {
	values := c.Request.Header.Values("If-Match")
	if len(values) == 0 {
		return 0, &problem{
			code:   openapi.ProblemCodeIfMatchMissing,
			detail: "The request changes something and does not say which version of it was seen.",
			remedy: "Read it, and send its ETag as If-Match.",
		}
	}
	version, ok := version(values[0])
	if len(values) > 1 || !ok {
		return 0, brokenField("header/If-Match", "wrong_form",
			"It is not one ETag of this server.", `Send the ETag as it was read, as in "7": no W/, no list, no *.`)
	}
	return version, nil
}

// version reads an ETag of ours.
func version(tag string) (int64, bool) {
	text, quoted := strings.CutPrefix(tag, `"`)
	text, closed := strings.CutSuffix(text, `"`)
	n, err := strconv.ParseInt(text, 10, 64)
	return n, quoted && closed && err == nil && n > 0 && strconv.FormatInt(n, 10) == text
}

// answerVersion answers with a thing at a version. A GET that says in
// If-None-Match that it has this version gets 304 and no body: so this is for
// things whose answer follows from the version alone. For what also depends on
// the day or on what is published, use answerOfTheDay.
func answerVersion(c *gin.Context, status int, version int64, body any) error { //nolint:unparam // the same hand as answer
	if c.Request.Method == http.MethodGet && seen(c.Request.Header, version) {
		c.Header("Cache-Control", "no-store")
		c.Header("ETag", etag(version))
		c.Status(http.StatusNotModified)
		c.Writer.WriteHeaderNow()
		return nil
	}
	return answerOfTheDay(c, status, version, body)
}

// answerOfTheDay answers with a thing at a version when the version does not
// say everything: the tag is good for If-Match, and the answer is always sent.
func answerOfTheDay(c *gin.Context, status int, version int64, body any) error {
	encoded, err := encode(body)
	if err != nil {
		return fmt.Errorf("encoding the answer: %w", err)
	}
	c.Header("Cache-Control", "no-store")
	c.Header("ETag", etag(version))
	c.Data(status, "application/json", encoded)
	return nil
}

// seen says whether If-None-Match names the version. There the weak comparison
// counts (RFC 9110, 13.1.2), and * is any.
func seen(h http.Header, version int64) bool {
	for _, value := range h.Values("If-None-Match") {
		for tag := range strings.SplitSeq(value, ",") {
			tag = strings.TrimPrefix(strings.TrimSpace(tag), "W/")
			if tag == "*" || tag == etag(version) {
				return true
			}
		}
	}
	return false
}
