package web

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/url"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
)

func decode[T any](t *testing.T, url string) T {
	answer, body := get(t, url)
	require.Equal(t, http.StatusOK, answer.StatusCode, body)
	var value T
	require.NoError(t, json.Unmarshal([]byte(body), &value), body)
	return value
}

type object = map[string]any

func find(list []object, key, value string) object {
	for _, o := range list {
		if o[key] == value {
			return o
		}
	}
	return nil
}

// The keys are the contract that scripts are written against.
func TestFaultsAreWhatTheTrackerFound(t *testing.T) {
	snapshot := scene()
	server := serve(t, source(snapshot))
	_, body := get(t, server.URL+"/api/faults")
	want, err := json.Marshal(snapshot.Faults)
	require.NoError(t, err)
	require.JSONEq(t, string(want), body)

	list := decode[[]object](t, server.URL+"/api/faults")
	require.Equal(t, "N2-P1-17", list[0]["run"], "the important run is worst")
	require.Equal(t, "critical", list[0]["severity"])
	require.Equal(t, false, list[len(list)-1]["alarm"], "what is quiet comes last")
	for _, f := range list {
		for _, key := range []string{"run", "switch", "port", "kind", "about", "severity", "since", "summary",
			"evidence", "causes", "checks", "cautions", "shared_cause", "planned", "quiet", "alarm"} {
			require.Contains(t, f, key)
		}
		_, err := time.Parse(time.RFC3339, f["since"].(string))
		require.NoError(t, err)
	}
	spare := find(list, "port", "1/23")
	require.Equal(t, "", spare["run"])
	require.Contains(t, spare["near"], "<script>alert(", "JSON holds what was written")
}

func TestFilters(t *testing.T) {
	server := serve(t, source(scene()))
	count := func(query string) int { return len(decode[[]object](t, server.URL+"/api/faults?"+query)) }
	rows := []struct {
		query string
		want  int
	}{
		{"", 5},
		{"run=N2-P1-17", 1}, {"run=N2-P1-19", 0}, {"run=" + url.QueryEscape(oddID), 1},
		{"run=N2-P1-17&run=N2-P1-18", 2}, {"run=N2-P1-17&kind=frame-errors", 0},
		{"kind=below-design-speed", 4}, {"kind=frame-errors", 1},
		{"severity=critical", 1}, {"severity=warning", 4}, {"severity=info", 0},
		{"space=N2-TR", 5}, {"space=S1-TR", 0},
		{"alarm=true", 4}, {"alarm=false", 1},
		{"run=", 1}, {"switch=acc-n2-1", 5},
	}
	for _, row := range rows {
		require.Equal(t, row.want, count(row.query), row.query)
	}
	_, body := get(t, server.URL+"/api/faults?run=N2-P1-19")
	require.Equal(t, "[]\n", body)
}

func TestWrongFiltersAreRefusedWithAHint(t *testing.T) {
	server := serve(t, source(scene()))
	for query, want := range map[string]string{
		"sevrity=critical": `unknown query parameter "sevrity"; known are run, kind, severity, switch, space, alarm; did you mean "severity"?`,
		"severity=warnin":  `unknown severity "warnin"; known are info, warning, critical; did you mean "warning"?`,
		"severity=":        `unknown severity ""; known are info, warning, critical`,
		"kind=frame_error": `unknown kind "frame_error"; known are below-design-speed, frame-errors, duplex-mismatch, link-flapping, no-link, low-light, high-light, excess-loss, power-fault; did you mean "frame-errors"?`,
		"alarm=yes":        `unknown alarm "yes"; known are true, false`,
		"space=N2":         `unknown space "N2"; known are N2-TR, S1-TR`,
		"run=N2-P1-117":    `unknown run "N2-P1-117"; did you mean "N2-P1-17"?`,
		"run=nowhere":      `unknown run "nowhere"`,
	} {
		answer, body := get(t, server.URL+"/api/faults?"+query)
		require.Equal(t, http.StatusBadRequest, answer.StatusCode, query)
		var refusal map[string]string
		require.NoError(t, json.Unmarshal([]byte(body), &refusal))
		require.Equal(t, map[string]string{"error": want}, refusal)
	}
}

