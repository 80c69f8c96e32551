package sim

import (
	"net/netip"
	"slices"
	"time"
)

// lldpColumns are the tables of the LLDP-MIB (IEEE 802.1AB-2005 clause 12) and
// of its 802.3 part (its annex G) that the switch serves.
func (s *Switch) lldpColumns() []Column {
	s.listNeighbours()
	columns := append(s.lldpLocal(), s.lldpPorts()...)
	var rows []OID
	for _, n := range s.neighbours {
		rows = append(rows, s.remoteRow(n))
	}
	columns = append(columns, remotes("1.0.8802.1.1.2.1.4.1.1", rows, lldpRemTable)...)
	if !s.hidden("lldp3") {
		columns = append(columns, remotes("1.0.8802.1.1.2.1.5.4623.1.3.1.1", rows, lldpXdot3RemPortTable)...)
	}
	return columns
}

// remoteRow is lldpRemTimeMark, lldpRemLocalPortNum, lldpRemIndex. The mark is
// sysUpTime at the row's last change (RFC 2021, TimeFilter); an agent shows
// the row once, under that mark.
func (s *Switch) remoteRow(n *neighbour) OID {
	return OID{uint32(Ticks(max(n.since-s.booted, 0)).Number), n.port.lldpNumber(), n.index}
}

// lldpLocal are lldpLocChassisIdSubtype, lldpLocChassisId and lldpLocSysName.
func (s *Switch) lldpLocal() []Column {
	kind, id := s.chassisID()
	scalar := []OID{{0}}
	return fixed("1.0.8802.1.1.2.1.3", scalar, map[uint32][]Value{
		1: {Integer(kind)}, 2: {Octets(id)}, 3: {Octets(s.Name)},
	})
}

// lldpPorts is lldpLocPortTable: 2 subtype, 3 identifier, 4 description, which
// "should have the same value of ifDescr".
func (s *Switch) lldpPorts() []Column {
	var set rowset
	for i, p := range s.present() {
		set.add(i, p.lldpNumber())
	}
	set = set.sorted()
	return table("1.0.8802.1.1.2.1.3.7.1", set, map[uint32]func(*iface) Value{
		2: func(i *iface) Value { return Integer(i.lldpKind) },
		3: func(i *iface) Value { return Octets(i.lldpID) },
		4: func(i *iface) Value { return Octets(i.descr) },
	})
}

func remotes(entry string, rows []OID, cells map[uint32]func(*announcement) Value) []Column {
	var out []Column
	for number, cell := range cells {
		out = append(out, Column{
			Object: append(ParseOID(entry), number), Rows: rows,
			Value: func(m any, row int) Value { return cell(&m.(*moment).heard()[row]) },
		})
	}
	return out
}

// lldpRemTable is indexed by remoteRow.
var lldpRemTable = map[uint32]func(*announcement) Value{
	4:  func(a *announcement) Value { return Integer(a.chassisKind) },
	5:  func(a *announcement) Value { return Octets(a.chassis) },
	6:  func(a *announcement) Value { return Integer(a.portKind) },
	7:  func(a *announcement) Value { return Octets(a.port) },
	8:  func(a *announcement) Value { return Octets(a.portDescr) },
	9:  func(a *announcement) Value { return Octets(a.systemName) },
	10: func(a *announcement) Value { return Octets(a.systemDescr) },
	11: func(a *announcement) Value { return Octets(a.abilities) }, // supported
	12: func(a *announcement) Value { return Octets(a.abilities) }, // enabled
}

// lldpXdot3RemPortTable is what a neighbour says of its PHY: the first 16 of
// IANAifMauAutoNegCapBits, and the last arc of its dot3MauType.
var lldpXdot3RemPortTable = map[uint32]func(*announcement) Value{
	1: func(a *announcement) Value { return truth(a.negotiates) },
	2: func(a *announcement) Value { return truth(a.negotiating) },
	3: func(a *announcement) Value { return Octets(a.advertised) },
	4: func(a *announcement) Value { return Integer(int64(a.mau)) },
}

// pad makes the two octets of ifMauAutoNegCapAdvertised's first 16 bits.
func pad(bits string) string { return (bits + "\x00\x00")[:2] }

func addressOctets(address string) string {
	return string(netip.MustParseAddr(address).AsSlice())
}

// Neighbour is a system that a port hears, for tests.
type Neighbour struct {
	Port       string // ifName
	SystemName string
	Gone       time.Duration // since the link fell, 0 while it is up
}

// Neighbours gives what the switch's ports hear, by port.
func (s *Switch) Neighbours(now time.Time) (out []Neighbour) {
	s.campus.Do(now, func() {
		s.forget()
		for _, p := range s.present() {
			for _, n := range p.heard {
				heard := Neighbour{Port: p.Name, SystemName: n.said().systemName}
				if n.gone {
					heard.Gone = s.campus.elapsed - n.lost
				}
				out = append(out, heard)
			}
		}
	})
	return slices.Clip(out)
}
