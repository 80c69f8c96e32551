package web

import (
	"context"
	"errors"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// notebook is a journal in memory.
type notebook struct {
	repairs []Repair
	works   []PlannedWork
	notes   []Note
	taken   []Taken
	err     error
}

func (n *notebook) journal() *Journal {
	return &Journal{
		Repairs: func(context.Context, string) ([]Repair, error) { return n.repairs, n.err },
		Works:   func(context.Context) ([]PlannedWork, error) { return n.works, n.err },
		Notes:   func(context.Context, string) ([]Note, error) { return n.notes, n.err },
		Taken:   func(context.Context, string) ([]Taken, error) { return n.taken, n.err },
		Repair: func(_ context.Context, r *Repair) error {
			r.ID, r.At = "r1", start
			n.repairs = append(n.repairs, *r)
			return n.err
		},
		Plan: func(_ context.Context, w *PlannedWork) error { n.works = append(n.works, *w); return n.err },
		Note: func(_ context.Context, o *Note) error { n.notes = append(n.notes, *o); return n.err },
		Take: func(_ context.Context, o *Taken) error { n.taken = append(n.taken, *o); return n.err },
	}
}

func withNotebook(t *testing.T, n *notebook) string {
	s := source(scene())
	s.Journal = n.journal()
	return serve(t, s).URL
}

// send posts a body, and gives status and answer.
func send(t *testing.T, address, body string, headers ...string) (int, string) {
	r, err := http.NewRequest(http.MethodPost, address, strings.NewReader(body))
	require.NoError(t, err)
	for i := 0; i < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	answer, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	return answer.StatusCode, string(text)
}

func TestWhatPeopleTell(t *testing.T) {
	long := strings.Repeat("x", mostTold+1)
	for name, row := range map[string]struct {
		path, body string
		status     int
		says       string
	}{
		"repair":              {"repairs", `{"run": "N2-P1-17", "cause": "bad-cord", "by": "ada", "note": "new cord"}`, 201, `"id":"r1"`},
		"with its faults":     {"repairs", `{"run": "N2-P1-17", "cause": "bad-cord", "by": "ada"}`, 201, `"faults":["below-design-speed"]`},
		"unknown run":         {"repairs", `{"run": "N2-P1-71", "cause": "bad-cord", "by": "ada"}`, 400, `run \"N2-P1-71\" is not in the inventory; did you mean \"N2-P1-17\"`},
		"unknown cause":       {"repairs", `{"run": "N2-P1-17", "cause": "bad-chord", "by": "ada"}`, 400, `no cause is named \"bad-chord\"; did you mean \"bad-cord\"?`},
		"by nobody":           {"repairs", `{"run": "N2-P1-17", "cause": "bad-cord", "by": " "}`, 400, "by is missing"},
		"too long":            {"repairs", `{"run": "N2-P1-17", "cause": "bad-cord", "by": "ada", "note": "` + long + `"}`, 400, "the text is longer than 4000 bytes"},
		"much too long":       {"repairs", `{"note": "` + strings.Repeat("x", mostBody) + `"}`, 413, "longer than 65536 bytes"},
		"unknown key":         {"repairs", `{"runs": "N2-P1-17"}`, 400, `unknown field \"runs\"`},
		"no object":           {"repairs", `[1]`, 400, "the body is not what /api/repairs takes"},
		"nothing":             {"repairs", ``, 400, "the body is empty"},
		"two":                 {"repairs", `{} {}`, 400, "something follows the JSON object"},
		"planned work":        {"planned-work", `{"on": {"run": "N2-P1-17"}, "from": "2026-03-02T08:00:00Z", "to": "2026-03-02T09:00:00+01:00", "by": "ada", "why": "new outlet"}`, 400, "which is not after it begins"},
		"work":                {"planned-work", `{"on": {"run": "N2-P1-17"}, "from": "2026-03-02T08:00:00Z", "to": "2026-03-02T09:00:00Z", "by": "ada", "why": "new outlet"}`, 201, `"why":"new outlet"`},
		"work on two things":  {"planned-work", `{"on": {"run": "N2-P1-17", "switch": "acc-n2-1"}, "from": "2026-03-02T08:00:00Z", "to": "2026-03-02T09:00:00Z", "by": "ada", "why": "new outlet"}`, 400, "on wants one attribute"},
		"work on what is not": {"planned-work", `{"on": {"switch": "acc-n2-9"}, "from": "2026-03-02T08:00:00Z", "to": "2026-03-02T09:00:00Z", "by": "ada", "why": "new outlet"}`, 400, `no switch is named \"acc-n2-9\"; did you mean`},
		"no time":             {"planned-work", `{"on": {"run": "N2-P1-17"}, "from": "tomorrow", "to": "2026-03-02T09:00:00Z", "by": "ada", "why": "new outlet"}`, 400, "tomorrow"},
		"no reason":           {"planned-work", `{"on": {"run": "N2-P1-17"}, "from": "2026-03-02T08:00:00Z", "to": "2026-03-02T09:00:00Z", "by": "ada", "why": " "}`, 400, "why is missing"},
		"work that is over":   {"planned-work", `{"on": {"run": "N2-P1-17"}, "from": "2026-03-01T08:00:00Z", "to": "2026-03-01T09:00:00Z", "by": "ada", "why": "x"}`, 400, "to is over already"},
		"a month of work":     {"planned-work", `{"on": {"run": "N2-P1-17"}, "from": "2026-03-02T08:00:00Z", "to": "2026-04-02T08:00:00Z", "by": "ada", "why": "x"}`, 201, ""},
		"more than that":      {"planned-work", `{"on": {"run": "N2-P1-17"}, "from": "2026-03-02T08:00:00Z", "to": "2026-04-02T08:00:01Z", "by": "ada", "why": "x"}`, 400, "more than 31 days"},
		"id of no work":       {"planned-work", `{"id": "w2", "on": {"run": "N2-P1-17"}, "from": "2026-03-02T08:00:00Z", "to": "2026-03-02T09:00:00Z", "by": "ada", "why": "x"}`, 400, `no planned work has the id \"w2\"`},
		"long id":             {"planned-work", `{"id": "` + long + `", "on": {"run": "N2-P1-17"}, "by": "ada", "why": "x"}`, 400, "id is longer than 200 bytes"},
		"id that clears":      {"planned-work", `{"id": "\u001b[2J", "on": {"run": "N2-P1-17"}, "by": "ada", "why": "x"}`, 400, "id holds a control character"},
		"why of two lines":    {"planned-work", `{"on": {"run": "N2-P1-17"}, "by": "ada", "why": "x\ny"}`, 400, "the text holds a control character"},
		"by with a bell":      {"notes", `{"by": "ada\u0007", "note": "x"}`, 400, "by holds a control character"},
		"note that clears":    {"notes", `{"by": "ada", "note": "x\u009b2J"}`, 400, "the text holds a control character"},
		"note":                {"notes", `{"run": "N2-P1-17", "by": "ada", "note": "behind the piano"}`, 201, "behind the piano"},
		"note of the plant":   {"notes", `{"by": "ada", "note": "holidays"}`, 201, "holidays"},
		"empty note":          {"notes", `{"run": "N2-P1-17", "by": "ada"}`, 400, "note is missing"},
		"note of no port":     {"notes", `{"switch": "acc-n2-1", "port": "9/9", "by": "ada", "note": "x"}`, 400, `switch acc-n2-1 has no port \"9/9\"`},
		"taken":               {"taken", `{"run": "N2-P1-17", "kind": "below-design-speed", "by": "ada"}`, 201, `"port":"1/17"`},
		"nothing to take":     {"taken", `{"run": "N2-P1-17", "kind": "no-link", "by": "ada"}`, 400, `no fault of kind \"no-link\" is open there`},
	} {
		t.Run(name, func(t *testing.T) {
			n := &notebook{}
			status, body := send(t, withNotebook(t, n)+"/api/"+row.path, row.body)
			require.Equal(t, row.status, status, body)
			require.Contains(t, body, row.says)
			wrote := len(n.repairs) + len(n.works) + len(n.notes) + len(n.taken)
			require.Equal(t, status == http.StatusCreated, wrote == 1, "only what is taken is written")
		})
	}
}

// A page of another site cannot have a browser tell anything
// (https://www.w3.org/TR/fetch-metadata/ 2.1, and the Origin of RFC 6454 7).
func TestAnotherSitesPageTellsNothing(t *testing.T) {
	const body = `{"by": "ada", "note": "x"}`
	for name, row := range map[string]struct {
		headers []string
		status  int
	}{
		"a program":           {nil, 201},
		"our page":            {[]string{"Sec-Fetch-Site", "same-origin"}, 201},
		"another site's":      {[]string{"Sec-Fetch-Site", "cross-site"}, 403},
		"another of the site": {[]string{"Sec-Fetch-Site", "same-site"}, 403},
		"an old browser":      {[]string{"Origin", "http://elsewhere.example"}, 403},
		"with a password":     {[]string{"Origin", "http://elsewhere.example", "Authorization", "Basic YWRhOng="}, 403},
	} {
		t.Run(name, func(t *testing.T) {
			n := &notebook{}
			status, answer := send(t, withNotebook(t, n)+"/api/notes", body, row.headers...)
			require.Equal(t, row.status, status, answer)
			require.Equal(t, row.status == 201, len(n.notes) == 1)
		})
	}
}

func TestAUserIsTheAuthor(t *testing.T) {
	n := &notebook{}
	status, _ := send(t, withNotebook(t, n)+"/api/notes", `{"by": "somebody else", "note": "x"}`, "Authorization", "Basic YWRhOng=") // ada
	require.Equal(t, 201, status)
	require.Equal(t, "ada", n.notes[0].By)
}

func TestAJournalThatIsAway(t *testing.T) {
	n := &notebook{err: errors.New("the disk is full")}
	address := withNotebook(t, n)
	status, body := send(t, address+"/api/notes", `{"by": "ada", "note": "x"}`)
	require.Equal(t, 503, status)
	require.Contains(t, body, "not recorded: the disk is full")
	status, body = fetch(t, address+"/api/notes")
	require.Equal(t, 503, status, body)
}

func fetch(t *testing.T, address string) (int, string) {
	answer, err := http.Get(address)
	require.NoError(t, err)
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	return answer.StatusCode, string(text)
}

func TestWhatWasTold(t *testing.T) {
	n := &notebook{notes: []Note{{ID: "n1", At: start, By: "ada", Note: "x"}}}
	address := withNotebook(t, n)
	for path, row := range map[string]struct {
		status int
		says   string
	}{
		"notes":           {200, `[{"id":"n1","at":"2026-03-02T08:00:00Z","by":"ada","note":"x"}]`},
		"notes?run=A":     {200, "n1"},
		"notes?rum=A":     {400, `unknown query parameter \"rum\"`},
		"repairs":         {200, "[]"},
		"planned-work?on": {400, "takes none"},
		"taken":           {200, "[]"},
	} {
		status, body := fetch(t, address+"/api/"+path)
		require.Equal(t, row.status, status, path)
		require.Contains(t, body, row.says, path)
	}
	request, err := http.NewRequest(http.MethodDelete, address+"/api/notes", nil)
	require.NoError(t, err)
	answer, err := http.DefaultClient.Do(request)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusMethodNotAllowed, answer.StatusCode, "events are never changed")
	status, body := fetch(t, serve(t, source(scene())).URL+"/api/notes")
	require.Equal(t, 404, status)
	require.Contains(t, body, "keeps no journal")
}

