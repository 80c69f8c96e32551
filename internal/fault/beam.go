package fault

import (
	"cmp"
	"slices"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// beam is what is known beforehand of the light that travels to a port from the
// other end of its cable.
type beam struct {
	from   *portState   // the port there; nil where no watched switch holds it, or it is in doubt
	sender *switchState // that holds it

	phy   string              // of the receiver; "" where not known, and with it what it takes
	light plant.Light         // what it takes; Known where the record tells what to expect
	most  port.Value[float64] // dB, the most that the way ought to lose
}

// beamTo is what is known beforehand of the light to a port.
func (t *Tracker) beamTo(p *portState) beam {
	var b beam
	if b.from = t.otherEnd(p); b.from != nil {
		b.sender = t.switches[b.from.ref.Switch]
	}
	if p.medium == standards.ActiveOptical || p.medium == standards.Twinax {
		return b // sold with its plugs, and held to no standard's levels
	}
	seen, run := p.phyName(), p.join.Run
	if _, tells := standards.OpticNamed(seen); !tells {
		seen = "" // a type such as 10GBASE-R covers several
	}
	recorded := ""
	if run != nil {
		recorded = [...]string{plant.NearEnd: run.Optic, plant.FarEnd: run.FarOptic}[p.join.End]
	}
	optic, ok := standards.OpticNamed(cmp.Or(seen, recorded))
	if !ok {
		return b
	}
	b.phy = optic.PHY
	b.light = plant.Light{TakesLeast: optic.TakeLeast, TakesMost: optic.TakeMost}
	if optic.DamageKnown {
		b.light.Damage = port.Some(optic.Damage)
	}
	if run == nil || p.inventory == nil || !p.recordSpeaks() || unlikeOptics(seen, recorded) {
		return b
	}
	e := p.foretell(seenAtEnds(p, b.from))
	if e.light.Known {
		b.light, b.most = e.light, port.Some(e.light.LossMost)
	} else if e.loss.Known {
		b.most = port.Some(e.loss.Most)
	}
	return b
}

// foretold is what the record says of the light to a port. It is kept, since
// what it is worked out of seldom changes.
type foretold struct {
	inventory *plant.Plant
	join      plant.Join
	seen      plant.Seen
	light     plant.Light
	loss      plant.Budget
}

func (p *portState) foretell(seen plant.Seen) *foretold {
	if f := p.foretold; f == nil || f.inventory != p.inventory || f.join != p.join || f.seen != seen {
		e := p.inventory.Expected(p.join.Run, seen)
		p.foretold = &foretold{p.inventory, p.join, seen, e.Light[p.join.End], e.Loss}
	}
	return p.foretold
}

// unlikeOptics tells whether a record names another PHY than is seen.
func unlikeOptics(seen, recorded string) bool {
	a, _ := standards.PHYNamed(seen)
	b, _ := standards.PHYNamed(recorded)
	return seen != "" && recorded != "" && a.Name != b.Name
}

// phyName is the PHY in use, else that of its optic's model, or that was while the link
// was last up.
func (p *portState) phyName() string {
	if phy, ok := p.reading.PHY(); ok {
		return phy.Name
	}
	if p.optic != nil {
		if optic, ok := standards.OpticInModel(p.optic.Model); ok {
			return optic.PHY
		}
	}
	if k := p.Light.Known; k != nil {
		return k.PHY
	}
	return ""
}

// seenAtEnds is what is seen at the ends of the run that both ports are at.
func seenAtEnds(p, other *portState) (seen plant.Seen) {
	own, far := &seen.Near, &seen.Far
	if p.join.End == plant.FarEnd {
		own, far = far, own
	}
	own.PHY = p.phyName()
	if other != nil {
		far.PHY = other.phyName()
	}
	return seen
}

// otherEnd is the port at the other end of a port's cable: of its run, else
// the one that it hears; nil where these differ, or light does not pass through.
func (t *Tracker) otherEnd(p *portState) *portState {
	at := p.peer
	if run := p.join.Run; run != nil {
		near, far := t.joined.PortsOf(run.ID)
		if p.join.End == plant.FarEnd {
			far = near
		}
		if none := (plant.PortRef{}); at != none && far != none && at != far || slices.Contains(run.PassesThrough, "converter") {
			return nil
		}
		at = cmp.Or(far, at)
	}
	s := t.switches[at.Switch]
	if s == nil || p.doubted {
		return nil
	}
	if other := s.ports[at.Port]; other != nil && !other.doubted {
		return other
	}
	return nil
}
