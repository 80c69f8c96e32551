package snmp_test

import (
	"strconv"
	"testing"

	"toneout/internal/port"
	"toneout/internal/sim"

	"github.com/stretchr/testify/require"
)

const etherEntry = "1.3.6.1.2.1.16.1.1.1." // etherStatsTable, RFC 2819

// probed adds an RMON probe for a port to a MIB; the probe's index is its own.
func probed(mib sim.Static, probe, source string, crc, fragments uint64) {
	set(mib, etherEntry+"2", probe, sim.ObjectID(sim.ParseOID(source)))
	set(mib, etherEntry+"8", probe, sim.Counter32(crc))
	set(mib, etherEntry+"11", probe, sim.Counter32(fragments))
}

// RFC 2819: etherStatsDataSource names ifIndex's instance. It is asked for only
// where a port that a cable may be plugged into has no FCS errors.
func TestRMONStandsInForFCSErrors(t *testing.T) {
	const source = "1.3.6.1.2.1.2.2.1.1."
	bare := func(n int) sim.Static { return without(ports(n), dot3Entry+"3", dot3HCEntry+"2") }
	of := func(mib sim.Static) sim.Static {
		for i := 1; i <= 3; i++ {
			probed(mib, strconv.Itoa(70-i), source+strconv.Itoa(i), uint64(100*i), uint64(10*i))
		}
		return mib
	}
	vlan := of(ports(3))
	set(vlan, ifEntry+"3", "9", sim.Integer(135)) // l2vlan
	set(vlan, ifEntry+"8", "9", sim.Integer(1))
	management := of(ports(3)) // a port of its own, of which nothing counts errors
	set(management, ifEntry+"3", "4", sim.Integer(6))
	set(management, ifEntry+"8", "4", sim.Integer(1))
	odd := bare(3)
	probed(odd, "1", source+"2", 200, 20)
	probed(odd, "2", source+"2", 999, 99)
	probed(odd, "3", source+"77", 999, 99)
	probed(odd, "4", "1.3.6.1.2.1.17.1.4.1.1.1", 999, 99)
	for name, row := range map[string]struct {
		mib    sim.Static
		asked  bool
		counts map[int]uint64 // of damaged frames by ifIndex
	}{
		"a switch that counts FCS errors":          {of(ports(3)), false, nil},
		"a VLAN without FCS errors":                {vlan, false, nil},
		"a switch that counts none":                {of(bare(3)), true, map[int]uint64{1: 110, 2: 220, 3: 330}},
		"two probes of a port, sources of no port": {odd, true, map[int]uint64{2: 220}},
		"neither FCS errors nor probes":            {bare(3), true, nil},
		"no probe of the port without FCS errors":  {management, true, nil},
	} {
		t.Run(name, func(t *testing.T) {
			p := pace(t, "1.3.6.1.2.1.16")
			first := p.at(0, row.mib)
			require.Equal(t, row.asked, p.asked["1.3.6.1.2.1.16"].Load() > 0)
			again := p.at(60e9, row.mib)
			require.Equal(t, row.asked && row.counts != nil, p.asked["1.3.6.1.2.1.16"].Load() > 0)
			for _, got := range []port.Poll{first, again} {
				for i := range got.Ports {
					r := &got.Ports[i]
					n, source := r.Counters.Errored()
					want, counted := row.counts[r.Index]
					require.Equal(t, counted, source == port.RMON, "%s by %v", r.Name, source)
					if counted {
						require.Equal(t, want, n)
					}
				}
			}
		})
	}
}
