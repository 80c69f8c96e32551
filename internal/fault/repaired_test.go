package fault

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
)

// By hand: the table has 1 to 3, which are 5 and 15 of 20 repairs; with 10 that were
// confirmed of the first they are 15 to 15. A cause that the kind does not have stays out.
func TestConfirmedRepairsWeigh(t *testing.T) {
	w := weights{BadCord: 1, LoosePlug: 3}
	require.Equal(t, weights{BadCord: 15, LoosePlug: 15}, w.informed(map[Cause]int{BadCord: 10, OverLength: 7}))
	require.Equal(t, w, w.informed(nil))
	require.Equal(t, w, w.informed(map[Cause]int{OverLength: 7}))
}

func TestRepairsAreCountedByMedium(t *testing.T) {
	before := Repaired{"copper": {BadCord: 2}}
	both := before.with(Repaired{"copper": {BadCord: 1}, "fibre": {DirtyConnector: 4}})
	require.Equal(t, Repaired{"copper": {BadCord: 3}, "fibre": {DirtyConnector: 4}}, both)
	require.Equal(t, Repaired{"copper": {BadCord: 2}}, before)
}

// What was confirmed is told beside the table's share, makes its cause likelier, and
// outlasts a restart; without any nothing is told.
func TestRepairsAreToldBesideTheTable(t *testing.T) {
	l := gigabitLink("1/17")
	l.errored = 12
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	f := only(t, s.polls(20))
	require.Nil(t, f.Experience)
	before := probability(f, BadCord)

	confirm := func(n int, medium string, cause Cause) {
		for i := range n {
			s.tracker.Confirmed(ConfirmedRepair{fmt.Sprint(cause, i), medium, cause})
		}
	}
	confirm(12, "copper", BadCord)
	confirm(12, "copper", BadCord) // told again
	confirm(2, "copper", OpenPair)
	confirm(30, "fibre", DirtyConnector)
	f = only(t, s.polls(1))
	require.Greater(t, probability(f, BadCord), before)
	require.Equal(t, 14, f.Experience.Repairs)
	require.Equal(t, "copper", f.Experience.Medium)
	require.Equal(t, 12, f.Experience.Of(BadCord).Repaired)
	require.InDelta(t, copperErrors.weights()[BadCord]/copperErrors.weights().sum(), f.Experience.Of(BadCord).Usual, 1e-9)

	settings := s.tracker.settings
	settings.Repaired = Repaired{"copper": {BadCord: 1}}
	again := restarted(t, s.tracker, s.tracker.plant, settings, s.tracker.at, s.tracker.at)
	require.Equal(t, 13, again.repaired["copper"][BadCord])
	require.Equal(t, 30, again.repaired["fibre"][DirtyConnector])
}

func probability(f *Fault, cause Cause) float64 {
	for _, c := range f.Causes {
		if c.Cause == cause {
			return c.Probability
		}
	}
	return 0
}
