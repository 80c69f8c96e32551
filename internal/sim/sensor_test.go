package sim

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

const entSensor = "1.3.6.1.2.1.99.1.1.1."

// W and dBm by the definition, 0 dBm = 1 mW: 501.2 µW are -3.00 dBm.
func TestWattsAndDBm(t *testing.T) {
	for _, row := range []struct{ dBm, watts float64 }{
		{0, 1e-3}, {-3, 501.2e-6}, {-10, 100e-6}, {-9.9, 102.3e-6}, {-40, 1e-7}, {-60, 0}, {dark, 0}, {3, 1995.3e-6},
	} {
		require.InDelta(t, row.watts, watts(row.dBm), 1e-12, row.dBm)
		if row.watts > 0 {
			require.InDelta(t, row.dBm, dBm(row.watts), 0.002)
		}
	}
}

// RFC 3433: real = value * 10^(3*(scale-9)) / 10^precision. The same light in
// each of the ways that switches write it.
func TestScalesAndPrecisions(t *testing.T) {
	light, none := said{501.2e-6, time.Minute}, said{0, time.Minute}
	for _, row := range []struct {
		quirks                        OpticQuirks
		of                            quantity
		now                           said
		kind, scale, precision, value int64
		status                        int64
		units                         string
	}{
		{OpticQuirks{}, receivedLight, light, 6, 7, 1, 5012, 1, "watts"},
		{OpticQuirks{OddScale: true}, receivedLight, light, 6, 9, 7, 5012, 1, "watts"},
		{OpticQuirks{DBm: true}, sentLight, light, 14, 9, 2, -300, 1, "dBm"},
		{OpticQuirks{DBm: true, OddScale: true}, sentLight, light, 14, 8, 0, -3000, 1, "dBm"},
		{OpticQuirks{}, receivedLight, none, 6, 7, 1, 0, 1, "watts"},
		{OpticQuirks{DBm: true}, receivedLight, none, 14, 9, 2, -4000, 1, "dBm"},
		{OpticQuirks{DarkUnavailable: true}, receivedLight, none, 6, 7, 1, 0, 2, "watts"},
		{OpticQuirks{DBm: true, DarkUnavailable: true}, receivedLight, none, 14, 9, 2, 0, 2, "dBm"},
		{OpticQuirks{}, temperature, said{value: 36.24}, 8, 9, 1, 362, 1, "celsius"},
		{OpticQuirks{OddScale: true}, temperature, said{value: 36.24}, 8, 8, 0, 36240, 1, "celsius"},
		{OpticQuirks{}, biasCurrent, said{value: 6.512e-3}, 5, 8, 3, 6512, 1, "amperes"},
		{OpticQuirks{OddScale: true}, biasCurrent, said{value: 6.512e-3}, 5, 9, 6, 6512, 1, "amperes"},
	} {
		got := row.quirks.show(row.of, row.now)
		if row.quirks.DBm { // -3.0003 in milli-dBm
			require.InDelta(t, row.value, got.value, 1)
			got.value = row.value
		}
		require.Equal(t, sensorRow{kind: row.kind, scale: row.scale, precision: row.precision, value: row.value, status: row.status, units: row.units}, got, row)
	}
}

// The rows that a module in the first cage of the bench has: RFC 6933's tree
// port <- module <- sensor.
func TestNetSNMPWalksTheSensors(t *testing.T) {
	c, near, far := bench()
	c.Connect(riser(near, far))
	now := noon.Add(25 * time.Second)
	out, err := netsnmp(t, "snmpbulkwalk", serve(t, near, everyUser(), at(now)), everyLevel["v2c"].args, []string{"1.3.6.1.2.1"})
	require.NoError(t, err)
	for _, line := range []string{
		`.47.1.1.1.1.5.100300 = INTEGER: 9`, `.47.1.1.1.1.4.100300 = INTEGER: 1003`, `.47.1.1.1.1.7.100300 = STRING: "1/3 optic"`,
		`.47.1.1.1.1.2.100300 = STRING: "10GBASE-SR optic"`, `.47.1.1.1.1.11.100300 = STRING: "FQO00001"`,
		`.47.1.1.1.1.5.100331 = INTEGER: 8`, `.47.1.1.1.1.4.100331 = INTEGER: 100300`,
		`.47.1.1.1.1.7.100331 = STRING: "1/3 receive power"`, `.47.1.1.1.1.7.100321 = STRING: "1/3 transmit power"`,
		`.47.1.3.2.1.2.1003.0 = OID: .1.3.6.1.2.1.2.2.1.1.3`,
		`.99.1.1.1.1.100331 = INTEGER: 6`, `.99.1.1.1.2.100331 = INTEGER: 7`, `.99.1.1.1.3.100331 = INTEGER: 1`,
		`.99.1.1.1.5.100331 = INTEGER: 1`, `.99.1.1.1.6.100331 = STRING: "watts"`,
		`.99.1.1.1.7.100331 = Timeticks: (362000) 1:00:20.00`, `.99.1.1.1.8.100331 = Gauge32: 10000`,
	} {
		require.Contains(t, out, line+"\n")
	}
	received := near.Port("1/3").module
	want := -3.85 + received.ReceivedSkew
	got := read(near, now, entSensor+"4.100331").Number
	require.InDelta(t, want, dBm(float64(got)*1e-7), 0.31, "jitter of three tenths at most")
}

