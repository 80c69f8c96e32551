package fault

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// What a port hears (IEEE 802.1AB) is kept from one asking for details to the
// next. While a switch is silent it stays as last told, for its parents follow
// from it; where a switch answers and its details are not told any longer, they
// are dropped after 3 slow intervals, 15 minutes at least.
const (
	slowIntervals  = 3
	leastDetailAge = 15 * time.Minute
	usualSlowEvery = 5 * time.Minute
)

func (s *Settings) detailsLast() time.Duration {
	return max(slowIntervals*s.slowEvery(), leastDetailAge)
}

func (s *Settings) slowEvery() time.Duration {
	if s.SlowEvery == 0 {
		return usualSlowEvery
	}
	return s.SlowEvery
}

// hear takes what a switch's ports hear by its latest details, and tells
// whether that changes a join. Where asking for the neighbours failed, those of
// before count on.
func (t *Tracker) hear(s *switchState, poll *port.Poll) (changed bool) {
	d, last := poll.Details, t.settings.detailsLast()
	if d == nil {
		d = s.details
	}
	if d != nil && poll.At.Sub(d.At) > last {
		d = nil
	}
	changed = t.announce(s, poll.Name, d)
	told := d != nil && d != s.details && !neighboursFailed(poll)
	s.details = d
	switch {
	case told:
		s.heardIn = d
		return t.distribute(s, d.Neighbours, poll.At) || changed
	case s.heardIn != nil && poll.At.Sub(s.heardIn.At) > last:
		s.heardIn = nil
		return t.distribute(s, nil, poll.At) || changed
	}
	return changed
}

// neighbourTable is the table of neighbours (LLDP-MIB).
const neighbourTable = "lldpRemTable"

func neighboursFailed(poll *port.Poll) bool {
	return slices.ContainsFunc(poll.Tables, func(t port.Table) bool { return t.Name == neighbourTable && t.State == port.TableBroken })
}

// distribute hands each port whom it hears.
func (t *Tracker) distribute(s *switchState, neighbours []port.Neighbour, at time.Time) (changed bool) {
	byIndex := make(map[int][]*port.Neighbour)
	for i := range neighbours {
		if n := &neighbours[i]; n.Index != 0 {
			byIndex[n.Index] = append(byIndex[n.Index], n)
		}
	}
	for _, p := range s.order {
		if p.fresh {
			changed = t.heardAt(p, byIndex[p.reading.Index], at) || changed
		}
	}
	return changed
}

// heardAt hands a port what it hears.
func (t *Tracker) heardAt(p *portState, heard []*port.Neighbour, at time.Time) (changed bool) {
	if len(heard) == 0 && len(p.neighbours) == 0 {
		p.far.Unheard = p.far.Device != (deviceID{})
		return false
	}
	t.follow(p, heard, at)
	changed = !slices.Equal(t.switchesOf(p.neighbours), t.switchesOf(heard))
	p.neighbours = heard
	p.remember(heard)
	p.far.Unheard = len(heard) == 0
	if n := direct(heard); n != nil && p.far.hear(n) {
		p.exchanged = at
		if _, by := p.meantBy(); by != byDesign && by != byDevice {
			p.slow = slow{} // what was meant was of another device
		}
	}
	peer, device := t.peerOf(p), t.deviceOf(p)
	changed = changed || peer != p.peer || device != p.device && (t.devices[fold(device)] || t.devices[fold(p.device)])
	p.peer, p.device = peer, device
	return changed
}

// switchesOf are the watched switches among neighbours.
func (t *Tracker) switchesOf(heard []*port.Neighbour) (names []string) {
	for _, n := range heard {
		if name := t.switchOf(n); name != "" {
			names = append(names, name)
		}
	}
	return names
}

// forwards tells whether a neighbour passes on what it receives, as a
// telephone does for the computer behind it only.
func forwards(n *port.Neighbour) bool {
	return !n.Roles.Has(port.Telephone) &&
		(n.Roles.Has(port.Bridge) || n.Roles.Has(port.Router) || n.Roles.Has(port.Repeater) || n.Roles.Has(port.AccessPoint))
}

// direct is the device at the other end of the cable among those that a port
// hears: the only one, or of several that all tell what they do the only
// telephone, with the rest behind it. It is nil where that can't be told: bridges
// don't pass on what others announce (IEEE 802.1AB 7.1), so a switch that is heard
// beside others has a hub before it.
func direct(heard []*port.Neighbour) *port.Neighbour {
	if len(heard) == 1 {
		return heard[0]
	}
	var phone *port.Neighbour
	for _, n := range heard {
		switch {
		case n.Roles == 0 || forwards(n):
			return nil
		case !n.Roles.Has(port.Telephone):
		case phone != nil:
			return nil
		default:
			phone = n
		}
	}
	return phone
}

// deviceOf names the one device that a port hears, where that is no watched
// switch.
func (t *Tracker) deviceOf(p *portState) string {
	if len(p.neighbours) != 1 || t.switchOf(p.neighbours[0]) != "" {
		return ""
	}
	return p.neighbours[0].System
}

