package fault

import (
	"fmt"
	"slices"
	"strconv"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// switchState is one switch, the view last given of it and its ports' states.
type switchState struct {
	view    *Switch
	order   []*portState // as the switch lists them
	ports   map[string]*portState
	refresh port.Refresh // how often it renews its counters
}

// absorb hands each physical port its reading, and drops the ports that the
// switch has not shown for 3 polls. It tells whether the ports or what is
// written on them changed, and which are gone.
func (s *switchState) absorb(name string, readings []port.Reading) (changed bool, gone []*portState) {
	var order []*portState
	for id, r := range s.identified(readings) {
		p := s.ports[id]
		if p == nil {
			p = &portState{ref: plant.PortRef{Switch: name, Port: id}}
			s.ports[id] = p
			changed = true
		}
		changed = changed || p.reading == nil || relabelled(p.reading, r)
		p.previous, p.reading, p.fresh, p.missed = p.reading, r, true, 0
		order = append(order, p)
	}
	for _, p := range s.order {
		if p.fresh {
			continue
		}
		if p.missed++; p.missed < silentPolls {
			order = append(order, p)
			continue
		}
		delete(s.ports, p.ref.Port)
		gone = append(gone, p)
	}
	s.order = order
	return changed || len(gone) > 0, gone
}

// identified yields the physical ports' readings, each under the name that it
// is known by: its ifName, which survives a renumbering, else the best the
// switch gives. Ports that share a name are told apart by their ifIndex; plant
// joins none of them. The readings are copies, so that a poll's other rows are
// not kept.
func (s *switchState) identified(readings []port.Reading) func(yield func(string, *port.Reading) bool) {
	var physical []*port.Reading
	count := make(map[string]int)
	names := s.namesByIndex(readings)
	for i := range readings {
		if !readings[i].Physical() {
			continue
		}
		r := readings[i]
		if last := names[r.Index]; r.Name == "" && last != nil && last.Description == r.Description {
			r.Name = last.Name // not told this time
		}
		physical = append(physical, &r)
		count[bestName(&r)]++
	}
	return func(yield func(string, *port.Reading) bool) {
		for _, r := range physical {
			id := bestName(r)
			if count[id] > 1 {
				id = fmt.Sprintf("%s (ifIndex %d)", id, r.Index)
			}
			if !yield(id, r) {
				return
			}
		}
	}
}

// namesByIndex gives the last readings by ifIndex, where some row of now has
// no name; nil where all have.
func (s *switchState) namesByIndex(readings []port.Reading) map[int]*port.Reading {
	if !slices.ContainsFunc(readings, func(r port.Reading) bool { return r.Name == "" }) {
		return nil
	}
	last := make(map[int]*port.Reading, len(s.order))
	for _, p := range s.order {
		last[p.reading.Index] = p.reading
	}
	return last
}

func bestName(r *port.Reading) string {
	switch {
	case r.Name != "":
		return r.Name
	case r.Description != "":
		return r.Description
	}
	return strconv.Itoa(r.Index)
}

func relabelled(before, now *port.Reading) bool {
	return before.Index != now.Index || before.Alias != now.Alias || before.Description != now.Description
}
