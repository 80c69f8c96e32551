package sim

import (
	"math"
	"math/rand/v2"
	"time"
)

// Flow is what one end sends in a steady state: unicast bits a second in
// frames of a mix of sizes, and broadcast and multicast frames a second.
type Flow struct {
	Bits      float64
	Mix       []Share
	Broadcast float64
	Multicast float64
}

// Share is the share of frames that have a size, in octets from the
// destination address to the frame check sequence (64 to 1518).
type Share struct {
	Octets int
	Of     float64
}

// Mixes of frame sizes: our own invention, in the shape that traffic has.
var (
	office = []Share{{64, 0.35}, {128, 0.15}, {594, 0.10}, {1518, 0.40}}
	bulk   = []Share{{64, 0.25}, {594, 0.05}, {1518, 0.70}}
	acks   = []Share{{64, 0.70}, {128, 0.20}, {594, 0.10}}
	voice  = []Share{{218, 1}}
	tick   = []Share{{94, 1}}
)

// The sizes of frames to groups: an address resolution request, and a middling
// discovery announcement.
const (
	broadcastOctets = 64
	multicastOctets = 218
)

// leastUnicast is the fewest unicast frames a second of anything awake.
const leastUnicast = 3

type cast int

const (
	unicast cast = iota
	multicast
	broadcast
)

// stream is a flow's frames of one size and kind of address.
type stream struct {
	octets    int
	cast      cast
	perSecond float64
}

// streams splits a flow, with its unicast scaled and kept below limit bits a
// second, and appends to out.
func (f Flow) streams(out []stream, scale, limit float64) []stream {
	mean := 0.0
	for _, s := range f.Mix {
		mean += float64(s.Octets) * s.Of
	}
	if f.Bits > 0 && mean > 0 {
		perSecond := max(min(f.Bits*scale, limit)/(8*mean), leastUnicast)
		for _, s := range f.Mix {
			out = append(out, stream{s.Octets, unicast, perSecond * s.Of})
		}
	}
	if f.Broadcast > 0 {
		out = append(out, stream{broadcastOctets, broadcast, f.Broadcast})
	}
	if f.Multicast > 0 {
		out = append(out, stream{multicastOctets, multicast, f.Multicast})
	}
	return out
}

// daily is how busy the campus is at a time of day: 1 at 14:00, 0.6 at 02:00.
func daily(t time.Time) float64 {
	hour := float64(t.Hour()) + float64(t.Minute())/60
	return 0.8 + 0.2*math.Cos(2*math.Pi*(hour-14)/24)
}

// frameErrorRatio is the share of frames of a size that have a wrong bit:
// 1-(1-BER)^(8·octets), independent errors (IEEE 802.3 40.6.1.3.1 equates a
// ratio of 1e-7 for 125 octets with a BER of 1e-10).
func frameErrorRatio(ber float64, octets int) float64 {
	return -math.Expm1(8 * float64(octets) * math.Log1p(-min(ber, 0.5)))
}

// poisson draws a number of events whose mean is given.
func poisson(r *rand.Rand, mean float64) uint64 {
	if mean > 30 {
		return uint64(max(0, math.Round(mean+math.Sqrt(mean)*r.NormFloat64())))
	}
	n := uint64(0)
	for left := r.ExpFloat64(); left < mean; left += r.ExpFloat64() {
		n++
	}
	return n
}

// binomial draws how many of n have a chance of p each: by inversion where
// few are expected, by the normal law where many are.
func binomial(r *rand.Rand, n uint64, p float64) uint64 {
	switch {
	case n == 0 || p <= 0:
		return 0
	case p >= 1:
		return n
	case p > 0.5:
		return n - binomial(r, n, 1-p)
	}
	mean := float64(n) * p
	if mean > 30 {
		draw := math.Round(mean + math.Sqrt(mean*(1-p))*r.NormFloat64())
		return uint64(min(max(0, draw), float64(n)))
	}
	k, odds := uint64(0), p/(1-p)
	chance := math.Exp(float64(n) * math.Log1p(-p))
	for u := r.Float64(); u > chance && k < n; k++ {
		u -= chance
		chance *= odds * float64(n-k) / float64(k+1)
	}
	return k
}

// Schedule is on for For out of every Every, first at Offset after the
// campus's start. The zero Schedule is never on.
type Schedule struct {
	Offset, Every, For time.Duration
}

// On says whether it is on at a time after the start.
func (s Schedule) On(at time.Duration) bool {
	if s.Every <= 0 {
		return false
	}
	phase := (at - s.Offset) % s.Every
	if phase < 0 {
		phase += s.Every
	}
	return phase < s.For
}