func TestTheClientTells(t *testing.T) {
	n := &notebook{}
	c, err := NewClient(withNotebook(t, n), Options{})
	require.NoError(t, err)
	r := Repair{Run: "N2-P1-17", Cause: "bad-cord", By: "ada"}
	require.NoError(t, c.Repaired(t.Context(), &r))
	require.Equal(t, "r1", r.ID)
	w := PlannedWork{On: map[string]string{"plant": "all"}, From: start, To: start.Add(time.Hour), By: "ada", Why: "new firmware"}
	require.NoError(t, c.Plan(t.Context(), &w))
	w.To = w.From
	require.ErrorContains(t, c.Plan(t.Context(), &w), "which is not after it begins")
}

// Work that was announced may be announced otherwise, and end at once.
func TestPlannedWorkEndsEarly(t *testing.T) {
	w := PlannedWork{ID: "w1", On: map[string]string{"plant": "all"}, From: start.Add(-2 * time.Hour), To: start.Add(time.Hour), By: "ada", Why: "new firmware"}
	n := &notebook{works: []PlannedWork{w}}
	c, err := NewClient(withNotebook(t, n), Options{})
	require.NoError(t, err)
	w.To = start.Add(-time.Hour)
	require.NoError(t, c.Plan(t.Context(), &w))
	require.Len(t, n.works, 2)
	w.ID = "w-1"
	require.ErrorContains(t, c.Plan(t.Context(), &w), "no planned work has the id")
}
