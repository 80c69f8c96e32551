package snmp_test

import (
	"strconv"
	"time"

	"toneout/internal/sim"
)

// The entries of the tables (RFC 2863, 3635, 4836).
const (
	ifEntry       = "1.3.6.1.2.1.2.2.1."
	ifXEntry      = "1.3.6.1.2.1.31.1.1.1."
	dot3Entry     = "1.3.6.1.2.1.10.7.2.1."
	dot3HCEntry   = "1.3.6.1.2.1.10.7.11.1."
	mauEntry      = "1.3.6.1.2.1.26.2.1.1."
	autoNegEntry  = "1.3.6.1.2.1.26.5.1.1."
	uptimeObject  = "1.3.6.1.2.1.1.3"
	sysNameObject = "1.3.6.1.2.1.1.5"
)

// ports is a switch with ports of ifIndex 1 to n, with a value for everything
// that is read; no two counters are alike.
func ports(n int) sim.Static {
	mib := sim.Static{
		uptimeObject:  {"0": sim.Ticks(time.Hour)},
		sysNameObject: {"0": sim.Octets("acc-1")},
	}
	for i := 1; i <= n; i++ {
		row := strconv.Itoa(i)
		put := func(entry string, column int, v sim.Value) { set(mib, entry+strconv.Itoa(column), row, v) }
		put(ifEntry, 2, sim.Octets("Gigabit port "+row))
		put(ifEntry, 3, sim.Integer(6))
		put(ifEntry, 5, sim.Gauge32(1_000_000_000))
		put(ifEntry, 7, sim.Integer(1))
		put(ifEntry, 8, sim.Integer(1))
		put(ifEntry, 9, sim.Ticks(time.Minute))
		put(ifXEntry, 1, sim.Octets("1/"+row))
		put(ifXEntry, 15, sim.Gauge32(1000))
		put(ifXEntry, 17, sim.Integer(1))
		put(ifXEntry, 18, sim.Octets("N2-P1-"+row))
		put(ifXEntry, 19, sim.Ticks(0))
		put(dot3Entry, 19, sim.Integer(3))
		for _, column := range []int{10, 11, 13, 14, 16, 17, 19, 20} {
			put(ifEntry, column, sim.Counter32(uint64(1_000_000*column+i)))
		}
		for column := 2; column <= 13; column++ {
			if column < 6 {
				put(ifXEntry, column, sim.Counter32(uint64(100_000_000*column+i)))
			} else {
				put(ifXEntry, column, sim.Counter64(uint64(column)<<40+uint64(i)))
			}
		}
		for _, column := range []int{2, 3, 4, 5, 8, 9, 10, 11, 13, 16, 18} {
			put(dot3Entry, column, sim.Counter32(uint64(1000*column+i)))
		}
		for column := 1; column <= 6; column++ {
			put(dot3HCEntry, column, sim.Counter64(uint64(column)<<34+uint64(i)))
		}
	}
	return mib
}

func set(mib sim.Static, object, row string, v sim.Value) {
	if mib[object] == nil {
		mib[object] = map[string]sim.Value{}
	}
	mib[object][row] = v
}
