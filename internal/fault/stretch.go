package fault

import (
	"math"
	"time"

	"toneout/internal/sequential"
)

// stretch is what a port received over some time, and how it was errored.
type stretch struct {
	Errored        int    // polls
	Frames         uint64 // damaged
	Bits, Seconds  float64
	Last           time.Time // errored poll
	Gap            float64   // the longest time between two, in seconds
	InBits, InTime rhythm
}

// take takes a poll that is no matter of choice.
func (s *stretch) take(x *sequential.Sample) {
	s.Bits += x.Bits
	s.Seconds += x.Seconds
	if x.Errored > 0 {
		s.Errored++
		s.Frames += x.Errored
	}
	s.pause(x, true)
}

// lead takes a poll from before the alarm, or the one that alarmed: what comes until
// there is an alarm was chosen for its errors, and tells of pauses alone.
func (s *stretch) lead(x *sequential.Sample) { s.pause(x, false) }

func (s *stretch) pause(x *sequential.Sample, counts bool) {
	s.InBits.take(x.Bits, x.Errored > 0, counts)
	s.InTime.take(x.Seconds, x.Errored > 0, counts)
	if x.Errored == 0 {
		return
	}
	if !s.Last.IsZero() {
		s.Gap = max(s.Gap, x.At.Sub(s.Last).Seconds())
	}
	s.Last = x.At
}

// receivedBits and receivedTime are all errored polls, by either exposure.
func (s *stretch) receivedBits() sequential.Window {
	return sequential.Window{Errored: s.Errored, Exposure: s.Bits}
}

func (s *stretch) receivedTime() sequential.Window {
	return sequential.Window{Errored: s.Errored, Exposure: s.Seconds}
}

// byBits and byTime are how often errors came back, by either exposure; false where
// they have not.
func (s *stretch) byBits() (sequential.Window, bool) { return s.InBits.window(s.Bits) }

func (s *stretch) byTime() (sequential.Window, bool) { return s.InTime.window(s.Seconds) }

// octaves is how many times a pause may be shorter than the longest, in powers of two,
// and still tell as much.
const octaves = 4

// rhythm counts how often errors came back. Of a burst or of a machine's hours one
// errored poll follows the other, and all of them are one piece of evidence: so those
// count that came after a pause not much shorter than the longest. Of steady noise,
// whose pauses are alike, that is nearly all.
type rhythm struct {
	Some    bool         // whether there was an error yet
	All     float64      // exposure since the first
	Since   float64      // since the last
	Longest int          // pause, by its octave
	Led     [octaves]int // that came back before the alarm, by the octaves below the longest
	Came    [octaves]int // likewise since
}

// take takes a poll of so much exposure.
func (r *rhythm) take(exposure float64, errored, counts bool) {
	if r.Some {
		r.All += exposure
	}
	r.Since += exposure
	if !errored {
		return
	}
	if octave := math.Ilogb(r.Since); r.Some {
		r.back(octave, counts)
	}
	r.Some, r.Since = true, 0
}

// back takes that errors came back after a pause of such an octave.
func (r *rhythm) back(octave int, counts bool) {
	if r.Longest == 0 {
		r.Longest = octave
	}
	for ; r.Longest < octave; r.Longest++ {
		copy(r.Led[1:], r.Led[:])
		copy(r.Came[1:], r.Came[:])
		r.Led[0], r.Came[0] = 0, 0
	}
	below := r.Longest - octave
	switch {
	case below >= octaves:
	case counts:
		r.Came[below]++
	default:
		r.Led[below]++
	}
}

// window is how often errors came back in so much exposure since the alarm, or where
// they have not since, since the first error.
func (r *rhythm) window(exposure float64) (sequential.Window, bool) {
	if came := total(r.Came); came > 0 {
		return sequential.Window{Errored: came, Exposure: exposure}, true
	}
	led := total(r.Led)
	return sequential.Window{Errored: led, Exposure: r.All}, led > 0
}

func total(counts [octaves]int) (n int) {
	for _, c := range counts {
		n += c
	}
	return n
}
