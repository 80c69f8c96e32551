package fault

import (
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
)

func TestFrameErrorsOnTheirRun(t *testing.T) {
	l, clean := gigabitLink("1/17"), gigabitLink("1/18")
	clean.index = 10102
	s := newScene(t, []*plant.Run{horizontal("N2-P1-17", "1/17"), horizontal("N2-P1-18", "1/18")}, l, clean)
	require.Empty(t, s.polls(20).Faults)
	l.errored = 12 // of 60,000 frames
	first := s.now.Add(every)
	f := only(t, s.polls(10))
	require.Equal(t, "N2-P1-17", f.Run)
	require.Equal(t, FrameErrors, f.Kind)
	require.Equal(t, first, f.Since)
	require.Equal(t, Warning, f.Severity)
	require.Contains(t, f.Summary, "frames that sw-1 port 1/17 received in the last")
	require.Contains(t, f.Summary, "damaged: 1 in")
	require.Contains(t, f.Evidence[0], "sw-1 port 1/17 counted them")
	require.Contains(t, f.Evidence[1], "1000BASE-T is allowed 1 errored bit in 10^10")

	p, _ := s.tracker.Snapshot().Switches[0].Port("1/17")
	r, ok := p.FrameErrorRatio()
	require.True(t, ok)
	require.Less(t, r.Low, r.Estimate)
	require.Less(t, r.Estimate, r.High)

	l.errored = 0
	require.Len(t, s.polls(3).Faults, 1)
	require.Empty(t, s.polls(500).Faults)
}

func TestSeverity(t *testing.T) {
	run := func(i plant.Importance) *plant.Run {
		r := horizontal("R", "1/17")
		r.Importance = i
		return r
	}
	rows := []struct {
		name       string
		importance plant.Importance
		errored    float64
		want       Severity
	}{
		{"normal", plant.Normal, 12, Warning},
		{"high", plant.High, 12, Critical},
		{"low", plant.Low, 12, Info},
		{"1 in 300 lost", plant.Normal, 200, Critical},
		{"1 in 300 lost, low", plant.Low, 200, Warning},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			l := gigabitLink("1/17")
			l.errored = row.errored
			require.Equal(t, row.want, only(t, newScene(t, []*plant.Run{run(row.importance)}, l).polls(20)).Severity)
		})
	}
}

func TestNothingIsRaisedByWhatDoesNotCompare(t *testing.T) {
	rows := []struct {
		name   string
		change func(*scene, *link)
	}{
		{"the agent restarts with counters high", func(s *scene, l *link) { s.uptime = 0; l.bad = 1_000_000 }},
		{"the port is renumbered", func(s *scene, l *link) { l.index = 4; l.bad = 1_000_000 }},
		{"the counters are cleared", func(s *scene, l *link) { l.bad, l.good, l.octets = 0, 0, 0 }},
		{"our clock is set forward by an hour", func(s *scene, l *link) { s.now = s.now.Add(time.Hour); l.bad = 1_000_000 }},
		{"our clock is set back by an hour", func(s *scene, l *link) { s.now = s.now.Add(-time.Hour); l.bad = 1_000_000 }},
		{"a plug is pulled and put back", func(s *scene, l *link) { l.lastChange = s.uptime + 3000; l.bad += 500 }},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			l := gigabitLink("1/17")
			l.bad, l.good, l.octets = 3, 5000, 1<<40
			s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
			s.polls(5)
			row.change(s, l)
			require.Empty(t, s.polls(10).Faults)
			require.Equal(t, Healthy, s.state("R"))
		})
	}
}

func TestUnknownIsNeverHealthy(t *testing.T) {
	l := gigabitLink("1/17")
	idle := gigabitLink("1/18")
	idle.index, idle.oper = 10102, port.Down
	runs := []*plant.Run{
		horizontal("R", "1/17"), horizontal("DOWN", "1/18"), horizontal("NOWHERE", "1/99"),
		{ID: "OTHER", Switch: "sw-9", Port: "1"},
	}
	s := newScene(t, runs, l, idle)
	require.Equal(t, Unknown, s.state("R"), "before the first answer")
	s.polls(3)
	require.Equal(t, Healthy, s.state("R"))
	require.Equal(t, Idle, s.state("DOWN"))
	require.Equal(t, Unknown, s.state("NOWHERE"))
	require.Equal(t, Unknown, s.state("OTHER"))

	for range 2 {
		s.fail()
		require.Equal(t, Healthy, s.state("R"), "a missed poll or two is no silence")
	}
	s.fail()
	require.Equal(t, Unknown, s.state("R"))
	sw := s.tracker.Snapshot().Switches[0]
	require.False(t, sw.Answering())
	require.Equal(t, "no answer", sw.Problem)
	require.Equal(t, "no-answer", sw.Class)
	s.polls(1)
	require.Equal(t, Healthy, s.state("R"))
}

