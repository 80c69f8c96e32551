package fault

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A fault that was open when work began, and as severe, is worse at its end where its link
// is slower or surely damages more frames.
func TestAFaultThatGotWorse(t *testing.T) {
	for name, row := range map[string]struct {
		before, meanwhile func(slow, errored *link)
		worse             []string
		restart           bool
	}{
		"slower":                         {func(l, _ *link) { l.fellBack() }, func(l, _ *link) { l.mbps, l.mau = 10, 11 }, []string{"A"}, false},
		"slower, over a restart":         {func(l, _ *link) { l.fellBack() }, func(l, _ *link) { l.mbps, l.mau = 10, 11 }, []string{"A"}, true},
		"as slow":                        {func(l, _ *link) { l.fellBack() }, func(_, _ *link) {}, nil, false},
		"a hundred times the damage":     {func(_, l *link) { l.errored = 300 }, func(_, l *link) { l.errored = 30_000 }, []string{"B"}, false},
		"as much damage":                 {func(_, l *link) { l.errored = 300 }, func(_, _ *link) {}, nil, false},
		"less damage, and no slower one": {func(l, m *link) { l.fellBack(); m.errored = 300 }, func(_, m *link) { m.errored = 200 }, nil, false},
	} {
		t.Run(name, func(t *testing.T) {
			s, slow, errored := planned(t)
			row.before(slow, errored)
			s.polls(70)
			from, to := s.now, s.now.Add(90*time.Minute)
			s.tracker.Plan([]PlannedWork{work(ByPlant, "all", from, to)}, s.now)
			s.polls(5)
			row.meanwhile(slow, errored)
			if row.restart {
				s.restart()
			}
			var worse []string
			for s.now.Before(to.Add(5 * time.Minute)) {
				for _, e := range s.polls(1).Ended {
					for _, f := range e.Worse {
						worse = append(worse, f.Run)
					}
				}
			}
			require.Equal(t, row.worse, worse)
		})
	}
}

// What several runs share outlasts work on them: while it lasts nobody is told, and then it
// is told again as what it was, and none of its runs by itself.
func TestWhatRunsShareOutlastsWork(t *testing.T) {
	for name, restart := range map[string]bool{"": false, "over a restart": true} {
		t.Run(name, func(t *testing.T) {
			w := newTray(t)
			for _, b := range []*box{w.a, w.b} {
				for _, name := range b.names(1, 5) {
					b.link(name).errored = 200
				}
			}
			since := w.until(40, func(s *Snapshot) bool { return shares(s) && len(s.Shared[0].Faulty) == 10 }).Shared[0].Since
			w.tracker.Plan([]PlannedWork{work(ByPathway, "tray-lift", w.now, w.now.Add(2*time.Hour))}, w.now)
			w.polls(3)
			for i := range 115 {
				require.Empty(t, w.polls(1).Shared)
				require.Empty(t, w.alarms())
				if restart && i == 50 {
					w.restart()
				}
			}
			snap := w.until(5, shares)
			require.Empty(t, w.alarms())
			require.Equal(t, since, snap.Shared[0].Since)
			require.Len(t, snap.Shared[0].Faulty, 10)
			require.Equal(t, SharedName{ByPathway, "tray-lift"}, snap.Shared[0].SharedName)
		})
	}
}

// A shared cause whose runs are mended is over, whatever another run of the tray has while
// work is planned there.
func TestWhatRunsShareEndsWithItsRuns(t *testing.T) {
	w := newTray(t)
	both := func(mean float64) {
		for _, b := range []*box{w.a, w.b} {
			for _, name := range b.names(1, 5) {
				b.link(name).errored = mean
			}
		}
	}
	both(200)
	w.until(40, func(s *Snapshot) bool { return shares(s) && len(s.Shared[0].Faulty) == 10 })
	w.tracker.Plan([]PlannedWork{work(ByRun, "acc-1-07", w.now, w.now.Add(30*24*time.Hour))}, w.now)
	w.a.link("1/7").errored = 200
	both(0)
	w.until(800, func(s *Snapshot) bool { return !shares(s) && len(s.Faults) == 1 })
	w.a.link("1/8").errored = 200
	w.polls(20)
	require.Equal(t, []string{"acc-1-08"}, w.alarms(), "it is told by itself")
}
