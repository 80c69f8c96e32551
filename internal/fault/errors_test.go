package fault

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/sequential"
)

// A link whose damaged frames are fewer than its PHY may let through (IEEE
// 802.3 40.6.1.3.1: 1 bit in 10^10), and still more than it ever had.
func TestErrorsOverThePortsOwnHabit(t *testing.T) {
	const day = 24 * 60
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	// rounds of 100 polls with one damaged frame each: a hundredth of a frame
	// a poll, where the objective allows about 0.05.
	rounds := func(n int) *Snapshot {
		var snap *Snapshot
		for range n {
			l.errored = 1
			s.polls(1)
			l.errored = 0
			snap = s.polls(99)
		}
		return snap
	}
	require.Empty(t, rounds(20).Faults, "no habit is known yet")

	s = newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	require.Empty(t, s.polls(14*day).Faults)
	first := s.now.Add(every)
	f := only(t, rounds(16))
	require.Equal(t, FrameErrors, f.Kind)
	require.WithinRange(t, f.Since, first, first.Add(8*time.Hour), "when it last left its rest")
	require.Contains(t, f.Evidence[1], "It began with more than the port's own habit: no damaged frame in 8,")
	require.Contains(t, f.Evidence[2], "1000BASE-T is allowed 1 errored bit in 10^10")
	require.Empty(t, s.polls(7*day).Faults)
}

// Where no objective is known a port is judged by its habit, once there is one.
func TestErrorsWithoutAnObjective(t *testing.T) {
	l := gigabitLink("1/17")
	l.mbps, l.mau = 50_000, 0
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(20)
	require.Equal(t, Unknown, s.state("R"))
	s.polls(8 * 24 * 60)
	require.NotEqual(t, Unknown, s.state("R"))
	l.errored = 12
	f := only(t, s.polls(15))
	require.Contains(t, f.Evidence[1], "own habit")
	for _, sentence := range f.Evidence {
		require.NotContains(t, sentence, "errored bit")
	}
}

// What is said of an objective and of a habit is so. 100BASE-FX: 2.5 errored
// bits in 10^10, of its PMD, FDDI's (memory).
func TestWhatErrorsAreMeasuredByIsSaid(t *testing.T) {
	e := errorTest{Objective: 2.5e-10, Link: "100BASE-FX"}
	require.Equal(t, []string{"100BASE-FX is allowed 1 errored bit in 4,000,000,000, about 2.5 damaged frames in this traffic."}, e.overSentences(1e10))
	e = errorTest{Objective: 1e-12, Link: "10GBASE-T"}
	require.Contains(t, e.overSentences(1e10)[0], "1 errored bit in 10^12")

	b := sequential.Baseline{Polls: 60_000}
	require.Equal(t, "no damaged frame in 60,000 readings", habitWords(b))
	b.Errored, b.Largest = 0.2, 3 // a single one of long ago
	require.Equal(t, "damaged frames in less than 1 of 60,000 readings, at most 3 at once", habitWords(b))
	b.Errored = 30
	require.Equal(t, "damaged frames in 1 of 2,000 readings, at most 3 at once", habitWords(b))
}
