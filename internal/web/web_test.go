package web

import (
	"errors"
	"html"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
)

const (
	asHTML  = "text/html; charset=utf-8"
	asJSON  = "application/json"
	asPlain = "text/plain; charset=utf-8"
)

func TestRoutes(t *testing.T) {
	server := serve(t, source(scene()))
	rows := []struct {
		path   string
		status int
		kind   string
		holds  string
	}{
		{"/", 200, asHTML, "N2-P1-17"},
		{"/runs/N2-P1-17", 200, asHTML, "Below design speed"},
		{runURL(oddID), 200, asHTML, html.EscapeString(oddID)},
		{"/runs/N2-P1-71", 404, asHTML, "did you mean &#34;N2-P1-17&#34;"},
		{"/ports/acc-n2-1/1%2F23", 200, asHTML, "no run of the inventory names it"},
		{"/ports/acc-n2-1/1/23", 200, asHTML, "no run of the inventory names it"},
		{"/ports/acc-n2-1/1/17", 200, asHTML, `href="/runs/N2-P1-17"`},
		{"/ports/acc-n2-1/1/99", 404, asHTML, "shows no physical port"},
		{"/ports/acc-s1-1/1/1", 404, asHTML, "it has not answered yet"},
		{"/ports/acc-n2-2/1/17", 404, asHTML, "did you mean &#34;acc-n2-1&#34;"},
		{"/shared", 200, asHTML, "Nothing stands out that several faulty runs have in common: of 5 runs whose state is known, 3 are at fault"},
		{"/api/shared-causes", 200, asJSON, "[]"},
		{"/api/shared-causes?attribute=tray", 400, asJSON, "known are bundle, panel, pathway"},
		{"/coverage", 200, asHTML, "1 of 3 switches answers."},
		{"/audit", 200, asHTML, "Audit of the record"},
		{"/audit?space=N2-TR&endangers=link", 200, asHTML, "Only endangers link, space N2-TR."},
		{"/audit?spaces=N2-TR", 400, asHTML, "did you mean &#34;space&#34;?"},
		{"/nowhere", 404, asHTML, "There is no page /nowhere."},
		{"/api/faults", 200, asJSON, `"kind":"below-design-speed"`},
		{"/api/runs", 200, asJSON, `"id":"N2-P1-17"`},
		{"/api/runs/N2-P1-17", 200, asJSON, `"state":"faulty"`},
		{"/api" + runURL(oddID), 200, asJSON, `"outlet":"214-A"`},
		{"/api/runs/n2p117", 404, asJSON, `did you mean \"N2-P1-17\"?`},
		{"/api/runs/N2-P1-17?verbose=1", 400, asJSON, `unknown query parameter \"verbose\"`},
		{"/api/switches", 200, asJSON, `"system_name":"acc-n2-1.ferrow"`},
		{"/api/coverage", 200, asJSON, `"table":"dot3HCStatsTable"`},
		{"/api/audit", 200, asJSON, `"rule":"port-conflict"`},
		{"/api/audit?upgrade=next", 200, asJSON, `"answer":"by the record yes, test needed"`},
		{"/api/nowhere", 404, asJSON, "/api/faults"},
		{"/metrics", 200, asPlain, "toneout_switch_up 1"},
		{"/healthz", 200, asPlain, "healthy"},
		{"/readyz", 503, asPlain, "1 of 3 switches not tried yet: acc-b1-1"},
		{"/static/style.css", 200, "text/css; charset=utf-8", "--ink"},
		{"/static/refresh.js", 200, "text/javascript; charset=utf-8", "fetch"},
		{"/static/icon.svg", 200, "image/svg+xml", "<svg"},
		{"/static/", 404, asPlain, ""},
		{"/static/../web.go", 307, asHTML, ""}, // to /web.go, which is none
	}
	for _, row := range rows {
		answer, body := get(t, server.URL+row.path)
		require.Equal(t, row.status, answer.StatusCode, "%s\n%s", row.path, body)
		require.Equal(t, row.kind, answer.Header.Get("Content-Type"), row.path)
		require.Contains(t, body, row.holds, row.path)
		require.Contains(t, answer.Header.Get("Content-Security-Policy"), "default-src 'self'", row.path)
		require.Equal(t, "nosniff", answer.Header.Get("X-Content-Type-Options"), row.path)
		require.Equal(t, "same-origin", answer.Header.Get("Referrer-Policy"), row.path)
	}
}

func TestOnlyGetIsAllowed(t *testing.T) {
	server := serve(t, source(scene()))
	for path, kind := range map[string]string{
		"/": asHTML, "/runs/N2-P1-17": asHTML, "/api/faults": asJSON, "/api/runs/N2-P1-17": asJSON,
		"/metrics": asPlain, "/healthz": asPlain, "/static/style.css": asPlain,
	} {
		for _, method := range []string{http.MethodPost, http.MethodPut, http.MethodDelete} {
			answer, body := ask(t, method, server.URL+path)
			require.Equal(t, http.StatusMethodNotAllowed, answer.StatusCode, path)
			require.Equal(t, "GET, HEAD", answer.Header.Get("Allow"), path)
			require.Equal(t, kind, answer.Header.Get("Content-Type"), path)
			require.Contains(t, body, method+" is not allowed here")
		}
		answer, body := ask(t, http.MethodHead, server.URL+path)
		require.Equal(t, http.StatusOK, answer.StatusCode, path)
		require.Empty(t, body)
	}
}

