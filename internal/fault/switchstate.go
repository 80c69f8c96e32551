package fault

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// switchState is one switch, the view last given of it and its ports' states.
type switchState struct {
	name    string
	place   int // among the settings' switches
	view    *Switch
	order   []*portState   // as the switch lists them
	page    []port.Reading // their readings, while the same ports are shown; nil where others were
	kept    []*portState   // as before a restart, until the first answer
	ports   map[string]*portState
	refresh port.Refresh // how often it renews its counters

	details   *port.Details // as last taken; nil where none, or too old
	heardIn   *port.Details // those that told whom the ports hear; likewise
	announced announced
	equipped  *port.Details // those that told what is plugged in last
	opticsAt  time.Time     // when optics were last told
	powerAt   time.Time     // likewise
	identity

	event     groupEvent
	restarted time.Time // when it last did, as far as watched; zero where it did not
	patched   int       // ports that always have a link, of which it changed lately
	patchedAt time.Time // when that was counted
	unsettled int       // polls left in which its names may yet be found to have shifted
	renewed   bool      // whether its ports' joins or ends changed since they were shown
	unreadAt  time.Time // when the poll failed that made it unread
	unshown   bool      // whether its view is older than its ports' states
}

// roster is what a poll changed of a switch's ports.
type roster struct {
	changed    bool // the ports, or what is written on them
	gone       []*portState
	came, left []string // names never shown before, and those not shown this time
	renumbered int      // ports of another ifIndex than before
	entered    int      // ports that came, known or not
}

// absorb hands each physical port its reading, and drops the ports that the
// switch has not shown for 3 polls. It puts into before what the ports said
// last, where it writes their new readings over it.
func (s *switchState) absorb(readings []port.Reading, before *[]port.Reading) (c roster) {
	c.changed = s.wake()
	if s.renew(readings, before) {
		return c
	}
	var order []*portState
	s.page = nil
	for id, r := range s.identified(readings) {
		p := s.ports[id]
		if p == nil {
			c.entered++
			known := false
			if p, known = s.enter(id, r); !known {
				c.came = append(c.came, id)
			}
		} else if p.reading.Index != r.Index {
			c.renumbered++
		}
		c.changed = c.changed || p.reading == nil || relabelled(p.reading, r)
		p.follow(p.reading, r)
		order = append(order, p)
	}
	for _, p := range s.order {
		if p.fresh {
			continue
		}
		c.left = append(c.left, p.ref.Port)
		if p.missed++; p.missed < silentPolls {
			order = append(order, p)
			continue
		}
		delete(s.ports, p.ref.Port)
		s.retire(p)
		c.gone = append(c.gone, p)
	}
	if len(s.order) == 0 {
		c.came, c.entered = nil, 0 // the first time all are new
	}
	s.order = order
	c.changed = c.changed || len(c.gone) > 0
	return c
}

// renew is the usual case: the very ports as last time, in the same order and
// named alike. Their readings are written over the last ones. It reports false,
// and does nothing, where it is not the usual case.
func (s *switchState) renew(readings []port.Reading, before *[]port.Reading) bool {
	if !s.showsTheSame(readings) {
		return false
	}
	if s.page == nil {
		s.page = make([]port.Reading, len(s.order))
		for i, p := range s.order {
			s.page[i] = *p.reading
		}
	}
	*before = append((*before)[:0], s.page...)
	i := 0
	for j := range readings {
		if readings[j].Physical() {
			s.page[i] = readings[j]
			s.order[i].follow(&(*before)[i], &s.page[i])
			i++
		}
	}
	return true
}

func (s *switchState) showsTheSame(readings []port.Reading) bool {
	i := 0
	for j := range readings {
		r := &readings[j]
		if !r.Physical() {
			continue
		}
		if i == len(s.order) {
			return false
		}
		p := s.order[i]
		if p.missed > 0 || p.reading == nil || p.reading.Name != r.Name || relabelled(p.reading, r) || bestName(r) != p.ref.Port {
			return false
		}
		i++
	}
	return i == len(s.order)
}

// follow hands a port its reading and the one before. The first after a
// restart follows none.
func (p *portState) follow(previous, r *port.Reading) {
	if p.previous = previous; p.unplaced && p.awaited() {
		p.previous = nil
		p.index = cmp.Or(p.index, r.Index)
	}
	p.reading, p.fresh, p.missed = r, true, 0
}

// enter makes the state of a port that came, and tells whether its name was
// known.
func (s *switchState) enter(id string, r *port.Reading) (p *portState, known bool) {
	p = &portState{ref: plant.PortRef{Switch: s.name, Port: id}, index: r.Index}
	known = s.recall(p)
	s.ports[id] = p
	return p, known
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
