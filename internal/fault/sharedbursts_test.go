package fault

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// isolated lets every link receive single damaged frames, so many in 1,000
// polls, as long as the test lasts.
func (w *tray) isolated(in1000 int) {
	for _, b := range w.boxes {
		for _, l := range b.links {
			if w.random.IntN(1000) < in1000 {
				l.bad++
			}
		}
	}
}

// strikes lets links receive two damaged frames each before their next poll.
func strikes(links ...*link) {
	for _, l := range links {
		l.bad += 2
	}
}

func (w *tray) lift(n int) (links []*link) {
	for _, b := range w.boxes {
		for _, name := range b.names(1, n) {
			links = append(links, b.link(name))
		}
	}
	return links
}

// A lift starts twice a day and each time damages two frames on half of the
// runs beside it: nothing that a single port's test would see for weeks.
func TestBurstsTogetherTellAPathwayBeforeAnyFault(t *testing.T) {
	w := newTray(t)
	for range 1500 {
		w.isolated(1)
		w.polls(1)
	}
	require.Empty(t, w.tracker.Snapshot().Shared)
	strikes(w.lift(5)...)
	w.polls(60)
	require.Empty(t, w.tracker.Snapshot().Shared, "once is no habit")
	strikes(w.lift(5)[1:]...)
	snap := w.polls(2)
	require.Empty(t, snap.Faults)
	c := snap.Shared[0]
	require.Equal(t, SharedName{ByPathway, "tray-lift"}, c.SharedName)
	require.Len(t, c.Faulty, 10)
	require.Equal(t, c.Faulty, c.Suspects)
	require.True(t, slices.ContainsFunc(c.Evidence, func(s string) bool {
		return s == "Damaged frames came on several of them in the same polling interval, 2 times since "+
			w.now.Add(-62*time.Minute).Format("2006-01-02 15:04")+", the last time at "+w.now.Add(-2*time.Minute).Format("15:04")+" (9 runs)."
	}), "%v", c.Evidence)
	w.restart()
	require.Len(t, w.polls(2).Shared, 1)
	w.polls(23*60 + 30)
	require.Len(t, w.tracker.Snapshot().Shared, 1)
	w.until(120, func(s *Snapshot) bool { return !shares(s) })
}

// What strikes a whole switch is no pathway's, nor is what comes with a restart
// or an evening of patching.
func TestWhatStrikesASwitchIsNoPathways(t *testing.T) {
	for name, happens := range map[string]func(w *tray){
		"all ports of a switch":  func(w *tray) { strikes(w.a.links...) },
		"most ports of a switch": func(w *tray) { strikes(w.a.links[2:22]...) },
		"all ports":              func(w *tray) { strikes(append(w.a.links, w.b.links...)...) },
		"it restarts": func(w *tray) {
			w.a.restart = true
			strikes(w.lift(5)[:5]...)
			w.polls(1)
			strikes(w.lift(5)[:5]...)
		},
		"links come and go": func(w *tray) {
			for _, l := range w.lift(5) {
				l.lastChange = w.uptime + 3000
				l.bad += 500
			}
		},
	} {
		t.Run(name, func(t *testing.T) {
			w := newTray(t)
			w.polls(1500)
			for range 12 {
				happens(w)
				for _, c := range w.polls(60).Shared {
					require.NotEqual(t, ByPathway, c.Attribute, "%s", c.Summary)
				}
			}
		})
	}
}

// Ports with habits of their own, from none to an errored poll in fifty, never
// make a group. A week of 48 ports; at the promised rate one would take far
// longer.
func TestChanceMakesNoBursts(t *testing.T) {
	w := newTray(t)
	rate := map[*link]int{}
	for i, l := range append(slices.Clone(w.a.links), w.b.links...) {
		rate[l] = []int{0, 1, 1, 3, 10, 20}[i%6]
	}
	for range 7 * 24 * 60 {
		for _, b := range w.boxes {
			for _, l := range b.links {
				if w.random.IntN(1000) < rate[l] {
					l.bad++
				}
			}
		}
		for _, c := range w.polls(1).Shared {
			require.Fail(t, "a group by chance", "%s", c.Summary)
		}
	}
}
