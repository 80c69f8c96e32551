package sequential

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
	"unsafe"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

// F. Garwood 1936 and the tables of exact Poisson limits made since.
func TestIntervalAgainstPrintedLimits(t *testing.T) {
	rows := []struct {
		count      uint64
		confidence float64
		low, high  float64
	}{
		{25, 0.95, 16.18, 36.90},
		{25, 0.90, 17.38, 34.92},
		{25, 0.99, 14.00, 41.00},
		{10, 0.95, 4.80, 18.39},
		{0, 0.95, 0, 3.689},
	}
	for _, row := range rows {
		low, high := Interval(row.count, row.confidence)
		require.InDelta(t, row.low, low, 0.005, "%d at %v", row.count, row.confidence)
		require.InDelta(t, row.high, high, 0.005, "%d at %v", row.count, row.confidence)
	}
}

// The bits to see without an error before an objective holds with 95 %
// confidence: 3 divided by the ratio (one-sided, so 90 % two-sided).
func TestIntervalGivesTheRuleOfThree(t *testing.T) {
	_, high := Interval(0, 0.90)
	require.InDelta(t, 2.9957, high, 5e-5)
}

// Worked by hand from the update rule, three channels weighted 0.4, 0.4, 0.2
// with means 0.01, 0.01, 0.001: the size, whether errored, whether above 2.
func TestWealthStepByStep(t *testing.T) {
	var size, errored, record wealth
	want := []float64{158.88, 32.8789, 9928.18, 3928.83, 2193.11, 722543}
	for i, k := range []float64{3, 0, 5, 0, 0, 7} {
		seen, above := 0.0, 0.0
		if k > 0 {
			seen = 1
		}
		if k > 2 {
			above = 1
		}
		size.update(wager{x: k, m: 0.01, mu: 0.01}, 1)
		errored.update(wager{x: seen, m: 0.01, mu: 0.01}, 1)
		record.update(wager{x: above, m: 0.001, mu: 0.001}, 1)
		got := 0.4*size.mean() + 0.4*errored.mean() + 0.2*record.mean()
		require.InEpsilon(t, want[i], got, 1e-5, "after poll %d", i+1)
	}
}

func TestThreshold(t *testing.T) {
	// 48,000 ports of 10,080 polls a week each, one false alarm a week.
	require.InEpsilon(t, 4.838e8, Threshold(48_000, time.Minute, 1), 1e-3)
	require.Equal(t, 2*Threshold(10, time.Minute, 1), Threshold(10, time.Minute, 0.5))
}

// gigabit is a poll of a minute at so many bits, of which the detector may
// see 1 in 10^10 errored (IEEE 802.3 40.6.1.3.1).
const objective = 1e-10

func minute(errored uint64, bits float64) Sample {
	return Sample{Errored: errored, Bits: bits, Seconds: 60}
}

// pollsToAlarm plays Poisson errors of a mean per poll until the alarm.
func pollsToAlarm(random *rand.Rand, mean, bits, threshold float64, most int) int {
	var d Detector
	errors := distuv.Poisson{Lambda: mean, Src: random}
	for poll := 1; poll <= most; poll++ {
		d.Update(minute(uint64(errors.Rand()), bits), objective, threshold)
		if d.Open() {
			return poll
		}
	}
	return most
}

func TestDetectorKeepsItsPromiseAtTheObjective(t *testing.T) {
	const threshold, plays, most = 500, 200, 10_000
	for _, mean := range []float64{0.001, 0.03, 0.5, 5} {
		random := rand.New(rand.NewPCG(1, uint64(1000*mean)))
		total := 0
		for range plays {
			total += pollsToAlarm(random, mean, mean/objective, threshold, most)
		}
		// 2A: one of two detectors that share the threshold. A truncated mean only understates.
		require.Greater(t, float64(total)/plays, 2.0*threshold, "mean %v", mean)
	}
}

func TestDetectorAlarmsAboveTheObjective(t *testing.T) {
	threshold := Threshold(48_000, time.Minute, 1)
	// atMost is over the polls that a test knowing both rates takes: ln(2A)
	// divided by the information of a poll, mean ln(climb) - (mean - allowed)
	// (Wald's approximation).
	rows := []struct {
		name   string
		climb  float64
		bits   float64
		atMost float64
	}{
		{"ten times, 3e7 bits a minute", 10, 3e7, 1.3},
		{"ten times, 3e8 bits a minute", 10, 3e8, 1.3},
		{"a hundred times, 3e7 bits a minute", 100, 3e7, 1.3},
	}
	for _, row := range rows {
		random := rand.New(rand.NewPCG(7, 11))
		allowed := objective * row.bits
		mean := row.climb * allowed
		total := 0
		const plays = 50
		for range plays {
			total += pollsToAlarm(random, mean, row.bits, threshold, 100_000)
		}
		best := math.Log(2*threshold) / (mean*math.Log(row.climb) - (mean - allowed))
		got := float64(total) / plays
		require.LessOrEqual(t, got, row.atMost*best, "%s: best %.1f polls", row.name, best)
	}
}

