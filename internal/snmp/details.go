package snmp

import (
	"cmp"
	"encoding/hex"
	"slices"

	"toneout/internal/port"

	"github.com/gosnmp/gosnmp"
)

// lists are the slow tables, in the order in which they are asked for: first what
// tells which rows are ports.
var lists = []*list{stack, entities, aliases, remotes, locals, bridgePorts, remotePHYs, sensors, powerPorts, etherStats}

// Bounds of a switch's details beyond mostRows.
const (
	mostNeighbours        = 1000 // and beyond that so many a port
	mostNeighboursPerPort = 4
	mostStacked           = 20_000
)

const snmpEngineID0 = ".1.3.6.1.6.3.10.2.1.1.0" // RFC 3411

// inquiry is the asking for a switch's details.
type inquiry struct {
	*round
	came  map[*list][]*record
	built map[uint32]entity // by entPhysicalIndex
	quiet int               // tables that gave no answer
}

// inquire asks for the details: what the switch is built of, whom its ports hear,
// what their optics tell and what they feed. A table that fails is broken; what the
// switch is built of is then as it was. Only what ends the poll is an error. Tables
// that were silent are asked for last, and none after the second one.
func (r *round) inquire() error {
	s := &r.know.slow
	q := &inquiry{round: r, came: map[*list][]*record{}}
	details := &port.Details{}
	if err := q.scalars(details); err != nil {
		return err
	}
	if !r.discovered {
		if err := r.granted(); err != nil {
			return err
		}
	}
	order := slices.Clone(lists[:len(lists)-1])
	slices.SortStableFunc(order, func(a, b *list) int { return cmp.Compare(bit(s.silent[a.table]), bit(s.silent[b.table])) })
	for _, l := range order {
		if err := q.ask(l); err != nil {
			return err
		}
	}
	if err := r.sameNames(); err != nil {
		return err
	}
	q.takeParts(details)
	for i := range r.ports.all {
		s.parts.apply(&r.ports.all[i].Reading)
	}
	if err := q.takeNeighbours(details); err != nil {
		return err
	}
	t := newTree(q.built, q.came[aliases], q.readings())
	q.takeOptics(details, t)
	q.takePower(details, t)
	details.At = r.last.at
	s.details = details
	return nil
}

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}

// ask reads one table, where there is a reason to.
func (q *inquiry) ask(l *list) error {
	most := mostRows
	switch l {
	case remotes, remotePHYs:
		most = mostNeighboursPerPort*len(q.ports.all) + mostNeighbours
	case stack:
		most = mostStacked
	}
	if l == remotePHYs || l == locals || l == bridgePorts {
		if known := q.know.slow.lists[remotes.table]; known == nil || known.Rows == 0 {
			return nil // no neighbours, nothing to join
		}
	}
	if q.quiet > 1 {
		q.know.slow.lists[l.table] = &port.Table{
			Name: l.table, State: port.TableBroken, Grant: grant(l.table), Why: notAsked,
		}
		return nil
	}
	w, err := q.list(l, most)
	if w != nil {
		q.came[l] = sorted(w.order)
	}
	if q.know.slow.silent[l.table] {
		q.quiet++
	}
	return err
}

// list reads a table and notes its state. It is nil where the table isn't there
// or has been found hidden and it isn't time to look again.
func (r *round) list(l *list, most int) (*listing, error) {
	s := &r.know.slow
	before := s.lists[l.table]
	if before != nil && before.State == port.TableHidden && !r.discovered {
		return nil, nil
	}
	w, err := r.read(l, most)
	s.silent[l.table] = unheard(err)
	if err != nil && r.fatal(err) {
		return nil, err
	}
	if denied(err) {
		s.lists[l.table] = &port.Table{Name: l.table, State: port.TableHidden, Grant: grant(l.table)}
		return nil, nil
	}
	t := w.table(err)
	if t.State == "" && before != nil && before.State == port.TableEmpty {
		t.State = port.TableEmpty
	}
	if t.State == "" {
		if t.State, t.Why, err = r.probe(l.table, l.columns[0]); err != nil {
			return nil, err
		}
		s.silent[l.table] = t.State == port.TableBroken
	}
	s.lists[l.table] = t
	return w, nil
}

// sorted gives rows in the order of their instances.
func sorted(rows []*record) []*record {
	slices.SortFunc(rows, func(a, b *record) int { return slices.Compare(a.at[:], b.at[:]) })
	return rows
}

