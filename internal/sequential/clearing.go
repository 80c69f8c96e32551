package sequential

import (
	"math"
)

// The clearing test: errored polls at a tenth of a rate, or as seldom as is
// allowed, against that rate, which is a third of what they had when the
// detector alarmed, and three times what is allowed at least.
const (
	clearingShare   = 1.0 / 3
	clearingRatio   = 10
	clearingAllowed = 3
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
	full   float32 // damaged frames with which a poll counts whole as errored
	bad    float32 // errored polls per exposure, too many
	good   float32 // likewise, as they ought to be
	score  float32
	better float32 // seconds since the score was 0
	clean  float32 // seconds since the last errored poll
	gap    float32 // longest such stretch, seconds
	await  float32 // period in which errors come back, seconds; 0: by no hours
	polls  uint16  // since the score was 0
	recent bool    // let go, within the last days of clean traffic
	of     Alarm   // that is open
}

// start begins the test for an alarm at the end of an episode; allowed is what
// the port may have in an exposure. Where its polls were errored hardly more
// often than allowed, it was their loss that climbed, and each counts by its
// loss.
func (c *clearing) start(of Alarm, episode, allowed tally) {
	bad, habitual := clearingShare*episode.errored/episode.exposure, allowed.errored/allowed.exposure
	full := float32(1)
	if clearingAllowed*habitual > bad {
		full = episode.frames / episode.errored
		habitual = min(habitual, allowed.frames/allowed.exposure/full)
	}
	bad = max(bad, clearingAllowed*habitual)
	*c = clearing{of: of, full: full, bad: bad, good: max(bad/clearingRatio, habitual), gap: c.gap}
}

// update reports whether the port has let go: the score is reached, and it was
// on its way there for long enough, twice the longest clean stretch and two
// recurrences included.
func (c *clearing) update(s *Sample, exposure float64) bool {
	c.pause(s)
	c.score += float32(c.gain(s.Errored, exposure))
	if c.score <= 0 {
		c.score, c.polls, c.better = 0, 0, 0
		return false
	}
	c.score = min(c.score, float32(cleared))
	c.polls = min(c.polls, math.MaxUint16-1) + 1
	c.better += float32(s.Seconds)
	return c.score >= float32(cleared) && c.polls >= clearingPolls && c.better >= max(clearingSeconds, 2*c.gap, 2*c.await)
}

// gain is the logarithm of the likelihood ratio of good to bad. One of a poll
// that counts in part lies between those of an errored and a clean one, and
// while the mean is bad no such product of ratios grows either.
func (c *clearing) gain(frames uint64, exposure float64) float64 {
	bad, good := float64(c.bad)*exposure, float64(c.good)*exposure
	part := min(1, float64(frames)/float64(c.full))
	clean := (1 - part) * (bad - good)
	if part == 0 {
		return clean
	}
	return clean + part*math.Log(math.Expm1(-good)/math.Expm1(-bad))
}

func (c *clearing) pause(s *Sample) {
	if s.Errored > 0 {
		c.gap = max(c.gap, c.clean)
		c.clean = 0
		return
	}
	c.clean += float32(s.Seconds)
}

// remembered is for how much clean traffic a detector that has let go knows the
// pauses it saw, so that errors which come and go are one alarm and not many: a
// disturbance every other day is one fault too. Hours tells of what comes by the
// week (common practice, no source).
const remembered = week

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

// sound tells whether what was read may have come about.
func (c *clearing) sound() bool {
	return c.of == NoAlarm || c.of <= OverHabit && c.full > 0 && 0 < c.good && c.good < c.bad
}
