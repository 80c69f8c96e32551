package sequential

import (
	"math"
	"time"
)

// Sample is what one poll says of one receiving port that carried traffic.
type Sample struct {
	At      time.Time // of the reading; baselines are kept by the day
	Errored uint64    // frames received damaged
	Bits    float64   // received, above 0
	Seconds float64   // since the reading before
}

const week = 7 * 24 * time.Hour

// Threshold is the level A at which detectors of so many ports, each updated
// once in every, together raise so many false alarms a week at most: the mean
// number of polls to a false alarm of one port is A at least.
func Threshold(ports int, every time.Duration, falseAlarmsPerWeek float64) float64 {
	return float64(max(ports, 1)) * float64(week) / float64(every) / falseAlarmsPerWeek
}

// Two detectors are meant to run side by side, against the objective and
// against the port's own habit, each at twice the threshold.
const detectorsSharingTheThreshold = 2

// Weights of the channels: the size of the loss, and whether there was any.
const (
	sizeWeight    = 0.5
	erroredWeight = 0.5
)

// leftRest is how far above its resting level a detector must be for the
// present episode to have begun.
const leftRest = 10

// Detector tests one port against a bit error objective. The zero value is
// ready. It is small and holds numbers only.
type Detector struct {
	size, errored wealth
	episode       tally // since the detector last left rest
	clearing      *clearing

	recent bool    // whether it was open within the last day of clean traffic
	clean  float64 // while recent: seconds since the last errored poll
	gap    float64 // while recent: the longest such stretch, seconds
}

type tally struct {
	errored  float64 // polls with errors
	exposure float64 // bits times the objective: errors allowed
}

// Open tells whether the detector has alarmed and not let go since.
func (d *Detector) Open() bool { return d.clearing != nil }

// Update takes one poll's sample: objective is the bit error ratio that the
// physical layer may have, threshold the A of Threshold. It alarms when the
// evidence against the objective reaches it, and lets go by the clearing test.
func (d *Detector) Update(s Sample, objective, threshold float64) {
	allowed := objective * s.Bits
	if d.clearing != nil {
		if d.clearing.update(s, allowed) {
			*d = Detector{recent: true, clean: d.clearing.clean, gap: d.clearing.gap}
		}
		return
	}
	d.remember(s)
	seen := 0.0
	if s.Errored > 0 {
		seen = 1
	}
	d.size.update(float64(s.Errored), allowed, allowed)
	d.errored.update(seen, min(1, allowed), min(1, allowed))
	d.episode.errored += seen
	d.episode.exposure += allowed
	switch level := d.Level(); {
	case s.Errored > 0 && level >= detectorsSharingTheThreshold*threshold:
		*d = Detector{clearing: newClearing(d.episode, d.gap)}
	case level <= leftRest*(sizeWeight*resting(allowed)+erroredWeight*resting(min(1, allowed))):
		d.episode = tally{}
	}
}

// remembered is for how long a detector that has let go knows the pauses it
// saw, so that errors which come and go are one alarm and not many (common
// practice, no source).
const remembered = 24 * time.Hour

func (d *Detector) remember(s Sample) {
	switch {
	case !d.recent:
	case s.Errored > 0:
		d.gap = max(d.gap, d.clean)
		d.clean = 0
	default:
		d.clean += s.Seconds
		if d.clean >= remembered.Seconds() {
			d.recent, d.clean, d.gap = false, 0, 0
		}
	}
}

// Level is the evidence gathered so far.
func (d *Detector) Level() float64 {
	return sizeWeight*d.size.mean() + erroredWeight*d.errored.mean()
}

// The clearing test: errored polls at a tenth of a rate against that rate,
// which is a third of what they had when the detector alarmed.
const (
	clearingShare = 1.0 / 3
	clearingRatio = 10
)

// A port is clean for so long at least, in polls and in seconds, before it has
// let go (common practice, no source).
const (
	clearingPolls   = 10
	clearingSeconds = 300
)

var cleared = math.Log(100)

// clearing is a CUSUM for the return of a port to its good ways.
type clearing struct {
	rate  float64 // errored polls per error allowed, still bad
	score float64
	polls int     // clean ones in a row
	clean float64 // seconds since the last errored poll
	gap   float64 // longest clean stretch seen while open or shortly before, seconds
}

func newClearing(episode tally, gap float64) *clearing {
	return &clearing{rate: clearingShare * episode.errored / episode.exposure, gap: gap}
}

// update reports whether the port has let go: the score is reached, and the
// port was clean for long enough, twice its longest clean stretch included.
func (c *clearing) update(s Sample, allowed float64) bool {
	bad, good := c.rate*allowed, c.rate*allowed/clearingRatio // errored polls expected in this one
	if s.Errored > 0 {
		c.score = max(0, c.score+math.Log(math.Expm1(-good)/math.Expm1(-bad)))
		c.gap = max(c.gap, c.clean)
		c.polls, c.clean = 0, 0
		return false
	}
	c.score += bad - good
	c.polls++
	c.clean += s.Seconds
	return c.score >= cleared && c.polls >= clearingPolls && c.clean >= max(clearingSeconds, 2*c.gap)
}

// Suspicious tells whether an episode with errors is under way.
func (d *Detector) Suspicious() bool { return d.episode.errored > 0 }
