package fault

import (
	"time"

	"toneout/internal/port"
)

// fitted is what is plugged into a port and what it feeds, as last told.
type fitted struct {
	optic  *port.Optic
	feeds  *port.Power
	toldAt time.Time // when these were asked for
	fedAt  time.Time // when it was first found to feed without a break since; zero where it does not
	anew   bool      // whether they were told since the port was last judged
	moved  bool      // whether the port was joined otherwise since

	beyond *portState // at the other end of a fibre, as last known; nil where not known
}

// equip hands each port its optic and its power by the switch's latest
// details. What one asking does not tell at all stays as it was, for three slow
// intervals at most; what is told without a port's entry is gone from there.
func (t *Tracker) equip(s *switchState, at time.Time) {
	d, last := s.details, t.settings.detailsLast()
	told := d != nil && d != s.equipped
	s.equipped = d
	if told && d.Optics != nil {
		s.opticsAt = d.At
	}
	if told && d.Power != nil {
		s.powerAt = d.At
	}
	noOptics, noPower := at.Sub(s.opticsAt) > last, at.Sub(s.powerAt) > last
	for _, p := range s.order {
		if told && p.fresh {
			p.equip(d)
		}
		if noOptics && p.optic != nil {
			p.optic, p.anew = nil, true
		}
		if noPower {
			p.feeds = nil
		}
	}
}

func (p *portState) equip(d *port.Details) {
	p.toldAt, p.anew = d.At, true
	if d.Optics != nil {
		p.optic = d.Optics[p.reading.Index]
	}
	if d.Power != nil {
		before := p.feeds
		p.feeds = nil
		if power, ok := d.Power[p.reading.Index]; ok {
			p.feeds = &power
		}
		p.feedsSince(before)
	}
}

// feedsSince keeps since when the port feeds. A device that was away for a
// moment shows by the count of those that stopped drawing power.
func (p *portState) feedsSince(before *port.Power) {
	switch {
	case !p.delivers():
		p.fedAt = time.Time{}
	case p.fedAt.IsZero() || before == nil || before.Absent != p.feeds.Absent:
		p.fedAt = p.toldAt
	}
}
