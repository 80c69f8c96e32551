package port

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/standards"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// reading is a port at 1 Gbit/s, so many seconds after noon, on an agent that
// started at noon minus 1,000 s.
func reading(seconds float64, counters func(*Counters)) *Reading {
	r := &Reading{
		At:        noon.Add(time.Duration(seconds * float64(time.Second))),
		Uptime:    Some(uint32(100_000 + seconds*100)),
		Index:     7,
		Type:      6,
		Oper:      Up,
		HighSpeed: Some(uint32(1000)),
	}
	if counters != nil {
		counters(&r.Counters)
	}
	return r
}

func fcs32(v uint32) func(*Counters) { return func(c *Counters) { c.Set32(FCS, v) } }
func octets64(v uint64) func(*Counters) {
	return func(c *Counters) { c.Set64(InOctets, v) }
}
func octets32(v uint32) func(*Counters) { return func(c *Counters) { c.Set32(InOctets, v) } }

func TestBetweenIncrements(t *testing.T) {
	rows := []struct {
		name          string
		before, after *Reading
		counter       Counter
		want          Value[uint64]
	}{
		{"64-bit rise", reading(0, octets64(10)), reading(60, octets64(110)), InOctets, Some(uint64(100))},
		{"64-bit past 2^32", reading(0, octets64(1<<32-1)), reading(60, octets64(1<<32+1)), InOctets, Some(uint64(2))},
		{"32-bit rise", reading(0, fcs32(3)), reading(60, fcs32(10)), FCS, Some(uint64(7))},
		{"nothing rose is 0, not absent", reading(0, fcs32(3)), reading(60, fcs32(3)), FCS, Some(uint64(0))},
		// RFC 2863 3.1.6: a 32-bit counter may wrap.
		{"32-bit wrap", reading(0, fcs32(1<<32-2)), reading(60, fcs32(5)), FCS, Some(uint64(7))},
		// RFC 2863 3.1.6: octets at 1 Gbit/s wrap in 34 s, so 60 s cannot be told, 10 s can.
		{"32-bit octets too slow a poll", reading(0, octets32(5)), reading(60, octets32(500)), InOctets, Value[uint64]{}},
		{"32-bit octets past half their range in 60 s", reading(0, octets32(3_000_000_000)), reading(60, octets32(955_000_000)), InOctets, Value[uint64]{}},
		{"32-bit octets wrap within 10 s", reading(0, octets32(1<<32-100)), reading(10, octets32(100)), InOctets, Some(uint64(200))},
		{"absent before", reading(0, nil), reading(60, fcs32(5)), FCS, Value[uint64]{}},
		{"absent after", reading(0, fcs32(5)), reading(60, nil), FCS, Value[uint64]{}},
		{"another width is a new baseline", reading(0, octets32(5)), reading(2, octets64(9)), InOctets, Value[uint64]{}},
		// RFC 2863 3.1.6 asks for 64-bit octets from 20 Mbit/s on: a port that falls below loses them.
		{"64 bits no longer kept", reading(0, octets64(1<<40)), reading(2, octets32(9)), InOctets, Value[uint64]{}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			inc, reason := Between(row.before, row.after)
			require.Equal(t, Comparable, reason)
			got, ok := inc.Counters.Get(row.counter)
			want, wantOK := row.want.Get()
			require.Equal(t, wantOK, ok)
			if ok {
				require.Equal(t, want, got)
			}
		})
	}
}

// More damaged frames than the line can carry (IEEE 802.3 4.2.3) are no count:
// some agents give all ones for what they do not know (common practice, no
// source).
func TestMoreErrorsThanTheLineCarriesAreNotTold(t *testing.T) {
	fcs64 := func(v uint64) func(*Counters) { return func(c *Counters) { c.Set64(FCS, v) } }
	rows := []struct {
		name          string
		before, after *Reading
		told          bool
	}{
		{"32 bits of ones", reading(0, fcs32(3)), reading(60, fcs32(1<<32-1)), false},
		{"64 bits of ones", reading(0, fcs64(3)), reading(60, fcs64(1<<64-1)), false},
		{"all that 60 s at 1 Gbit/s carry", reading(0, fcs32(3)), reading(60, fcs32(80_000_000)), true},
		{"none", reading(0, fcs64(3)), reading(60, fcs64(3)), true},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			inc, reason := Between(row.before, row.after)
			require.Equal(t, Comparable, reason)
			_, told := inc.Counters.Get(FCS)
			require.Equal(t, row.told, told)
		})
	}
}

