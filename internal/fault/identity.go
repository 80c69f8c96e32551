package fault

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// identity is what makes a switch the one that it was: the serials of its units
// by position, else its engine id. What is kept here is as last confirmed.
type identity struct {
	serials map[int]string
	lost    map[int]bool // positions whose unit is not told, though others are
	engine  string
	open    []*suspension
	gone    map[string]past // by port, of ports that left
}

// past is what is remembered of a port, as of when its switch was last
// confirmed.
type past struct {
	Run   string // that it was joined to; "" for none
	Unit  string // serial of the unit that held it
	Index int    // ifIndex
	Heard []deviceID
}

// mostGone is how many ports that left a switch are remembered.
const mostGone = 1024

// mostHeard is how many neighbours of a port are remembered.
const mostHeard = 4

// suspension is a unit, a switch or a group of ports of which it is not known
// whether the ports are the ones that their runs are plugged into.
type suspension struct {
	Position int
	Serial   string // of the unit that is there now; "" where it is not about one
	Engine   string // of the switch now; "" where it is not about that
	Group    string // the ports whose names begin so, where grouped
	Grouped  bool
	Unlisted bool // nothing is known but that the configuration lists other serials
	Why      string
	Before   map[string]past // by port name
	heardIn  *port.Details   // what told of neighbours before it; nil for nothing
	joins    int             // how often was joined before it
}

// touches tells whether a port may be another one than before.
func (u *suspension) touches(p *portState) bool {
	switch {
	case u.Grouped:
		return groupOf(p.ref.Port) == u.Group
	case u.Serial != "":
		return p.reading.Unit == u.Serial || p.reading.Unit == ""
	}
	return true
}

// identify compares what a switch now tells of itself with what it was, and
// tells whether a suspension began or ended.
func (t *Tracker) identify(s *switchState, poll *port.Poll) (changed bool) {
	units := withSerial(poll.Details)
	if len(units) > 0 {
		if poll.Details != s.details {
			changed = t.compareUnits(s, units, poll)
		}
		s.engine = poll.Engine
		return changed
	}
	before := s.engine
	if poll.Engine == "" || poll.Engine == before {
		return s.lift(func(u *suspension) bool { return u.Engine != "" && poll.Engine == before })
	}
	if before == "" {
		s.engine = poll.Engine
		return false
	}
	if slices.ContainsFunc(s.open, func(u *suspension) bool { return u.Engine == poll.Engine }) {
		return false
	}
	s.lift(func(u *suspension) bool { return u.Engine != "" })
	t.suspend(s, &suspension{
		Engine: poll.Engine, Before: s.remembered(func(*portState) bool { return true }),
		Why: fmt.Sprintf("%s may have been replaced: engine id %s before, %s now", s.name, before, poll.Engine),
	}, poll)
	return true
}

// withSerial are the units whose serial tells them apart; those that share a
// position count by their order.
func withSerial(d *port.Details) (units []port.Unit) {
	if d == nil {
		return nil
	}
	positions, serials := map[int]bool{}, map[string]int{}
	for _, u := range d.Units {
		positions[u.Position] = true
		serials[u.Serial]++
	}
	for i, u := range d.Units {
		if len(positions) < len(d.Units) {
			u.Position = i + 1
		}
		if serials[u.Serial] == 1 && !placeholder(u.Serial) {
			units = append(units, u)
		}
	}
	return units
}

// placeholder tells whether a serial stands for none, as agents give where it
// was never programmed (common practice, no source).
func placeholder(serial string) bool {
	bare := strings.ToLower(strings.Trim(serial, "0 .-_/()<>*#?"))
	return slices.Contains([]string{"", "n/a", "na", "none", "null", "unknown", "default", "not specified", "not available"}, bare)
}

