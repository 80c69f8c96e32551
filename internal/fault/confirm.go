package fault

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"toneout/internal/plant"
)

// enoughHeard is how many neighbours of before must be heard at the ports where
// they were. Of a changed engine id all are enough where there were fewer; other
// hardware wants that many, since an uplink that is back where it was says nothing
// of the cords that were moved over by hand.
const enoughHeard = 2

// confirm ends those of a switch's suspensions that something confirms, and
// tells whether any ended.
func (t *Tracker) confirm(s *switchState) bool {
	if len(s.open) == 0 || len(s.order) == 0 { // nothing to confirm, or nothing heard since a restart
		return false
	}
	accepted := t.settings.Switches[s.place].Serials
	var confirmed []*suspension
	for _, u := range s.open {
		switch {
		case u.named() != "" && slices.Contains(accepted, u.named()),
			u.Unlisted && len(accepted) == 0,
			t.joinedAgain(s, u),
			t.sameNeighbours(s, u):
			confirmed = append(confirmed, u)
		}
	}
	for _, u := range confirmed {
		s.accept(u)
	}
	return len(confirmed) > 0
}

// named is what a person may accept in the configuration.
func (u *suspension) named() string {
	if u.Serial != "" {
		return u.Serial
	}
	return u.Engine
}

// joinedAgain tells whether every port of before that had a run has it again,
// by what is written on it or whom it hears.
func (t *Tracker) joinedAgain(s *switchState, u *suspension) bool {
	if t.joins == u.joins {
		return false // not joined anew since
	}
	joined := 0
	for name, then := range u.Before {
		if then.Run == "" {
			continue
		}
		p := s.ports[name]
		if p == nil || p.join.Run == nil || p.join.Run.ID != then.Run {
			return false
		}
		joined++
	}
	return joined > 0
}

// sameNeighbours tells whether the names that were joined are all there, and
// enough of the neighbours of before are heard at the ports where they were and
// none at another. Where none is remembered, an unchanged full set of names
// confirms what has no serial. (A shift of names is undone by that.)
func (t *Tracker) sameNeighbours(s *switchState, u *suspension) bool {
	if u.heardIn != nil && u.heardIn == s.heardIn {
		return false // heard before it
	}
	for name, then := range u.Before {
		p := s.ports[name]
		if (then.Run != "" || u.Serial == "") && (p == nil || p.missed > 0) {
			return false
		}
	}
	where := placesOf(u.Before)
	if len(where) == 0 {
		touched := slices.DeleteFunc(slices.Clone(s.order), func(p *portState) bool { return !u.touches(p) })
		return u.Serial == "" && len(touched) == len(u.Before)
	}
	again := map[deviceID]bool{}
	for _, p := range s.order {
		for _, n := range p.neighbours {
			switch at, known := where[idOf(n)]; {
			case !known:
			case at != p.ref.Port:
				return false
			default:
				again[idOf(n)] = true
			}
		}
	}
	if u.Serial == "" {
		return len(again) >= min(enoughHeard, len(where))
	}
	return len(again) >= enoughHeard
}

// placesOf is the port at which each device was heard, of those heard at one.
func placesOf(before map[string]past) map[deviceID]string {
	where, several := map[deviceID]string{}, map[deviceID]bool{}
	for name, then := range before {
		for _, id := range then.Heard {
			if at, known := where[id]; known && at != name {
				several[id] = true
			}
			where[id] = name
		}
	}
	for id := range several {
		delete(where, id)
	}
	return where
}

// accept takes what is now for what is meant.
func (s *switchState) accept(u *suspension) {
	s.open = slices.DeleteFunc(s.open, func(o *suspension) bool { return o == u })
	if u.Serial != "" {
		for position, serial := range s.serials {
			waits := slices.ContainsFunc(s.open, func(o *suspension) bool { return o.Serial != "" && o.Position == position })
			if serial == u.Serial && !waits {
				delete(s.serials, position)
			}
		}
		s.serials[u.Position] = u.Serial
	}
	if u.Engine != "" {
		s.engine = u.Engine
	}
	for _, p := range s.order {
		if u.touches(p) {
			p.unit, p.index = p.reading.Unit, p.reading.Index
		}
	}
	s.markDoubted()
	for _, p := range s.order {
		p.remember(p.neighbours)
	}
}

// doubt tells why what is recorded of a port may be of another port now, ""
// where nothing speaks for that.
func (t *Tracker) doubt(s *switchState, p *portState) string {
	for _, u := range s.open {
		if u.touches(p) {
			return u.Why
		}
	}
	if t.misnumbered(s, p) && !t.namedInRecord(s, p) {
		return fmt.Sprintf("%s was numbered anew: its port %s had ifIndex %d before, and has %d now", s.name, p.ref.Port, p.index, p.reading.Index)
	}
	return ""
}

// misnumbered tells whether a port now has an ifIndex that the record uses for
// another port.
func (t *Tracker) misnumbered(s *switchState, p *portState) bool {
	return p.reading.Index != p.index && t.recorded[plant.PortRef{Switch: s.name, Port: strconv.Itoa(p.reading.Index)}]
}

// namedInRecord tells whether the record has a port by a name, so that its
// number doesn't matter.
func (t *Tracker) namedInRecord(s *switchState, p *portState) bool {
	return t.recorded[plant.PortRef{Switch: s.name, Port: p.reading.Name}] ||
		t.recorded[plant.PortRef{Switch: s.name, Port: p.reading.Description}]
}

// suspended tells a person what of a switch waits, why, and what ends it.
func (s *switchState) suspended() string {
	if len(s.open) == 0 {
		return ""
	}
	var whys, names []string
	grouped := false
	for _, u := range s.open {
		whys = append(whys, u.Why)
		grouped = grouped || u.Grouped
		if name := u.named(); name != "" {
			names = append(names, name)
		}
	}
	ways := "until their descriptions or neighbours agree with the record"
	if len(names) > 0 {
		ways += ", or its key serials in the configuration lists " + strings.Join(names, " and ")
	}
	if grouped {
		ways += ", or the inventory is read again with a row of the switch put right"
	}
	return fmt.Sprintf("%s; its ports' runs wait %s", strings.Join(whys, "; "), ways)
}

// unsure tells whether names or numbers of a switch's ports are in doubt.
func (s *switchState) unsure() bool {
	return slices.ContainsFunc(s.open, func(u *suspension) bool { return u.Grouped }) ||
		slices.ContainsFunc(s.order, func(p *portState) bool { return p.index != p.reading.Index })
}

// settle ends the suspensions and doubts that a person ends by putting the
// switch's rows right: those about names and numbers.
func (s *switchState) settle() {
	for _, u := range slices.Clone(s.open) {
		if u.Grouped {
			s.accept(u)
		}
	}
	for _, p := range s.order {
		if !p.doubted {
			p.index = p.reading.Index
		}
	}
}
