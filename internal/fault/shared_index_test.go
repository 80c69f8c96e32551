package fault

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// ids are the runs of each group of a medium that has any.
func (m *sharing) ids() map[sharedGroup][]string {
	all := map[sharedGroup][]string{}
	for g, of := range m.members {
		for _, i := range of {
			all[m.groups[g]] = append(all[m.groups[g]], m.runs[i].run.ID)
		}
		slices.Sort(all[m.groups[g]])
	}
	return all
}

// What follows from a join that moved runs is what would be worked out from
// nothing.
func TestGroupsAfterAJoinAreThoseWorkedOutAnew(t *testing.T) {
	p := newPlantedPlant(t, 31, 960, 0.2)
	tracker := p.tracker
	tracker.relate()
	for round := range 6 {
		var a, b *portState
		for a == b || a.join.Run == nil || b.join.Run == nil {
			a, b = p.anyPort(), p.anyPort()
		}
		switch round % 3 {
		case 0:
			a.join, b.join = b.join, a.join
		case 1:
			a.join.Run = nil
		case 2:
			a.join.Run, b.medium = p.runs[p.random.IntN(len(p.runs))], "fibre"
		}
		tracker.shared.built = nil
		tracker.relate()
		got := []map[sharedGroup][]string{tracker.shared.media[copper].ids(), tracker.shared.media[glass].ids()}
		ports := 0
		for i := range tracker.shared.media[copper].runs {
			ports += len(tracker.shared.media[copper].runs[i].ports)
		}
		tracker.shared = shared{}
		tracker.relate()
		require.Equal(t, []map[sharedGroup][]string{tracker.shared.media[copper].ids(), tracker.shared.media[glass].ids()}, got, "round %d", round)
		for i := range tracker.shared.media[copper].runs {
			ports -= len(tracker.shared.media[copper].runs[i].ports)
		}
		require.Zero(t, ports)
	}
}

func (p *plantedPlant) anyPort() *portState {
	s := p.tracker.order[p.random.IntN(len(p.tracker.order))]
	return s.order[p.random.IntN(len(s.order))]
}

// Runs of a room are told apart where some end on a panel there and have their
// switch elsewhere; not where all do both.
func TestPartsOfASpace(t *testing.T) {
	p := newPlantedPlant(t, 32, 960, 0)
	p.tracker.relate()
	ids := p.tracker.shared.media[copper].ids()
	room := SharedName{BySpace, "TR-2"}
	all, panels, switches := ids[sharedGroup{room, ""}], ids[sharedGroup{room, onPanels}], ids[sharedGroup{room, onSwitches}]
	require.Len(t, panels, 96)
	require.Len(t, switches, len(p.groups[room]))
	require.Greater(t, len(all), max(len(panels), len(switches)))
	w := newTray(t)
	w.tracker.relate()
	for g := range w.tracker.shared.media[copper].ids() {
		require.Empty(t, g.Part)
	}
}