// compareUnits compares the units by their positions.
func (t *Tracker) compareUnits(s *switchState, units []port.Unit, poll *port.Poll) (changed bool) {
	if s.serials == nil {
		s.serials, s.lost = map[int]string{}, map[int]bool{}
	}
	s.placeSingle(units)
	told := map[int]bool{}
	for _, u := range units {
		told[u.Position] = true
		known, was := s.serials[u.Position]
		elsewhere, moved := s.positionOf(u.Serial, u.Position)
		switch {
		case was && known == u.Serial:
			changed = s.lift(func(open *suspension) bool {
				return open.Engine != "" || open.Serial != "" && open.Position == u.Position
			}) || changed
		case !was && !moved && t.lists(s, u.Serial):
			s.serials[u.Position] = u.Serial
			changed = s.lift(func(open *suspension) bool { return open.Unlisted && open.Position == u.Position }) || changed
		default:
			changed = t.exchange(s, u, known, elsewhere, moved, poll) || changed
		}
	}
	t.missing(s, told, poll)
	return changed
}

// placeSingle lets a switch of one unit have its place wherever that is told to
// be now, unless another unit is there.
func (s *switchState) placeSingle(units []port.Unit) {
	for position, serial := range s.serials {
		if len(s.serials) > 1 || slices.ContainsFunc(units, func(u port.Unit) bool { return u.Position == position }) {
			return
		}
		for i, u := range units {
			if u.Serial == serial || len(units) == 1 {
				delete(s.serials, position)
				s.serials[units[i].Position] = serial
			}
		}
	}
}

// lists tells whether a serial is one of those that the configuration lists, if
// it lists any. What stands there outlasts a restart, so that a switch that was
// replaced meanwhile is noticed.
func (t *Tracker) lists(s *switchState, serial string) bool {
	listed := t.settings.Switches[s.place].Serials
	return len(listed) == 0 || slices.Contains(listed, serial)
}

// positionOf is where else a unit was.
func (s *switchState) positionOf(serial string, but int) (int, bool) {
	for _, position := range slices.Sorted(maps.Keys(s.serials)) {
		if s.serials[position] == serial && position != but {
			return position, true
		}
	}
	return 0, false
}

// exchange suspends a unit that is where another one was.
func (t *Tracker) exchange(s *switchState, u port.Unit, known string, elsewhere int, moved bool, poll *port.Poll) bool {
	same := func(open *suspension) bool { return open.Serial != "" && open.Position == u.Position }
	if i := slices.IndexFunc(s.open, same); i >= 0 {
		if s.open[i].Serial == u.Serial {
			return false
		}
		s.lift(same)
	}
	what := s.name + " was replaced"
	if len(s.serials) > 1 {
		what = fmt.Sprintf("member %d of %s was replaced", u.Position, s.name)
	}
	why := fmt.Sprintf("%s: serial %s before, %s now", what, known, u.Serial)
	switch {
	case moved:
		why = fmt.Sprintf("member %s of %s changed its place: position %d before, %d now", u.Serial, s.name, elsewhere, u.Position)
	case known == "":
		why = fmt.Sprintf("%s has serial %s, which the configuration does not list", s.name, u.Serial)
	}
	before := s.remembered(func(p *portState) bool {
		return known != "" && p.unit == known || p.reading.Unit == u.Serial || p.reading.Unit == ""
	})
	for name, then := range s.gone {
		if s.lost[u.Position] && then.Unit == known {
			before[name] = then // left with the unit
		}
	}
	t.suspend(s, &suspension{
		Position: u.Position, Serial: u.Serial, Why: why, Unlisted: known == "" && !moved, Before: before,
	}, poll)
	return true
}

// missing lists, once, a member that is no longer told: its ports leave with
// it, and their runs are unknown.
func (t *Tracker) missing(s *switchState, told map[int]bool, poll *port.Poll) {
	for _, position := range slices.Sorted(maps.Keys(s.serials)) {
		if told[position] {
			delete(s.lost, position)
			continue
		}
		if _, elsewhere := s.openFor(s.serials[position]); !s.lost[position] && !elsewhere {
			whole := plant.PortRef{Switch: s.name}
			t.moved(Move{At: poll.At, What: fmt.Sprintf("member %s (position %d) is gone", s.serials[position], position), From: whole, To: whole})
		}
		s.lost[position] = true
	}
}

func (s *switchState) openFor(serial string) (*suspension, bool) {
	i := slices.IndexFunc(s.open, func(u *suspension) bool { return u.Serial == serial && serial != "" })
	if i < 0 {
		return nil, false
	}
	return s.open[i], true
}

