package web

import (
	"encoding/json"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/standards"
)

func TestAuditFilters(t *testing.T) {
	server := serve(t, source(scene()))
	all := decode[AuditReport](t, server.URL+"/api/audit")
	require.Equal(t, 11, all.Runs)
	require.NotNil(t, all.At)
	require.Nil(t, all.Readiness, "only where it is asked for")
	count := func(match func(plant.Finding) bool) (n int) {
		for _, f := range all.Findings {
			if match(f) {
				n++
			}
		}
		return n
	}
	rows := []struct {
		query string
		match func(plant.Finding) bool
	}{
		{"run=N2-P1-30", func(f plant.Finding) bool { return f.Run == "N2-P1-30" }},
		{"run=", func(f plant.Finding) bool { return f.Run == "" }},
		{"rule=port-conflict", func(f plant.Finding) bool { return f.Rule == plant.PortConflict }},
		{"endangers=record", func(f plant.Finding) bool { return f.Endangers == plant.Records }},
		{"endangers=record&endangers=margin", func(f plant.Finding) bool { return f.Endangers == plant.Records || f.Endangers == plant.Margin }},
		{"space=N2-TR", func(f plant.Finding) bool { return f.Space == "N2-TR" }},
		{"space=N2-TR&rule=row-unread", func(plant.Finding) bool { return false }},
		{"space=", func(f plant.Finding) bool { return f.Space == "" }},
		{"run=" + url.QueryEscape(oddID), func(f plant.Finding) bool { return f.Run == oddID }},
	}
	for _, row := range rows {
		got := decode[AuditReport](t, server.URL+"/api/audit?"+row.query)
		require.Len(t, got.Findings, count(row.match), row.query)
		if strings.HasPrefix(row.query, "space") {
			require.Len(t, got.Spaces, 1, row.query)
			require.Equal(t, got.Spaces[0].Runs, got.Runs, row.query)
			continue
		}
		require.Equal(t, []int{all.Runs, all.Clean}, []int{got.Runs, got.Clean}, row.query)
	}
	require.Len(t, decode[AuditReport](t, server.URL+"/api/audit").Findings, len(all.Findings), "a filter cuts no other's answer")
}

func TestWrongAuditFiltersAreRefused(t *testing.T) {
	server := serve(t, source(scene()))
	for query, want := range map[string]string{
		"sapce=N2-TR":    `unknown query parameter "sapce"; known are run, endangers, rule, space, upgrade; did you mean "space"?`,
		"endangers=lnik": `unknown endangers "lnik"; known are equipment, link, margin, record, growth; did you mean "link"?`,
		"space=N2-TS":    `did you mean "N2-TR"?`,
		"rule=no-such":   `unknown rule "no-such"`,
		"upgrade=11G":    `unknown upgrade "11G"; known are next, 10M, 100M, 1G, 2.5G, 5G, 10G, 25G, 40G, 100G`,
		"run=N2-P1-117":  `did you mean "N2-P1-17"?`,
	} {
		answer, body := get(t, server.URL+"/api/audit?"+query)
		require.Equal(t, http.StatusBadRequest, answer.StatusCode, query)
		var refusal map[string]string
		require.NoError(t, json.Unmarshal([]byte(body), &refusal))
		require.Contains(t, refusal["error"], want)
	}
}

// The files' lost rows and what contradicts a join are findings; an end whose
// switch is silent, or whose port the record leaves open, is none.
func TestAuditTakesFilesAndJoins(t *testing.T) {
	report := decode[AuditReport](t, serve(t, source(scene())).URL+"/api/audit")
	byRule := map[plant.Rule][]string{}
	for _, f := range report.Findings {
		byRule[f.Rule] = append(byRule[f.Rule], f.Run)
		require.NotContains(t, f.File, "/", "no folder is told")
	}
	require.Equal(t, []string{"N2-P1-40"}, byRule[plant.RowUnread])
	require.ElementsMatch(t, []string{"N2-P1-30", "N2-P1-31"}, byRule[plant.PortConflict])
	require.Equal(t, []string{"N2-P1-90"}, byRule[plant.PortUnknown])
}

