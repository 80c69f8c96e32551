package fault

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
)

// A machine strikes several runs of a tray in the same seconds: what comes to one of
// them comes to others. A cord that is moved damages the frames of one.
func TestWhatStrikesSeveralRunsAtOnceComesFromOutside(t *testing.T) {
	rows := []struct {
		name   string
		lost   bool // nobody knows the runs' pathways
		others int  // runs of the tray that are struck too
		want   item
		causes func(p map[Cause]float64, others float64) bool
	}{
		{"a machine", false, 3, struckTogether, func(p map[Cause]float64, others float64) bool { return p[Interference] > others }},
		{"one run", false, 0, struckAlone, func(p map[Cause]float64, others float64) bool { return p[Interference] < others }},
		{"a machine by pathways that nobody knows", true, 3, struckWithPorts, func(p map[Cause]float64, _ float64) bool { return p[Interference] > 5*p[ShieldBroken] }},
		{"one run by pathways that nobody knows", true, 0, struckWithNone, func(p map[Cause]float64, others float64) bool { return p[Interference] < others }},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			w := newTray(t)
			if row.lost {
				p := w.plant()
				for _, run := range p.Runs {
					run.Pathways = nil
				}
				w.tracker = NewTracker(plant.New(p), w.settings())
			}
			w.polls(300)
			links := w.lift(5)
			for range 120 {
				links[0].bad += 40
				strikes(links[1 : 1+row.others]...)
				w.polls(1 + w.random.IntN(4))
			}
			f := kindAmong(w.tracker.Snapshot().Faults, FrameErrors)
			require.NotNil(t, f)
			require.Contains(t, f.weighed.Seen, row.want)
			told := slices.ContainsFunc(f.Evidence, func(s string) bool { return strings.HasPrefix(s, "They come together with those of other ") })
			require.Equal(t, row.others > 0, told)
			p, others := map[Cause]float64{}, 0.0
			for _, c := range f.Causes {
				if p[c.Cause] = c.Probability; c.Cause != Interference {
					others = max(others, c.Probability)
				}
			}
			require.True(t, row.causes(p, others), "%v", f.Causes)
		})
	}
}
