package fault

import (
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// PortLight is the light that a port's optic told of last, beside what it
// ought to be.
type PortLight struct {
	At    time.Time
	PHY   string      // of the receiver; "" where not known, and with it what it takes
	Takes plant.Light // the receiver's window; Known where the record tells what to expect too
	From  plant.PortRef
	Lanes []LaneLight
	Most  port.Value[float64] // dB that the way from the other end ought to lose at most
}

// LaneLight is one lane. Loss is from the other end to this one; what is usual
// is absent until it is known.
type LaneLight struct {
	Received, UsualReceived port.Value[port.Light]
	Sent, UsualSent         port.Value[port.Light]
	Loss, UsualLoss         port.Value[float64] // dB
}

// showLight is nil for a port whose optic tells of no light.
func (p *portState) showLight() *PortLight {
	k := p.Light.Known
	if k == nil || p.optic == nil || len(p.optic.Lanes) == 0 {
		return nil
	}
	out := &PortLight{At: p.toldAt, PHY: k.beam.phy, Takes: k.beam.light, Most: k.beam.most, Lanes: make([]LaneLight, len(p.optic.Lanes))}
	if k.beam.from != nil {
		out.From = k.beam.from.ref
	}
	for i := range out.Lanes {
		d, own := p.toward(i), p.laneOf(i)
		lane := &out.Lanes[i]
		lane.Received, lane.Sent = own.Received, own.Sent
		lane.UsualReceived = usualLight(k.Base.Received, i)
		lane.UsualSent = usualLight(k.Base.Sent, i)
		if d.loss.told {
			lane.Loss = port.Some(d.loss.now)
		}
		if d.loss.settled {
			lane.UsualLoss = port.Some(d.loss.usual)
		}
	}
	return out
}

func usualLight(of []level, lane int) port.Value[port.Light] {
	if lane < len(of) {
		if db, ok := of[lane].known(); ok {
			return port.Some(port.Light(db))
		}
	}
	return port.Value[port.Light]{}
}
