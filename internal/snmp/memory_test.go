package snmp_test

import (
	"runtime"
	"testing"

	"toneout/internal/snmp"

	"github.com/stretchr/testify/require"
)

// What is kept of a switch between its polls is what is known of it, not what
// its last answers lay in: two thousand switches are to fit into a small machine.
func TestMemoryOfSwitchesThatWait(t *testing.T) {
	const switches, most = 12, 40 << 10
	address := serve(t, withMAUs(48))
	var all []*snmp.Switch
	used := func() uint64 {
		for range 3 { // the memory that polls share goes with the second one
			runtime.GC()
		}
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.HeapAlloc
	}
	poll(t, open(t, address, v2c))
	before := used()
	for range switches {
		s := open(t, address, v2c)
		all = append(all, s)
		for range 2 {
			poll(t, s)
		}
		runtime.GC()
		runtime.GC()
	}
	each := (int(used()) - int(before)) / switches
	t.Logf("%d octets a switch of 48 ports", each)
	require.Less(t, each, most)
	runtime.KeepAlive(all)
}
