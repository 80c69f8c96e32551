package fault

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
)

// Bayes by hand: 20 to 80, and somebody worked on the run: a bad cord is 3 times as
// likely, so that it is 60 to 80. That a plug was out for minutes says 63 times already,
// and counts alone. That the link was good for a day after is seen apart from that: 0.14 x
// 3 against 5.9.
func TestLastWorkCountsOnce(t *testing.T) {
	prior := weights{BadCord: 20, Interference: 80}
	require.Equal(t, weights{BadCord: 60, Interference: 80}, prior.given(ofCopper, afterWork))
	require.Equal(t, prior.given(ofCopper, sincePatched), prior.given(ofCopper, sincePatched, afterWork))
	good := prior.given(ofCopper, afterGood, goodAfterWork)
	require.InDelta(t, 20*0.14*3, good[BadCord], 1e-9)
	require.InDelta(t, 80*5.9, good[Interference], 1e-9)

	glass := weights{DirtyConnector: 20, FailingReceiver: 80}
	require.Equal(t, weights{DirtyConnector: 60, FailingReceiver: 80}, glass.given(ofFibre, afterWork))
}

// What began within a week after work on the run is told with that work, and hands are
// likelier to have done it: the odds of a bad cord to interference are 3 times those
// without. Work elsewhere, on everything, long before or after it began says nothing.
func TestATroubleAfterPlannedWork(t *testing.T) {
	hours := func(n int) time.Duration { return time.Duration(n) * time.Hour }
	odds := func(f *Fault) float64 { return probability(f, BadCord) / probability(f, Interference) }
	play := func(on Attribute, value string, ago time.Duration) *Fault {
		s, _, errored := planned(t)
		s.every = 5 * time.Minute
		s.polls(26 * 12)
		errored.errored = 200
		s.polls(2)
		began := s.now
		s.tracker.Plan([]PlannedWork{work(on, value, began.Add(-ago-time.Hour), began.Add(-ago))}, s.now)
		return s.polls(4).FaultsOf("B")[0]
	}
	without := play(ByRun, "A", hours(2))
	require.NotContains(t, without.weighed.Seen, goodAfterWork)
	require.Contains(t, without.Evidence, byItself)

	f := play(ByRun, "B", hours(3))
	require.Contains(t, f.weighed.Seen, goodAfterWork)
	require.NotContains(t, f.Evidence, byItself)
	require.Contains(t, f.Evidence, "It began 3 hours after planned work on this run: new tray (ada); the link had been good for a day at least.")
	require.InDelta(t, 3*odds(without), odds(f), 1e-9)

	require.Contains(t, play(ByPathway, "west", hours(50)).Evidence,
		"It began 2 days after planned work on pathway west: new tray (ada); the link had been good for a day at least.")
	require.Contains(t, play(ByPathway, "west", -hours(1)/2).Evidence, // it lasts
		"It began during planned work on pathway west: new tray (ada); the link had been good for a day at least.")
	off := func() *Fault { // it was to be later, and was called off
		s, _, errored := planned(t)
		s.every = 5 * time.Minute
		s.polls(26 * 12)
		errored.errored = 200
		s.polls(2)
		s.tracker.Plan([]PlannedWork{work(ByRun, "B", s.now.Add(-2*time.Hour-time.Second), s.now.Add(-2*time.Hour))}, s.now)
		return s.polls(4).FaultsOf("B")[0]
	}
	for name, f := range map[string]*Fault{
		"called off":      off(),
		"the whole plant": play(ByPlant, "all", hours(2)), "over a week ago": play(ByRun, "B", hours(7*24+1)), "later": play(ByRun, "B", -hours(2)),
	} {
		require.Equal(t, without.weighed.Seen, f.weighed.Seen, name)
		require.Equal(t, without.Evidence, f.Evidence, name)
	}
}

// What was there when watching began may be older than the work before.
func TestNoWorkIsBlamedForWhatMayBeOlder(t *testing.T) {
	l := gigabitLink("1/17")
	l.errored = 200
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.tracker.Plan([]PlannedWork{work(ByRun, "R", start.Add(-3*time.Hour), start.Add(-time.Hour))}, start)
	f := only(t, s.polls(10))
	require.Contains(t, f.weighed.Seen, sinceBefore)
	require.NotContains(t, f.weighed.Seen, afterWork)
}

// A repair is work too, for whatever it did not mend: after it another trouble began, and
// that outlasts a restart. The one that it was for is the same as before where it returns.
func TestATroubleAfterARepair(t *testing.T) {
	s, l, r := mended(t, 20)
	s.tracker.Repair(r)
	l.errored, s.every = 0, 5*time.Minute
	s.polls(300)
	s.restart()
	s.polls(2)
	l.fellBack()
	s.polls(5)
	slow := kindAmong(s.tracker.Snapshot().FaultsOf("R"), BelowDesignSpeed)
	require.Contains(t, slow.Evidence, "It began 25 hours after this run was repaired, 2026-03-02 08:25 UTC by ada (a bad cord); the link had been good for a day at least.")
	require.Contains(t, slow.weighed.Seen, goodAfterWork)

	s, l, r = mended(t, 20)
	s.tracker.Repair(r)
	l.errored = 0
	s.polls(30)
	l.errored = 200
	f := only(t, s.polls(20))
	require.True(t, f.Alarm)
	require.NotContains(t, f.weighed.Seen, afterWork)
}
