package web

import (
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"os"
	"strings"
)

var crossOrigin = http.NewCrossOriginProtection()

// mayTell refuses what another site's page has a browser send: one that says so, and one
// whose name was made to lead here.
func (s Source) mayTell(r *http.Request) error {
	if err := crossOrigin.Check(r); err != nil {
		return refused(http.StatusForbidden, "another site's page sent this (%v); send it from this one, or by a program", err)
	}
	if browsed := r.Header.Get("Origin") != "" || r.Header.Get("Sec-Fetch-Site") != ""; !browsed || r.TLS != nil || s.Guarded != nil && s.Guarded() {
		return nil
	}
	if name := hostOf(r.Host); !s.isOurs(name) {
		return refused(http.StatusForbidden, "these pages are not known by the name %q, which may be another site's; name it in external_url of the configuration, or use this machine's address", name)
	}
	return nil
}

// hostOf is a host without its port.
func hostOf(host string) string {
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	return strings.ToLower(strings.TrimSuffix(strings.Trim(host, "[]"), "."))
}

// isOurs tells whether no other site can have a name: an address is none, and the
// others are this machine's and what the configuration names, as behind a proxy.
func (s Source) isOurs(name string) bool {
	if _, err := netip.ParseAddr(name); err == nil || name == "localhost" || strings.HasSuffix(name, ".localhost") {
		return true
	}
	if own, err := os.Hostname(); err == nil && strings.EqualFold(name, own) {
		return true
	}
	if s.External == nil {
		return false
	}
	external, err := url.Parse(s.External())
	return err == nil && external.Host != "" && hostOf(external.Host) == name
}
