package main

import (
	"math"
	"math/rand/v2"
)

// cusum is Page's test for a climb of a Poisson mean from before to after,
// which knows both: no test of the same mean run to a false alarm is sooner
// in the worst case (Moustakides 1986; memory). It is what a detector can hope
// for. J. M. Lucas, "Counted data CUSUM's", Technometrics 27, 1985.
type cusum struct {
	reference float64 // taken off the count of each poll
	limit     float64 // signals when the sum is there
}

// run is how many polls of such a mean it takes to signal, from such a start.
func (c cusum) run(random *rand.Rand, mean, start float64) float64 {
	sum, polls := start, 0.0
	for {
		clean, count := next(random, mean)
		sum = max(0, sum-clean*c.reference)
		polls += clean + 1
		if sum = max(0, sum+count-c.reference); sum >= c.limit {
			return polls
		}
	}
}

// watch is the sum after so many polls of such a mean, from 0, in which it does
// not signal.
func (c cusum) watch(random *rand.Rand, mean float64, polls int) (sum float64) {
	for left := float64(polls); ; {
		clean, count := next(random, mean)
		if left -= clean + 1; left < 0 {
			return max(0, sum-(left+clean+1)*c.reference)
		}
		sum = max(0, sum-clean*c.reference)
		if sum = max(0, sum+count-c.reference); sum >= c.limit {
			sum = 0
		}
	}
}

// next is how many clean polls come first, and how many frames the errored
// one after them lost.
func next(random *rand.Rand, mean float64) (clean, count float64) {
	clean = math.Floor(random.ExpFloat64() / mean)
	none := math.Exp(-mean)
	return clean, float64(quantile(none+(1-none)*random.Float64(), mean))
}

// best is the CUSUM for a climb whose mean run to a false alarm is so long.
func best(before, after, run float64) cusum {
	unit := math.Log(after / before)
	c := cusum{reference: (after - before) / unit}
	low, high := 0.0, 3*math.Log(run)/unit+1
	for range 25 {
		c.limit = (low + high) / 2
		if c.falseRun(rand.New(rand.NewPCG(1, 2)), before, after) < run { // the same chances each time
			low = c.limit
		} else {
			high = c.limit
		}
	}
	c.limit = high
	return c
}

// falseRun is the mean run to a false alarm. A run is made of cycles, each
// from 0 until the sum is below it or at the limit, so it is the mean length
// of a cycle divided by the chance that it ends at the limit. That chance is
// far too small to be played, so cycles are played as after the climb and each
// counts by its likelihood ratio (D. Siegmund, "Sequential Analysis", 1985;
// memory). The first poll of a cycle that does not end at once is errored.
func (c cusum) falseRun(random *rand.Rand, before, after float64) float64 {
	const cycles = 20_000
	unit := math.Log(after / before)
	length, chance := 0.0, 0.0
	for range cycles {
		polls, _ := c.cycle(random, before)
		length += polls / cycles
		if _, sum := c.cycle(random, after); sum >= c.limit {
			chance += math.Exp(-unit*sum) / cycles
		}
	}
	errored := func(mean float64) float64 { return -math.Expm1(-mean) }
	return (1 - errored(before) + errored(before)*length) / (errored(after) * chance)
}

// cycle plays one whose first poll is errored.
func (c cusum) cycle(random *rand.Rand, mean float64) (polls, sum float64) {
	for {
		clean, count := next(random, mean)
		if polls == 0 {
			clean = 0
		}
		if left := math.Floor(sum / c.reference); clean > left { // below 0 before the next errored poll
			return polls + left + 1, -1
		}
		sum += count - (clean+1)*c.reference
		polls += clean + 1
		if sum < 0 || sum >= c.limit {
			return polls, sum
		}
	}
}
