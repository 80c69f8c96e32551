package web

import (
	"html"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// sendForm posts a form as a browser does, and gives status, place and page.
func sendForm(t *testing.T, address string, values url.Values, headers ...string) (status int, place, page string) {
	r, err := http.NewRequest(http.MethodPost, address, strings.NewReader(values.Encode()))
	require.NoError(t, err)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	for i := 0; i < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	r.Host = r.Header.Get("Host-As")
	r.Header.Del("Host-As")
	answer, err := http.DefaultTransport.RoundTrip(r) // follows no redirect
	require.NoError(t, err)
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	return answer.StatusCode, answer.Header.Get("Location"), string(body)
}

func values(pairs ...string) url.Values {
	v := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		v.Set(pairs[i], pairs[i+1])
	}
	return v
}

// What a form tells is written down and the page shown again by GET; what is wrong is
// said beside its field, and nothing is written.
func TestFormsOfARun(t *testing.T) {
	for name, row := range map[string]struct {
		form   string
		values url.Values
		wrong  string // field
		says   string
	}{
		"repaired":               {"repaired", values("cause", "bad-cord", "by", "ada", "note", "new cord"), "", ""},
		"repaired, cause unsaid": {"repaired", values("by", "ada"), "cause", "This is missing."},
		"another medium's cause": {"repaired", values("cause", "bent-fibre", "by", "ada"), "cause", "Choose one of the list."},
		"by nobody":              {"repaired", values("cause", "bad-cord", "by", " "), "by", "This is missing."},
		"note":                   {"note", values("note", "behind the piano", "by", "ada"), "", ""},
		"note of two lines":      {"note", values("note", "a\nb", "by", "ada"), "note", "in one line"},
		"long name":              {"note", values("note", "x", "by", strings.Repeat("x", mostSigned+1)), "by", "too long"},
		"taken":                  {"taken", values("kind", "below-design-speed", "by", "ada"), "", ""},
		"taken, no such fault":   {"taken", values("kind", "no-link", "by", "ada"), "kind", "Choose one of the list."},
		"planned":                {"planned", values("on", "pathway=tray-n2-east", "from", "2026-03-02T09:00", "to", "2026-03-02T12:00", "by", "ada", "why", "new tray"), "", ""},
		"planned on another":     {"planned", values("on", "pathway=tray-s1", "from", "2026-03-02T09:00", "to", "2026-03-02T12:00", "by", "ada", "why", "x"), "on", "Choose one of the list."},
		"ends first":             {"planned", values("on", "run=N2-P1-17", "from", "2026-03-02T12:00", "to", "2026-03-02T09:00", "by", "ada", "why", "x"), "to", "not after it begins"},
		"no time":                {"planned", values("on", "run=N2-P1-17", "from", "noon", "to", "2026-03-02T12:00", "by", "ada", "why", "x"), "from", "Write the time as"},
		"over already":           {"planned", values("on", "run=N2-P1-17", "from", "2026-03-01T09:00", "to", "2026-03-01T12:00", "by", "ada", "why", "x"), "to", "over already"},
		"too long":               {"planned", values("on", "run=N2-P1-17", "from", "2026-03-02T09:00", "to", "2026-05-02T12:00", "by", "ada", "why", "x"), "to", "31 days"},
	} {
		t.Run(name, func(t *testing.T) {
			n := &notebook{}
			status, place, page := sendForm(t, withNotebook(t, n)+"/runs/N2-P1-17/"+row.form, row.values)
			wrote := len(n.repairs) + len(n.works) + len(n.notes) + len(n.taken)
			if row.wrong == "" {
				require.Equal(t, http.StatusSeeOther, status, page)
				require.Equal(t, "/runs/N2-P1-17#told", place)
				require.Equal(t, 1, wrote)
				return
			}
			require.Equal(t, http.StatusUnprocessableEntity, status)
			require.Zero(t, wrote)
			id := row.form + "-" + row.wrong
			said := regexp.MustCompile(`id="` + id + `-wrong">(.*?)</p>`).FindStringSubmatch(page)
			require.NotNil(t, said, "nothing is said beside %s", id)
			require.Contains(t, said[1], row.says)
			input := regexp.MustCompile(`<(?:input|select) id="` + id + `"[^>]*>`).FindString(page)
			require.Contains(t, input, `aria-invalid="true"`)
			require.Contains(t, input, " autofocus")
			require.Contains(t, page, `<details data-key="`+row.form+`" open>`)
			if note := row.values.Get("note"); note != "" && row.wrong != "note" {
				require.Contains(t, page, html.EscapeString(note), "what was written is kept")
			}
		})
	}
}