func TestHealthAndReadiness(t *testing.T) {
	stuck := errors.New("the loop stands still")
	rows := []struct {
		name           string
		snapshot       *fault.Snapshot
		alive          error
		healthz, ready int
	}{
		{"all is tried", tried(), nil, 200, 200},
		{"no switch at all", nothing(), nil, 200, 200},
		{"one is not tried", scene(), nil, 200, 503},
		{"nothing known yet", nil, nil, 200, 503},
		{"the loop is stuck", tried(), stuck, 503, 200},
	}
	for _, row := range rows {
		s := source(row.snapshot)
		s.Alive = func() error { return row.alive }
		server := serve(t, s)
		answer, body := get(t, server.URL+"/healthz")
		require.Equal(t, row.healthz, answer.StatusCode, row.name)
		if row.alive != nil {
			require.Contains(t, body, stuck.Error())
			_, page := get(t, server.URL+"/")
			require.Contains(t, page, "This page stands still: the loop stands still")
		}
		answer, _ = get(t, server.URL+"/readyz")
		require.Equal(t, row.ready, answer.StatusCode, row.name)
	}
}

// tried is the scene once acc-b1-1 was tried too.
func tried() *fault.Snapshot {
	tracker, snapshot := played()
	return tracker.Failed("acc-b1-1", snapshot.At, "credentials", errors.New("wrong passphrase"))
}

func TestBeforeTheFirstSnapshotEverythingSaysSo(t *testing.T) {
	server := serve(t, Source{
		Snapshot: func() *fault.Snapshot { return nil }, Alive: func() error { return nil },
		Metrics: http.NotFoundHandler(),
	})
	for _, path := range []string{"/", "/runs/x", "/api/faults", "/api/coverage", "/readyz"} {
		answer, body := get(t, server.URL+path)
		require.Equal(t, http.StatusServiceUnavailable, answer.StatusCode, path)
		require.Contains(t, body, "the daemon is starting", path)
	}
}

// htmlPages lists pages, and whether somebody's markup belongs on them.
var htmlPages = map[string]bool{
	"/": true, "/shared": false, "/coverage": true, "/audit": false, "/runs/N2-P1-17": true, "/ports/acc-n2-1/1/23": true, "/runs/N2-BB-1": false, "/runs/N2-P1-30": false,
	runURL(oddID): false, runURL(nasty): true, portURL("acc-n2-1", nasty): true, "/" + url.PathEscape(nasty): true,
}

// What people write on ports and into records is text, never markup, and the
// pages give a browser nothing that their own policy forbids.
func TestForeignStringsAreEscaped(t *testing.T) {
	server := serve(t, source(scene()))
	for path, marked := range htmlPages {
		_, page := get(t, server.URL+path)
		require.NotContains(t, page, nasty, path)
		require.NotContains(t, page, "<b>é", path)
		require.Equal(t, marked, strings.Contains(page, "&lt;script&gt;alert("), path)
		for _, tag := range regexp.MustCompile(`<script[^>]*>`).FindAllString(page, -1) {
			require.Equal(t, `<script src="/static/refresh.js" defer>`, tag, path)
		}
		require.NotRegexp(t, `<style|\sstyle=|\son[a-z]+=`, page, path)
		for _, link := range links(page) {
			require.Regexp(t, `^(/[^/]|/$|#[a-z]+$)`, link, "%s links to another place", path)
		}
	}
}

var linked = regexp.MustCompile(`(?:href|src)="([^"]*)"`)

func links(page string) []string {
	var out []string
	for _, m := range linked.FindAllStringSubmatch(page, -1) {
		out = append(out, html.UnescapeString(m[1]))
	}
	return out
}

func TestEveryLinkLeadsSomewhere(t *testing.T) {
	server := serve(t, source(scene()))
	seen := map[string]bool{}
	next := []string{"/"}
	for len(next) > 0 {
		path := next[0]
		next = next[1:]
		if seen[path] || strings.HasPrefix(path, "#") {
			continue
		}
		seen[path] = true
		answer, body := get(t, server.URL+path)
		require.Equal(t, http.StatusOK, answer.StatusCode, path)
		if answer.Header.Get("Content-Type") == asHTML {
			next = append(next, links(body)...)
		}
	}
	require.True(t, seen[runURL(oddID)], "an id of any characters has its page")
	require.True(t, seen["/ports/acc-n2-1/1%2F23"], "a port without a run has its page")
}

func FuzzPathsNeverFail(f *testing.F) {
	for _, id := range []string{"N2-P1-17", oddID, nasty, "", "..", "%", "a//b", "\x00\xff", strings.Repeat("N", 300)} {
		f.Add(id)
	}
	handler := Handler(source(scene()))
	f.Fuzz(func(t *testing.T, id string) {
		for _, path := range []string{runURL(id), portURL("acc-n2-1", id), "/api" + runURL(id), "/api/faults?run=" + url.QueryEscape(id)} {
			answer := httptest.NewRecorder()
			handler.ServeHTTP(answer, httptest.NewRequest(http.MethodGet, path, nil))
			require.Less(t, answer.Code, 500, path)
			require.NotContains(t, answer.Body.String(), nasty)
		}
	})
}