func TestDetectorNeverAlarmsWithoutAnError(t *testing.T) {
	var d Detector
	for range 100_000 {
		d.Update(minute(0, 1e4), objective, 10)
	}
	require.False(t, d.Open())
}

func TestDetectorLetsGo(t *testing.T) {
	threshold := Threshold(48_000, time.Minute, 1)
	var d Detector
	polls := 0
	for ; !d.Open(); polls++ {
		require.Less(t, polls, 20)
		d.Update(minute(30, 3e9), objective, threshold)
	}
	for range 50 { // as bad as before: stays
		d.Update(minute(30, 3e9), objective, threshold)
		require.True(t, d.Open())
	}
	for polls = 0; d.Open(); polls++ {
		require.Less(t, polls, 200)
		d.Update(minute(0, 3e9), objective, threshold)
	}
	require.Greater(t, polls, 3, "a few clean polls are no proof")
	require.Zero(t, d.Level())
}

func TestDetectorHoldsOnThroughPauses(t *testing.T) {
	threshold := Threshold(1000, time.Minute, 1)
	var d Detector
	for polls := 0; !d.Open(); polls++ {
		require.Less(t, polls, 50)
		d.Update(minute(20, 3e9), objective, threshold)
	}
	// Clean for 14 polls, then bad again: the next clean stretch must be twice as long.
	play := func(polls int, errored uint64) (open bool) {
		for range polls {
			d.Update(minute(errored, 3e9), objective, threshold)
		}
		return d.Open()
	}
	require.True(t, play(14, 0))
	require.True(t, play(3, 20))
	require.True(t, play(27, 0))
	require.False(t, play(1, 0))
}

// An alarm raised in thin traffic is not over after one busy poll.
func TestDetectorWantsSomeCleanPolls(t *testing.T) {
	var d Detector
	for polls := 0; !d.Open(); polls++ {
		require.Less(t, polls, 20)
		d.Update(minute(3, 1e5), objective, 1e4)
	}
	for range clearingPolls - 1 {
		d.Update(minute(0, 6e10), objective, 1e4)
		require.True(t, d.Open())
	}
	d.Update(minute(0, 6e10), objective, 1e4)
	require.False(t, d.Open())
}

// A machine that disturbs for 45 of every 100 polls is one fault: after the
// first pauses it stays open.
func TestDetectorTakesWhatComesAndGoesForOne(t *testing.T) {
	threshold := Threshold(1000, time.Minute, 1)
	var d Detector
	alarms := 0
	for poll := range 20_000 {
		errored, was := uint64(0), d.Open()
		if poll%100 < 45 {
			errored = 5
		}
		d.Update(minute(errored, 3e8), objective, threshold)
		if d.Open() && !was {
			alarms++
		}
	}
	require.True(t, d.Open())
	require.LessOrEqual(t, alarms, 2)
	polls := 55 // clean ones at the end of the last round
	for ; d.Open(); polls++ {
		require.Less(t, polls, 200)
		d.Update(minute(0, 3e8), objective, threshold)
	}
	require.GreaterOrEqual(t, polls, 110, "twice the pause")
	for range 7 * 24 * 60 {
		d.Update(minute(0, 3e8), objective, threshold)
	}
	require.False(t, d.clearing.recent, "after a clean week the pauses are forgotten")
}

// A plant's round of polls: 48,000 ports with a past, each met once a round and
// so never in a cache. Errors come as often as in that past.
func BenchmarkUpdate(b *testing.B) {
	seed, at := lived(rand.New(rand.NewPCG(9, 10)), 9, 1e9)
	plant := make([]Detector, 48_000)
	for i := range plant {
		plant[i] = seed
	}
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		s := Sample{At: at.Add(time.Duration(i/len(plant)) * time.Minute), Bits: 1e10, Seconds: 60}
		if i%199 == 0 {
			s.Errored = 2
		}
		plant[i%len(plant)].Update(s, objective, 1e9)
		i++
	}
	require.True(b, plant[i%len(plant)].habit.known())
	open := 0
	for i := range plant {
		if plant[i].Open() {
			open++
		}
	}
	require.Less(b, open, len(plant)/100, "an open alarm takes less time")
	b.ReportMetric(float64(unsafe.Sizeof(Detector{})), "bytes/port")
}
