package web

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
)

// walkTold is a check with what it takes and would find.
const walkTold = `<li><p>Walk the pathway.</p><p class="soft">About 45 minutes; interrupts nothing. Needs a thermometer.</p><p class="soft">70 %: interference from outside (it can miss that).</p></li>`

// sharing is the scene with three runs at fault together.
func sharing() *fault.Snapshot {
	s := *scene()
	s.Shared = []*fault.SharedCause{{
		SharedName: fault.SharedName{Attribute: fault.ByPathway, Value: "tray-n2-east"}, Title: "pathway North 2 east tray (tray-n2-east)",
		Severity: fault.Critical, Since: start, Probability: 0.875, Share: 0.5, Members: 6,
		Faulty: []string{"N2-P1-17", "N2-P1-18", "N2-P1-19"}, Suspects: []string{"N2-P1-19"},
		Also:    []fault.SharedName{{Attribute: fault.ByPanel, Value: "N2-P1"}},
		Rivals:  []fault.SharedRival{{SharedName: fault.SharedName{Attribute: fault.ByLineCard, Value: "acc-n2-1/1"}, Probability: 0.1}},
		Summary: "3 of the 6 runs that have the pathway in common are at fault together.", Evidence: []string{"Beside it: " + nasty},
		Checks: []string{"Walk the pathway."}, Cautions: []string{"Mind ladder and height rules."},
		NextChecks: []fault.NextCheck{{Code: fault.WalkPathway, Check: "Walk the pathway.", Minutes: 45, Tools: []string{"a thermometer"}, Interrupts: fault.InterruptsNothing,
			Probability: 0.7, Finds: []fault.Find{{Cause: fault.Interference, Surely: 0.8}}, Cautions: []string{}}},
	}}
	s.Faults = nil
	for _, f := range scene().Faults {
		f := *f
		if f.Run == "N2-P1-17" || f.Run == "N2-P1-18" {
			f.SharedCause, f.Alarm = "pathway tray-n2-east", false
		}
		s.Faults = append(s.Faults, &f)
	}
	return &s
}

func TestSharedPage(t *testing.T) {
	server := serve(t, source(sharing()))
	_, page := get(t, server.URL+"/shared")
	for _, want := range []string{
		"<title>1 shared cause – ", `id="pathway:tray-n2-east"`, "pathway North 2 east tray (tray-n2-east)", "●●●</span> critical",
		"Probability that this is why: 88 %", `<a class="label" href="/runs/N2-P1-17">N2-P1-17</a>`, "no fault of its own yet", "line card acc-n2-1/1",
		walkTold, "Mind ladder", "Beside it: &lt;script&gt;",
	} {
		require.Contains(t, page, want)
	}
	require.Equal(t, 1, strings.Count(page, "no fault of its own yet"))
}

// What runs share stands above the faults by themselves, and what is folded
// under it below these.
func TestWallFoldsWhatIsShared(t *testing.T) {
	server := serve(t, source(sharing()))
	_, page := get(t, server.URL+"/")
	require.Contains(t, page, "<title>1 shared cause, 2 open faults – ")
	shared, rest, found := strings.Cut(page, "<h2>Faults by themselves</h2>")
	require.True(t, found)
	require.Contains(t, shared, `<a href="/shared#pathway:tray-n2-east">`)
	loud, folded, found := strings.Cut(rest, "<h2>Folded under what their runs share</h2>")
	require.True(t, found)
	folded, quiet, found := strings.Cut(folded, "<h2>Quiet")
	require.True(t, found)
	require.NotContains(t, loud, ">N2-P1-17<")
	require.Contains(t, folded, ">N2-P1-17<")
	require.Contains(t, folded, `<a href="/shared#pathway:tray-n2-east">pathway North 2 east tray (tray-n2-east)</a>`)
	require.Contains(t, folded, `data-head="If that is not why">a pair is open, `)
	require.NotContains(t, folded, "Wire-map", "its own checks stand at its run")
	require.NotContains(t, quiet, ">N2-P1-17<")
}

// What is shared comes first, with its check; the fault's own causes and checks are
// folded away, and said to hold where it is not that.
func TestARunTellsWhatItShares(t *testing.T) {
	server := serve(t, source(sharing()))
	for _, at := range []string{"/runs/N2-P1-17", "/ports/acc-n2-1/1%2F17"} {
		_, page := get(t, server.URL+at)
		shared, own, found := strings.Cut(page, "<h2>Below design speed</h2>")
		require.True(t, found, at)
		for _, want := range []string{
			"<h2>In common with other runs at fault: pathway North 2 east tray (tray-n2-east)</h2>", "3 of the 6 runs", `<a href="/shared#pathway:tray-n2-east">`,
			walkTold, "Mind ladder", "Probability that this is why: 88 %",
		} {
			require.Contains(t, shared, want)
		}
		told, folded, found := strings.Cut(own, "<summary>If pathway North 2 east tray (tray-n2-east) is not why: a pair is open, ")
		require.True(t, found)
		require.NotContains(t, told, "Checks, in this order")
		folded, _, _ = strings.Cut(folded, "</section>")
		for _, want := range []string{"<h3>Likely causes</h3>", "open-pair", "Checks, in this order", "Wire-map the permanent link", "<h3>Cautions</h3>"} {
			require.Contains(t, folded, want)
		}
	}
	_, page := get(t, server.URL+"/runs/N2-P1-19")
	require.Contains(t, page, "In common with other runs at fault")
	_, page = get(t, server.URL+"/runs/N2-P1-20")
	require.NotContains(t, page, "In common with other runs")

	one := decode[object](t, server.URL+"/api/runs/N2-P1-17")
	require.Len(t, one["shared_causes"], 1)
	list := decode[[]object](t, server.URL+"/api/shared-causes?attribute=pathway")
	require.Len(t, list, 1)
	want := object{
		"attribute": "pathway", "value": "tray-n2-east", "members": 6.0, "probability": 0.875, "since": "2026-03-02T08:00:00Z",
		"faulty": []any{"N2-P1-17", "N2-P1-18", "N2-P1-19"}, "suspects": []any{"N2-P1-19"}, "severity": "critical",
		"also": []any{object{"attribute": "panel", "value": "N2-P1"}},
	}
	for key, want := range want {
		require.Equal(t, want, list[0][key], key)
	}
	require.Empty(t, decode[[]object](t, server.URL+"/api/shared-causes?attribute=panel"))
}

// A fault that another one of its run tells of is folded likewise, and its reason is
// said once.
func TestAPartOfAnotherFaultIsFolded(t *testing.T) {
	one := &fault.Fault{Kind: fault.LowLight, Causes: []fault.CauseProbability{{Cause: fault.DirtyConnector, Probability: 1}},
		Guards: []fault.Guard{{Name: fault.SameTrouble, Says: "It is told as part of another fault of this run: Damaged frames."}}}
	detail := clock{start}.details(&fault.Snapshot{}, []*fault.Fault{one}, nil)[0]
	require.Equal(t, &foldedLink{Title: "the other fault"}, detail.Folded)
	require.Empty(t, detail.Why)
	require.NotEmpty(t, detail.Reason)
	one.Guards, one.Planned = nil, true
	detail = clock{start}.details(&fault.Snapshot{}, []*fault.Fault{one}, nil)[0]
	require.Nil(t, detail.Folded)
	require.Equal(t, "planned work", detail.Why)
}