// peerOf is the port of a watched switch at the other end of the cable.
func (t *Tracker) peerOf(p *portState) plant.PortRef {
	n := direct(p.neighbours)
	if n == nil {
		return plant.PortRef{}
	}
	other := t.switches[t.switchOf(n)]
	if other == nil {
		return plant.PortRef{}
	}
	peer := other.portCalled(n, p)
	if peer == nil || peer == p {
		return plant.PortRef{}
	}
	return peer.ref
}

// announced is what a switch is known by to its neighbours.
type announced struct {
	chassis port.ID
	system  string // folded
}

// names finds switches by what they are announced as; a name that several have
// finds none.
type names struct {
	byChassis map[port.ID][]string
	bySystem  map[string][]string
}

// announce enters what a switch is announced as, and tells whether that
// changed.
func (t *Tracker) announce(s *switchState, system string, d *port.Details) bool {
	now := announced{system: fold(system)}
	if d != nil {
		now.chassis = d.Chassis
	}
	if now == s.announced {
		return false
	}
	t.withdraw(s)
	s.announced = now
	if now.chassis.Kind != port.IDAbsent {
		t.names.byChassis[now.chassis] = append(t.names.byChassis[now.chassis], s.name)
	}
	if now.system != "" {
		t.names.bySystem[now.system] = append(t.names.bySystem[now.system], s.name)
	}
	return true
}

// withdraw takes a switch's announcement out of the names.
func (t *Tracker) withdraw(s *switchState) {
	remove(t.names.byChassis, s.announced.chassis, s.name)
	remove(t.names.bySystem, s.announced.system, s.name)
	s.announced = announced{}
}

func remove[K comparable](m map[K][]string, key K, name string) {
	var left []string
	for _, n := range m[key] {
		if n != name {
			left = append(left, n)
		}
	}
	if m[key] = left; len(left) == 0 {
		delete(m, key)
	}
}

// switchOf is the watched switch that a neighbour is: by its chassis id, else
// by its system name where the switch of that name has no other chassis id of
// the same kind. It is "" where none is, or several could be.
func (t *Tracker) switchOf(n *port.Neighbour) string {
	if found := t.names.byChassis[n.Chassis]; n.Chassis.Kind != port.IDAbsent && len(found) > 0 {
		if len(found) > 1 {
			return ""
		}
		return found[0]
	}
	found := t.names.bySystem[fold(n.System)]
	if len(found) != 1 || n.System == "" {
		return ""
	}
	if known := t.switches[found[0]].announced.chassis; known.Kind == n.Chassis.Kind && known.Kind != port.IDAbsent {
		return ""
	}
	return found[0]
}

func fold(text string) string { return strings.ToLower(strings.TrimSpace(text)) }

// portCalled finds the port that a neighbour names, which hears port from: by
// its identifier, then by its description. A key that fits several ports finds
// none. A bare number may be an ifIndex or anything else: it is that of the port
// which hears from back, else only a name.
func (s *switchState) portCalled(n *port.Neighbour, from *portState) *portState {
	index, err := strconv.Atoi(n.Port.Text)
	number := err == nil && n.Port.Kind == port.IDLocal
	if number {
		if p := s.hearingBack(index, from); p != nil {
			return p
		}
	}
	byName := func(r *port.Reading) string { return r.Name }
	byDescr := func(r *port.Reading) string { return r.Description }
	byAlias := func(r *port.Reading) string { return r.Alias }
	keys := []func(*port.Reading) string{byName, byDescr}
	switch n.Port.Kind {
	case port.IDAlias:
		keys = []func(*port.Reading) string{byAlias}
	case port.IDLocal:
		if !number {
			keys = append(keys, byAlias)
		}
	case port.IDMAC, port.IDAddress, port.IDCircuit, port.IDAbsent:
		keys = nil
	}
	for _, key := range keys {
		if p := s.only(key, n.Port.Text); p != nil {
			return p
		}
	}
	for _, key := range []func(*port.Reading) string{byDescr, byName, byAlias} {
		if p := s.only(key, n.PortText); p != nil {
			return p
		}
	}
	return nil
}

// only is the one port whose key is text.
func (s *switchState) only(key func(*port.Reading) string, text string) (found *portState) {
	if text == "" {
		return nil
	}
	for _, p := range s.order {
		if key(p.reading) == text {
			if found != nil {
				return nil
			}
			found = p
		}
	}
	return found
}

// hearingBack is the port of an ifIndex if it hears the switch of another port
// and no other device.
func (s *switchState) hearingBack(index int, from *portState) *portState {
	for _, p := range s.order {
		if p.reading.Index != index || len(p.neighbours) != 1 {
			continue
		}
		n := p.neighbours[0]
		if r := from.reading; r.Name != "" && (n.Port.Text == r.Name || n.PortText == r.Name) ||
			r.Description != "" && (n.Port.Text == r.Description || n.PortText == r.Description) {
			return p
		}
	}
	return nil
}

// resolve finds every port's other end anew, as the switches now are.
func (t *Tracker) resolve() {
	for _, s := range t.order {
		for _, p := range s.order {
			if len(p.neighbours) == 0 {
				continue
			}
			peer, device := t.peerOf(p), t.deviceOf(p)
			s.renewed = s.renewed || peer != p.peer || device != p.device
			p.peer, p.device = peer, device
		}
	}
}
