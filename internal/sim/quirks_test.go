package sim

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestCountersFromACache(t *testing.T) {
	c, s, _ := bench()
	cable := patched(s, "workstation")
	cable.BERToA = 1e-6
	c.Connect(cable)
	s.SetQuirks(noon, Quirks{Refresh: 10 * time.Second})
	var plain, ether []time.Duration // when each was seen to change
	octets, fcs := uint64(0), uint64(0)
	for at := time.Duration(0); at < 60*time.Second; at += 500 * time.Millisecond {
		now := noon.Add(at)
		if n := read(s, now, inOctets+".1").Number; n != octets {
			octets, plain = n, append(plain, at)
		}
		n := read(s, now, "1.3.6.1.2.1.10.7.2.1.3.1").Number
		require.Equal(t, n, read(s, now, "1.3.6.1.2.1.10.7.11.1.2.1").Number)
		if n != fcs {
			fcs, ether = n, append(ether, at)
		}
		require.NotEqual(t, read(s, now, "1.3.6.1.2.1.1.3.0"), read(s, now.Add(-time.Second), "1.3.6.1.2.1.1.3.0"))
	}
	seconds := func(n ...int) (out []time.Duration) {
		for _, s := range n {
			out = append(out, time.Duration(s)*time.Second)
		}
		return out
	}
	require.Equal(t, seconds(0, 10, 20, 30, 40, 50), plain)
	require.Equal(t, seconds(0, 4, 14, 24, 34, 44, 54), ether, "at another phase")
	late := noon.Add(75 * time.Second)
	at70 := counted(c, cable.A, noon.Add(70*time.Second)).InOctets
	require.Equal(t, Counter64(at70), read(s, late, inOctets+".1"), "as it was at the last refresh, whoever asked then")
	s.SetQuirks(late, Quirks{})
	require.Greater(t, read(s, late, inOctets+".1").Number, at70)
}

// RFC 2863 section 3.1.6 asks for 64-bit octets above 20 Mb/s only.
func TestNoWideCountersOnASlowLink(t *testing.T) {
	c, s, _ := bench()
	cable := patched(s, "pc")
	cable.Device.Asleep = Schedule{Offset: time.Minute, Every: time.Hour, For: 10 * time.Minute}
	cable.Device.SleepSpeeds = []int{10}
	c.Connect(cable)
	s.SetQuirks(noon, Quirks{NarrowWhenSlow: true})
	for after, want := range map[time.Duration]byte{
		50 * time.Second: TagCounter64, 70 * time.Second: TagNoSuchInstance, 9 * time.Minute: TagNoSuchInstance, 12 * time.Minute: TagCounter64,
	} {
		c, s, _ := bench()
		again := patched(s, "pc")
		again.Device.Asleep, again.Device.SleepSpeeds = cable.Device.Asleep, cable.Device.SleepSpeeds
		c.Connect(again)
		s.SetQuirks(noon, Quirks{NarrowWhenSlow: true})
		now := noon.Add(after)
		for _, column := range []int{6, 7, 8, 9, 10, 11, 12, 13} {
			require.Equal(t, want, read(s, now, ifXColumn(column)+".1").Tag, "column %d after %s", column, after)
			require.Equal(t, TagCounter64, read(s, now, ifXColumn(column)+".2").Tag, "another port")
		}
		require.Equal(t, TagCounter32, read(s, now, "1.3.6.1.2.1.2.2.1.10.1").Tag)
	}
}

