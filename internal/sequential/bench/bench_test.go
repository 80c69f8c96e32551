package main

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// J. M. Lucas, "Counted data CUSUM's", Technometrics 27, 1985: k = 2, h = 6,
// without and with a head start of h/2.
func TestCUSUMAgainstPublishedRuns(t *testing.T) {
	test := cusum{reference: 2, limit: 6}
	rows := []struct{ mean, start, run float64 }{
		{1.88, 0, 37.2}, {3.2, 0, 5.49}, {1.88, 3, 29.19}, {3.2, 3, 3.33},
	}
	for i, row := range rows {
		random := rand.New(rand.NewPCG(1, uint64(i)))
		const plays = 100_000
		total := 0.0
		for range plays {
			total += test.run(random, row.mean, row.start)
		}
		require.InEpsilon(t, row.run, total/plays, 0.015, "%+v", row)
	}
}

// The false run worked out by likelihood ratios is the one that is played.
func TestFalseRunOfTheCUSUM(t *testing.T) {
	for _, c := range []climb{{0.01, 0.1}, {0.3, 0.9}, {0.003, 0.3}} {
		test := best(c.before, c.after, 5000)
		random := rand.New(rand.NewPCG(2, 3))
		const plays = 4000
		total := 0.0
		for range plays {
			total += test.run(random, c.before, 0)
		}
		worked := test.falseRun(rand.New(rand.NewPCG(4, 5)), c.before, c.after)
		require.InEpsilon(t, worked, total/plays, 0.08, "%+v", c)
		require.Greater(t, worked, 4500.0, "%+v", c)
	}
}

// The detector takes no more than 1.3 times what the CUSUM takes that knows
// both rates.
func TestDelays(t *testing.T) {
	tried := 0
	for i, c := range climbs {
		random := rand.New(rand.NewPCG(6, uint64(i)))
		soonest := c.best(random, 5000)
		if soonest < 5 || c.before > 0.03 {
			continue
		}
		tried++
		plays := min(400, max(50, int(3e6/soonest))) // the slow ones take long to play
		require.LessOrEqual(t, c.known(random, plays)/soonest, 1.3, "%+v: best %.4g", c, soonest)
	}
	require.GreaterOrEqual(t, tried, 10)
	// Clean for 30 days, then 3 frames a poll.
	require.LessOrEqual(t, climb{0, 3}.learned(rand.New(rand.NewPCG(7, 8)), 200), 8.0)
}

// Under every unchanging habit the mean run to a false alarm is A polls at
// least, with what the port learned of it in 30 days.
func TestHabitsRaiseNoMoreFalseAlarmsThanPromised(t *testing.T) {
	const threshold = 1000
	for i, h := range habits {
		t.Run(h.name, func(t *testing.T) {
			t.Parallel()
			r := h.falseRun(rand.New(rand.NewPCG(9, uint64(i))), 16, 30, threshold)
			require.GreaterOrEqual(t, r.mean, float64(threshold))
		})
	}
}

// The same at the threshold of a plant of 48,000 ports, where none of these
// few should alarm at all.
func TestHabitsOfAPlant(t *testing.T) {
	for i, h := range habits {
		t.Run(h.name, func(t *testing.T) {
			t.Parallel()
			require.LessOrEqual(t, h.falseAlarms(rand.New(rand.NewPCG(10, uint64(i))), 4, 6), 1)
		})
	}
}
