package web

import (
	"errors"
	"fmt"
	"html"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// The wall lists what people are told of, worst first; look-alikes stand
// apart, with the reason why nobody is told.
func TestWall(t *testing.T) {
	server := serve(t, source(scene()))
	_, page := get(t, server.URL+"/")
	loud, quiet, found := strings.Cut(page, "<h2>Quiet: not told by themselves</h2>")
	require.True(t, found)
	require.Contains(t, page, "<title>4 open faults – ")

	labels := func(part string) (out []string) {
		for _, m := range regexp.MustCompile(`<a class="label"[^>]*>([^<]*)<`).FindAllStringSubmatch(part, -1) {
			out = append(out, m[1])
		}
		return out
	}
	require.Equal(t, "N2-P1-17", labels(loud)[0])
	require.ElementsMatch(t, []string{"N2-P1-17", "N2/P1 #9?&amp;%2F&lt;b&gt;é", "acc-n2-1 1/23", "N2-P1-18"}, labels(loud))
	require.NotContains(t, loud, "nobody is told")
	require.Equal(t, []string{"N2-P1-20"}, labels(quiet))
	require.Contains(t, quiet, "nobody is told</span>")
	require.Contains(t, quiet, "<p>the device at the other end can go no faster</p>")

	for _, want := range []string{
		"●●●</span> critical", "acc-n2-1 port 1/17, panel N2-P1 position 1/17", "to outlet 214-A",
		`<time datetime="2026-03-02T08:01:00Z">2026-03-02 09:01:00 FQT</time> <span class="age">30 min</span>`,
		"a pair is open, ", "Wire-map the permanent link", "no run recorded",
		"✕</span> <b>3</b> of 11 runs faulty", "?</span> <b>5</b> of 11 runs unknown", "✓</span> <b>1</b> of 11 runs healthy",
		"<b>1</b> of 3 switches answering", "<b>2</b> of 9 ports without a run",
		"not yet tried are acc-b1-1", "<b>acc-s1-1</b>: ask 192.0.2.2:161: no answer within 2s; it never answered",
	} {
		require.Contains(t, loud, want)
	}
	require.Contains(t, quiet, "1 contradiction between record and switches, 1 error in its files")
}

func TestRunPage(t *testing.T) {
	server := serve(t, source(scene()))
	_, page := get(t, server.URL+"/runs/N2-P1-18")
	for _, want := range []string{
		"✕</span> faulty", "Damaged frames", "<h3>Evidence</h3>", "a bad cord", "bad-cord", "Checks, in this order", "Cautions",
		"<td>1G as meant</td>", "<td>1,740,116 in 29 minutes</td>", "<td>116: 1 in 15,001 (95 %: ", "<td class=\"number\">116</td>",
		"horizontal-6a: copper, category 6A, U/UTP, 23 AWG", "<td>62 m</td>", "N2-P1, position 1/18, in N2-TR (North 2 telecom room)",
		"tray-n2-east (North 2 east tray, near lift motor, 35 °C)", "<td>runs.csv:7</td>", "A receiver counts its own errors",
	} {
		require.Contains(t, page, want)
	}
	require.NotContains(t, page, "Polarity", "only fibre has it")
	require.NotContains(t, page, "repairs confirmed")
	_, page = get(t, server.URL+"/runs/N2-BB-1")
	require.Contains(t, page, "Polarity")
	_, page = get(t, server.URL+"/runs/N2-P1-31")
	require.Contains(t, page, "Contradiction: acc-n2-1 port 1/24: claimed by runs")
}

// Four checks are shown at once, with what they take and find; then the rest, numbered on.
func TestRunPageTellsWhatChecksTake(t *testing.T) {
	s := scene()
	server := serve(t, source(s))
	checks := s.FaultsOf("N2-P1-18")[0].NextChecks
	require.Greater(t, len(checks), 4)
	_, page := get(t, server.URL+"/runs/N2-P1-18")
	for _, c := range checks {
		require.Contains(t, page, fmt.Sprintf("<p>%s</p><p class=\"soft\">%s</p><p class=\"soft\">%s</p>",
			html.EscapeString(c.Check), html.EscapeString(c.Takes()), html.EscapeString(c.WouldFind())))
	}
	require.Contains(t, page, fmt.Sprintf("<summary>Where these find nothing: %d more</summary>\n<ol class=\"checks\" start=\"5\">", len(checks)-4))
	r := decode[RunVerdict](t, server.URL+"/api/runs/N2-P1-18")
	require.Equal(t, checks, r.Faults[0].NextChecks)
	require.Equal(t, "copper", r.Faults[0].Medium)
}

func TestRunPageTellsOfRepairs(t *testing.T) {
	s := scene()
	f := s.FaultsOf("N2-P1-18")[0]
	f.Experience = &fault.Experience{Medium: "copper", Repairs: 14, Causes: []fault.CauseExperience{{Cause: f.Cause(), Usual: 0.1, Repaired: 9}}}
	_, page := get(t, serve(t, source(s)).URL+"/runs/N2-P1-18")
	require.Contains(t, page, "<td>10 %</td><td>9</td>")
	require.Contains(t, page, "Of 14 repairs confirmed here on copper, so many were each cause&#39;s")
}

// A fault known from before the silence is not told as if it were of now.
func TestAFaultOfASilentSwitchIsLastKnown(t *testing.T) {
	server := serve(t, source(silenced()))
	r := decode[RunVerdict](t, server.URL+"/api/runs/N2-P1-17")
	require.Equal(t, "Not known: acc-n2-1 does not answer (ask 192.0.2.1:161: no answer within 2s). Last known: "+r.Faults[0].Summary, r.Verdict)
	_, page := get(t, server.URL+"/runs/N2-P1-17")
	require.Contains(t, page, "Not known: acc-n2-1 does not answer")
	require.Contains(t, page, "Last known: its switch does not answer")
	_, page = get(t, server.URL+"/")
	require.Equal(t, 5, strings.Count(page, "Last known: its switch does not answer"))
	_, page = get(t, serve(t, source(scene())).URL+"/")
	require.NotContains(t, page, "Last known")
}

// Somebody who looks at the wall alone learns that a changed inventory is not in
// use.
func TestTheWallTellsThatFilesAreNotUsed(t *testing.T) {
	src := source(scene())
	_, page := get(t, serve(t, src).URL+"/")
	require.NotContains(t, page, "not used")
	src.Inventory = func() InventoryState { return InventoryState{Refused: "runs.csv:66: has 19 cells"} }
	_, page = get(t, serve(t, src).URL+"/")
	notice := strings.Index(page, `<a href="/coverage#inventory">not used</a>: runs.csv:66: has 19 cells.`)
	require.Positive(t, notice)
	require.Less(t, notice, strings.Index(page, "<table"), "above all faults, where it is seen")
}

// Without a site's name the way to the wall is called what is found there.
func TestTheWayToTheWall(t *testing.T) {
	_, page := get(t, serve(t, source(nothing())).URL+"/coverage")
	require.Contains(t, page, `<a href="/">Open faults</a>`)
}

func TestTowardsTheFarEnd(t *testing.T) {
	_, nowhere := (&plant.Run{}).Ends()
	for far, want := range map[string]string{"": "", "outlet 214-A": "to outlet 214-A", nowhere: "far end not recorded"} {
		require.Equal(t, want, faultRow{Fault: &fault.Fault{Far: far}}.Towards())
	}
}

// What an error advises stands at its end, which is told too.
func TestWhySwitchesAreSilentIsToldToItsEnd(t *testing.T) {
	tracker, s := played()
	const why = "poll switch acc-s1-1 at 192.0.2.2:161 for its uptime and name: no answer to 3 requests within 2s each: " +
		"is the address right, is the community (a wrong one gets silence) allowed from here, is there a filter between: i/o timeout"
	for range 3 {
		s = tracker.Failed("acc-s1-1", s.At, "no answer", errors.New(why))
	}
	server := serve(t, source(s))
	for _, path := range []string{"/", "/coverage"} {
		_, page := get(t, server.URL+path)
		require.Contains(t, page, why, path)
	}
}

// A run's page names the switch to look at first, not the error of a switch
// that is hidden by it.
func TestARunBehindASilentSwitch(t *testing.T) {
	s := silenced()
	sw, _ := s.Switch("acc-n2-1")
	sw.Behind = "dist-n"
	server := serve(t, source(s))
	r := decode[RunVerdict](t, server.URL+"/api/runs/N2-P1-19")
	require.Equal(t, "Not known: acc-n2-1 is hidden behind dist-n, which does not answer.", r.Verdict)
	require.Equal(t, "dist-n", r.Ports.Near.Behind)
}

// A run that nobody is told of says why, and by which guard; so does the port.
func TestAPageTellsItsGuards(t *testing.T) {
	server := serve(t, source(scene()))
	_, page := get(t, server.URL+"/runs/N2-P1-20")
	require.Contains(t, page, "<h3>Why nobody is told</h3>")
	require.Contains(t, page, `<li>The far end has offered no more than 100M. <span class="code">far-end-limit</span></li>`)
	require.Contains(t, page, `<th scope="row">Held back</th><td>The far end has offered no more than 100M.</td>`)
	_, page = get(t, server.URL+"/runs/N2-P1-18")
	require.NotContains(t, page, "Held back")
	require.NotContains(t, page, "nobody is told")
}
