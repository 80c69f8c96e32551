package sequential

import (
	"math"
	"time"
)

// The clearing test: errored polls at a tenth of a rate against that rate,
// which is a third of what they had when the detector alarmed, and three times
// the port's habit at least.
const (
	clearingShare = 1.0 / 3
	clearingRatio = 10
	clearingHabit = 3
)

// A port is better for so long at least, in polls and in seconds, before it
// has let go (common practice, no source).
const (
	clearingPolls   = 10
	clearingSeconds = 300
)

var cleared = math.Log(100)

// clearing is a CUSUM for the return of a port to its good ways, and outlives
// the alarm by the pauses that it saw.
type clearing struct {
	rate   float32 // errored polls per exposure, still bad
	score  float32
	polls  uint16  // since the score was 0
	better float32 // seconds since the score was 0
	clean  float32 // seconds since the last errored poll
	gap    float32 // longest such stretch, seconds
	await  float32 // period in which errors come back, seconds; 0: by no hours
	recent bool    // let go, within the last day of clean traffic
}

// start begins the test of a detector that alarmed at the end of an episode.
func (c *clearing) start(episode tally, habitual float32) {
	rate := clearingShare * episode.errored / episode.exposure
	*c = clearing{rate: max(rate, clearingHabit*habitual), gap: c.gap}
}

// update reports whether the port has let go: the score is reached, and it was
// on its way there for long enough, twice the longest clean stretch and two
// recurrences included.
func (c *clearing) update(s *Sample, exposure float64) bool {
	c.pause(s)
	c.score += float32(gain(s.Errored > 0, float64(c.rate)*exposure))
	if c.score <= 0 {
		c.score, c.polls, c.better = 0, 0, 0
		return false
	}
	c.score = min(c.score, float32(cleared))
	c.polls = min(c.polls, math.MaxUint16-1) + 1
	c.better += float32(s.Seconds)
	return c.score >= float32(cleared) && c.polls >= clearingPolls && c.better >= max(clearingSeconds, 2*c.gap, 2*c.await)
}

// gain is the logarithm of the likelihood ratio of good to bad, where bad has
// so many errored polls in this one.
func gain(errored bool, bad float64) float64 {
	switch good := bad / clearingRatio; {
	case !errored:
		return bad - good
	default:
		return math.Log(math.Expm1(-good) / math.Expm1(-bad))
	}
}

func (c *clearing) pause(s *Sample) {
	if s.Errored > 0 {
		c.gap = max(c.gap, c.clean)
		c.clean = 0
		return
	}
	c.clean += float32(s.Seconds)
}

// remembered is for how long a detector that has let go knows the pauses it
// saw, so that errors which come and go are one alarm and not many (common
// practice, no source).
const remembered = 24 * time.Hour

// end keeps what the next alarm of the same fault should know.
func (c *clearing) end() {
	*c = clearing{clean: c.clean, gap: c.gap, recent: true}
	c.forget()
}

// remember goes on while no alarm is open.
func (c *clearing) remember(s *Sample) {
	if c.recent {
		c.pause(s)
		c.forget()
	}
}

func (c *clearing) forget() {
	if c.clean >= float32(remembered.Seconds()) {
		*c = clearing{}
	}
}
