package fault

import (
	"toneout/internal/plant"
	"toneout/internal/port"
)

// Found gives the ports as an inventory is drafted from them, in the order of
// the settings and of each switch.
func (t *Tracker) Found() (ports []plant.DraftPort) {
	for _, s := range t.order {
		for _, p := range s.order {
			ports = append(ports, p.found())
		}
	}
	return ports
}

func (p *portState) found() plant.DraftPort {
	r := p.reading
	phy, _ := r.PHY()
	advertised, _ := r.AutoNeg.Advertised.Get()
	d := plant.DraftPort{
		SeenPort: p.seen(), Up: r.Oper == port.Up, Offers: advertised.Fastest(), PHY: phy.Name, Medium: phy.Medium,
	}
	for _, n := range p.neighbours {
		d.Neighbours = append(d.Neighbours, *n)
	}
	return d
}
