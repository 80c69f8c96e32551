package fault

import (
	"fmt"
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// finding is one open condition of one port, not yet placed.
type finding struct {
	port     *portState
	kind     Kind
	since    time.Time
	quiet    bool
	severe   bool // by its measure
	summary  string
	evidence []string
	causes   []CauseProbability
}

// guard is what explains a low speed without a fault of the cable.
type guard struct {
	cause    Cause
	sentence string
	quiet    bool
}

// slowFinding judges a port that is below the speed meant.
func (p *portState) slowFinding(run *plant.Run, medium standards.Medium) finding {
	s := &p.slow
	f := finding{
		port: p, kind: BelowDesignSpeed, since: s.since,
		evidence: []string{p.speedSentence(run), p.abilitySentence(), p.trafficSentence()},
	}
	w := slowWeights(medium, s.speed)
	g, found := p.guard()
	if found {
		w = guarded(g.cause, w)
		f.quiet = g.quiet
		f.summary = fmt.Sprintf("Up at %v instead of %v: %s.", s.speed, s.meant, g.sentence)
	} else {
		f.summary = fmt.Sprintf("Up at %v instead of %v while in use, and %s.", s.speed, s.meant, p.cleanliness())
	}
	f.causes = w.ranked()
	f.evidence = withoutEmpty(f.evidence)
	return f
}

// guard asks, in this order: is the port set so, is the far end able, is it
// awake? A sleeper may offer little, so only one that is awake shows what it is
// able to.
func (p *portState) guard() (guard, bool) {
	a, meant := &p.last.AutoNeg, p.slow.meant
	if a.Enabled == port.No {
		return guard{SpeedSetting, "auto-negotiation is switched off on the port", false}, true
	}
	if p.abilitiesTell(meant) {
		capable, knowsCapable := a.Capable.Get()
		advertised, ok := a.Advertised.Get()
		switch {
		case knowsCapable && capable != 0 && !capable.Offers(meant):
			return guard{RecordWrong, fmt.Sprintf("the switch port itself is able to no more than %v", capable.Fastest()), true}, true
		case ok && advertised != 0 && !advertised.Offers(meant):
			return guard{SpeedSetting, fmt.Sprintf("the port is set to offer no more than %v", advertised.Fastest()), false}, true
		case p.slow.awake && p.far.offered.Fastest() > 0 && !p.far.offered.Offers(meant) && p.far.held < meant:
			return guard{FarEndLimit, fmt.Sprintf("the far end has offered no more than %v", p.far.offered.Fastest()), true}, true
		}
	}
	if !p.slow.awake {
		return guard{FarEndAsleep, "next to nothing is received, so the device looks asleep", true}, true
	}
	return guard{}, false
}

// abilitiesTell is whether offers of a speed can be seen: 2.5G and 5G have no
// bit (IANAifMauAutoNegCapBits), and older agents know none above 1G.
func (p *portState) abilitiesTell(speed standards.Speed) bool {
	switch {
	case speed <= standards.Gbps:
		return true
	case speed < 10*standards.Gbps:
		return false
	}
	capable, ok := p.last.AutoNeg.Capable.Get()
	return ok && capable.Offers(speed)
}

func (p *portState) speedSentence(run *plant.Run) string {
	by := "both ends offer it"
	switch {
	case run == nil || run.DesignSpeedMeant() == 0:
	case run.DesignSpeedMeant() == run.DesignSpeed:
		by = "the inventory's design speed"
	default:
		by = "the inventory's device speed"
	}
	return fmt.Sprintf("%v is up at %v; meant is %v (%s).", p.ref, p.slow.speed, p.slow.meant, by)
}

func (p *portState) abilitySentence() string {
	own, ok := p.last.AutoNeg.Advertised.Get()
	if !ok || own.Fastest() == 0 {
		return ""
	}
	far := p.far.offered.Fastest()
	if far == 0 {
		return fmt.Sprintf("The port offers up to %v; the far end's offer is not known.", own.Fastest())
	}
	return fmt.Sprintf("The port offers up to %v, the far end up to %v.", own.Fastest(), far)
}

func (p *portState) trafficSentence() string {
	hour, _ := p.hour.sum()
	return fmt.Sprintf("%s frames received in the last %s, %s of them damaged.", count(hour.Frames), hour.span(), count(hour.Errored))
}

func (p *portState) cleanliness() string {
	if hour, _ := p.hour.sum(); hour.Errored > 0 {
		return fmt.Sprintf("with %s damaged frames in the last %s", count(hour.Errored), hour.span())
	}
	return "without a damaged frame: the link fell back"
}

func withoutEmpty(sentences []string) []string {
	out := sentences[:0]
	for _, s := range sentences {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}