// Times of a form are of the zone that the page speaks in.
func TestWorkFromARunsPage(t *testing.T) {
	n := &notebook{}
	address := withNotebook(t, n)
	sendForm(t, address+"/runs/N2-P1-17/planned", values("on", "space=N2-TR", "from", "2026-03-02T09:00", "to", "2026-03-02T12:00", "by", "ada", "why", "new rack"))
	require.Len(t, n.works, 1)
	require.Equal(t, map[string]string{"space": "N2-TR"}, n.works[0].On)
	require.Equal(t, time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC), n.works[0].From.UTC())
	_, page := get(t, address+"/runs/N2-P1-17")
	require.Contains(t, page, "planned work on space North 2 telecom room (N2-TR): new rack")
	require.Contains(t, page, "2026-03-02 09:00 to 2026-03-02 12:00 FQT")
	_, page = get(t, address+"/runs/S1-P1-1")
	require.NotContains(t, page, "new rack", "it does not touch this run")
}

// Each input has its label, each form its button, and the cautions of the open faults
// stand by the form that says it is repaired. Labels: WCAG 2.2, 1.3.1 and 3.3.2.
func TestFormsCanBeUsed(t *testing.T) {
	address := withNotebook(t, &notebook{})
	for _, path := range []string{"/runs/N2-P1-17", "/runs/N2-P1-19", "/planned-work"} {
		_, page := get(t, address+path)
		inputs := regexp.MustCompile(`<(?:input|select) id="([^"]+)"`).FindAllStringSubmatch(page, -1)
		require.NotEmpty(t, inputs, path)
		seen := map[string]bool{}
		for _, m := range inputs {
			require.Contains(t, page, `<label for="`+m[1]+`">`, path)
			require.False(t, seen[m[1]], "%s: two inputs are %s", path, m[1])
			seen[m[1]] = true
		}
		require.Equal(t, strings.Count(page, "<form"), strings.Count(page, "<button type=\"submit\""), path)
		require.NotContains(t, page, `http-equiv="refresh"`, "a form that is filled in is not taken away")
	}
	_, page := get(t, address+"/runs/N2-P1-17")
	repair := page[strings.Index(page, `action="/runs/N2-P1-17/repaired"`):]
	repair = repair[:strings.Index(repair, "</form>")]
	require.Contains(t, repair, "Before anybody touches it:")
	require.Contains(t, repair, "<option value=\"open-pair\">a pair is open</option>")
	require.NotContains(t, repair, "bent-fibre")
	_, page = get(t, serve(t, source(scene())).URL+"/runs/N2-P1-17")
	require.NotContains(t, page, "<form", "without a journal nothing can be told")
}

func TestWhoIsAtAFault(t *testing.T) {
	s := scene()
	since := s.FaultsOf("N2-P1-17")[0].Since
	n := &notebook{taken: []Taken{
		{Kind: "below-design-speed", Run: "N2-P1-17", By: "ada " + nasty, At: since.Add(-time.Hour)},
		{Kind: "below-design-speed", Run: "N2-P1-17", By: "ben " + nasty, At: since.Add(time.Hour), Note: "there at 14:00"},
	}}
	_, page := get(t, withNotebook(t, n)+"/runs/N2-P1-17")
	require.NotContains(t, page, nasty)
	at := regexp.MustCompile(`<p class="taken">(.*?)</p>`).FindStringSubmatch(page)
	require.NotNil(t, at)
	require.Contains(t, at[1], "ben ")
	require.Contains(t, at[1], "there at 14:00")
}

// What cannot be told or read is said, and what was written is kept.
func TestFormsOfAJournalThatIsAway(t *testing.T) {
	n := &notebook{}
	address := withNotebook(t, n)
	n.err = http.ErrHandlerTimeout
	status, _, page := sendForm(t, address+"/runs/N2-P1-17/note", values("note", "behind the piano", "by", "ada"))
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, page, "It was not recorded: http: Handler timeout.")
	require.Contains(t, page, `value="behind the piano"`)
	require.Contains(t, page, "What people told cannot be read now")
}

func TestAFormsAddressLeadsBack(t *testing.T) {
	address := withNotebook(t, &notebook{})
	answer, _ := get(t, address+"/runs/N2-P1-17/note")
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	require.Equal(t, "/runs/N2-P1-17", answer.Header.Get("Location"))
	status, _, page := sendForm(t, address+"/runs/N2-P1-71/note", values("note", "x", "by", "ada"))
	require.Equal(t, http.StatusNotFound, status)
	require.Contains(t, page, "did you mean")
	status, _, page = sendForm(t, address+"/runs/N2-P1-19/taken", values("kind", "no-link", "by", "ada"))
	require.Equal(t, http.StatusConflict, status)
	require.Contains(t, page, "No fault is open there any more")
	status, _, page = sendForm(t, serve(t, source(scene())).URL+"/runs/N2-P1-17/note", values("note", "x", "by", "ada"))
	require.Equal(t, http.StatusNotFound, status)
	require.Contains(t, page, "keeps no journal")
}

