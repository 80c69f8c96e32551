package sequential

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Nature gathers what tells the kinds of errors of one port apart, from a
// fault's first error on. It is 64 bytes of numbers; the zero value is ready.
type Nature struct {
	Polls         int
	Bits, Seconds float64 // of all polls
	Errored       int     // polls with errors
	LogRate       float64 // sum over those of ln(bits/seconds)
	Errors        float64 // frames
	Pairs         float64 // of errored frames in the same poll
	SquaredBits   float64 // sum over all polls
}

// Update takes one poll's sample. Polls without traffic are none.
func (n *Nature) Update(s Sample) {
	n.Polls++
	n.Bits += s.Bits
	n.Seconds += s.Seconds
	n.SquaredBits += s.Bits * s.Bits
	if s.Errored == 0 {
		return
	}
	k := float64(s.Errored)
	n.Errored++
	n.LogRate += math.Log(s.Bits / s.Seconds)
	n.Errors += k
	n.Pairs += k * (k - 1) / 2
}

// Follows is what errors follow.
type Follows int

// Errors follow traffic where the link itself is noisy, and the clock where
// they come from outside.
const (
	Undecided Follows = iota
	FollowTraffic
	FollowTime
)

// followsAt is the odds at which one is taken for true, 19 to 1.
var followsAt = math.Log(19)

// TrafficOdds is the likelihood of the errored polls if errors follow bits, to
// that if they follow time, in nats:
//
//	sum over errored polls j of ln[(n_j/N) / (d_j/D)]
//
// Errored polls count, never frames: one burst of many frames is one piece of
// evidence.
func (n *Nature) TrafficOdds() float64 {
	if n.Errored == 0 {
		return 0
	}
	return n.LogRate - float64(n.Errored)*math.Log(n.Bits/n.Seconds)
}

// mostErrored is the share of errored polls above which they no longer tell that
// errors follow time: where nearly all are errored, those with little traffic are
// too, whatever the errors follow.
const mostErrored = 0.5

// Follows tells what the errors follow, at 19 to 1.
func (n *Nature) Follows() Follows {
	switch odds := n.TrafficOdds(); {
	case odds >= followsAt:
		return FollowTraffic
	case odds <= -followsAt && float64(n.Errored) <= mostErrored*float64(n.Polls):
		return FollowTime
	}
	return Undecided
}

// burstsAt is the chance at which single errors look like bursts.
const burstsAt = 0.01

// BurstChance is the chance of so many errored frames falling into the same
// polls if each came by itself and followed traffic: the upper tail, at
// sum k(k-1)/2, of a Poisson of mean K(K-1)/2 sum (n_i/N)^2.
func (n *Nature) BurstChance() float64 {
	if n.Pairs == 0 {
		return 1
	}
	mean := n.Errors * (n.Errors - 1) / 2 * n.SquaredBits / (n.Bits * n.Bits)
	return mathext.GammaIncReg(n.Pairs, mean)
}

// Bursts tells whether errors come in bursts, at 1 %.
func (n *Nature) Bursts() bool { return n.BurstChance() <= burstsAt }