func TestBetweenReasons(t *testing.T) {
	with := func(r *Reading, change func(*Reading)) *Reading { change(r); return r }
	rows := []struct {
		name          string
		before, after *Reading
		want          Reason
	}{
		{"first", nil, reading(0, nil), FirstReading},
		{"our clock stands", reading(60, nil), reading(60, nil), ClocksDisagree},
		{"64-bit fall is a reset, never a wrap", reading(0, octets64(1<<63)), reading(60, octets64(5)), CountersReset},
		{"32-bit fall beyond the line rate is a reset", reading(0, fcs32(1000)), reading(60, fcs32(0)), CountersReset},
		{"32-bit fall of a port that is down is a reset",
			with(reading(0, fcs32(1<<32-2)), func(r *Reading) { r.Oper = Down }),
			with(reading(60, fcs32(1)), func(r *Reading) { r.Oper = Down }), CountersReset},
		{"discontinuity stamp (RFC 2863 ifCounterDiscontinuityTime)",
			with(reading(0, fcs32(1)), func(r *Reading) { r.Discontinuity = Some(uint32(0)) }),
			with(reading(60, fcs32(9)), func(r *Reading) { r.Discontinuity = Some(uint32(102_000)) }), CountersReset},
		{"restart", reading(0, fcs32(1)), with(reading(60, fcs32(1)), func(r *Reading) { r.Uptime = Some(uint32(1500)) }), Restarted},
		{"restart in a long gap, uptime higher than before",
			with(reading(0, nil), func(r *Reading) { r.Uptime = Some(uint32(10_000)) }),
			with(reading(3600, nil), func(r *Reading) { r.Uptime = Some(uint32(20_000)) }), Restarted},
		{"sysUpTime wraps after 497 days (RFC 3418, TimeTicks of RFC 2578)",
			with(reading(0, fcs32(1)), func(r *Reading) { r.Uptime = Some(uint32(1<<32 - 3000)) }),
			with(reading(60, fcs32(2)), func(r *Reading) { r.Uptime = Some(uint32(3000)) }), Comparable},
		{"our host slept",
			reading(0, nil), with(reading(60, nil), func(r *Reading) { r.Uptime = Some(uint32(100_000 + 100*90)) }), ClocksDisagree},
		{"uptime not told", with(reading(0, nil), func(r *Reading) { r.Uptime = Value[uint32]{} }), reading(60, nil), Comparable},
		{"uptime never told, 64-bit counters fall", with(reading(0, octets64(500)), func(r *Reading) { r.Uptime = Value[uint32]{} }),
			with(reading(60, octets64(5)), func(r *Reading) { r.Uptime = Value[uint32]{} }), CountersReset},
		{"our clock was set forward", reading(0, nil), with(reading(360, nil), func(r *Reading) { r.Uptime = Some(uint32(106_000)) }), ClocksDisagree},
		{"our clock was set back", reading(3660, nil), reading(60, nil), ClocksDisagree},
		{"renumbered", reading(0, nil), with(reading(60, nil), func(r *Reading) { r.Index = 31 }), Renumbered},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			_, reason := Between(row.before, row.after)
			require.Equal(t, row.want, reason)
		})
	}
}

// Readings carry a monotonic time, so that a step of the wall clock between
// them is no time that passed (package time, "Monotonic Clocks").
func TestBetweenUsesTheMonotonicClock(t *testing.T) {
	before, after := reading(0, octets64(5)), reading(60, octets64(9))
	began := time.Now()
	before.At, after.At = began, began.Add(60*time.Second)
	require.Contains(t, after.At.String(), "m=", "Add keeps the monotonic part")
	inc, reason := Between(before, after)
	require.Equal(t, Comparable, reason)
	require.Equal(t, 60.0, inc.Seconds)
}