func TestRunsInEveryState(t *testing.T) {
	server := serve(t, source(scene()))
	list := decode[[]object](t, server.URL+"/api/runs")
	rows := []struct{ id, state, verdict string }{
		{"N2-P1-17", "faulty", "Up at 100M instead of 1G"},
		{"N2-P1-18", "faulty", "116 of 1,740,116 frames that acc-n2-1 port 1/18 received"},
		{"N2-P1-19", "healthy", "No fault is open: acc-n2-1 port 1/19 is up at 1G as meant; 0 of 1,740,000 frames"},
		{"N2-P1-20", "quiet", "the far end has offered no more than 100M"},
		{"N2-P1-21", "idle", "acc-n2-1 port 1/21 has no link (down)"},
		{"S1-P1-1", "unknown", `switch "acc-s1-1" has not answered yet`},
		{"N2-BB-1", "unknown", "the switch does not count its damaged frames"},
		{"N2-P1-90", "unknown", `switch "acc-n2-1" shows no port "9/90"`},
		{"N2-P1-30", "unknown", "claimed by runs N2-P1-30"},
	}
	for _, row := range rows {
		r := find(list, "id", row.id)
		require.NotNil(t, r, row.id)
		require.Equal(t, row.state, r["state"], row.id)
		require.Contains(t, r["verdict"], row.verdict, row.id)
		one := decode[object](t, server.URL+"/api"+runURL(row.id))
		for _, judged := range []string{"expected", "findings", "acceptance", "readiness", "shared_causes", "taken", "told"} {
			require.NotContains(t, r, judged, "of one run alone")
			delete(one, judged)
		}
		require.Equal(t, r, one, "the list and the run agree")
	}
	require.Equal(t, []any{find(list, "id", "N2-P1-30")["conflicts"].([]any)[0]}, find(list, "id", "N2-P1-31")["conflicts"])
}

func TestAbsentIsNeverZeroOrNull(t *testing.T) {
	server := serve(t, source(scene()))
	for _, s := range []*httptest.Server{server, serve(t, source(gapped())), serve(t, source(nothing()))} {
		for _, path := range []string{"/api/faults", "/api/runs", "/api/switches", "/api/coverage", "/api/audit", "/api/audit?upgrade=next"} {
			_, body := get(t, s.URL+path)
			require.NotContains(t, body, "null", path)
			require.NotContains(t, body, "0001-01-01", path)
		}
	}
	bare := decode[object](t, server.URL+"/api/runs/N2-P1-30")
	for _, key := range []string{"length_m", "installed_on", "design_speed", "connectors", "test_margin_db"} {
		require.NotContains(t, bare, key)
	}
	uncounted := decode[RunVerdict](t, server.URL+"/api/runs/N2-BB-1").Ports.Near
	require.NotNil(t, uncounted.LastHour)
	require.Nil(t, uncounted.LastHour.Errored)
	require.Nil(t, uncounted.LastHour.FrameErrorRatio)
	require.NotContains(t, uncounted.Totals, "fcs_errors")

	_, page := get(t, server.URL+"/runs/N2-P1-30")
	require.Contains(t, page, `<th scope="row">Length of the permanent link</th><td class="missing">not recorded</td>`)
}

func TestNothingGivesEmptyLists(t *testing.T) {
	server := serve(t, source(nothing()))
	for _, path := range []string{"/api/faults", "/api/runs", "/api/switches"} {
		_, body := get(t, server.URL+path)
		require.Equal(t, "[]\n", body, path)
	}
	_, page := get(t, server.URL+"/")
	require.Contains(t, page, "0</b> of 0 runs healthy")
	require.Contains(t, page, "No switch polled yet")
}

// The ports' numbers are those of the fixture: 29 comparable polls of 60,000
// frames of 500 octets, 4 of them damaged each.
func TestPortNow(t *testing.T) {
	server := serve(t, source(scene()))
	p := decode[RunVerdict](t, server.URL+"/api/runs/N2-P1-18").Ports.Near
	require.True(t, p.Answering)
	require.Equal(t, "up", p.Link)
	require.Equal(t, int64(1_000_000_000), p.SpeedBitsPerSecond)
	require.Equal(t, "1000BASE-T", p.PHY)
	require.Equal(t, "full", p.Duplex)
	require.Equal(t, "ifName", p.JoinedBy)
	require.Equal(t, 29*60.0, p.LastHour.Seconds)
	require.Equal(t, uint64(29*60_004), p.LastHour.Frames)
	require.Equal(t, uint64(29*4), *p.LastHour.Errored)
	require.Equal(t, uint64(29*60_000), p.Totals["unicast_frames_in"])
	r := p.LastHour.FrameErrorRatio
	require.InDelta(t, 4.0/60_004, r.Estimate, 1e-9)
	require.Less(t, r.Low, r.Estimate)
	require.Less(t, r.Estimate, r.High)
}

