package sim

import (
	"fmt"
	"slices"
)

// Classes of entPhysicalClass (RFC 6933, IANAPhysicalClass).
const (
	chassisClass     = 3
	containerClass   = 5
	powerSupplyClass = 6
	sensorClass      = 8
	moduleClass      = 9
	portClass        = 10
	stackClass       = 11
)

// Indexes of entPhysicalTable are the agent's own: the stack is 1, a chassis
// 1000 times its place, followed by its ports, its power supply at the end; the
// module in a port is 100000 times the place and 100 times the port's number,
// followed by its sensors, its container at the end.
const (
	stackEntity     = 1
	chassisEntity   = 1000
	supplyEntity    = 901
	moduleEntity    = 100_000
	perModule       = 100
	containerEntity = 99
)

// entity is a row of entPhysicalTable.
type entity struct {
	index, in, class, at                int
	descr, name, serial, model, ifIndex string
}

// entities is ENTITY-MIB (RFC 6933 section 3): entPhysicalTable, columns 2
// descr, 4 contained in, 5 class, 6 relative position, 7 name, 11 serial
// number, 13 model; and entAliasMappingIdentifier, with logical index 0.
func (s *Switch) entities() []Column {
	var rows, ports []OID
	cells, aliases := map[uint32][]Value{}, map[uint32][]Value{}
	for _, e := range s.inventory() {
		rows = append(rows, OID{uint32(e.index)})
		for number, value := range map[uint32]Value{
			2: Octets(e.descr), 4: Integer(int64(e.in)), 5: Integer(int64(e.class)), 6: Integer(int64(e.at)),
			7: Octets(e.name), 11: Octets(e.serial), 13: Octets(e.model),
		} {
			cells[number] = append(cells[number], value)
		}
		if e.ifIndex != "" && !s.quirks.Optics.NoAlias {
			ports = append(ports, OID{uint32(e.index), 0})
			aliases[2] = append(aliases[2], ObjectID(ParseOID("1.3.6.1.2.1.2.2.1.1."+e.ifIndex)))
		}
	}
	return append(fixed("1.3.6.1.2.1.47.1.1.1.1", rows, cells), fixed("1.3.6.1.2.1.47.1.3.2.1", ports, aliases)...)
}

// inventory gives the rows in order: what stands in no container has the
// relative position -1 (RFC 6933, entPhysicalParentRelPos).
func (s *Switch) inventory() []entity {
	var out []entity
	in := 0
	if len(s.chassis) > 1 {
		in = stackEntity
		out = append(out, entity{index: in, class: stackClass, at: -1, descr: "Stack of " + s.model, name: "Stack"})
	}
	for _, ch := range s.chassis {
		if ch.lost {
			continue
		}
		index, at := chassisEntity*ch.place, -1
		if in != 0 {
			at = ch.place
		}
		out = append(out,
			entity{
				index: index, in: in, class: chassisClass, at: at, descr: "Ferrow Quay switch " + s.model,
				name: fmt.Sprintf("Unit %d", ch.place), serial: ch.serial, model: s.model,
			},
			entity{
				index: index + supplyEntity, in: index, class: powerSupplyClass, at: 1, descr: "Power supply",
				name: fmt.Sprintf("Unit %d power 1", ch.place), serial: ch.supply, model: "FQP",
			})
		for _, p := range s.on(ch) {
			out = append(out, entity{
				index: index + p.number, in: index, class: portClass, at: p.number,
				descr: string(p.Media) + " port", name: p.Name, ifIndex: fmt.Sprint(s.index(p)),
			})
			if m := s.optic(p); m != nil {
				out = append(out, s.opticEntities(p, m, index+p.number)...)
			}
		}
	}
	slices.SortFunc(out, func(a, b entity) int { return a.index - b.index })
	return out
}

// opticEntities are the rows of a port's module, whose own row is the first.
func (s *Switch) opticEntities(p *Port, m *Module, port int) []entity {
	q := s.quirks.Optics
	index := moduleEntity*p.chassis.place + perModule*p.number
	module := entity{
		index: index, in: port, class: moduleClass, at: 1, descr: m.PHY + " optic", name: p.Name + " optic",
		serial: m.Serial, model: m.Model,
	}
	out := []entity{module}
	if q.Levels == 3 {
		out[0].in = index + containerEntity
		out = append(out, entity{
			index: index + containerEntity, in: port, class: containerClass, at: 1, descr: "Optic cage", name: p.Name + " cage",
		})
	}
	for i, sensor := range m.sensors() {
		in := index
		if q.Levels == 1 {
			in = port
		}
		name := sensor.name(m, q.ShortNames)
		out = append(out, entity{
			index: index + sensor.row(), in: in, class: sensorClass, at: i + 1,
			descr: name + " sensor", name: p.Name + " " + name,
		})
	}
	return out
}