func TestBetweenLinkChanges(t *testing.T) {
	at := func(seconds float64, oper Status, lastChange uint32, exits uint32) *Reading {
		r := reading(seconds, func(c *Counters) { c.Set32(MediaExits, exits) })
		r.Oper, r.LastChange = oper, Some(lastChange)
		return r
	}
	// stamped gives as ifLastChange what sysUpTime is, so many ticks ago.
	stamped := func(seconds float64, ticks uint32) *Reading {
		r := at(seconds, Up, 0, 0)
		uptime, _ := r.Uptime.Get()
		r.LastChange = Some(uptime - ticks)
		return r
	}
	untimed := func(r *Reading) *Reading { r.Uptime = Value[uint32]{}; return r }
	rows := []struct {
		name          string
		before, after *Reading
		want          int
	}{
		{"an agent that gives the present time for each change", stamped(0, 0), stamped(60, 0), 0},
		{"the same, a moment late", stamped(0, 30), stamped(60, 3), 0},
		{"flapped shortly before both polls", stamped(0, 500), stamped(60, 500), 2},
		{"flapped, with no uptime told", untimed(at(0, Up, 50, 0)), untimed(at(60, Up, 103_000, 0)), 2},
		{"a status that is not told once", at(0, Up, 50, 0), at(60, StatusAbsent, 50, 0), 0},
		{"a status that is told again", at(0, StatusAbsent, 50, 0), at(60, Up, 50, 0), 0},
		{"a status that is told again, and a new stamp", at(0, StatusAbsent, 50, 0), at(60, Up, 103_000, 0), 2},
		{"flapped just now", stamped(0, 50_000), stamped(60, 20), 2},
		{"steady", at(0, Up, 50, 0), at(60, Up, 50, 0), 0},
		{"jitter of a recomputed stamp", at(0, Up, 5000, 0), at(60, Up, 5001, 0), 0},
		{"went down", at(0, Up, 50, 0), at(60, Down, 103_000, 1), 1},
		{"came up", at(0, Down, 50, 1), at(60, Up, 103_000, 1), 1},
		{"flapped between polls, by ifLastChange", at(0, Up, 50, 0), at(60, Up, 103_000, 0), 2},
		{"flapped three times, by the MAU's count", at(0, Up, 50, 0), at(60, Up, 103_000, 3), 6},
		{"flapped and ended down", at(0, Up, 50, 0), at(60, Down, 103_000, 3), 5},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			inc, reason := Between(row.before, row.after)
			require.Equal(t, Comparable, reason)
			require.Equal(t, row.want, inc.LinkChanges)
		})
	}
}

// Some switches clear a port's counters when its link comes up.
func TestALinkThatComesUpWithItsCountersClearedIsAChange(t *testing.T) {
	before, after := reading(0, octets64(1<<40)), reading(60, octets64(5))
	before.Oper = Down
	inc, reason := Between(before, after)
	require.Equal(t, CountersReset, reason)
	require.Equal(t, 1, inc.LinkChanges)
}

// RFC 3635: alignment errors are not counted with group coding, so they alone
// tell nothing.
func TestErroredNeedsFCS(t *testing.T) {
	var c Counters
	c.Set32(Alignment, 0)
	_, source := c.Errored()
	require.Equal(t, NoErrorSource, source)
	c.Set32(InErrors, 9)
	got, source := c.Errored()
	require.Equal(t, InterfaceTable, source)
	require.Equal(t, uint64(9), got)
	c.Set32(CRCAlign, 6)
	c.Set32(Fragments, 1)
	got, source = c.Errored()
	require.Equal(t, RMON, source)
	require.Equal(t, uint64(7), got)
	c.Set32(FCS, 4)
	c.Set32(Alignment, 1)
	got, source = c.Errored()
	require.Equal(t, EtherLike, source)
	require.Equal(t, uint64(5), got)
}

func TestTheKindsOfFramesComeTogether(t *testing.T) {
	var totals, reading Counters
	for _, k := range []Counter{InUnicast, InMulticast, InOctets} {
		totals.Set64(k, 100)
	}
	reading.Set64(InMulticast, 7)
	reading.Set64(InOctets, 7)
	only := totals.Only(&reading)
	_, ok := only.FramesIn()
	require.False(t, ok)
	require.True(t, only.Has(InOctets))
	reading.Set64(InUnicast, 7)
	only = totals.Only(&reading)
	frames, ok := only.FramesIn()
	require.True(t, ok)
	require.Equal(t, uint64(200), frames)
}