func TestASilentSwitchWithdrawsWhatItSaid(t *testing.T) {
	server := serve(t, source(silenced()))
	r := decode[object](t, server.URL+"/api/runs/N2-P1-19")
	require.Equal(t, "unknown", r["state"])
	near := r["ports"].(object)["near"].(object)
	require.Equal(t, false, near["answering"])
	require.Equal(t, "ask 192.0.2.1:161: no answer within 2s", near["problem"])
	for _, key := range []string{"link", "admin", "speed_bits_per_second", "speed_meant_bits_per_second", "duplex", "phy", "last_hour"} {
		require.NotContains(t, near, key)
	}
	require.Contains(t, near, "last_reading")

	_, page := get(t, server.URL+"/")
	require.Contains(t, page, "<b>0</b> of 11 runs healthy")
	require.Contains(t, page, "<b>acc-n2-1</b>: ask 192.0.2.1:161: no answer within 2s; last answer")
	_, page = get(t, server.URL+"/runs/N2-P1-19")
	require.Contains(t, page, `<th scope="row">Link</th><td>not known</td>`)
	require.NotContains(t, page, "healthy")
}

func TestSwitchesAndCoverageWithDenominators(t *testing.T) {
	server := serve(t, source(scene()))
	list := decode[[]SwitchNow](t, server.URL+"/api/switches")
	require.Len(t, list, 3)
	require.Equal(t, 9, list[0].Ports)
	require.Equal(t, 7, list[0].PortsWithRun)
	require.InDelta(t, 11_800, *list[0].UptimeSeconds, 0)
	require.False(t, list[1].Answering)
	require.Nil(t, list[1].LastAnswer)
	require.False(t, list[2].Tried)

	c := decode[Coverage](t, server.URL+"/api/coverage")
	require.Equal(t, []int{3, 2, 1}, []int{c.Switches.Configured, c.Switches.Tried, c.Switches.Answering})
	require.Equal(t, "no-answer", c.Switches.Silent[0].Class)
	require.Equal(t, "not tried yet", c.Switches.Silent[1].Problem)
	require.Equal(t, []AbsentTable{{Switch: "acc-n2-1", Table: "dot3HCStatsTable", State: "hidden"}}, c.Switches.TablesAbsent)
	require.Equal(t, 9, c.Ports.Shown)
	require.Equal(t, 7, c.Ports.Joined)
	require.Equal(t, "1/23", c.Ports.Unjoined[0].Port)
	require.Equal(t, 11, c.Runs.Recorded)
	require.Equal(t, 7, c.Runs.Joined)
	require.Equal(t, map[fault.State]int{"faulty": 3, "healthy": 1, "quiet": 1, "idle": 1, "unknown": 5, "planned": 0}, c.Runs.States)
	require.Equal(t, []string{"N2-P1-30", "N2-P1-31"}, c.Conflicts[0].Runs)
	require.Equal(t, []Place{{"acc-n2-1", "1/24"}}, c.Conflicts[0].Ports)
	require.Equal(t, []InventoryError{{"runs.csv", 14, "run", "N2-P1-40", `length_m "6o" is not a number`}}, c.Problems)
}

// A record's keys in JSON are those of the inventory.
func TestRecordHasTheKeysOfTheInventory(t *testing.T) {
	want := strings.Fields(`id switch port far_switch far_port cable length_m segments near_cord_m far_cord_m cord_awg
		near_cord_cable far_cord_cable panel position far_panel far_position outlet pathways bundle installer batch
		installed_on tested_on test_result test_margin_db warranty_until design_speed device device_speed passes_through
		connectors splices strands polarity expected_loss_db optic far_optic owner importance always_on status notes`)
	var got []string
	for field := range fieldsOf(reflect.TypeFor[Record]()) {
		got = append(got, field)
	}
	require.ElementsMatch(t, append(want, "file", "line"), got)
}

func fieldsOf(of reflect.Type) map[string]bool {
	out := map[string]bool{}
	for i := range of.NumField() {
		name, _, _ := strings.Cut(of.Field(i).Tag.Get("json"), ",")
		out[name] = true
	}
	return out
}