// An audit holds for 30 s of the snapshots' time, and a new inventory ends it.
func TestManyWhoAskCostOneAudit(t *testing.T) {
	current := *scene()
	loaded := start
	a := &auditor{inventory: func() InventoryState { return InventoryState{Loaded: loaded} }}
	first := a.of(&current)
	later := current
	later.At = current.At.Add(29 * time.Second)
	require.Same(t, first, a.of(&later))
	later.At = current.At.Add(30 * time.Second)
	second := a.of(&later)
	require.NotSame(t, first, second)
	require.Equal(t, later.At, *second.report.At)
	loaded = loaded.Add(time.Minute)
	third := a.of(&later)
	require.NotSame(t, second, third, "the files were read anew")
	other := later
	other.Plant = college()
	require.NotSame(t, third, a.of(&other))

	one, err := third.readyFor(NextSpeed)
	require.NoError(t, err)
	again, err := third.readyFor(NextSpeed)
	require.NoError(t, err)
	require.Same(t, &one[0], &again[0], "worked out once")
	_, err = third.readyFor("11G")
	require.EqualError(t, err, `speed "11G" is none of 10M 100M 1G 2.5G 5G 10G 25G 40G 100G, or next`)
}

// What a switch shows goes into the audit while it answers, and no longer.
func TestSeen(t *testing.T) {
	seen := seenRuns(scene())
	require.Equal(t, plant.SeenEnd{Fastest: seen["N2-P1-19"].Near.Fastest, Speed: standards.Gbps, PHY: "1000BASE-T"}, seen["N2-P1-19"].Near)
	require.Empty(t, seen["N2-P1-19"].Errors)
	require.Contains(t, seen["N2-P1-18"].Errors, "116 of 1,740,116 frames")
	require.Zero(t, seen["N2-P1-21"].Near.Speed, "it has no link")
	require.NotContains(t, seen, "S1-P1-1")
	require.Empty(t, seenRuns(silenced()))
}

// A single damaged frame is within the BER objective of 1000BASE-T, 1e-10
// (IEEE 802.3 clause 40.1, memory), as far as a short time can tell; a ratio
// above it by its lower bound is not.
func TestAFewDamagedFramesAreNoSign(t *testing.T) {
	p := &fault.Port{PHY: "1000BASE-T", Speed: standards.Gbps}
	p.Hour = fault.Hour{Seconds: 3600}
	require.False(t, tooManyErrors(p, standards.Copper), "nothing is counted")
	for _, row := range []struct {
		errored uint64
		bits    float64
		want    bool
	}{{0, 1e12, false}, {1, 1e12, false}, {1, 1e9, false}, {100, 1e10, true}} {
		p.Hour.Frames, p.Hour.Errored, p.Hour.Bits = 1_000_000, row.errored, row.bits
		p.Hour.Judged.Frames, p.Hour.Judged.Bits, p.Hour.Judged.Seconds = 1_000_000, row.bits, 3600
		require.Equal(t, row.want, tooManyErrors(p, standards.Copper), row)
	}
}

func TestAuditPage(t *testing.T) {
	server := serve(t, source(scene()))
	_, page := get(t, server.URL+"/audit")
	for _, want := range []string{
		`<a href="/audit">Audit</a>`, `<h2>The record: `, `<a class="label" href="/runs/N2-P1-30">N2-P1-30</a>`,
		`<caption>Runs and findings by the space of the near panel</caption>`, `<a href="/audit?space=N2-TR">N2-TR</a>`,
		`<a href="/audit?space=">not recorded</a>`, `<caption>Runs by their next speed</caption>`, "by the record yes, test needed",
	} {
		require.Contains(t, page, want)
	}
	require.NotContains(t, page, `href="/runs/N2-P1-40"`, "a lost row has no page")
	foreign := source(scene())
	foreign.Inventory = func() InventoryState {
		return InventoryState{Problems: []plant.Problem{{File: nasty, Line: 3, Kind: "run", ID: nasty, Text: nasty}}}
	}
	_, page = get(t, serve(t, foreign).URL+"/audit")
	require.NotContains(t, page, nasty)
	require.Contains(t, page, "&lt;script&gt;alert(")
	_, page = get(t, serve(t, source(nothing())).URL+"/audit")
	require.Contains(t, page, "No run is recorded, so there is nothing to judge.")
	require.NotContains(t, page, "By space")
}