// RFC 2863, ifCounterDiscontinuityTime: sysUpTime at the last discontinuity
// since the boot; switches that leave it 0 are common practice.
func TestCountersThatBeginAnew(t *testing.T) {
	const stamp = "1.3.6.1.2.1.31.1.1.1.19.1"
	for _, stamps := range []bool{false, true} {
		c, s, _ := bench()
		cable := c.Connect(patched(s, "workstation"))
		s.SetQuirks(noon, Quirks{ClearsOnLinkUp: true, Stamps: stamps})
		require.Equal(t, Ticks(0), read(s, noon, stamp))
		want := func(at time.Duration) Value {
			if !stamps {
				return Ticks(0)
			}
			return Ticks(time.Hour + at)
		}
		s.ClearCounters(noon.Add(10 * time.Second))
		require.Equal(t, Counter64(0), read(s, noon.Add(10*time.Second), inOctets+".1"))
		require.Equal(t, want(10*time.Second), read(s, noon.Add(12*time.Second), stamp))
		before := read(s, noon.Add(20*time.Second), inOctets+".1").Number
		c.Do(noon.Add(20*time.Second), func() { cable.Open = []Pair{Pair12} })
		require.Equal(t, before, read(s, noon.Add(25*time.Second), inOctets+".1").Number, "kept while down")
		c.Do(noon.Add(30*time.Second), func() { cable.Open = nil })
		require.Less(t, read(s, noon.Add(33*time.Second), inOctets+".1").Number, before)
		require.InDelta(t, want(32*time.Second).Number, read(s, noon.Add(40*time.Second), stamp).Number, 20)
		s.Restart(noon.Add(50 * time.Second))
		require.Equal(t, Ticks(0), read(s, noon.Add(51*time.Second), stamp), "none since the boot")
	}
}

func TestOddSpeedsDuplexAndNames(t *testing.T) {
	const ifSpeed = "1.3.6.1.2.1.2.2.1.5."
	c, s, _ := bench()
	c.Connect(patched(s, "pc"))
	s.Port("1/1").Alias = "room 12"
	high := func(row string) Value { return read(s, noon, ifXColumn(15)+"."+row) }
	require.Equal(t, []Value{Gauge32(1000), Gauge32(0), Gauge32(1000)}, []Value{high("1"), high("2"), high("104")})
	s.SetQuirks(noon, Quirks{SpeedOfDown: true, NoVirtualSpeed: true, DuplexUnknown: true})
	require.Equal(t, []Value{Gauge32(1000), Gauge32(1000), Gauge32(0)}, []Value{high("1"), high("2"), high("104")})
	require.Equal(t, Gauge32(0), read(s, noon, ifSpeed+"104"))
	require.Equal(t, Integer(1), read(s, noon, "1.3.6.1.2.1.10.7.2.1.19.1"), "unknown")
	s.SetQuirks(noon, Quirks{SaturatedSpeed: true, PaddedNames: true})
	require.Equal(t, Gauge32(4294967295), read(s, noon, ifSpeed+"1"))
	require.Equal(t, Gauge32(0), read(s, noon, ifSpeed+"2"))
	require.Equal(t, Gauge32(1000), high("1"))
	for column, name := range map[string]string{ifNames: "1/1", "1.3.6.1.2.1.2.2.1.2": "Unit 1 port 1", ifXColumn(18): "room 12"} {
		text := string(read(s, noon, column+".1").Text)
		require.Len(t, text, 32)
		require.Equal(t, name, strings.Trim(text, "\x00\x02\r\n"))
	}
}

func TestClonedEngines(t *testing.T) {
	c := NewCampus(1, noon)
	one := c.AddSwitch(SwitchPlan{Name: "one", Copper: 1, Engine: "template"})
	two := c.AddSwitch(SwitchPlan{Name: "two", Copper: 1, Engine: "template"})
	require.Equal(t, one.Engine(noon).ID, two.Engine(noon).ID)
	require.NotEqual(t, one.Serial(1), two.Serial(1))
}

// sysUpTime is TimeTicks: it wraps after 2^32 hundredths, 497 days (RFC 2578
// section 7.1.8); snmpEngineTime does not.
func TestUptimeWraps(t *testing.T) {
	c := NewCampus(1, noon)
	wrap := time.Duration(1<<32) * 10 * time.Millisecond
	s := c.AddSwitch(SwitchPlan{Name: "old", Copper: 1, Up: wrap - time.Second})
	require.Equal(t, Ticks(wrap-time.Second), read(s, noon, "1.3.6.1.2.1.1.3.0"))
	require.Equal(t, uint64(100), read(s, noon.Add(2*time.Second), "1.3.6.1.2.1.1.3.0").Number)
	require.Equal(t, Integer(42949673), read(s, noon.Add(2*time.Second), "1.3.6.1.6.3.10.2.1.3.0"))
}
