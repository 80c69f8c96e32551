package sequential

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Nature gathers what tells the kinds of errors of one port apart, from a
// fault's first error on. It is 80 bytes of numbers; the zero value is ready.
type Nature struct {
	Bits, Seconds float64 // of all polls
	Polls         int
	Errored       int     // polls that count as errored
	LogRate       float64 // sum over those of ln(bits/seconds)
	Errors        float64 // frames
	Pairs         float64 // of errored frames in the same poll
	SquaredBits   float64 // sum over all polls

	Doublings int     // of the frames that it takes for a poll to count
	Gathered  float64 // frames since one did
}

// Where every poll has errors, busy and idle ones alike, they would seem to
// follow time. So polls count with the first frame only where errors are seldom,
// else where 2, 4, 8, ... frames have gathered, until it is one in 8 or so. What
// was gathered by another number of frames is dropped.
const (
	seldom        = 8
	leastDoubling = 8 // polls that counted, before it doubles
)

// Update takes one poll's sample. Polls without traffic are none.
func (n *Nature) Update(s Sample) {
	n.Bits += s.Bits
	n.Seconds += s.Seconds
	n.SquaredBits += s.Bits * s.Bits
	n.Polls++
	if s.Errored == 0 {
		return
	}
	k := float64(s.Errored)
	n.Errors += k
	n.Pairs += k * (k - 1) / 2
	if n.Gathered += k; n.Gathered < math.Ldexp(1, n.Doublings) {
		return
	}
	n.Gathered = 0
	n.Errored++
	n.LogRate += math.Log(s.Bits / s.Seconds)
	if n.Errored >= leastDoubling && n.Errored*seldom > n.Polls {
		*n = Nature{Doublings: n.Doublings + 1}
	}
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

// Follows tells what the errors follow, at 19 to 1.
func (n *Nature) Follows() Follows {
	switch odds := n.TrafficOdds(); {
	case odds >= followsAt:
		return FollowTraffic
	case odds <= -followsAt:
		return FollowTime
	}
	return Undecided
}

// burstsAt is the chance at which single errors look like bursts.
const burstsAt = 0.01

// burstsFold is how many times as many pairs there must be as single errors make:
// of plenty even the smallest unevenness is beyond chance, and that many errors
// fall into traffic less evenly than BurstChance counts on.
const burstsFold = 2

// singlePairs is how many pairs errors make that come by themselves and follow
// traffic.
func (n *Nature) singlePairs() float64 {
	return n.Errors * (n.Errors - 1) / 2 * n.SquaredBits / (n.Bits * n.Bits)
}

// BurstChance is the chance of so many errored frames falling into the same
// polls if each came by itself and followed traffic: the upper tail, at
// sum k(k-1)/2, of a Poisson of mean K(K-1)/2 sum (n_i/N)^2.
func (n *Nature) BurstChance() float64 {
	if n.Pairs == 0 {
		return 1
	}
	return mathext.GammaIncReg(n.Pairs, n.singlePairs())
}

// Bursts tells whether errors come in bursts: at 1 %, and plainly.
func (n *Nature) Bursts() bool {
	return n.Pairs >= burstsFold*n.singlePairs() && n.BurstChance() <= burstsAt
}
