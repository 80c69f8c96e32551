package fault

import (
	"time"

	"toneout/internal/port"
)

// spread compares a port's counters over longer than a poll where the switch
// serves them from a cache, so that no poll shows errors without their frames,
// nor a pause where there was traffic. The zero value compares in every poll.
type spread struct {
	base    *port.Reading // the reading to compare with; nil for the one before
	changes int           // of the link since
	drop    bool          // what comes first may be another run's
}

// over takes the latest reading with what the poll itself showed, and gives
// the increments to count, over span at least; due is false where it is too
// soon. LinkChanges are then those of the whole span.
func (s *spread) over(previous, r *port.Reading, now port.Increments, reason port.Reason, span time.Duration) (port.Increments, port.Reason, bool) {
	if reason != port.Comparable {
		*s = spread{}
		return now, reason, true
	}
	base := s.base
	if base == nil {
		base = previous
	}
	s.changes += now.LinkChanges
	if r.At.Sub(base.At) < span {
		s.base = kept(base, s.base)
		return port.Increments{}, port.Comparable, false
	}
	whole := now
	if base != previous {
		whole, reason = port.Between(base, r)
		whole.LinkChanges = s.changes
	}
	dropped := s.drop
	*s = spread{}
	if span > 0 {
		s.base = kept(r, nil)
	}
	if dropped {
		return port.Increments{}, port.FirstReading, true
	}
	return whole, reason, true
}

// kept is a reading that outlives the poll: a copy, where it is not kept yet.
func kept(r, already *port.Reading) *port.Reading {
	if r == already {
		return r
	}
	copied := *r
	return &copied
}

// busyFrames is how many frames a port is to receive in a poll by its habit so
// that none of them is a surprise.
const busyFrames = 20

// longStill is for how long all counters of a switch may stand still while its
// links are up (common practice, no source).
const longStill = 10 * time.Minute

// movement is what the latest readings show of the switch's counters.
func (s *switchState) movement() port.Movement {
	var m port.Movement
	for _, p := range s.order {
		if !p.fresh || p.previous == nil {
			continue
		}
		received, moved, told := port.Moved(p.previous, p.reading)
		if !told {
			continue
		}
		seconds := p.reading.At.Sub(p.previous.At).Seconds()
		m.Links++
		m.Any = m.Any || moved
		m.Seconds = max(m.Seconds, seconds)
		if p.rate*seconds >= busyFrames {
			m.Busy++
			if received {
				m.Moved++
			}
		}
	}
	return m
}

// frozen is for how long all counters have stood still, 0 where that is not
// too long.
func (s *switchState) frozen() time.Duration {
	if still := s.refresh.Frozen(); still > longStill {
		return still
	}
	return 0
}