func TestASilentSwitchKeepsItsFaults(t *testing.T) {
	l := gigabitLink("1/17")
	l.fellBack()
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	since := only(t, s.polls(4)).Since
	for range 5 {
		s.fail()
	}
	require.Equal(t, since, only(t, s.tracker.Snapshot()).Since)
	require.Equal(t, since, only(t, s.polls(1)).Since)
}

func TestAPortThatGoesAwayTakesItsFaultWithIt(t *testing.T) {
	l, stays := gigabitLink("1/17"), gigabitLink("1/18")
	stays.index = 10102
	l.fellBack()
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l, stays)
	require.Len(t, s.polls(4).Faults, 1)
	s.links = []*link{stays}
	require.Len(t, s.polls(2).Faults, 1)
	snap := s.polls(1)
	require.Empty(t, snap.Faults)
	require.Len(t, snap.Switches[0].Ports, 1)
	require.Equal(t, Unknown, s.state("R"))
}

func TestARunWithTwoSwitchPortsHasOneFaultOfAKind(t *testing.T) {
	a, b := gigabitLink("1/1"), gigabitLink("1/2") // both ends on one switch for brevity
	b.index = 10102
	a.fellBack()
	b.fellBack()
	run := horizontal("UPLINK", "1/1")
	run.FarSwitch, run.FarPort, run.Outlet = "sw-1", "1/2", ""
	f := only(t, newScene(t, []*plant.Run{run}, a, b).polls(5))
	require.Equal(t, "1/1", f.Port, "the near end")
	require.Equal(t, "sw-1 port 1/2", f.Far)
	require.Equal(t, 2, strings.Count(strings.Join(f.Evidence, " "), "came up at 100M"), "both ends speak")
}

func TestErrorsAtTheFarEndArePlacedOnTheRun(t *testing.T) {
	a, b := gigabitLink("1/1"), gigabitLink("1/2")
	b.index, b.errored = 10102, 40
	run := horizontal("UPLINK", "1/1")
	run.FarSwitch, run.FarPort, run.Outlet = "sw-1", "1/2", ""
	f := only(t, newScene(t, []*plant.Run{run}, a, b).polls(10))
	require.Equal(t, "UPLINK", f.Run)
	require.Equal(t, "1/1", f.Port, "the near end names the run")
	require.Contains(t, f.Evidence[0], "sw-1 port 1/2 counted them")
}

func TestFaultsAreWorstFirst(t *testing.T) {
	at := func(minute int) time.Time { return start.Add(time.Duration(minute) * time.Minute) }
	sorted := []Fault{
		{Run: "a", Alarm: true, Severity: Critical, Since: at(5)},
		{Run: "b", Alarm: true, Severity: Warning, Since: at(1)},
		{Run: "c", Alarm: true, Severity: Warning, Since: at(2)},
		{Run: "d", Alarm: false, Severity: Critical, Since: at(0)},
	}
	for i := range sorted {
		for j := range sorted {
			got := worstFirst(&sorted[i], &sorted[j])
			require.Equal(t, compareInts(i, j), got)
		}
	}
}

func compareInts(i, j int) int {
	switch {
	case i < j:
		return -1
	case i > j:
		return 1
	}
	return 0
}

func TestEveryCauseThatCanBeNamedHasItsWords(t *testing.T) {
	for _, w := range slices.Concat(slices.Collect(maps.Values(copperPriors)), slices.Collect(maps.Values(fibrePriors))) {
		for cause := range w {
			require.Contains(t, words, cause)
		}
	}
	for cause, w := range words {
		require.NotEmpty(t, w.title, cause)
		require.NotEmpty(t, w.about, cause)
	}
}

func TestProbabilitiesSumToOne(t *testing.T) {
	for _, w := range []weights{copperFellBack.weights(), fibreErrors.weights(), guarded(SpeedSetting, fibreSlow.weights()), guarded(FarEndLimit, copperTrained.weights())} {
		sum := 0.0
		ranked := w.ranked()
		for _, c := range ranked {
			sum += c.Probability
		}
		require.InDelta(t, 1, sum, 1e-9)
	}
	require.InDelta(t, 0.9, guarded(FarEndLimit, copperTrained.weights()).ranked()[0].Probability, 1e-9)
}
