package main

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestSharesOfHabits(t *testing.T) {
	sum := 0
	for _, h := range habits {
		sum += h.share
	}
	require.Equal(t, 100, sum)
}

// What the command counts: one port with ten times the errors that its
// physical layer may have is one alarm, and no other port raises any.
func TestFaultIsCounted(t *testing.T) {
	c := newCampus(1, 0, 2, allowedPorts)
	faulty := &habit{name: "faulty"}
	l := c.switches[1].lines[7]
	*l = line{reading: l.reading, habit: faulty, busy: deskBusy, idle: deskBusy, offers: all, errors: &source{perBit: 10 * objective, size: single}}
	c.play(1)
	require.Equal(t, []alarm{{"frame-errors", "faulty"}}, c.alarms)
}

// BenchmarkPlay is a week of ten switches, the player's part and the tracker's.
func BenchmarkPlay(b *testing.B) {
	c := newCampus(1, 0, 10, allowedPorts)
	c.play(1)
	for b.Loop() {
		c.play(1)
	}
}
