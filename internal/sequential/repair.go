package sequential

import (
	"math"
	"time"
)

// Window is what was seen of a port over some stretch: errored polls, and the
// exposure that they came from. Where errors follow traffic the exposure is
// bits, where they come from outside it is seconds.
type Window struct {
	Errored  int
	Exposure float64
}

// A port is better than it was once 1/20 is the chance of so long a clean
// stretch. That has spent what chance of being wrong there is, so that with an
// error since the evidence must be five times as strong.
const (
	provenAt       = 20
	provenErrorsAt = 100
)

// CleanNeeded is the exposure without an error after which a port is better
// than it was before, at 95 %: with rates alike, none of before's Y errors and
// no other falls in so much with chance (N_b/(N_b + N_a))^Y = 1/20, so
//
//	N_a = N_b (20^(1/Y) - 1)
//
// It is infinite where before held no error: then only the objective can be
// proven, by CleanForObjective.
func CleanNeeded(before Window) float64 {
	if before.Errored == 0 {
		return math.Inf(1)
	}
	return before.Exposure * math.Expm1(math.Log(provenAt)/float64(before.Errored))
}

// CleanForObjective is how many bits without an error show at 95 % that a bit
// error ratio is not above the objective p: -ln(0.05)/p. The same rule of three
// as in Interval.
func CleanForObjective(p float64) float64 { return math.Log(provenAt) / p }

// betterBy are the shares of its old rate that a repaired port may have kept.
// The stake on none at all is lost with the first error.
var betterBy = [...]struct{ theta, stake float64 }{
	{0, 0.5}, {0.01, 0.1}, {0.03, 0.1}, {0.1, 0.1}, {0.3, 0.1}, {0.5, 0.1},
}

// Improvement is the evidence that the rate after is below the rate before,
// errors allowed:
//
//	E = sum over theta of stake theta^Y_a ((N_b + N_a)/(N_b + theta N_a))^(Y_a + Y_b)
//
// the likelihood of each rate ratio theta against that of 1, given how many
// errors there were in all. While nothing changed E reaches a level with chance
// 1/level at most however often it is looked at. J. Ville, "Étude critique de la
// notion de collectif", 1939 (memory).
func Improvement(before, after Window) float64 {
	evidence := 0.0
	for _, b := range betterBy {
		if b.theta == 0 && after.Errored > 0 {
			continue
		}
		log := float64(before.Errored+after.Errored) * math.Log((before.Exposure+after.Exposure)/(before.Exposure+b.theta*after.Exposure))
		if after.Errored > 0 {
			log += float64(after.Errored) * math.Log(b.theta)
		}
		evidence += b.stake * math.Exp(log)
	}
	return evidence
}

// Better tells whether the port is better at 95 % than before its repair:
// without an error since by CleanNeeded, with errors by Improvement. Where
// before held no error it never does.
func Better(before, after Window) bool {
	if before.Errored == 0 || before.Exposure <= 0 {
		return false
	}
	if after.Errored == 0 {
		return after.Exposure >= CleanNeeded(before)
	}
	return Improvement(before, after) >= provenErrorsAt
}

// ProofSpan is how long a proof must last at least, since errored polls of one
// episode are not independent: the time that the owner of the plant wants,
// twice the longest clean gap since the fault's first error, and two
// recurrences where errors keep to certain hours (Hours.Keep).
func ProofSpan(least, longestGap, recurrence time.Duration) time.Duration {
	return max(least, 2*longestGap, 2*recurrence)
}

// BitsForObjective is CleanForObjective where so many errors were seen since: the
// one-sided 95 % bound of their mean, by Garwood, over the objective.
func BitsForObjective(errors uint64, p float64) float64 {
	return upperBound(float64(errors), 1.0/provenAt) / p
}

// StillNeeded is how much more exposure, without another error, shows that the port
// is better: 0 where Better says so already, infinite where before held no error.
func StillNeeded(before, after Window) float64 {
	if before.Errored == 0 || before.Exposure <= 0 {
		return math.Inf(1)
	}
	if after.Errored == 0 {
		return max(0, CleanNeeded(before)-after.Exposure)
	}
	shown := func(more float64) bool {
		return Better(before, Window{after.Errored, after.Exposure + more})
	}
	if shown(0) {
		return 0
	}
	low, high := 0.0, before.Exposure+after.Exposure
	for doubled := 0; !shown(high); doubled++ {
		if doubled == 64 {
			return math.Inf(1)
		}
		low, high = high, 2*high
	}
	for range 40 { // to a millionth of a millionth
		if middle := (low + high) / 2; shown(middle) {
			high = middle
		} else {
			low = middle
		}
	}
	return high
}
