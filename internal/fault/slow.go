package fault

import (
	"fmt"
	"strings"
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
	Since time.Time // first poll at the lower speed
	Below bool      // at the last poll with a link
	Busy  int       // polls below it with traffic, in a row
	Still int       // polls below it without, in a row
	Well  int       // polls at it since it took hold, in a row
	Open  bool
	Awake bool // it was below while busy for long enough: more than sleep
	Speed standards.Speed
	Meant standards.Speed
	Why   guard // what the abilities told when they last told anything
}

// guard is what explains a low speed without a fault of the cable; the zero
// guard explains nothing.
type guard struct {
	Cause Cause
	Limit standards.Speed // the most that is offered; 0 where that is not the point
	Quiet bool
}

// observe takes one reading. A port whose link is down tells nothing, and one
// poll that does not tell the speed meant changes nothing.
func (s *slow) observe(r *port.Reading, inc *port.Increments, far *farEnd, meant standards.Speed) {
	if meant == 0 && s.Open {
		meant = s.Meant
	}
	switch speed := r.Speed(); {
	case meant == 0:
		*s = slow{}
	case speed == 0:
		s.pause()
	case speed < meant:
		s.fallen(r, inc, far, speed, meant)
	default:
		s.atSpeed()
	}
}

func (s *slow) pause() {
	s.Well = 0
	if !s.Open {
		*s = slow{}
	}
}

func (s *slow) fallen(r *port.Reading, inc *port.Increments, far *farEnd, speed, meant standards.Speed) {
	if !s.Below && !s.Open {
		s.Since = r.At
	}
	s.Below, s.Well = true, 0
	s.Speed, s.Meant = speed, meant
	switch busy, told := busy(inc); {
	case !told:
	case busy:
		s.Busy++
		s.Still = 0
	default:
		s.Still++
		s.Busy = 0
	}
	s.Awake = s.Awake || s.Busy >= slowTakesHold
	s.Open = s.Open || s.Awake || s.Still >= slowTakesHold
	if a := &r.AutoNeg; a.Enabled != port.NotTold || a.Advertised != (port.Value[standards.Abilities]{}) {
		s.Why = s.explain(a, far)
	}
}

// atSpeed is one poll at the speed meant. After some, what comes next is
// judged anew: a device that now sleeps was not seen slow while in use.
func (s *slow) atSpeed() {
	s.Below, s.Busy, s.Still = false, 0, 0
	if s.Well++; !s.Open || s.Well >= slowLetsGo {
		*s = slow{}
	} else if s.Well >= slowTakesHold {
		s.Awake, s.Why = false, guard{}
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

// guard asks, in this order: is the port set so, is the far end able, is it
// awake?
func (s *slow) guard() guard {
	if s.Why == (guard{}) && !s.Awake {
		return guard{Cause: FarEndAsleep, Quiet: true}
	}
	return s.Why
}

// explain looks for a setting or a limit in what both ends offer. A sleeper
// may offer little, so only one that is awake shows what it is able to.
func (s *slow) explain(a *port.AutoNegotiation, far *farEnd) guard {
	capable, _ := a.Capable.Get()
	advertised, told := a.Advertised.Get()
	switch {
	case a.Enabled == port.No:
		return guard{Cause: SpeedSetting}
	case !abilitiesTell(capable, s.Meant, far.Held):
		return guard{}
	case capable.Fastest() > 0 && !capable.Offers(s.Meant):
		return guard{RecordWrong, capable.Fastest(), true}
	case told && advertised.Fastest() > 0 && !advertised.Offers(s.Meant):
		return guard{Cause: SpeedSetting, Limit: advertised.Fastest()}
	case s.Awake && far.Offered.Fastest() > 0 && !far.Offered.Offers(s.Meant) && far.Held < s.Meant:
		return guard{FarEndLimit, far.Offered.Fastest(), true}
	}
	return guard{}
}

// abilitiesTell is whether offers of a speed can be seen: 2.5G and 5G have no
// bit (IANAifMauAutoNegCapBits). Older agents know none above 1G, which shows
// where the link has held more than the port is said to be able to; where it
// never did, a design speed that was mistyped is likelier than such an agent.
func abilitiesTell(capable standards.Abilities, speed, held standards.Speed) bool {
	switch {
	case speed <= standards.Gbps:
		return true
	case speed < 10*standards.Gbps:
		return false
	}
	return capable.Offers(speed) || capable.Fastest() > 0 && held < speed
}

// sentence is the guard in words, of a port.
func (g guard) sentence(at fmt.Stringer) string {
	switch {
	case g.Cause == SpeedSetting && g.Limit == 0:
		return fmt.Sprintf("auto-negotiation is switched off on %v", at)
	case g.Cause == SpeedSetting:
		return fmt.Sprintf("%v is set to offer no more than %v", at, g.Limit)
	case g.Cause == RecordWrong:
		return fmt.Sprintf("%v itself can go no faster than %v", at, g.Limit)
	case g.Cause == FarEndLimit:
		return fmt.Sprintf("the far end has offered no more than %v", g.Limit)
	}
	return "next to nothing is received, so the device looks asleep"
}

// named is the guard as it is shown; nil where it is a cause and no guard.
func (g guard) named(at fmt.Stringer) []Guard {
	name, named := map[Cause]GuardName{FarEndAsleep: Asleep, FarEndLimit: FarLimit}[g.Cause]
	if !named {
		return nil
	}
	says := g.sentence(at)
	return []Guard{{Name: name, Says: strings.ToUpper(says[:1]) + says[1:] + "."}}
}