func TestThePageOfPlannedWork(t *testing.T) {
	now := source(scene()).Now()
	work := func(id string, from, to time.Duration) PlannedWork {
		return PlannedWork{ID: id, On: map[string]string{"panel": "N2-P1"}, From: now.Add(from), To: now.Add(to), By: "ada", Why: "work " + id + nasty}
	}
	n := &notebook{works: []PlannedWork{work("w1", -time.Hour, time.Hour), work("w2", time.Hour, 2*time.Hour), work("w3", -3*time.Hour, -2*time.Hour)}}
	n.works[2].Ended = &WorkOutcome{Worse: []WorseFault{{Run: "N2-P1-17", Kind: "no-link"}}, Silent: []string{"acc-n2-1"}}
	address := withNotebook(t, n)
	_, page := get(t, address+workURL)
	require.NotContains(t, page, nasty)
	for _, says := range []string{"Going on now", "To come", "Over", `aria-label="End it now: panel N2-P1"`, `aria-label="Call it off: panel N2-P1"`, "over: 2 things worse than before", `<a href="/runs/N2-P1-17">N2-P1-17: No link</a>`} {
		require.Contains(t, page, says)
	}
	for _, id := range []string{"w1", "w2"} {
		status, place, page := sendForm(t, address+workURL, values("end", id))
		require.Equal(t, http.StatusSeeOther, status, page)
		require.Equal(t, workURL, place)
		last := n.works[len(n.works)-1]
		require.Equal(t, id, last.ID)
		require.False(t, last.To.After(now), "it is over")
		require.True(t, last.From.Before(last.To))
	}
	status, _, page := sendForm(t, address+workURL, values("end", "w9"))
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, page, "That work is not known any more.")
}

func TestWorkIsAnnounced(t *testing.T) {
	rest := []string{"from", "2026-03-02T09:00", "to", "2026-03-02T12:00", "by", "ada", "why", "new rack"}
	for name, row := range map[string]struct {
		on    []string
		wrote map[string]string
		says  string
	}{
		"the whole plant": {[]string{"attribute", "plant"}, map[string]string{"plant": "all"}, ""},
		"a switch":        {[]string{"attribute", "switch", "name", "acc-n2-1"}, map[string]string{"switch": "acc-n2-1"}, ""},
		"a run":           {[]string{"attribute", "run", "name", "N2-P1-17"}, map[string]string{"run": "N2-P1-17"}, ""},
		"mistyped":        {[]string{"attribute", "space", "name", "N2-TX"}, nil, "No space is named &#34;N2-TX&#34;; did you mean &#34;N2-TR&#34;?"},
		"unnamed":         {[]string{"attribute", "space"}, nil, "This is missing."},
		"on the moon":     {[]string{"attribute", "moon", "name", "x"}, nil, "Choose one of the list."},
	} {
		t.Run(name, func(t *testing.T) {
			n := &notebook{}
			status, _, page := sendForm(t, withNotebook(t, n)+workURL, values(append(row.on, rest...)...))
			if row.wrote == nil {
				require.Equal(t, http.StatusUnprocessableEntity, status)
				require.Contains(t, page, row.says)
				require.Empty(t, n.works)
				return
			}
			require.Equal(t, http.StatusSeeOther, status, page)
			require.Equal(t, row.wrote, n.works[0].On)
		})
	}
}

// Another site's page tells nothing by a form, nor one whose name was made to lead here
// (DNS rebinding: C. Jackson and others, "Protecting browsers from DNS rebinding
// attacks", CCS 2007; memory): an address cannot be another site's name, and a proxy's
// name is in the configuration.
func TestOtherNames(t *testing.T) {
	for name, row := range map[string]struct {
		headers []string
		guarded bool
		status  int
	}{
		"our page":                {nil, false, 303},
		"another site":            {[]string{"Sec-Fetch-Site", "cross-site"}, false, 403},
		"by address":              {[]string{"Host-As", "192.0.2.7:8610"}, false, 303},
		"by address of version 6": {[]string{"Host-As", "[2001:db8::7]:8610"}, false, 303},
		"localhost":               {[]string{"Host-As", "LOCALHOST:8610"}, false, 303},
		"the configured name":     {[]string{"Host-As", "quay.example"}, false, 303},
		"another name":            {[]string{"Host-As", "rebound.example:8610"}, false, 403},
		"another, with password":  {[]string{"Host-As", "rebound.example:8610", "Authorization", "Basic YWRhOng="}, false, 403},
		"another, for users":      {[]string{"Host-As", "rebound.example"}, true, 303},
		"a program":               {[]string{"Host-As", "rebound.example", "Sec-Fetch-Site", ""}, false, 303},
	} {
		t.Run(name, func(t *testing.T) {
			n := &notebook{}
			s := source(scene())
			s.Journal, s.Guarded = n.journal(), func() bool { return row.guarded }
			s.External = func() string { return "https://quay.example/plant" }
			status, _, page := sendForm(t, serve(t, s).URL+"/runs/N2-P1-17/note", values("note", "x", "by", "ada"), row.headers...)
			require.Equal(t, row.status, status, page)
			require.Equal(t, row.status == 303, len(n.notes) == 1)
		})
	}
}

func TestAUserSignsForms(t *testing.T) {
	n := &notebook{}
	address := withNotebook(t, n)
	status, _, page := sendForm(t, address+"/runs/N2-P1-17/note", values("note", "x", "by", "somebody else"), "Authorization", "Basic YWRhOng=") // ada
	require.Equal(t, http.StatusSeeOther, status, page)
	require.Equal(t, "ada", n.notes[0].By)
}
