package apitest

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"wainscot/api/auth"
)

// A HEAD is answered as the GET it stands for would be, without the body (RFC
// 9110, 9.3.2): with and without a token, wherever there is a GET.
func TestHeadIsGetWithoutBody(t *testing.T) {
	w := newWorld(t)
	server := httptest.NewServer(w.Server.Handler())
	t.Cleanup(server.Close)
	ask := func(method, path, token string) (*http.Response, string) {
		t.Helper()
		request, err := http.NewRequestWithContext(t.Context(), method, server.URL+path, http.NoBody)
		if err != nil {
			t.Fatal(err)
		}
		if token != "" {
			request.Header.Set("Authorization", "Bearer "+token)
		}
		response, err := server.Client().Do(request)
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(response.Body)
		if err == nil {
			err = response.Body.Close()
		}
		if err != nil {
			t.Fatal(err)
		}
		return response, string(body)
	}
	asked := 0
	for _, o := range w.operations(t) {
		if o.method != http.MethodGet || onTheirOwn[o.id] != "" {
			continue
		}
		path := strings.NewReplacer("{id}", "018f0000-0000-7000-8000-000000000000", "{number}", "1", "{revision}", "1", "{place}", "1", "{code}", "none").Replace(o.template) + o.query
		for _, token := range []string{"", w.Ours.Token[auth.Owner]} {
			get, _ := ask(http.MethodGet, path, token)
			head, body := ask(http.MethodHead, path, token)
			asked++
			if head.StatusCode != get.StatusCode || body != "" {
				t.Errorf("HEAD %s: %d with %d bytes, GET: %d", path, head.StatusCode, len(body), get.StatusCode)
			}
			for _, name := range []string{"Content-Type", "ETag", "Cache-Control", "WWW-Authenticate"} {
				if head.Header.Get(name) != get.Header.Get(name) {
					t.Errorf("HEAD %s: %s is %q, of GET %q", path, name, head.Header.Get(name), get.Header.Get(name))
				}
			}
		}
	}
	if asked < 40 {
		t.Errorf("only %d were asked", asked)
	}
	post, _ := ask(http.MethodHead, "/v1/resolve", w.Ours.Token[auth.Owner])
	if allow := post.Header.Get("Allow"); post.StatusCode != http.StatusMethodNotAllowed || allow != http.MethodPost {
		t.Errorf("HEAD of what has no GET: %d, Allow %q", post.StatusCode, allow)
	}
	list, _ := ask(http.MethodDelete, "/v1/quotes", w.Ours.Token[auth.Owner])
	if allow := list.Header.Get("Allow"); !strings.Contains(allow, "GET, HEAD") {
		t.Errorf("DELETE of a list: Allow %q", allow)
	}
}