// The page stays readable however much is found, and says how to get all.
func TestAuditOfABigPlantStaysSmall(t *testing.T) {
	server := serve(t, source(bigScene()))
	began := time.Now()
	_, page := get(t, server.URL+"/audit")
	require.Less(t, len(page), 600_000)
	require.Contains(t, page, `and 63,901 more. <a href="/api/audit">/api/audit</a> gives all, as does <code>toneout audit -config FILE -csv</code>`)
	t.Logf("%d runs: %v the first time, %d bytes", len(bigScene().Plant.Runs), time.Since(began), len(page))
}

// workshop is an inventory with a test of a split pair, a fibre run whose
// optics overload, and a run of which nothing is recorded.
const workshop = `
spaces: [{id: W1-TR}]
panels: [{id: W1-P1, space: W1-TR, positions: 48}]
cables:
  - {id: "c6a", media: copper, category: "6A", shield: U/UTP, awg: 23}
  - {id: os2, media: fibre, fibre: OS2}
tests_files: [tests.csv]
runs:
  - {id: W1-P1-01, cable: c6a, length_m: 40, near_cord_m: 2, far_cord_m: 3, near_cord_cable: c6a, far_cord_cable: c6a, connectors: 2, panel: W1-P1, position: 1, design_speed: 1G}
  - {id: W1-F1-01, cable: os2, length_m: 300, connectors: 2, splices: 0, strands: "2", optic: 10GBASE-ER, far_optic: 10GBASE-ER, design_speed: 10G}
  - {id: W1-P1-99, panel: W1-P1, position: 9}
`

const workshopTests = `run,tested_on,tester,class,parameter,pairs,frequency_mhz,value_db,value,unit
W1-P1-01,2019-06-03,<b>tester</b>,EA,NEXT,12-36,100,30,,
W1-P1-01,2019-06-03,<b>tester</b>,EA,wire map,,,,1-1 2-2 3-3 6-6 4-4 5-5 7-x 8-8,
`

func workshopScene(t *testing.T) *fault.Snapshot {
	directory := t.TempDir()
	for name, text := range map[string]string{"plant.yml": workshop, "tests.csv": workshopTests} {
		require.NoError(t, os.WriteFile(filepath.Join(directory, name), []byte(text), 0o600))
	}
	rows, problems, err := plant.Load(filepath.Join(directory, "plant.yml"))
	require.NoError(t, err)
	require.Empty(t, problems)
	return fault.NewTracker(rows, fault.Settings{PollEvery: time.Minute, FalseAlarmsPerWeek: 1}).Snapshot()
}

