package fault

import (
	"fmt"
	"time"

	"toneout/internal/port"
)

// powerTest watches for power over the pairs that is cut by a short or an
// overload (pethPsePortTable, RFC 3621). Its counts are kept where they are not
// told for a while.
type powerTest struct {
	Overloads, Shorts, Denied tally
	Absent                    tally       // devices that stopped drawing power
	Rose                      *powerRises // nil where nothing did in the last hour
}

// tally is a count of 32 bits as last told.
type tally struct {
	Told bool
	N    uint32
}

// rise is by how much a count rose since it was last told: 0 where it was not,
// or fell, which is a reset.
func (c *tally) rise(now port.Value[uint32]) uint32 {
	n, told := now.Get()
	if !told {
		return 0
	}
	before := *c
	*c = tally{true, n}
	if !before.Told || n < before.N {
		return 0
	}
	return n - before.N
}

// powerRises is what the counts rose by, until an hour goes by without.
type powerRises struct {
	Since             time.Time // the first of them
	Cut               time.Time // when power was last found cut, or its status at fault since; zero where it was not
	Refused           time.Time // when the switch was last found to have none left; likewise
	Overloads, Shorts uint32
}

// powerLetsGo is for how long no count may rise, nor the status tell a fault.
const powerLetsGo = time.Hour

func (c *powerTest) isOpen() bool { return c.Rose != nil && !c.Rose.Cut.IsZero() }

// refused tells whether the switch had no power left for the port in the last
// hour, which is no fault of the cable.
func (c *powerTest) refused() bool { return c.Rose != nil && !c.Rose.Refused.IsZero() }

// observe takes what the port feeds as last told, nil for nothing, and gives how
// often a device stopped drawing power. Counts of readings that don't compare
// begin anew.
func (c *powerTest) observe(now *port.Power, at time.Time, reason port.Reason) (lost uint32) {
	if c.Rose != nil {
		c.Rose.expire(at)
		if c.Rose.Cut.IsZero() && c.Rose.Refused.IsZero() {
			c.Rose = nil
		}
	}
	if reason != port.Comparable && reason != port.CountersReset {
		c.Overloads, c.Shorts, c.Denied, c.Absent = tally{}, tally{}, tally{}, tally{}
	}
	if now == nil {
		return 0
	}
	if c.isOpen() && now.Status == port.PowerFault {
		c.Rose.Cut = at // a short that stays is counted once
	}
	lost = c.Absent.rise(now.Absent)
	overloads, shorts, denied := c.Overloads.rise(now.Overloads), c.Shorts.rise(now.Shorts), c.Denied.rise(now.Denied)
	if overloads+shorts+denied == 0 {
		return lost
	}
	if c.Rose == nil {
		c.Rose = &powerRises{}
	}
	c.Rose.take(overloads, shorts, denied, at)
	return lost
}

func (r *powerRises) take(overloads, shorts, denied uint32, at time.Time) {
	if denied > 0 {
		r.Refused = at
	}
	if overloads+shorts == 0 {
		return
	}
	if r.Cut.IsZero() {
		r.Since = at
	}
	r.Cut = at
	r.Overloads += overloads
	r.Shorts += shorts
}

func (r *powerRises) expire(at time.Time) {
	if at.Sub(r.Cut) > powerLetsGo {
		r.Cut, r.Overloads, r.Shorts = time.Time{}, 0, 0
	}
	if at.Sub(r.Refused) > powerLetsGo {
		r.Refused = time.Time{}
	}
}

func (c *powerTest) finding(p *portState) finding {
	r := c.Rose
	f := finding{
		port: p, kind: PowerFailing, since: r.Since, prior: before{Prior: r.prior()}, seen: p.recordItems(),
		summary: fmt.Sprintf("%v cut the power over its pairs %s since this began.", p.ref, cuts(r)),
		evidence: withoutEmpty(
			fmt.Sprintf("%v counted them as %s.", p.ref, countedAs(r)),
			p.powerSentence(),
			flapSentence(p.hour.sum().LinkChanges),
		),
	}
	return f
}

func cuts(r *powerRises) string {
	switch {
	case r.Overloads == 0:
		return times(int(r.Shorts)) + " for a short circuit"
	case r.Shorts == 0:
		return times(int(r.Overloads)) + " for an overload"
	}
	return fmt.Sprintf("%s for a short circuit and %s for an overload", times(int(r.Shorts)), times(int(r.Overloads)))
}

func countedAs(r *powerRises) string {
	switch {
	case r.Overloads == 0:
		return "pethPsePortShortCounter"
	case r.Shorts == 0:
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
	if p.feeds == nil {
		return ""
	}
	switch p.feeds.Status {
	case port.PowerDelivering:
		return "The port feeds the device now."
	case port.PowerSearching:
		if p.reading.Oper == port.Up {
			return "" // what is plugged in wants no power
		}
		return "The port finds no device to feed now."
	case port.PowerDisabled:
		return "The port's power is switched off now."
	case port.PowerFault, port.PowerOtherFault:
		return "The port reports its power at fault now."
	case port.PowerNotTold, port.PowerTest:
	}
	return ""
}

// prior is that of power that is cut.
func (r *powerRises) prior() prior {
	if r.Shorts > 0 {
		return powerShort
	}
	return powerOverload
}

// delivers tells whether the port was found to deliver power at the latest slow
// reading.
func (p *portState) delivers() bool { return p.feeds != nil && p.feeds.Status == port.PowerDelivering }
