package snmp

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"toneout/internal/port"

	"github.com/gosnmp/gosnmp"
)

var entities = &list{table: entPhysicalTable, arcs: 1, columns: []*column{
	plain(entPhysicalTable, "4 entPhysicalContainedIn", gosnmp.Integer, nil),
	plain(entPhysicalTable, "5 entPhysicalClass", gosnmp.Integer, nil),
	plain(entPhysicalTable, "6 entPhysicalParentRelPos", gosnmp.Integer, nil),
	plain(entPhysicalTable, "11 entPhysicalSerialNum", gosnmp.OctetString, nil),
	plain(entPhysicalTable, "13 entPhysicalModelName", gosnmp.OctetString, nil),
	plain(entPhysicalTable, "7 entPhysicalName", gosnmp.OctetString, nil),
	plain(entPhysicalTable, "2 entPhysicalDescr", gosnmp.OctetString, nil),
}}

var aliases = &list{table: entAliasMappingTable, arcs: 2, columns: []*column{
	plain(entAliasMappingTable, "2 entAliasMappingIdentifier", gosnmp.ObjectIdentifier, nil),
}}

var stack = &list{table: ifStackTable, arcs: 2, columns: []*column{
	plain(ifStackTable, "3 ifStackStatus", gosnmp.Integer, nil),
}}

// parts is what the ports of a switch are parts of, by ifIndex.
type parts struct {
	units map[int]string // serial of the chassis
	only  string         // that of the one chassis, where it holds all ports
	over  map[int]bool   // they lie over others
}

// apply tells a port what it is a part of.
func (p *parts) apply(r *port.Reading) {
	r.Unit, r.Over = p.units[r.Index], p.over[r.Index]
	if r.Unit == "" && r.Physical() && r.Oper != port.NotPresent {
		r.Unit = p.only
	}
}

// entity is a row of entPhysicalTable (RFC 6933).
type entity struct {
	in       uint32
	class    uint64
	position int
	serial   string
	model    string
	name     string
	text     string // entPhysicalDescr
}

// Classes of entities (RFC 6933, IANAPhysicalClass).
const (
	chassisClass   = 3
	containerClass = 5
	moduleClass    = 9
	portClass      = 10
	stackClass     = 11
)

// built reads the rows of entPhysicalTable.
func built(rows []*record) map[uint32]entity {
	all := make(map[uint32]entity, len(rows))
	for _, e := range rows {
		all[e.at[0]] = entity{
			in: uint32(e.values[0].number), class: e.values[1].number, position: int(int32(e.values[2].number)),
			serial: clean(e.values[3].text), model: clean(e.values[4].text), name: clean(e.values[5].text), text: clean(e.values[6].text),
		}
	}
	return all
}

// chassis gives the units of a switch, and the parts that its ports are of: each
// port's entity is climbed from to the next chassis above. Where no port has an
// entity and there is but one chassis, in no stack, it holds them all.
func chassis(all map[uint32]entity, mapping []*record) ([]port.Unit, parts) {
	stacked := false
	for _, e := range all {
		stacked = stacked || e.class == stackClass
	}
	p := parts{units: map[int]string{}}
	for _, e := range mapping {
		i, ok := ifIndexOf(e.values[0].text)
		if at, found := climb(all, e.at[0]); ok && found && all[at].serial != "" {
			p.units[i] = all[at].serial
		}
	}
	units := members(all)
	if len(units) == 1 && len(mapping) == 0 && !stacked {
		p.only = units[0].Serial
	}
	return units, p
}

// climb gives the chassis that an entity is in, or is. Tables that contain
// themselves end somewhere too.
func climb(all map[uint32]entity, at uint32) (uint32, bool) {
	const highest = 64
	for range highest {
		e, ok := all[at]
		if !ok {
			return 0, false
		}
		if e.class == chassisClass {
			return at, true
		}
		at = e.in
	}
	return 0, false
}

// mostUnits is far above what a stack holds.
const mostUnits = 256

// members gives the chassis that hold no other chassis, by their positions.
func members(all map[uint32]entity) []port.Unit {
	holds := map[uint32]bool{}
	var keys []uint32
	for key, e := range all {
		if e.class == chassisClass {
			keys = append(keys, key)
			if above, ok := climb(all, e.in); ok {
				holds[above] = true
			}
		}
	}
	slices.SortFunc(keys, func(a, b uint32) int {
		return cmp.Or(cmp.Compare(all[a].position, all[b].position), cmp.Compare(a, b))
	})
	var units []port.Unit
	for _, key := range keys {
		if !holds[key] && len(units) < mostUnits {
			units = append(units, port.Unit{Serial: all[key].serial, Model: all[key].model, Position: max(0, all[key].position)})
		}
	}
	return units
}

// ieee8023adLag is the type of an aggregate (IANAifType-MIB).
const ieee8023adLag = 161

// overs gives the interfaces that lie over others (RFC 2863, ifStackTable): 0
// stands for nothing above or below, and 1 for an active row. They are sought
// since aggregates and parts of ports may have a port's type, so only what lies
// over such a type counts: a port over an optical channel is one all the same. So
// is one with a connector over what has none, since some switches tell higher
// and lower the wrong way round.
func overs(rows []*record, ports []port.Reading) map[int]bool {
	known := map[uint32]*port.Reading{}
	for i := range ports {
		known[uint32(ports[i].Index)] = &ports[i]
	}
	over := map[int]bool{}
	for _, e := range rows {
		active := e.at[0] > 0 && e.at[1] > 0 && e.values[0].number == 1
		if active && lies(known[e.at[0]], known[e.at[1]]) {
			over[int(e.at[0])] = true
		}
	}
	return over
}

// lies tells whether it counts that one is said to lie over another, which is nil
// where it isn't listed.
func lies(higher, lower *port.Reading) bool {
	if lower == nil {
		return true
	}
	aggregate, plain := lower.Type == ieee8023adLag, port.Reading{Type: lower.Type}
	upsideDown := higher != nil && higher.Connector == port.Yes && (aggregate || lower.Connector == port.No)
	return !upsideDown && (aggregate || plain.Physical())
}

// ifIndexOf reads the ifIndex of a name of ifIndex's instance.
func ifIndexOf(name string) (int, bool) {
	text, ok := strings.CutPrefix(name, ".1.3.6.1.2.1.2.2.1.1.")
	n, err := strconv.ParseUint(text, 10, 31)
	return int(n), ok && err == nil
}
