package fault

import (
	"slices"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// Snapshot gives the state as of the last poll. What did not change is shared
// with the snapshots before.
func (t *Tracker) Snapshot() *Snapshot {
	events := t.settle()
	for _, s := range t.unshown {
		t.show(s)
	}
	t.unshown = t.unshown[:0]
	ended, proofs := t.work.ended, t.proofs
	t.work.ended, t.proofs = nil, nil
	return &Snapshot{
		At: t.at, Plant: t.plant, Joined: t.joined, Faults: t.board.faults, Shared: t.shared.causes, Events: events, Ended: ended, Proofs: proofs,
		Switches: slices.Clone(t.views), Links: t.net.links, Moves: t.moves, index: t.index,
	}
}

// settle puts the faults together as of now, and gives what that changed.
func (t *Tracker) settle() []Event {
	t.workChanged()
	if t.board.recompose(t.compose) {
		t.shared.stale = true
	}
	if t.share() {
		t.board.recompose(t.compose)
	}
	t.watchWorks()
	return t.board.renew()
}

// toShow lets the next snapshot show a switch's ports anew.
func (t *Tracker) toShow(s *switchState) {
	if !s.unshown {
		s.unshown, t.unshown = true, append(t.unshown, s)
	}
}

// show makes a switch's view anew from its ports' states.
func (t *Tracker) show(s *switchState) {
	s.unshown = false
	view := *s.view
	view.Suspended = s.suspended()
	s.renewed = false
	last := view.Ports
	view.Ports, view.Unplaced = make([]Port, 0, len(s.order)), false
	for _, p := range s.order {
		if !p.awaited() {
			view.Unplaced = view.Unplaced || p.unplaced
			shown := p.show()
			shown.Guards = p.guards(shown.Unjudged, &s.event)
			view.Ports = append(view.Ports, shown)
		}
	}
	if !sameNames(last, view.Ports) {
		view.ports = make(map[string]int, len(view.Ports))
		for i := range view.Ports {
			view.ports[view.Ports[i].Name] = i
		}
	}
	t.see(s, &view)
}

func sameNames(a, b []Port) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i].Name != b[i].Name {
			return false
		}
	}
	return true
}

func (p *portState) show() Port {
	r := p.reading
	phy, _ := r.PHY()
	out := Port{
		Switch: p.ref.Switch, Name: p.ref.Port, End: p.join.End, JoinedBy: p.join.How,
		Description: written(r), Admin: r.Admin, Oper: r.Oper,
		Speed: r.Speed(), Meant: p.meant(), Duplex: r.Duplex(), PHY: phy.Name, LastReading: r.At,
		Totals: p.totals.Only(&r.Counters), LinkChanges: p.linkChanges, Carried: p.carried,
		Hour: p.hour.sum().Hour, Unjudged: p.unjudged(),
		Neighbours: p.neighbours, Peer: p.peer, Fastest: fastest(r), DownSince: p.downSince,
		device: p.device, Optic: p.optic, Power: p.feeds, Light: p.showLight(),
	}
	if p.errors.counted(&r.Counters) {
		out.ErrorsBy = p.errors.Source
	}
	if p.join.Run != nil {
		out.Run = p.join.Run.ID
	}
	return out
}

// fastest is the most that a port can do. Agents that know the bits of up to
// 1 Gbit/s only are common, and 2.5 and 5 Gbit/s have none (RFC 4836), so that
// 1 Gbit/s tells nothing.
func fastest(r *port.Reading) standards.Speed {
	capable, _ := r.AutoNeg.Capable.Get()
	if speed := capable.Fastest(); speed != standards.Gbps {
		return speed
	}
	return 0
}

// written is what people wrote on a port, else what the switch calls it.
func written(r *port.Reading) string {
	if r.Alias != "" {
		return r.Alias
	}
	return r.Description
}
