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