// NEXT of a permanent link of Class EA is at least 41.8 dB at 100 MHz
// (ISO/IEC 11801-1), so 30 dB fails by 11.8 dB.
func TestOneRunIsJudged(t *testing.T) {
	server := serve(t, source(workshopScene(t)))
	r := decode[RunDetail](t, server.URL+"/api/runs/W1-P1-01")
	require.Equal(t, "copper", r.Expected.Medium)
	require.Equal(t, "6A", r.Expected.Channel.Category)
	require.Equal(t, 45.0, *r.Expected.Channel.LengthM)
	require.Nil(t, r.Expected.Path)
	require.Len(t, r.Expected.Speeds, len(standards.Speeds()))
	at := slices.IndexFunc(r.Expected.Speeds, func(s SpeedVerdict) bool { return s.Speed == "10G" })
	require.Equal(t, "allowed", r.Expected.Speeds[at].Verdict)
	require.Equal(t, "10GBASE-T", r.Expected.Speeds[at].PHY)
	require.NotEmpty(t, r.Expected.Speeds[at].Source)
	require.Equal(t, "fail", r.Acceptance.Result)
	require.Equal(t, "NEXT", r.Acceptance.Worst.Parameter)
	require.InDelta(t, -11.8, *r.Acceptance.Worst.Margin, 0.1)
	require.False(t, r.Acceptance.WireMap.Right)
	require.Equal(t, Conductor{Pin: "7", Expected: "7"}, r.Acceptance.WireMap.Conductors[6], "open is no pin")
	require.Equal(t, "2.5G", r.Readiness.Speed)
	require.Equal(t, "no", r.Readiness.Answer, "its test failed")
	require.True(t, slices.ContainsFunc(r.Findings, func(f plant.Finding) bool { return f.Rule == plant.WireMapFault }))

	fibre := decode[RunDetail](t, server.URL+"/api/runs/W1-F1-01")
	require.Nil(t, fibre.Expected.Channel)
	require.Equal(t, "OS2", fibre.Expected.Path.Parts[0].Fibre)
	require.NotNil(t, fibre.Expected.Light.Near.PadDB)
	require.Less(t, *fibre.Expected.Light.Near.TakesMostDBm, *fibre.Expected.Light.Near.MostDBm)
	require.Nil(t, fibre.Acceptance)

	for _, id := range []string{"W1-P1-01", "W1-F1-01", "W1-P1-99"} {
		_, body := get(t, server.URL+"/api/runs/"+id)
		require.NotContains(t, body, "null", id)
		require.NotContains(t, body, "0001-01-01", id)
	}
	bare := decode[object](t, server.URL+"/api/runs/W1-P1-99")
	require.NotContains(t, bare, "acceptance")
	for _, key := range []string{"medium", "channel", "path", "light", "loss", "ambient_c"} {
		require.NotContains(t, bare["expected"], key)
	}
}

func TestOneRunsPageTellsIt(t *testing.T) {
	server := serve(t, source(workshopScene(t)))
	_, page := get(t, server.URL+"/runs/W1-P1-01")
	for _, want := range []string{
		"<h2>What the record breaks</h2>", "<h2>What it may carry</h2>", "<h2>Acceptance test</h2>",
		"<caption>Each speed by the record and the standards</caption>", "<caption>Wire map</caption>",
		`<span class="fits"><span aria-hidden="true">✓</span> allowed</span>`, `<span class="broken"><span aria-hidden="true">✗</span> open</span>`,
		"<h3>Ready for 2.5G?</h3>", "&lt;b&gt;tester&lt;/b&gt;",
	} {
		require.Contains(t, page, want)
	}
	require.NotContains(t, page, "<b>tester</b>")
	_, page = get(t, server.URL+"/runs/W1-F1-01")
	require.Contains(t, page, "<caption>The light that each end ought to receive, in dBm</caption>")
	_, page = get(t, server.URL+"/runs/W1-P1-99")
	require.Contains(t, page, "No measured value of this run is recorded.")
	require.Contains(t, page, `<span class="unjudged"><span aria-hidden="true">?</span> not judged</span>`)
}

// Every verdict and result has a word and a mark of its own (WCAG 2.2, 1.4.1).
func TestVerdictsHaveMarks(t *testing.T) {
	seen := map[string]bool{}
	for v := standards.NotJudged; v <= standards.NotAllowed; v++ {
		m := verdictMarks[v.String()]
		require.NotEmpty(t, m.mark, v)
		require.False(t, seen[m.mark], v)
		seen[m.mark] = true
	}
	for _, r := range []plant.TestResult{plant.Pass, plant.PassMarginal, plant.FailMarginal, plant.Fail, ""} {
		require.NotEmpty(t, resultMarks[string(r)].mark, r)
	}
}