// RFC 2863, ifSpeed and ifHighSpeed.
func TestSpeed(t *testing.T) {
	rows := []struct {
		name      string
		oper      Status
		low, high Value[uint32]
		want      standards.Speed
	}{
		{"ifHighSpeed rules", Up, Some(uint32(1_000_000_000)), Some(uint32(1000)), standards.Gbps},
		{"saturated ifSpeed", Up, Some(uint32(4294967295)), Some(uint32(10000)), 10 * standards.Gbps},
		{"saturated ifSpeed alone says nothing", Up, Some(uint32(4294967295)), Value[uint32]{}, 0},
		{"2.5G fits ifSpeed", Up, Some(uint32(2_500_000_000)), Value[uint32]{}, 2500 * standards.Mbps},
		{"ifHighSpeed of 0 says nothing", Up, Some(uint32(10_000_000)), Some(uint32(0)), 10 * standards.Mbps},
		{"a port that is down has no speed", Down, Some(uint32(1_000_000_000)), Some(uint32(1000)), 0},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			r := Reading{Oper: row.oper, LowSpeed: row.low, HighSpeed: row.high}
			require.Equal(t, row.want, r.Speed())
		})
	}
}

func TestDuplexIsNeverHalfUnlessTold(t *testing.T) {
	half := Reading{Oper: Up, DuplexStatus: standards.HalfDuplex}
	require.Equal(t, standards.HalfDuplex, half.Duplex())
	byMAU := Reading{Oper: Up, MAU: 15} // 100BASE-TX half duplex, RFC 4836
	require.Equal(t, standards.HalfDuplex, byMAU.Duplex())
	gigabit := Reading{Oper: Up, HighSpeed: Some(uint32(1000))}
	require.Equal(t, standards.FullDuplex, gigabit.Duplex())
	silent := Reading{Oper: Up, HighSpeed: Some(uint32(100))}
	require.Equal(t, standards.DuplexUnknown, silent.Duplex())
	down := Reading{Oper: Down, DuplexStatus: standards.HalfDuplex}
	require.Equal(t, standards.DuplexUnknown, down.Duplex())
}

// IANAifType-MIB: what may hold a cable, and what may not.
func TestPhysical(t *testing.T) {
	for _, ifType := range []int{6, 62, 69, 117} {
		require.True(t, (&Reading{Type: ifType}).Physical())
		require.True(t, (&Reading{Type: ifType, Connector: Yes}).Physical())
		require.False(t, (&Reading{Type: ifType, Connector: No}).Physical())
		require.False(t, (&Reading{Type: ifType, Connector: Yes, Over: true}).Physical(), "an aggregate, or a part of a port")
	}
	for _, ifType := range []int{0, 1, 24, 53, 131, 135, 161, 209} {
		require.False(t, (&Reading{Type: ifType, Connector: Yes}).Physical())
	}
}

func FuzzBetween(f *testing.F) {
	f.Add(uint32(5), uint32(3), uint32(100), uint32(6100), uint64(9), uint64(1), int64(60))
	f.Fuzz(func(t *testing.T, before, after, up1, up2 uint32, octets1, octets2 uint64, seconds int64) {
		previous := reading(0, func(c *Counters) { c.Set32(FCS, before); c.Set64(InOctets, octets1) })
		next := reading(0, func(c *Counters) { c.Set32(FCS, after); c.Set64(InOctets, octets2) })
		next.At = noon.Add(time.Duration(seconds%1_000_000) * time.Second)
		previous.Uptime, next.Uptime = Some(up1), Some(up2)
		inc, reason := Between(previous, next)
		if reason != Comparable {
			require.Zero(t, inc.Counters)
			require.Zero(t, inc.Seconds)
			return
		}
		rise, ok := inc.Counters.Get(InOctets)
		require.True(t, ok)
		require.Equal(t, octets2, octets1+rise)
		require.Positive(t, inc.Seconds)
	})
}
