package sim

import (
	"slices"
	"strings"
)

// layout makes the columns for the present numbering. A switch with no use
// for a table leaves it out.
func (s *Switch) layout() []Column {
	sets := s.rowsets()
	columns := scalars()
	columns = append(columns, table("1.3.6.1.2.1.2.2.1", sets.all, ifTable)...)
	for _, t := range []struct {
		entry string
		rows  rowset
		cells map[uint32]func(*iface) Value
		needs []string // what may hide it
	}{
		{"1.3.6.1.2.1.31.1.1.1", sets.all, ifXTable, []string{"ifx"}},
		{"1.3.6.1.2.1.31.1.1.1", sets.wide, ifHCTable, []string{"ifx", "hc"}},
		{"1.3.6.1.2.1.10.7.2.1", sets.ether, dot3Stats, []string{"dot3"}},
		{"1.3.6.1.2.1.10.7.2.1", sets.ether, dot3FCS, []string{"dot3", "fcs"}},
		{"1.3.6.1.2.1.10.7.11.1", sets.ether, dot3HCStats, []string{"dot3hc"}},
		{"1.3.6.1.2.1.10.7.11.1", sets.ether, dot3HCFCS, []string{"dot3hc", "fcs"}},
		{"1.3.6.1.2.1.26.2.1.1", sets.maus, ifMau, []string{"mau"}},
		{"1.3.6.1.2.1.26.5.1.1", sets.negotiating, ifMauAutoNeg, []string{"mau", "autoneg"}},
		{"1.3.6.1.2.1.16.1.1.1", sets.probes, etherStats, []string{"rmon"}},
	} {
		if !slices.ContainsFunc(t.needs, s.hidden) {
			columns = append(columns, table(t.entry, t.rows, t.cells)...)
		}
	}
	if !s.hidden("stack") {
		columns = append(columns, s.ifStack())
	}
	if !s.hidden("entity") {
		columns = append(columns, s.entities()...)
	}
	if !s.hidden("sensors") {
		columns = append(columns, s.sensorColumns()...)
	}
	if !s.hidden("poe") && s.watts > 0 {
		columns = append(columns, s.powerColumns()...)
	}
	if !s.hidden("bridge") {
		columns = append(columns, s.bridgePorts()...)
	}
	if !s.hidden("lldp") {
		columns = append(columns, s.lldpColumns()...)
	}
	columns = slices.DeleteFunc(columns, func(c Column) bool { return s.hiddenObject(c.Object) })
	slices.SortFunc(columns, func(a, b Column) int { return slices.Compare(a.Object, b.Object) })
	return columns
}

func (s *Switch) hidden(table string) bool { return slices.Contains(s.without, table) }

// hiddenObject says whether an object lies in a hidden subtree.
func (s *Switch) hiddenObject(object OID) bool {
	return slices.ContainsFunc(s.without, func(name string) bool {
		return strings.HasPrefix(strings.TrimPrefix(name, "."), "1.") && hasPrefix(object, ParseOID(name))
	})
}

// rowsets are the rows that the tables of interfaces have.
type rowsets struct{ all, wide, ether, maus, negotiating, probes rowset }

func (s *Switch) rowsets() rowsets {
	var out rowsets
	present := s.present()
	for i, p := range present {
		row := uint32(s.index(p))
		out.all.add(i, row)
		out.ether.add(i, row)
		out.maus.add(i, row, 1)
		if !s.quirks.NarrowWhenSlow || p.line.speed == 0 || p.line.speed > 20 {
			out.wide.add(i, row)
		}
		if p.Media == Copper {
			out.negotiating.add(i, row, 1)
		}
		out.probes.add(i, p.probe())
	}
	for i, row := range s.others() {
		out.all.add(len(present)+i, row.index)
		out.wide.add(len(present)+i, row.index)
		if row.ether {
			out.ether.add(len(present)+i, row.index)
		}
	}
	out.probes = out.probes.sorted()
	return out
}

