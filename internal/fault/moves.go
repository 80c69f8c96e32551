package fault

import (
	"fmt"
	"slices"
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// mostMoves is how many moves are kept, mostDevices how many devices of a port
// are remembered.
const (
	mostMoves   = 100
	mostDevices = 4
)

// moved enters a move, latest first. The list is shared with snapshots, so it
// is replaced.
func (t *Tracker) moved(m Move) {
	t.moves = slices.Concat([]Move{m}, t.moves[:min(len(t.moves), mostMoves-1)])
}

// places remembers where things were last seen: devices by chassis id, labels
// by the id of their run.
type places[K comparable] map[K]*placed

// placed is where one thing is, at several ports where it has as many, and
// where it was last.
type placed struct {
	now  []spot
	last plant.PortRef
}

type spot struct {
	at    plant.PortRef
	since time.Time
}

// arrive takes that a thing is seen at a port, and gives the port that it left
// for it, the zero PortRef for none: it may be at several ports.
func (p places[K]) arrive(key K, at plant.PortRef, when time.Time) (from plant.PortRef) {
	here := p[key]
	if here == nil {
		here = &placed{}
		p[key] = here
	}
	if slices.ContainsFunc(here.now, func(s spot) bool { return s.at == at }) {
		return from
	}
	if len(here.now) == 0 && here.last != at {
		from = here.last
	}
	if len(here.now) < mostDevices {
		here.now = append(here.now, spot{at, when})
	}
	return from
}

// leave takes that a thing is no longer seen at a port, and gives the port that
// it went to before that was noticed, the zero PortRef for none.
func (p places[K]) leave(key K, at plant.PortRef) (to plant.PortRef) {
	here := p[key]
	if here == nil {
		return to
	}
	i := slices.IndexFunc(here.now, func(s spot) bool { return s.at == at })
	if i < 0 {
		return to
	}
	left := here.now[i]
	here.now = slices.Delete(here.now, i, i+1)
	here.last = at
	if len(here.now) == 1 && here.now[0].since.After(left.since) {
		to = here.now[0].at
	}
	return to
}

// forget drops a thing that is nowhere now and was last at this port.
func (p places[K]) forget(key K, at plant.PortRef) {
	if here := p[key]; here != nil && len(here.now) == 0 && here.last == at {
		delete(p, key)
	}
}

// forgetSwitch drops what was last at a switch that is not watched any longer.
func (p places[K]) forgetSwitch(name string) {
	for key, here := range p {
		here.now = slices.DeleteFunc(here.now, func(s spot) bool { return s.at.Switch == name })
		if len(here.now) == 0 && (here.last.Switch == name || here.last == plant.PortRef{}) {
			delete(p, key)
		}
	}
}

// devicesOf are the chassis ids of the end devices that are heard, without
// addresses, which are given anew from time to time.
func (t *Tracker) devicesOf(heard []*port.Neighbour) (ids []port.ID) {
	for _, n := range heard {
		lasting := n.Chassis.Kind != port.IDAbsent && n.Chassis.Kind != port.IDAddress
		if lasting && t.switchOf(n) == "" && !slices.Contains(ids, n.Chassis) && len(ids) < mostDevices {
			ids = append(ids, n.Chassis)
		}
	}
	return ids
}

// follow takes which devices a port hears now.
func (t *Tracker) follow(p *portState, heard []*port.Neighbour, at time.Time) {
	now := t.devicesOf(heard)
	for _, id := range p.devices {
		if slices.Contains(now, id) {
			continue
		}
		to := t.places.leave(id, p.ref)
		if len(t.names.byChassis[id]) == 0 { // else it is a switch, which was not known at first
			t.tellDevice(id, at, p.ref, to)
		}
	}
	for _, id := range now {
		t.tellDevice(id, at, t.places.arrive(id, p.ref, at), p.ref)
		if !slices.Contains(p.devices, id) {
			p.devices = append(p.devices, id)
		}
	}
	for len(p.devices) > mostDevices {
		i := max(0, slices.IndexFunc(p.devices, func(id port.ID) bool { return !slices.Contains(now, id) }))
		t.places.forget(p.devices[i], p.ref)
		p.devices = slices.Delete(p.devices, i, i+1)
	}
}

func (t *Tracker) tellDevice(id port.ID, at time.Time, from, to plant.PortRef) {
	if from != (plant.PortRef{}) && to != (plant.PortRef{}) {
		t.moved(Move{At: at, What: "device " + id.Text, From: from, To: to})
	}
}

// relabel takes which run a port's description names now.
func (t *Tracker) relabel(p *portState, at time.Time) {
	now := t.labelled(p.reading)
	if now == p.label {
		return
	}
	if before := p.label; before != "" {
		t.tellLabel(before, at, p.ref, t.labels.leave(before, p.ref))
	}
	if p.label = now; now != "" {
		t.tellLabel(now, at, t.labels.arrive(now, p.ref, at), p.ref)
	}
}

func (t *Tracker) tellLabel(run string, at time.Time, from, to plant.PortRef) {
	if from != (plant.PortRef{}) && to != (plant.PortRef{}) {
		t.moved(Move{At: at, What: "description of run " + run, From: from, To: to})
	}
}

// labelled is the run of the inventory that a port's description names, or "".
func (t *Tracker) labelled(r *port.Reading) string {
	labels := t.settings.Labels
	if labels == nil || r.Alias == "" {
		return ""
	}
	group := labels.SubexpIndex("run")
	found := labels.FindStringSubmatch(r.Alias)
	if group < 0 || found == nil || t.plant.Run(found[group]) == nil {
		return ""
	}
	return found[group]
}

// severalPorts is from how many ports of another ifIndex on a switch was
// numbered anew.
const severalPorts = 2

// renumbered lists, as one move, that ports of a switch have another ifIndex.
func (t *Tracker) renumbered(s *switchState, ports int, at time.Time) {
	if ports >= severalPorts {
		whole := plant.PortRef{Switch: s.name}
		t.moved(Move{At: at, What: fmt.Sprintf("ifIndex of %d ports", ports), From: whole, To: whole})
	}
}
