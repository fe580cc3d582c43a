package api

import (
	"net/http"
	"strings"
	"testing"
)

// TestProxies: who asks is what the outermost counted proxy says it has the
// request from, whatever a client has written before it. The forms of Forwarded
// are those of RFC 7239, sections 4 and 6.
func TestProxies(t *testing.T) {
	t.Parallel()
	const sender = "192.0.2.1"
	for name, c := range map[string]struct {
		proxies    Proxies
		x, forward []string
		want       string
	}{
		"none is counted":          {Proxies{}, []string{"192.0.2.9"}, []string{"for=192.0.2.9"}, sender},
		"one":                      {Proxies{Count: 1}, []string{"192.0.2.9"}, nil, "192.0.2.9"},
		"one, and a client's own":  {Proxies{Count: 1}, []string{"203.0.113.5, 192.0.2.9"}, nil, "192.0.2.9"},
		"in a line of its own":     {Proxies{Count: 1}, []string{"203.0.113.5", "192.0.2.9"}, nil, "192.0.2.9"},
		"two":                      {Proxies{Count: 2}, []string{"203.0.113.5, 192.0.2.9, 192.0.2.2"}, nil, "192.0.2.9"},
		"not through all":          {Proxies{Count: 2}, []string{"192.0.2.9"}, nil, sender},
		"no header":                {Proxies{Count: 1}, nil, []string{"for=203.0.113.5"}, sender},
		"with a port":              {Proxies{Count: 1}, []string{"192.0.2.9:4711"}, nil, "192.0.2.9"},
		"version 6":                {Proxies{Count: 1}, []string{"2001:db8::7"}, nil, "2001:db8::7"},
		"version 6 with a port":    {Proxies{Count: 1}, []string{"[2001:db8::7]:4711"}, nil, "2001:db8::7"},
		"no address":               {Proxies{Count: 1}, []string{"192.0.2.9, elsewhere"}, nil, sender},
		"blanks":                   {Proxies{Count: 1}, []string{" , 192.0.2.9 ,, "}, nil, "192.0.2.9"},
		"by name":                  {Proxies{Count: 1, Header: "X-Forwarded-For"}, []string{"192.0.2.9"}, []string{"for=203.0.113.5"}, "192.0.2.9"},
		"Forwarded":                {Proxies{Count: 1, Header: "Forwarded"}, []string{"203.0.113.5"}, []string{"for=192.0.2.9"}, "192.0.2.9"},
		"Forwarded among others":   {Proxies{Count: 1, Header: "Forwarded"}, nil, []string{`for=203.0.113.5, proto=https;by=_gate;For="192.0.2.9:80"`}, "192.0.2.9"},
		"Forwarded, version 6":     {Proxies{Count: 1, Header: "Forwarded"}, nil, []string{`for="[2001:db8:cafe::17]:4711"`}, "2001:db8:cafe::17"},
		"Forwarded, two":           {Proxies{Count: 2, Header: "Forwarded"}, nil, []string{"for=203.0.113.5, for=192.0.2.9", "for=192.0.2.2"}, "192.0.2.9"},
		"Forwarded, unknown":       {Proxies{Count: 1, Header: "Forwarded"}, nil, []string{"for=192.0.2.9, for=unknown"}, sender},
		"Forwarded, hidden":        {Proxies{Count: 1, Header: "Forwarded"}, nil, []string{"for=_hidden"}, sender},
		"Forwarded, nobody's":      {Proxies{Count: 1, Header: "Forwarded"}, nil, []string{"for=192.0.2.9, proto=https"}, sender},
		"a quote left open":        {Proxies{Count: 1, Header: "Forwarded"}, nil, []string{`for="203.0.113.5, for=192.0.2.9`}, "192.0.2.9"},
		"a comma in quotes":        {Proxies{Count: 1, Header: "Forwarded"}, nil, []string{`for=192.0.2.9;host="a,b;for=203.0.113.5"`}, "192.0.2.9"},
		"Forwarded is not X-":      {Proxies{Count: 1, Header: "Forwarded"}, []string{"203.0.113.5"}, nil, sender},
		"a hundred of a client's":  {Proxies{Count: 1}, []string{strings.Repeat("203.0.113.5,", 100) + "192.0.2.9"}, nil, "192.0.2.9"},
		"of version 4 within 6":    {Proxies{Count: 1}, []string{"::ffff:192.0.2.9"}, nil, "::ffff:192.0.2.9"},
		"brackets without a port":  {Proxies{Count: 1}, []string{"[2001:db8::7]"}, nil, "2001:db8::7"},
		"Forwarded, two and short": {Proxies{Count: 3, Header: "Forwarded"}, nil, []string{"for=203.0.113.5, for=192.0.2.9"}, sender},
	} {
		r := &http.Request{RemoteAddr: sender + ":999", Header: http.Header{"X-Forwarded-For": c.x, "Forwarded": c.forward}}
		if got := c.proxies.asks(r).String(); got != c.want {
			t.Errorf("%s: %s asks, and should be %s", name, got, c.want)
		}
	}
	for _, bad := range []Proxies{{Count: -1}, {Count: maxProxies + 1}, {Count: 1, Header: "X-Real-Ip"}} {
		if bad.check() == nil {
			t.Errorf("%+v passes", bad)
		}
	}
}

// FuzzForwarded: whatever a client sends before it, the address that the one
// proxy has added is who asks.
func FuzzForwarded(f *testing.F) {
	for _, text := range []string{"", "for=203.0.113.5", `for="`, `";,`, `for="[::1]:80`, `\"`} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, client string) {
		for header, added := range map[string]string{"Forwarded": `for="[2001:db8::7]:4711";proto=https`, "X-Forwarded-For": "2001:db8::7"} {
			for _, lines := range [][]string{{client + ", " + added}, {client, added}} {
				r := &http.Request{RemoteAddr: "192.0.2.1:999", Header: http.Header{header: lines}}
				if got := (Proxies{Count: 1, Header: header}).asks(r).String(); got != "2001:db8::7" {
					t.Errorf("%s %q: %s asks", header, lines, got)
				}
			}
		}
	})
}