// numberedAnew suspends ports whose names may have shifted: of names that
// differ in their last number only, some left and new ones came, soon after the
// agent restarted or ports got other numbers. An optic that is moved to another
// cage while the switch runs is no shift.
func (t *Tracker) numberedAnew(s *switchState, c *roster, poll *port.Poll) (changed bool) {
	before, had := s.view.Uptime.Get()
	if now, has := poll.Uptime.Get(); !had || !has || now < before || c.renumbered > 0 {
		s.unsettled = silentPolls
	}
	if s.unsettled == 0 {
		return false
	}
	s.unsettled--
	for _, name := range c.came {
		group := groupOf(name)
		i := slices.IndexFunc(c.left, func(l string) bool { return groupOf(l) == group })
		if i < 0 || slices.ContainsFunc(s.open, func(u *suspension) bool { return u.Grouped && u.Group == group }) {
			continue
		}
		changed = true
		t.suspend(s, &suspension{
			Group: group, Grouped: true,
			Before: s.remembered(func(p *portState) bool {
				return groupOf(p.ref.Port) == group && !slices.Contains(c.came, p.ref.Port)
			}),
			Why: fmt.Sprintf("%s may number its ports anew: %s left as %s came", s.name, c.left[i], name),
		}, poll)
	}
	return changed
}

// groupOf is a port's name without its last number.
func groupOf(name string) string { return strings.TrimRight(name, "0123456789") }

// suspend begins a suspension. What was seen of its ports was of another port.
func (t *Tracker) suspend(s *switchState, u *suspension, poll *port.Poll) {
	u.joins, u.heardIn = t.joins, s.heardIn
	s.open = append(s.open, u)
	for _, p := range s.order {
		if u.touches(p) {
			p.begin()
			p.doubted = true
		}
	}
	whole := plant.PortRef{Switch: s.name}
	t.moved(Move{At: poll.At, What: u.Why, From: whole, To: whole})
}

// lift ends suspensions without confirming anything: all is as it was before.
func (s *switchState) lift(which func(*suspension) bool) bool {
	before := len(s.open)
	s.open = slices.DeleteFunc(s.open, which)
	s.markDoubted()
	return len(s.open) < before
}

// markDoubted tells each port whether it is suspended. One that no longer is
// begins anew: what was seen meanwhile is not blamed on its run.
func (s *switchState) markDoubted() {
	for _, p := range s.order {
		doubted := slices.ContainsFunc(s.open, func(u *suspension) bool { return u.touches(p) })
		if p.doubted && !doubted {
			p.begin()
		}
		p.doubted = doubted
	}
}

// remembered is what is remembered of some of the switch's ports, by name.
func (s *switchState) remembered(which func(*portState) bool) map[string]past {
	out := map[string]past{}
	for _, p := range s.order {
		if which(p) {
			out[p.ref.Port] = p.past()
		}
	}
	return out
}

// past is what is remembered of a port.
func (p *portState) past() past {
	then := past{Unit: p.unit, Index: p.index, Heard: p.heard}
	switch {
	case p.join.Run != nil:
		then.Run = p.join.Run.ID
	case p.unplaced:
		then.Run = p.run
	}
	return then
}

// retire remembers a port that left.
func (s *switchState) retire(p *portState) {
	if s.gone == nil {
		s.gone = map[string]past{}
	}
	if len(s.gone) >= mostGone {
		for name := range s.gone {
			delete(s.gone, name)
			break
		}
	}
	s.gone[p.ref.Port] = p.past()
}

// recall gives a port that came what is remembered of its name; known is
// whether anything is.
func (s *switchState) recall(p *portState) (known bool) {
	then, known := s.gone[p.ref.Port]
	if known {
		delete(s.gone, p.ref.Port)
		p.run, p.unit, p.index, p.heard = then.Run, then.Unit, then.Index, then.Heard
	}
	return known
}

// remember keeps the devices last heard, unless the port may be another one
// than these were heard at.
func (p *portState) remember(heard []*port.Neighbour) {
	if len(heard) == 0 || p.doubted {
		return
	}
	p.heard = make([]deviceID, 0, min(len(heard), mostHeard))
	for _, n := range heard[:min(len(heard), mostHeard)] {
		p.heard = append(p.heard, idOf(n))
	}
}
