package web

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// What people told of a run stands in its JSON as on its page.
func TestARunGivesWhatWasTold(t *testing.T) {
	n := &notebook{
		repairs: []Repair{{ID: "r1", At: start, Run: "N2-P1-17", Cause: "bad-cord", By: "bo", Faults: []string{"below-design-speed"}, Outcome: RepairFailed}},
		notes:   []Note{{ID: "n1", At: start.Add(time.Minute), Run: "N2-P1-17", By: "cy", Note: "behind the piano"}},
		taken: []Taken{{ID: "t0", At: start.Add(-time.Hour), Run: "N2-P1-17", Kind: "below-design-speed", By: "dot"},
			{ID: "t1", At: start.Add(time.Hour), Run: "N2-P1-17", Kind: "below-design-speed", By: "ada", Note: "with a ladder"}},
		works: []PlannedWork{{ID: "w1", At: start.Add(2 * time.Minute), On: map[string]string{"panel": "N2-P1"}, From: start.Add(10 * time.Hour), To: start.Add(12 * time.Hour), By: "eve", Why: "new panel"},
			{ID: "w2", On: map[string]string{"switch": "acc-b1-1"}, By: "eve", Why: "elsewhere"}},
	}
	address := withNotebook(t, n)
	run := decode[object](t, address+"/api/runs/N2-P1-17")
	taken := run["taken"].([]any)
	require.Len(t, taken, 1, "who was at an earlier fault is at it no longer")
	require.Equal(t, "ada", taken[0].(object)["by"])
	var said [][]any
	for _, line := range run["told"].([]any) {
		o := line.(object)
		said = append(said, []any{o["sort"], o["id"], o["by"], o["what"], o["state"]})
	}
	require.Equal(t, [][]any{
		{"taken", "t1", "ada", "is at it: Below design speed", nil},
		{"planned-work", "w1", "eve", "planned work on panel N2-P1: new panel", "begins in 9 h 28 min"},
		{"note", "n1", "cy", "behind the piano", nil},
		{"repair", "r1", "bo", "repaired: a bad cord", "its fault returned"},
		{"taken", "t0", "dot", "is at it: Below design speed", nil},
	}, said)
	_, page := get(t, address+"/ports/acc-n2-1/1/17")
	require.Contains(t, page, "ada is at it, since ", "the port of a run says so too")
	run = decode[object](t, serve(t, source(scene())).URL+"/api/runs/N2-P1-17")
	require.Equal(t, []any{}, run["told"], "no journal is kept")
	n.err = errors.New("the disk is full")
	run = decode[object](t, address+"/api/runs/N2-P1-17")
	require.Equal(t, "the disk is full", run["told_unread"])
}

// A port gives what its page does, and what was told of it where it has no run.
func TestAPortGivesWhatItsPageDoes(t *testing.T) {
	n := &notebook{
		notes: []Note{{ID: "n1", At: start, Switch: "acc-n2-1", Port: "1/23", By: "cy", Note: "the clerk's"}, {ID: "n2", At: start, Switch: "acc-n2-1", Port: "1/22", By: "cy", Note: "another"}},
		taken: []Taken{{ID: "t1", At: start.Add(time.Hour), Switch: "acc-n2-1", Port: "1/23", Kind: "below-design-speed", By: "ada"}},
	}
	address := withNotebook(t, n)
	for path, want := range map[string]object{
		"acc-n2-1/1/17":   {"run": "N2-P1-17", "switch": "acc-n2-1", "port": "1/17", "end": "near"},
		"acc-n2-1/1%2F17": {"run": "N2-P1-17"},
		"acc-n2-1/1/23":   {"run": "", "description": nasty},
	} {
		got := decode[object](t, address+"/api/ports/"+path)
		for key, value := range want {
			require.Equal(t, value, got[key], "%s of %s", key, path)
		}
		require.NotEmpty(t, got["verdict"])
	}
	one := decode[object](t, address+"/api/ports/acc-n2-1/1/23")
	require.NotEmpty(t, one["why_no_run"])
	require.Len(t, one["told"], 2)
	for _, path := range []string{"nowhere/1/1", "acc-n2-1/9/9", "acc-n2-1/1/17?x=1"} {
		status, _ := fetch(t, address+"/api/ports/"+path)
		require.Contains(t, []int{404, 400}, status, path)
	}
	_, page := get(t, address+"/ports/acc-n2-1/1/23")
	require.Contains(t, page, "the clerk&#39;s")
	c, err := NewClient(address, Options{})
	require.NoError(t, err)
	detail, err := c.Port(t.Context(), "acc-n2-1", "1/17")
	require.NoError(t, err)
	require.Equal(t, "N2-P1-17", detail.Run)
	require.NotEmpty(t, detail.Faults)
}

// What looks like a port and was asked for as a run is told how to ask.
func TestAPortAskedForAsARun(t *testing.T) {
	address := serve(t, source(scene())).URL
	for asked, want := range map[string]string{
		"acc-n2-1%2F1%2F17": "; that is a port: toneout explain acc-n2-1 1/17 tells of it, and its page is /ports/acc-n2-1/1%2F17",
		"acc-n2-1%201%2F17": "; that is a port: toneout explain acc-n2-1 1/17 tells of it",
		"1%2F23":            "; that is a port: name its switch before it, as in toneout explain acc-n2-1 1/23",
		"acc-n2-1":          "; that is a switch: name a port of it too, as in toneout explain acc-n2-1 1/17",
	} {
		status, body := fetch(t, address+"/api/runs/"+asked)
		require.Equal(t, 404, status)
		require.Contains(t, body, want, asked)
	}
}
