package fault

import (
	"fmt"
	"time"

	"toneout/internal/port"
)

// feed hands each port what its switch's latest details tell of its optic and of
// the power that it feeds. What is not told any longer is gone.
func (s *switchState) feed() {
	renewed := s.details != s.fed
	s.fed = s.details
	for _, p := range s.order {
		switch {
		case renewed && p.fresh:
			p.take(s.details)
		case renewed, p.fresh && p.previous != nil && p.previous.Index != p.reading.Index:
			p.optic, p.power = nil, nil // it may be another port's
		}
	}
}

func (p *portState) take(d *port.Details) {
	if d == nil {
		p.optic, p.power = nil, nil
		return
	}
	p.optic = d.Optics[p.reading.Index]
	switch power, told := d.Power[p.reading.Index]; {
	case !told:
		p.power = nil
	case p.power == nil || *p.power != power:
		p.power = &power
	}
}

// powerTest watches for power over the pairs that is cut by a short or an
// overload (pethPsePortTable, RFC 3621). Its counts are kept where they are not
// told for a while.
type powerTest struct {
	told      bool
	overloads uint32 // as last told; likewise the others
	shorts    uint32
	denied    uint32
	rose      *powerRises // nil where nothing did in the last hour
}

// powerRises is what the counts rose by, until an hour goes by without.
type powerRises struct {
	since             time.Time // the first of them
	cut               time.Time // when power was last found cut; zero where it was not
	refused           time.Time // when the switch was last found to have none left; likewise
	overloads, shorts uint32
}

// powerLetsGo is for how long no count may rise.
const powerLetsGo = time.Hour

func (c *powerTest) isOpen() bool { return c.rose != nil && !c.rose.cut.IsZero() }

// refused tells whether the switch had no power left for the port in the last
// hour, which is no fault of the cable.
func (c *powerTest) refused() bool { return c.rose != nil && !c.rose.refused.IsZero() }

// observe takes what the port feeds as last told, nil for nothing. A count that
// fell was reset, and so was one of readings that don't compare.
func (c *powerTest) observe(now *port.Power, at time.Time, reason port.Reason) {
	if c.rose != nil {
		c.rose.expire(at)
		if c.rose.cut.IsZero() && c.rose.refused.IsZero() {
			c.rose = nil
		}
	}
	if reason != port.Comparable && reason != port.CountersReset {
		c.told = false
	}
	if now == nil {
		return
	}
	overloads, _ := now.Overloads.Get()
	shorts, _ := now.Shorts.Get()
	denied, _ := now.Denied.Get()
	if c.told {
		c.rises(overloads > c.overloads || shorts > c.shorts, denied > c.denied, at)
		if c.rose != nil {
			c.rose.overloads += max(overloads, c.overloads) - c.overloads
			c.rose.shorts += max(shorts, c.shorts) - c.shorts
		}
	}
	c.told, c.overloads, c.shorts, c.denied = true, overloads, shorts, denied
}

func (c *powerTest) rises(cut, refused bool, at time.Time) {
	if (cut || refused) && c.rose == nil {
		c.rose = &powerRises{}
	}
	if cut {
		if c.rose.cut.IsZero() {
			c.rose.since = at
		}
		c.rose.cut = at
	}
	if refused {
		c.rose.refused = at
	}
}

func (r *powerRises) expire(at time.Time) {
	if at.Sub(r.cut) > powerLetsGo {
		r.cut, r.overloads, r.shorts = time.Time{}, 0, 0
	}
	if at.Sub(r.refused) > powerLetsGo {
		r.refused = time.Time{}
	}
}

func (c *powerTest) finding(p *portState) finding {
	r := c.rose
	w, recorded := p.byRecord(powerWeights(r.shorts > 0))
	f := finding{
		port: p, kind: PowerFailing, since: r.since, causes: w.ranked(),
		summary: fmt.Sprintf("%v cut the power over its pairs: %s since this began.", p.ref, cuts(r)),
		evidence: withoutEmpty(
			fmt.Sprintf("%v counted them as %s.", p.ref, countedAs(r)),
			p.powerSentence(),
			flapSentence(p.hour.sum().linkChanges),
		),
	}
	f.evidence = append(f.evidence, recorded...)
	return f
}

func cuts(r *powerRises) string {
	switch {
	case r.overloads == 0:
		return times(int(r.shorts)) + " for a short"
	case r.shorts == 0:
		return times(int(r.overloads)) + " for an overload"
	}
	return fmt.Sprintf("%s for a short, %s for an overload", times(int(r.shorts)), times(int(r.overloads)))
}

func countedAs(r *powerRises) string {
	switch {
	case r.overloads == 0:
		return "pethPsePortShortCounter"
	case r.shorts == 0:
		return "pethPsePortOverLoadCounter"
	}
	return "pethPsePortShortCounter and pethPsePortOverLoadCounter"
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// powerSentence tells what the port feeds now, "" where it does not tell.
func (p *portState) powerSentence() string {
	if p.power == nil {
		return ""
	}
	switch p.power.Status {
	case port.PowerDelivering:
		return "It feeds the device now."
	case port.PowerSearching:
		return "It finds nothing to feed now."
	case port.PowerDisabled:
		return "Its power is switched off now."
	case port.PowerFault, port.PowerOtherFault:
		return "By its status its power is at fault now."
	case port.PowerNotTold, port.PowerTest:
	}
	return ""
}

// powerWeights: a short lies in the run or the device; an overload is more
// often a device that draws more than it asked for (common practice, no source).
func powerWeights(short bool) weights {
	if short {
		return weights{ShortedPair: 35, DamagedCable: 25, FarEndFaulty: 20, BadCord: 12, PoorTermination: 5, PortFaulty: 3}
	}
	return weights{FarEndFaulty: 60, DamagedCable: 12, ShortedPair: 10, BadCord: 10, PortFaulty: 8}
}

// feeds tells whether the port was found to deliver power at the latest slow
// reading.
func (p *portState) feeds() bool { return p.power != nil && p.power.Status == port.PowerDelivering }
