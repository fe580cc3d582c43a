package api

import (
	"fmt"
	"net/http"
	"net/netip"
	"slices"
	"strings"
)

// Proxies say who stands between the network and the server, and how they tell
// for whom they ask. The zero Proxies is nobody: then the address a request
// comes from is who asks, and what its headers say of that is not believed.
type Proxies struct {
	// Count of the proxies that a request comes through, each of which adds
	// whom it has the request from to Header. What stands before the last
	// Count entries anybody can have written.
	Count int
	// Header is X-Forwarded-For, also when it is "", or Forwarded (RFC 7239).
	// It must be the one that the proxies write: the other comes from the
	// client as it was sent.
	Header string
}

// The headers of Proxies.
const (
	xForwardedFor = "X-Forwarded-For"
	forwarded     = "Forwarded"
)

// maxProxies is more than stand in front of anybody.
const maxProxies = 16

func (p Proxies) check() error {
	if p.Count < 0 || p.Count > maxProxies {
		return fmt.Errorf("proxies: %d of them; 0 to %d", p.Count, maxProxies)
	}
	switch p.Header {
	case "", xForwardedFor, forwarded:
		return nil
	}
	return fmt.Errorf("proxies: header %q is neither %s nor %s", p.Header, xForwardedFor, forwarded)
}

// asks is the address of who asks: what the outermost of the proxies says it
// has the request from. A request that has not come through all of them, or of
// which that one does not know, is counted as the sender's.
func (p Proxies) asks(r *http.Request) netip.Addr {
	sender, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil || p.Count == 0 {
		return sender.Addr()
	}
	var list []string
	if p.Header == forwarded {
		list = forwardedFor(r.Header.Values(forwarded))
	} else {
		for entry := range strings.SplitSeq(strings.Join(r.Header.Values(xForwardedFor), ","), ",") {
			if entry = strings.TrimSpace(entry); entry != "" {
				list = append(list, entry)
			}
		}
	}
	if len(list) < p.Count {
		return sender.Addr()
	}
	if told := addressIn(list[len(list)-p.Count]); told.IsValid() {
		return told
	}
	return sender.Addr()
}

// addressIn reads an address with or without a port; one of version 6 may stand
// in brackets. The zero Addr is none: RFC 7239 has "unknown" and made-up names.
func addressIn(entry string) netip.Addr {
	if at, err := netip.ParseAddrPort(entry); err == nil {
		return at.Addr()
	}
	at, err := netip.ParseAddr(strings.TrimSuffix(strings.TrimPrefix(entry, "["), "]"))
	if err != nil {
		return netip.Addr{}
	}
	return at
}

// forwardedFor is the for= of each element of Forwarded, "" where it has none
// (RFC 7239, section 4).
func forwardedFor(values []string) []string {
	var list []string
	for _, element := range unquotedSplit(strings.Join(values, ","), ',') {
		if strings.TrimSpace(element) == "" {
			continue
		}
		node := ""
		for _, pair := range unquotedSplit(element, ';') {
			if name, value, _ := strings.Cut(strings.TrimSpace(pair), "="); strings.EqualFold(name, "for") {
				node = strings.Trim(value, `"`)
			}
		}
		list = append(list, node)
	}
	return list
}

// unquotedSplit splits where sep stands outside quotes. It counts them from the
// right: what the proxies have added there is well formed, and a quote that a
// client has left open further left must not swallow it. An address has nothing
// to be escaped.
func unquotedSplit(text string, sep byte) []string {
	var parts []string
	quoted, end := false, len(text)
	for i := len(text) - 1; i >= 0; i-- {
		switch {
		case text[i] == '"':
			quoted = !quoted
		case text[i] == sep && !quoted:
			parts, end = append(parts, text[i+1:end]), i
		}
	}
	slices.Reverse(parts)
	return append([]string{text[:end]}, parts...)
}
