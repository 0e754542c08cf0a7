// Package guard keeps both listeners to their own names and gives every answer
// its security headers.
//
// A page of the open web can make the browser on the host laptop send requests
// to loopback, and by rebinding a name of its own it can even read the answers.
// So each listener answers only requests whose Host header is one of its own
// names, and takes changes and websockets only from pages that it served itself.
package guard

import (
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
)

// Policy is the Content-Security-Policy of every page on a host: all of it comes
// from the listener itself, and no script or style stands in the page. The
// websocket is named beside 'self', which older phones take for http alone (from
// memory).
func Policy(host string) string {
	return "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self' ws://" + host + "; img-src 'self' data:; " +
		"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
}

// Names are the host names, without ports, that a listener answers to.
type Names []string

// Has reports whether a Host header, with or without a port, is one of them. An
// IPv6 address stands in brackets there, and without them in Names.
func (n Names) Has(host string) bool {
	if h, port, err := net.SplitHostPort(host); err == nil {
		// The header goes into the policy, so nothing but a port may follow.
		if _, err := strconv.ParseUint(port, 10, 16); err != nil {
			return false
		}
		host = h
	} else if h, ok := strings.CutPrefix(host, "["); ok {
		if host, ok = strings.CutSuffix(h, "]"); !ok {
			return false
		}
	}
	if host == "" {
		return false
	}
	for _, name := range n {
		if strings.EqualFold(name, host) {
			return true
		}
	}
	return false
}

// SameOrigin reports whether the request comes from a page of this listener:
// its Origin names the very host and port that it was sent to. Without an
// Origin header only requests that change nothing are taken.
func SameOrigin(r *http.Request) bool {
	o := r.Header.Get("Origin")
	if o == "" {
		return r.Method == http.MethodGet || r.Method == http.MethodHead
	}
	u, err := url.Parse(o)
	return err == nil && u.Host != "" && strings.EqualFold(u.Host, r.Host)
}

// Refuse answers a request that was turned away, in the listener's own words.
type Refuse func(w http.ResponseWriter, r *http.Request, status int, say, next string)

// Body is the most bytes of a request's body.
const Body = 1 << 16

// Wider lets the bodies of one path be longer than [Body].
type Wider struct {
	Path  string
	Bytes int64
}

// Handler wraps a listener's routes.
func Handler(names Names, refuse Refuse, next http.Handler, wider ...Wider) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("X-Content-Type-Options", "nosniff")
		// Not no-referrer: with it browsers send "Origin: null" with our own forms.
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		h.Set("Content-Security-Policy", "default-src 'self'") // until the host is known to be ours
		if !names.Has(r.Host) {
			refuse(w, r, http.StatusMisdirectedRequest,
				"This address is not one that the program answers to.",
				"Use the address that stands in the terminal window of the host laptop.")
			return
		}
		h.Set("Content-Security-Policy", Policy(r.Host))
		if !SameOrigin(r) {
			refuse(w, r, http.StatusForbidden,
				"This request came from a page that is not ours, and was turned away.",
				"Open the page anew from the address in the terminal window.")
			return
		}
		most := int64(Body)
		for _, x := range wider {
			if r.URL.Path == x.Path {
				most = x.Bytes
			}
		}
		r.Body = http.MaxBytesReader(w, r.Body, most)
		next.ServeHTTP(w, r)
	})
}