// scalars asks for what the switch calls itself, and for its engine where
// SNMPv3 didn't tell it.
func (q *inquiry) scalars(details *port.Details) error {
	q.asked = "chassis id"
	a, err := q.aside(request{kind: gosnmp.GetRequest, names: [][]byte{nameOf(snmpEngineID0), nameOf(lldpLocChassisIDSubtype), nameOf(lldpLocChassisID)}})
	if err != nil && q.fatal(err) {
		return err
	}
	if err != nil || len(a.repeated) != 3 {
		return nil
	}
	if id, ok := decode(a.repeated[0], gosnmp.OctetString); ok && q.session.usm == nil && a.repeated[0].is(nameOf(snmpEngineID0)) {
		q.foundEngine(hex.EncodeToString([]byte(id.text[:min(len(id.text), longestEngine)])))
	}
	kind, ok := decode(a.repeated[1], gosnmp.Integer)
	id, ok2 := decode(a.repeated[2], gosnmp.OctetString)
	if ok && ok2 {
		details.Chassis = identifier(chassisKinds[:], kind.number, id.text)
	}
	return nil
}

const longestEngine = 32 // octets (RFC 3411 5)

// foundEngine notes the engine of an SNMPv2c switch. Where it is another one,
// the next poll looks for everything again.
func (q *inquiry) foundEngine(id string) {
	if s := &q.know.slow; s.engine != id {
		q.replaced = s.engine != ""
		s.engine = id
	}
}

// takeParts makes of the tables what the switch is built of.
func (q *inquiry) takeParts(details *port.Details) {
	s := &q.know.slow
	q.built = built(q.came[entities])
	if before := s.units; before != nil && (q.broken(entities) || q.broken(aliases)) {
		details.Units = before
	} else {
		over := s.parts.over
		details.Units, s.parts = chassis(q.built, q.came[aliases])
		s.parts.over, s.units = over, details.Units
	}
	if s.parts.over == nil || !q.broken(stack) {
		s.parts.over = overs(q.came[stack], q.readings())
	}
}

// broken tells whether asking for a table failed.
func (q *inquiry) broken(l *list) bool {
	t := q.know.slow.lists[l.table]
	return t != nil && t.State == port.TableBroken
}

// takeOptics makes of the sensors what the ports' optics tell. They stand for
// nothing without what they are a part of.
func (q *inquiry) takeOptics(details *port.Details, t *tree) {
	if len(q.came[sensors]) == 0 || q.broken(sensors) {
		return
	}
	if table := q.know.slow.lists[sensors.table]; len(q.built) == 0 || q.broken(entities) || q.broken(aliases) {
		table.Why = "of no use without entPhysicalTable and entAliasMappingTable, which tell the sensors' ports"
		return
	}
	optics, why := optics(t, q.came[sensors], q.last.uptime)
	if before := q.know.slow.details; before != nil {
		keptValues(before.Optics, optics)
	}
	details.Optics, q.know.slow.lists[sensors.table].Why = optics, why
}

// takePower puts the rows of power to their ports.
func (q *inquiry) takePower(details *port.Details, t *tree) {
	if len(q.came[powerPorts]) == 0 || q.broken(powerPorts) {
		return
	}
	power, why := feeds(q.came[powerPorts], t)
	details.Power, q.know.slow.lists[powerPorts.table].Why = power, why
}

// takeNeighbours joins the neighbours to the ports.
func (q *inquiry) takeNeighbours(details *port.Details) error {
	all := neighbours(q.came[remotes], q.came[remotePHYs])
	if len(all) == 0 {
		return nil
	}
	var macs []*record
	byMAC := func(e *record) bool { return portKinds[min(e.values[0].number, 7)] == port.IDMAC }
	if slices.ContainsFunc(q.came[locals], byMAC) && q.quiet < 2 {
		w, err := q.read(addresses, mostRows)
		if err != nil && q.fatal(err) {
			return err
		}
		macs = w.order
	}
	m := newMatcher(q.readings(), q.came[locals], q.came[bridgePorts], macs)
	var numbers []uint32
	for number := range m.locals {
		numbers = append(numbers, number)
	}
	for _, h := range all {
		numbers = append(numbers, h.number)
	}
	indexes := m.resolve(numbers)
	for _, h := range all {
		h.Index = indexes[h.number]
		details.Neighbours = append(details.Neighbours, h.Neighbour)
	}
	return nil
}

// nameList is ifName once more.
var nameList = &list{table: ifXTable, arcs: 1, columns: []*column{ifName}}

// sameNames checks that the ports still have the ifIndexes that they had at the
// poll's start, of a switch that hasn't ever told by ifTableLastChange: on some
// it is 0 whatever happens.
func (r *round) sameNames() error {
	if changed, _ := r.changed.Get(); changed > 0 || r.final {
		return nil
	}
	w, err := r.read(nameList, mostRows)
	if err != nil {
		if r.fatal(err) {
			return err
		}
		return nil
	}
	for _, e := range w.order {
		if one := r.ports.get(index{port: e.at[0] + 1}); one != nil && e.has(0) && clean(e.values[0].text) != one.Name {
			return errMoved
		}
	}
	return nil
}
