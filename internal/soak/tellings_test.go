package soak

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// telling is what somebody posted.
type telling struct {
	path     string
	text     string
	run      string
	id       string // as answered; "" where no answer came
	attempts int
}

// told is what the daemon gives of one.
type told struct {
	ID   string            `json:"id"`
	Run  string            `json:"run"`
	On   map[string]string `json:"on"`
	By   string            `json:"by"`
	Note string            `json:"note"`
	Why  string            `json:"why"`
}

func (d *told) text() string { return d.Note + d.Why }

const teller = "ada"

// textKey and body are how each path is told.
var bodies = map[string]func(t *telling) map[string]any{
	"/api/notes": func(t *telling) map[string]any { return map[string]any{"run": t.run, "by": teller, "note": t.text} },
	"/api/repairs": func(t *telling) map[string]any {
		return map[string]any{"run": t.run, "by": teller, "note": t.text, "cause": "bad-cord"}
	},
	"/api/planned-work": func(t *telling) map[string]any {
		return map[string]any{"on": map[string]string{"run": t.run}, "from": time.Now(), "to": time.Now().Add(time.Hour), "by": teller, "why": t.text}
	},
}

// teller tells one thing after another; what a killed daemon did not answer is
// not told again.
type tellings struct {
	random *rand.Rand
	runs   []string
	all    []*telling
}

// tell posts the next one.
func (s *tellings) tell(l *life) {
	path := "/api/notes"
	switch n := len(s.all) % 10; n {
	case 3, 7:
		path = "/api/repairs"
	case 9:
		path = "/api/planned-work"
	}
	t := &telling{path: path, text: fmt.Sprintf("telling %d: %032x", len(s.all), s.random.Uint64()), run: s.runs[s.random.IntN(len(s.runs))]}
	s.all = append(s.all, t)
	var answer told
	if l.ask(http.MethodPost, path, bodies[path](t), &answer) == nil {
		t.id = answer.ID
	}
}

// check asks a daemon for all that was told: what was answered is there once,
// what was not is there once or not at all, each whole, and nothing else.
func (s *tellings) check(t *testing.T, l *life) (answered, unanswered, kept int) {
	found := map[string][]told{}
	for path := range bodies {
		var all []told
		require.NoError(t, l.get(path, &all))
		for _, d := range all {
			found[path+d.text()] = append(found[path+d.text()], d)
		}
	}
	for _, said := range s.all {
		here := found[said.path+said.text]
		delete(found, said.path+said.text)
		if said.id != "" {
			answered++
			require.Len(t, here, 1, "%s %q was answered", said.path, said.text)
			require.Equal(t, said.id, here[0].ID)
		} else {
			unanswered++
			require.LessOrEqual(t, len(here), 1, "%s %q was not answered", said.path, said.text)
		}
		for _, d := range here {
			kept++
			require.Equal(t, teller, d.By)
			require.Equal(t, said.run, d.Run+d.On["run"], "%s %q", said.path, said.text)
		}
	}
	require.Empty(t, found, "nobody told these")
	return answered, unanswered, kept
}
