package snmp

import (
	"toneout/internal/port"

	"github.com/gosnmp/gosnmp"
)

// etherStats is RMON's view of a port (RFC 2819), which has an index of its own
// and may take any interface for its source.
var etherStats = &list{table: etherStatsTable, arcs: 1, columns: []*column{
	plain(etherStatsTable, "2 etherStatsDataSource", gosnmp.ObjectIdentifier, nil),
	plain(etherStatsTable, "8 etherStatsCRCAlignErrors", gosnmp.Counter32, nil),
	plain(etherStatsTable, "11 etherStatsFragments", gosnmp.Counter32, nil),
}}

// rmon asks for RMON's error counters where a port lacks those of dot3Stats; where
// RMON has nothing of such a port either, only on the slow clock. The source
// comes with the counters, since its row may be made anew.
func (r *round) rmon() error {
	s := &r.know.slow
	if !r.lacksFCS() || !r.slowly && (s.unprobed || s.silent[etherStatsTable]) {
		return nil
	}
	w, err := r.list(etherStats, mostRows)
	if err != nil {
		return err
	}
	s.unprobed = true
	if w == nil {
		return nil
	}
	taken := map[int]bool{}
	for _, e := range sorted(w.order) {
		i, ok := ifIndexOf(e.values[0].text)
		one := r.ports.get(index{port: uint32(i) + 1})
		if !ok || one == nil || taken[i] || one.Counters.Has(port.FCS) {
			continue
		}
		taken[i] = true // of several rows for a port the first
		s.unprobed = s.unprobed && !one.Physical()
		for column, counter := range map[int]port.Counter{1: port.CRCAlign, 2: port.Fragments} {
			if e.has(column) {
				one.Counters.Set32(counter, uint32(e.values[column].number))
			}
		}
	}
	return nil
}

// lacksFCS tells whether a port that a cable may be plugged into has no count
// of FCS errors.
func (r *round) lacksFCS() bool {
	for i := range r.ports.all {
		if one := &r.ports.all[i]; one.Physical() && !one.Counters.Has(port.FCS) {
			return true
		}
	}
	return false
}
