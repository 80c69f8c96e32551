package fault

import (
	"fmt"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// portState is all that is remembered of one port.
type portState struct {
	ref      plant.PortRef
	reading  *port.Reading // the latest
	previous *port.Reading // the one before; nil after it was compared
	fresh    bool          // whether reading was not observed yet
	missed   int           // polls of the switch that did not show the port

	join   plant.Join // Run is nil where it has none
	run    string     // id of the run that it has, or had last
	medium standards.Medium
	passes []string // what the run passes that may disturb it, in words
	site   *site    // where its open conditions are put together; nil without any

	totals      port.Counters
	linkChanges uint64
	carried     uint64 // frames received since the link last came up
	hour        window

	far    farEnd
	slow   slow
	errors errorTest
}

func (p *portState) seen() plant.SeenPort {
	r := p.reading
	return plant.SeenPort{
		Switch: p.ref.Switch, Name: r.Name, Description: r.Description, Alias: r.Alias,
		Index: r.Index, Physical: true,
	}
}

// belong tells the port its run. One that gets another run than it had begins
// anew: what was seen belongs to that run.
func (p *portState) belong(join plant.Join, medium standards.Medium, passes []string) {
	p.join, p.medium, p.passes = join, medium, passes
	if join.Run == nil {
		return
	}
	if p.run != "" && p.run != join.Run.ID {
		p.slow, p.errors, p.hour, p.far, p.carried = slow{}, errorTest{}, window{}, farEnd{}, 0
	}
	p.run = join.Run.ID
}

// observe takes the port's latest reading.
func (p *portState) observe(threshold float64) {
	r := p.reading
	inc, reason := port.Between(p.previous, r)
	p.previous, p.fresh = nil, false
	p.far.observe(r, reason == port.Comparable && inc.LinkChanges == 0)
	if r.Oper != port.Up {
		p.carried = 0
	}
	switch reason {
	case port.Comparable:
		p.count(&inc)
		p.errors.observe(r, &inc, p.mediumNow(), threshold)
		p.errors.weigh(&p.hour)
	case port.CountersReset:
		p.linkChanges += uint64(inc.LinkChanges)
	}
	p.slow.observe(r, &inc, &p.far, p.meant())
}

// open tells whether any condition holds.
func (p *portState) open() bool { return p.slow.open || p.errors.detector.Open() }

// count adds what came since the last reading to the totals.
func (p *portState) count(inc *port.Increments) {
	p.totals.Add(&inc.Counters)
	p.linkChanges += uint64(inc.LinkChanges)
	late, _ := inc.Counters.Get(port.LateCollisions)
	p.hour.add(p.reading.At, part{received(inc), inc.LinkChanges, late})
	if inc.LinkChanges > 0 {
		p.carried = 0
	}
	if frames, ok := inc.Counters.FramesIn(); ok {
		p.carried += frames
	}
}

// mediumNow is the medium by the PHY in use, else by the record.
func (p *portState) mediumNow() standards.Medium {
	if phy, ok := p.reading.PHY(); ok && phy.Medium != "" {
		return phy.Medium
	}
	return p.medium
}

// meant is the speed that the link is known to be meant to have, 0 where
// nothing tells: by the inventory, else the fastest that both ends offer.
func (p *portState) meant() standards.Speed {
	if p.join.Run != nil {
		if speed := p.join.Run.DesignSpeedMeant(); speed > 0 {
			return speed
		}
	}
	own, ok := p.reading.AutoNeg.Advertised.Get()
	if !ok {
		return 0
	}
	return (own & p.far.offered).Fastest()
}

// unjudged tells what the port does not say of what its health is judged by:
// its speed, an error objective for it, its damaged frames. It is "" where
// nothing is missing, and for a port without a link, which has nothing to say.
func (p *portState) unjudged() string {
	r := p.reading
	switch {
	case r.Oper != port.Up:
		return ""
	case r.Speed() == 0:
		return "the switch does not tell its speed"
	case !r.Counters.Has(port.FCS):
		return "the switch does not count its damaged frames"
	case objectiveOf(r, p.medium) == 0:
		return fmt.Sprintf("no error objective is known for %v", r.Speed())
	}
	return ""
}

// farEnd is what the device at the other end was seen to be able to.
type farEnd struct {
	offered standards.Abilities // all it ever offered
	held    standards.Speed     // the fastest it ever ran at
	down    int                 // polls without a link, in a row
}

// otherDevice is after how many polls without a link another device may have
// been plugged in, so that what the last one was able to no longer counts.
const otherDevice = 2

// observe takes a reading; steady is whether the link stood since the one
// before. A speed read while the link came up may be the configured one.
func (f *farEnd) observe(r *port.Reading, steady bool) {
	if r.Oper != port.Up {
		if f.down++; f.down >= otherDevice {
			*f = farEnd{down: f.down}
		}
		return
	}
	f.down = 0
	if steady {
		f.held = max(f.held, r.Speed())
	}
	if offered, ok := r.AutoNeg.Received.Get(); ok {
		f.offered |= offered
	}
}
