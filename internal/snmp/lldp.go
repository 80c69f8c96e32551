package snmp

import (
	"cmp"
	"slices"

	"toneout/internal/port"
	"toneout/internal/standards"

	"github.com/gosnmp/gosnmp"
)

// The tables of the LLDP-MIB (IEEE 802.1AB-2005 clause 12) and its 802.3 part
// (annex G). The remote ones are indexed by TimeMark, local port number and an
// index of the neighbour.
var (
	remotes = &list{table: lldpRemTable, arcs: 3, columns: []*column{
		plain(lldpRemTable, "4 lldpRemChassisIdSubtype", gosnmp.Integer, nil),
		plain(lldpRemTable, "5 lldpRemChassisId", gosnmp.OctetString, nil),
		plain(lldpRemTable, "6 lldpRemPortIdSubtype", gosnmp.Integer, nil),
		plain(lldpRemTable, "7 lldpRemPortId", gosnmp.OctetString, nil),
		plain(lldpRemTable, "8 lldpRemPortDesc", gosnmp.OctetString, nil),
		plain(lldpRemTable, "9 lldpRemSysName", gosnmp.OctetString, nil),
		plain(lldpRemTable, "10 lldpRemSysDesc", gosnmp.OctetString, nil),
		plain(lldpRemTable, "12 lldpRemSysCapEnabled", gosnmp.OctetString, nil),
	}}
	remotePHYs = &list{table: lldpXdot3RemPortTable, arcs: 3, columns: []*column{
		plain(lldpXdot3RemPortTable, "3 lldpXdot3RemPortAutoNegAdvertisedCap", gosnmp.OctetString, nil),
		plain(lldpXdot3RemPortTable, "4 lldpXdot3RemPortOperMauType", gosnmp.Integer, nil),
	}}
	locals = &list{table: lldpLocPortTable, arcs: 1, columns: []*column{
		plain(lldpLocPortTable, "2 lldpLocPortIdSubtype", gosnmp.Integer, nil),
		plain(lldpLocPortTable, "3 lldpLocPortId", gosnmp.OctetString, nil),
		plain(lldpLocPortTable, "4 lldpLocPortDesc", gosnmp.OctetString, nil),
	}}
	bridgePorts = &list{table: dot1dBasePortTable, arcs: 1, columns: []*column{
		plain(dot1dBasePortTable, "2 dot1dBasePortIfIndex", gosnmp.Integer, nil),
	}}
	addresses = &list{table: ifTable, arcs: 1, columns: []*column{
		plain(ifTable, "6 ifPhysAddress", gosnmp.OctetString, nil),
	}}
)

// What the switch calls itself.
const (
	lldpLocChassisIDSubtype = ".1.0.8802.1.1.2.1.3.1.0"
	lldpLocChassisID        = ".1.0.8802.1.1.2.1.3.2.0"
)

// heard is a neighbour with the number of the local port that hears it.
type heard struct {
	number, remote uint32 // lldpRemLocalPortNum, lldpRemIndex
	mark           uint32 // TimeMark
	port.Neighbour
}

// neighbours gives the rows of lldpRemTable. A row that changes while the table
// is read comes again under a later TimeMark, and some agents keep a row's
// earlier marks or the neighbour's earlier row: the newest counts that came
// whole.
func neighbours(rows, phys []*record) []heard {
	type key struct{ number, remote uint32 }
	type name struct {
		number        uint32
		chassis, port port.ID
	}
	newest, columns := map[key]heard{}, map[key]uint16{}
	for _, e := range sorted(rows) {
		h := heard{mark: e.at[0], number: e.at[1], remote: e.at[2]}
		before := columns[key{h.number, h.remote}]
		if !e.has(1) || !e.has(3) || e.given&before != before {
			continue // torn, as every neighbour has identifiers
		}
		columns[key{h.number, h.remote}] = e.given
		h.Chassis = identifier(chassisKinds[:], e.values[0].number, e.values[1].text)
		h.Port = identifier(portKinds[:], e.values[2].number, e.values[3].text)
		h.PortText, h.System, h.SystemText = clean(e.values[4].text), clean(e.values[5].text), clean(e.values[6].text)
		h.Roles = roles(e.values[7].text)
		newest[key{h.number, h.remote}] = h
	}
	marks := map[key]uint32{}
	for _, e := range phys {
		k := key{e.at[1], e.at[2]}
		if h, known := newest[k]; known && e.at[0] >= marks[k] {
			marks[k] = e.at[0]
			h.phy(e)
			newest[k] = h
		}
	}
	named := map[name]heard{}
	for _, h := range newest {
		k := name{h.number, h.Chassis, h.Port}
		if before, known := named[k]; !known || cmp.Or(cmp.Compare(h.mark, before.mark), cmp.Compare(h.remote, before.remote)) > 0 {
			named[k] = h
		}
	}
	all := make([]heard, 0, len(named))
	for _, h := range named {
		all = append(all, h)
	}
	slices.SortFunc(all, func(a, b heard) int {
		return cmp.Or(cmp.Compare(a.number, b.number), cmp.Compare(a.remote, b.remote))
	})
	return all
}

// phy takes what a neighbour says of its PHY: the bits of
// IANAifMauAutoNegCapBits and the last arc of its MAU type. No bits at all are
// no offer of nothing, but of a port that doesn't negotiate.
func (h *heard) phy(e *record) {
	h.Offered, h.MAU = port.Value[standards.Abilities]{}, 0
	if offered := standards.ParseAbilities([]byte(e.values[0].text)); offered != 0 {
		h.Offered = port.Some(offered)
	}
	if n := e.values[1].number; n < 1<<31 {
		h.MAU = int(n)
	}
}
