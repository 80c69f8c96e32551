package fault

import (
	"time"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// Holding rule of below-design-speed, in polls.
const (
	slowTakesHold = 3
	slowLetsGo    = 10
)

// busyFramesPerSecond is how many unicast frames a second a device sends at
// least that is in use; one asleep answers an address query now and then
// (common practice, no source).
const busyFramesPerSecond = 0.5

// slow watches whether a port comes up below the speed meant.
type slow struct {
	since time.Time // first poll at the lower speed
	polls int       // polls at a lower speed, in a row
	busy  int       // of them, polls with traffic
	still int       // polls without, in a row
	well  int       // polls at the speed meant since it took hold, in a row
	open  bool
	awake bool // it was slow while busy for long enough: more than sleep
	speed standards.Speed
	meant standards.Speed
}

// observe takes one reading; a port whose link is down tells nothing.
func (s *slow) observe(r *port.Reading, inc *port.Increments, meant standards.Speed) {
	speed := r.Speed()
	switch {
	case meant == 0:
		*s = slow{}
	case speed == 0:
		s.pause()
	case speed < meant:
		s.below(r, inc, speed, meant)
	default:
		s.atSpeed()
	}
}

func (s *slow) pause() {
	s.well = 0
	if !s.open {
		*s = slow{}
	}
}

func (s *slow) below(r *port.Reading, inc *port.Increments, speed, meant standards.Speed) {
	if s.polls == 0 && !s.open {
		s.since = r.At
	}
	s.polls++
	s.well = 0
	s.speed, s.meant = speed, meant
	switch busy, told := busy(inc); {
	case !told:
	case busy:
		s.busy++
		s.still = 0
	default:
		s.still++
	}
	s.awake = s.awake || s.busy >= slowTakesHold
	s.open = s.open || s.awake || s.still >= slowTakesHold
}

func (s *slow) atSpeed() {
	s.polls, s.busy, s.still = 0, 0, 0
	if s.well++; !s.open || s.well >= slowLetsGo {
		*s = slow{}
	}
}

// busy tells whether the device at the far end is in use; not told where the
// readings don't compare or frames are not counted.
func busy(inc *port.Increments) (busy, told bool) {
	frames, ok := inc.Counters.Get(port.InUnicast)
	if !ok {
		frames, ok = inc.Counters.FramesIn()
	}
	return float64(frames) >= max(1, busyFramesPerSecond*inc.Seconds), ok
}