func TestReadingsDoNotDependOnWhoAsks(t *testing.T) {
	play := func(seed uint64, every time.Duration) (out []string) {
		c := NewCampus(seed, noon)
		near := c.AddSwitch(SwitchPlan{Name: "near", Copper: 2, Fibre: 1, Optic: "10GBASE-SR"})
		far := c.AddSwitch(SwitchPlan{Name: "far", Fibre: 1, Optic: "10GBASE-SR"})
		cable := c.Connect(riser(near, far))
		cable.A.module.Loose = 6
		for now := noon; now.Before(noon.Add(2 * time.Minute)); now = now.Add(every) {
			read(near, now, entSensor+"4.100331")
		}
		for n := range 6 {
			out = append(out, read(near, noon.Add(2*time.Minute+time.Duration(n)*10*time.Second), entSensor+"4.100331").text())
		}
		return out
	}
	require.Equal(t, play(3, time.Minute), play(3, 700*time.Millisecond))
	require.NotEqual(t, play(3, time.Minute), play(4, time.Minute))
}

func TestAnOpticIsPulledAndReplaced(t *testing.T) {
	for _, kept := range []bool{false, true} {
		c, near, far := bench()
		near.SetQuirks(noon, Quirks{Optics: OpticQuirks{Kept: kept}})
		cable := c.Connect(riser(near, far))
		was := read(near, noon.Add(25*time.Second), entSensor+"4.100331")
		cable.A.Pull(noon.Add(25 * time.Second))
		later := noon.Add(2 * time.Minute)
		if kept {
			require.Equal(t, was, read(near, later, entSensor+"4.100331"), "the old value")
			require.Equal(t, Ticks(time.Hour+20*time.Second), read(near, later, entSensor+"7.100331"), "with its old stamp")
		} else {
			require.Equal(t, byte(TagNoSuchInstance), byte(read(near, later, entSensor+"4.100331").Tag))
			require.Equal(t, byte(TagNoSuchInstance), byte(read(near, later, entPhysical+"11.100300").Tag))
		}
		require.Zero(t, read(far, later, entSensor+"4.100131").Number, "the far end is in the dark")
		c.Do(later, func() {
			speed, _ := cable.A.Link()
			require.Zero(t, speed)
		})
		cable.A.Insert(later, "10GBASE-SR")
		now := later.Add(20 * time.Second)
		require.Equal(t, Octets("FQO00005"), read(near, now, entPhysical+"11.100300"), "another serial number")
		require.Positive(t, read(near, now, entSensor+"4.100331").Number)
		c.Do(now, func() {
			speed, _ := cable.A.Link()
			require.Equal(t, 10000, speed)
		})
	}
}

// How deep the sensors hang, what they are called, and whether an alias leads
// from the port to its interface.
func TestQuirksOfTheTree(t *testing.T) {
	_, near, _ := bench()
	for levels, in := range map[int][3]int64{1: {1003, 1003, 0}, 2: {100300, 1003, 0}, 3: {100300, 100399, 1003}} {
		near.SetQuirks(noon, Quirks{Optics: OpticQuirks{Levels: levels, NoAlias: levels == 3, ShortNames: levels == 1}})
		require.Equal(t, Integer(in[0]), read(near, noon, entPhysical+"4.100331"), levels)
		require.Equal(t, Integer(in[1]), read(near, noon, entPhysical+"4.100300"), levels)
		if levels == 3 {
			require.Equal(t, Integer(in[2]), read(near, noon, entPhysical+"4.100399"))
			require.Empty(t, rows(near, noon, entAlias))
		}
		name := map[bool]string{true: "1/3 Rx power", false: "1/3 receive power"}[levels == 1]
		require.Equal(t, Octets(name), read(near, noon, entPhysical+"7.100331"))
	}
}

func TestLanesOfAFortyGigabitModule(t *testing.T) {
	c := NewCampus(5, noon)
	near := c.AddSwitch(SwitchPlan{Name: "near", Fibre: 1, Optic: "40GBASE-SR4"})
	far := c.AddSwitch(SwitchPlan{Name: "far", Fibre: 1, Optic: "40GBASE-SR4"})
	cable := c.Connect(Cable{ID: "F", Media: Fibre, Kind: "OM4", LengthM: 80, A: near.Port("1/1"), B: far.Port("1/1"), Path: Path{Connectors: 2}})
	var seen []string
	for row, name := range rows(near, noon, entPhysical+"7") {
		if strings.Contains(string(name.Text), "receive power") {
			seen = append(seen, row+" "+string(name.Text))
			got := dBm(float64(read(near, noon, entSensor+"4."+row).Number) * 1e-7)
			require.InDelta(t, -1-0.8, got, 1.01, "sent, less 0.08*2.5 + 2*0.3, give or take lane, sensor and jitter")
		}
	}
	require.ElementsMatch(t, []string{
		"100131 1/1 lane 1 receive power", "100132 1/1 lane 2 receive power",
		"100133 1/1 lane 3 receive power", "100134 1/1 lane 4 receive power",
	}, seen)
	require.Equal(t, Gauge32(40000), read(near, noon, "1.3.6.1.2.1.31.1.1.1.15.1"))
	require.Equal(t, "1.3.6.1.2.1.26.4.72", read(near, noon, "1.3.6.1.2.1.26.2.1.1.3.1.1").Object.String(), "dot3MauType40GbaseSR4 (IANA-MAU-MIB)")
	require.False(t, math.IsInf(cable.received(0, 3, true), -1))
}
