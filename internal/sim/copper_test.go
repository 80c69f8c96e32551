package sim

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// pairsOf lays a copper run of a category and length between a port and a
// workstation that go up to 10 Gb/s.
func pairsOf(t *testing.T, kind string, metres float64, channel Channel) (*Campus, *Cable) {
	t.Helper()
	campus := NewCampus(1, time.Date(2026, 3, 2, 3, 0, 0, 0, time.UTC))
	campus.Step = time.Second
	sw := campus.AddSwitch(SwitchPlan{Name: "acc", Copper: 2, Up: time.Hour})
	port := sw.Port("1/1")
	port.Speeds = []int{10, 100, 1000, 2500, 5000, 10000}
	plug := Plug("R", port, "workstation")
	plug.Device.Speeds = port.Speeds
	plug.Kind, plug.LengthM, plug.Channel = kind, metres, &channel
	return campus, campus.Connect(plug)
}

// A channel of 100 m carries what IEEE 802.3 has it carry, and one of lower
// category trains lower (clauses 25, 40, 55, 126: 100 m of category 5, 5e, 6A; 2.5
// and 5 Gb/s on category 5e and 6).
func TestCategoryAndLengthDecideTheSpeed(t *testing.T) {
	for _, row := range []struct {
		kind   string
		metres float64
		speed  int
	}{
		{"6A", 100, 10000}, {"6", 100, 5000}, {"5e", 100, 2500}, {"3", 60, 100}, {"6A", 125, 5000}, {"6A", 260, 10},
	} {
		campus, cable := pairsOf(t, row.kind, row.metres, Channel{})
		campus.Do(campus.start.Add(time.Minute), func() {
			speed, _ := cable.A.Link()
			require.Equal(t, row.speed, speed, "%s, %v m", row.kind, row.metres)
		})
	}
}

// Loss grows by 0.4 % a degree up to 40 °C and 0.6 % above, of screened cable by
// 0.2 % (ANSI/TIA-568.2-D; at 50 °C a link of 90 m may lose what 79.5 m may:
// the same increase within a hundredth).
func TestHeatCostsWhatTheStandardSays(t *testing.T) {
	plain, screened := Channel{}, Channel{Screen: true}
	require.InDelta(t, 90/79.5, 1+plain.longer(50), 0.01)
	require.InDelta(t, 1.08, 1+plain.longer(40), 1e-9)
	require.InDelta(t, 1.04, 1+screened.longer(40), 1e-9)
}

// A PHY at its objective has a bit error ratio of 1e-10 (IEEE 802.3 40.1.1), and
// each dB costs what Gaussian noise makes of it: Q falls by a factor of 10^(1/20).
func TestBitErrorsFollowWhatIsLeft(t *testing.T) {
	campus, cable := pairsOf(t, "6A", 60, Channel{})
	campus.Do(campus.start.Add(time.Minute), func() {
		for left, ber := range map[float64]float64{0: 1e-10, -1: 7.2e-9, -2: 2.2e-7, -4: 3.0e-5} {
			cable.Channel.EatenToA = 0
			cable.Channel.EatenToA = cable.Spare(1000, true) - left
			require.InDelta(t, math.Log10(ber), math.Log10(cable.copperBER(campus.elapsed, 1000, true)), 0.05, "%v dB left", left)
			require.Zero(t, cable.copperBER(campus.elapsed, 1000, false), "the other end hears well")
		}
	})
}