// other is a row of ifTable that is no port.
type other struct {
	index uint32
	ether bool // shown as an Ethernet
}

// others gives them in the order of moment.interfaces.
func (s *Switch) others() (out []other) {
	for i := range virtual {
		out = append(out, other{uint32(s.virtualIndex(i)), false})
	}
	if len(s.bundle) > 0 {
		out = append(out, other{uint32(s.virtualIndex(len(virtual))), false})
	}
	for i, sub := range s.tagged {
		if !sub.port.chassis.lost {
			out = append(out, other{uint32(s.virtualIndex(len(virtual) + 1 + i)), true})
		}
	}
	return out
}

// table makes columns by their number.
func table(entry string, rows rowset, cells map[uint32]func(*iface) Value) []Column {
	var out []Column
	for number, cell := range cells {
		out = append(out, Column{
			Object: append(ParseOID(entry), number), Rows: rows.rows,
			Value: func(m any, row int) Value { return cell(&m.(*moment).interfaces[rows.pick[row]]) },
		})
	}
	return out
}

// fixed makes columns of values that no moment changes, by row and number.
func fixed(entry string, rows []OID, cells map[uint32][]Value) []Column {
	var out []Column
	for number, values := range cells {
		out = append(out, Column{
			Object: append(ParseOID(entry), number), Rows: rows,
			Value: func(_ any, row int) Value { return values[row] },
		})
	}
	return out
}

// probe is the port's etherStatsIndex, which is the agent's own: here it
// counts from the last port.
func (p *Port) probe() uint32 { return uint32(len(p.owner.ports) - p.position()) }

// ifStack is ifStackStatus (RFC 2863, ifStackTable): which row runs on top of
// which, all active(1); 0 stands for nothing above or below.
func (s *Switch) ifStack() Column {
	var rows []OID
	above, below := map[uint32]bool{}, map[uint32]bool{}
	pair := func(higher, lower uint32) {
		rows = append(rows, OID{higher, lower})
		above[lower], below[higher] = true, true
	}
	for _, p := range s.bundle {
		if !p.chassis.lost {
			pair(uint32(s.virtualIndex(len(virtual))), uint32(s.index(p)))
		}
	}
	for i, sub := range s.tagged {
		if !sub.port.chassis.lost {
			pair(uint32(s.virtualIndex(len(virtual)+1+i)), uint32(s.index(sub.port)))
		}
	}
	for _, row := range s.rowsets().all.rows {
		if !above[row[0]] {
			rows = append(rows, OID{0, row[0]})
		}
		if !below[row[0]] {
			rows = append(rows, OID{row[0], 0})
		}
	}
	slices.SortFunc(rows, slices.Compare[OID])
	return Column{
		Object: ParseOID("1.3.6.1.2.1.31.1.2.1.3"), Rows: rows,
		Value: func(any, int) Value { return Integer(1) },
	}
}

// bridgePorts is BRIDGE-MIB's dot1dBasePortTable (RFC 4188: 1 dot1dBasePort,
// 2 dot1dBasePortIfIndex), of the switches that number neighbours by it.
func (s *Switch) bridgePorts() []Column {
	if s.lldp.Numbers != ByBridgePort {
		return nil
	}
	var rows []OID
	cells := map[uint32][]Value{}
	for _, p := range s.present() {
		rows = append(rows, OID{p.bridgePort()})
		cells[1] = append(cells[1], Integer(int64(p.bridgePort())))
		cells[2] = append(cells[2], Integer(int64(s.index(p))))
	}
	return fixed("1.3.6.1.2.1.17.1.4.1", rows, cells)
}

// bridgePort is the port's dot1dBasePort: the bridge counts its ports from 1
// and keeps the first for its control plane.
func (p *Port) bridgePort() uint32 { return uint32(p.position() + 2) }