// Ten gigabit neighbours in the bundle take what they add to the noise, and none of
// it from a gigabit link.
func TestAlienCrosstalkComesFromLinkedNeighbours(t *testing.T) {
	campus, victim := pairsOf(t, "6A", 60, Channel{Bundle: "B", Alien: 4})
	port := victim.A.owner.Port("1/2")
	port.Speeds = victim.A.Speeds
	plug := Plug("S", port, "workstation")
	plug.Device.Speeds, plug.Channel = port.Speeds, &Channel{Bundle: "B"}
	neighbour := campus.Connect(plug)
	spare := func(after time.Duration, speed int) (dB float64) {
		campus.Do(campus.start.Add(after), func() { dB = victim.Spare(speed, true) })
		return dB
	}
	linked, gigabit := spare(time.Minute, 10000), spare(time.Minute, 1000)
	campus.Do(campus.start.Add(time.Minute), neighbour.Unplug)
	require.InDelta(t, 10*math.Log10(1+4), spare(2*time.Minute, 10000)-linked, 0.01)
	require.InDelta(t, gigabit, spare(2*time.Minute, 1000), 0.01)
}

// A shorted pair trips the power over it, and a crossed or open one leaves what the
// other pairs can carry.
func TestPairsDecideWhatIsLeft(t *testing.T) {
	for _, row := range []struct {
		channel Channel
		speed   int
	}{
		{Channel{Shorted: []Pair{Pair45}}, 100}, {Channel{Shorted: []Pair{Pair12}}, 0},
		{Channel{Crossed: []Pair{Pair45, Pair78}}, 100}, {Channel{Crossed: []Pair{Pair36, Pair45}}, 0},
		{Channel{Crossed: []Pair{Pair45, Pair78}, Slow: true}, 0},
	} {
		campus, cable := pairsOf(t, "6A", 40, row.channel)
		campus.Do(campus.start.Add(time.Minute), func() {
			speed, _ := cable.A.Link()
			require.Equal(t, row.speed, speed, "%+v", row.channel)
		})
	}
}

// People move a cord in working hours, and some of that loses the link.
func TestACordIsMovedInWorkingHours(t *testing.T) {
	campus, cable := pairsOf(t, "6A", 40, Channel{Cord: &Cord{PerHour: 20, WorstDB: 3, Breaks: 0.5}})
	exits := func(hour time.Duration) (n uint64) {
		campus.Do(campus.start.Add(hour*time.Hour), func() { n = cable.A.Counters().Exits })
		return n
	}
	night := exits(4) // 3 to 7 h
	require.Zero(t, night)
	require.Greater(t, exits(13), night+20)
}

// An ill device damages before its PHY codes: no symbol is wrong. An ill port counts
// some of what it spoils as its own.
func TestIllEnds(t *testing.T) {
	campus, cable := pairsOf(t, "6A", 40, Channel{})
	cable.Device.Ill = &Illness{Sends: 0.01}
	healthy := cable.A.Counters().In[0]
	var before Counters
	campus.Do(campus.start.Add(time.Hour), func() {
		before = cable.A.Counters()
		cable.Device.Ill, cable.A.Ill = nil, &Illness{BER: 1e-6, Internal: 0.5}
	})
	good := float64(before.In[0] - healthy)
	require.InDelta(t, 0.01, float64(before.FCS)/good, 0.002)
	require.Zero(t, before.Symbol+before.InternalRx)
	campus.Do(campus.start.Add(2*time.Hour), func() {
		c := cable.A.Counters()
		require.InEpsilon(t, float64(c.FCS-before.FCS), float64(c.InternalRx), 0.1)
	})
}

// A link that had to train lower stays there until it is lost, however good the pairs
// become: auto-negotiation starts anew only then (IEEE 802.3 28.2.3).
func TestALowSpeedStaysUntilTheLinkIsLost(t *testing.T) {
	campus, cable := pairsOf(t, "6A", 40, Channel{EatenToA: 20})
	at := campus.start
	speed := func(do func()) (mbps int) {
		at = at.Add(time.Minute)
		campus.Do(at, do)
		at = at.Add(time.Minute)
		campus.Do(at, func() { mbps, _ = cable.A.Link() })
		return mbps
	}
	low := speed(func() {})
	require.Equal(t, 100, low)
	require.Equal(t, low, speed(func() { cable.Channel.EatenToA = 0 }))
	speed(cable.Unplug)
	require.Equal(t, 10000, speed(cable.Replug))
}
