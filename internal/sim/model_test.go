package sim

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestFrameErrorRatioOfPublishedPairs(t *testing.T) {
	for _, row := range []struct {
		ber    float64
		octets int
		want   float64
		source string
	}{
		{1e-10, 125, 1e-7, "IEEE 802.3 40.6.1.3.1"},
		{1e-8, 1518, 1.2143e-4, "1-(1-BER)^n calculated"},
		{1e-10, 1518, 1.2144e-6, "1-(1-BER)^n calculated"},
		{1e-12, 64, 5.12e-10, "1-(1-BER)^n calculated"},
		{1, 64, 1, "every frame is bad"},
	} {
		require.InEpsilon(t, row.want, frameErrorRatio(row.ber, row.octets), 1e-4, row.source)
	}
}

// Mean and variance of the binomial and the Poisson law, in each way of drawing.
func TestDrawsFollowTheirLaws(t *testing.T) {
	const draws = 40000
	r := rand.New(rand.NewPCG(1, 2))
	check := func(says string, mean, variance float64, draw func() uint64) {
		sum, squares := 0.0, 0.0
		for range draws {
			x := float64(draw())
			sum, squares = sum+x, squares+(x-mean)*(x-mean)
		}
		require.InDelta(t, mean, sum/draws, 5*math.Sqrt(variance/draws), says)
		require.InEpsilon(t, variance, squares/draws, 0.08, says)
	}
	for _, mean := range []float64{0.02, 1, 29, 31, 4000, 1e9} {
		check("Poisson", mean, mean, func() uint64 { return poisson(r, mean) })
	}
	for _, row := range []struct {
		n uint64
		p float64
	}{{1, 0.5}, {9, 0.9}, {1000, 1e-4}, {100000, 2e-4}, {100000, 0.3}, {50, 0.99}} {
		mean := float64(row.n) * row.p
		check("binomial", mean, mean*(1-row.p), func() uint64 {
			k := binomial(r, row.n, row.p)
			require.LessOrEqual(t, k, row.n)
			return k
		})
	}
	require.Zero(t, binomial(r, 0, 0.5)+binomial(r, 9, 0)+poisson(r, 0))
	require.Equal(t, uint64(9), binomial(r, 9, 1))
}

// bench is one switch of two copper ports and two optics, and one of two optics.
func bench() (*Campus, *Switch, *Switch) {
	c := NewCampus(5, noon)
	return c,
		c.AddSwitch(SwitchPlan{Name: "bench", Copper: 2, Fibre: 2, Optic: "10GBASE-SR", Up: time.Hour}),
		c.AddSwitch(SwitchPlan{Name: "far", Fibre: 2, Optic: "10GBASE-SR", Up: 3 * time.Hour})
}

func counted(c *Campus, p *Port, now time.Time) (n Counters) {
	c.Do(now, func() { n = p.Counters() })
	return n
}

// patched is a cable from the bench's first port to a device of a kind.
func patched(s *Switch, kind string) Cable { return Plug("B-1", s.Port("1/1"), kind) }

func TestBitErrorsAreCountedPerFrameByTheReceiver(t *testing.T) {
	for _, octets := range []int{64, 125, 594, 1518} {
		const ber = 3e-7
		c, s, _ := bench()
		cable := patched(s, "pc")
		cable.BtoA = Flow{Bits: 200e6, Mix: []Share{{octets, 1}}}
		cable.BERToA = ber
		laid := c.Connect(cable)
		before := counted(c, cable.A, noon)
		after := counted(c, cable.A, noon.Add(time.Minute))
		bad := float64(after.FCS - before.FCS)
		frames := float64(after.In[unicast]-before.In[unicast]) + bad
		want := frames * -math.Expm1(8*float64(octets)*math.Log1p(-ber))
		require.InDelta(t, want, bad, 5*math.Sqrt(want), "%d octets", octets)
		require.Equal(t, (after.In[unicast]-before.In[unicast])*uint64(octets), after.InOctets-before.InOctets,
			"octets of valid frames only (RFC 3635, ifInOctets)")
		require.Zero(t, laid.Device.line.FCS, "the other direction is clean")
		require.Zero(t, after.Alignment, "no alignment errors above 4 bits a group (IEEE 802.3 30.3.1.1.7)")
	}
}

func TestFramesAreConservedBetweenTwoSwitches(t *testing.T) {
	c, near, far := bench()
	a, b := near.Port("1/3"), far.Port("1/1")
	c.Connect(Cable{
		ID: "F-1", Media: Fibre, Kind: "OM4", A: a, B: b, BERToB: 1e-7,
		AtoB: Flow{Bits: 400e6, Mix: office, Broadcast: 2, Multicast: 3}, BtoA: Flow{Bits: 900e6, Mix: bulk},
	})
	sum := func(n [3]uint64) uint64 { return n[0] + n[1] + n[2] }
	var last Counters
	for s := range 30 {
		now := noon.Add(time.Duration(s) * 7 * time.Second)
		ca, cb := counted(c, a, now), counted(c, b, now)
		require.Equal(t, sum(ca.Out), sum(cb.In)+cb.FCS)
		require.Equal(t, ca.In, cb.Out)
		require.Equal(t, ca.InOctets, cb.OutOctets)
		require.Less(t, cb.InOctets, ca.OutOctets)
		require.Zero(t, ca.FCS, "the receiver counts")
		require.Positive(t, cb.FCS)
		require.GreaterOrEqual(t, cb.FCS, last.FCS)
		require.GreaterOrEqual(t, cb.InOctets, last.InOctets)
		last = cb
	}
}

func TestSeedAndGridDecideEverything(t *testing.T) {
	end := noon.Add(30 * time.Second)
	play := func(seed uint64, every time.Duration) map[string]Counters {
		c := FerrowQuay(seed, noon)
		for now := noon; now.Before(end); now = now.Add(every) {
			c.Switches()[int(now.Unix())%12].At(now)
		}
		out := map[string]Counters{}
		c.Do(end, func() {
			for _, s := range c.Switches() {
				for _, p := range s.Ports() {
					out[s.Name+" "+p.Name] = p.Counters()
				}
			}
		})
		return out
	}
	once, often := play(1, time.Hour), play(1, 370*time.Millisecond)
	require.Equal(t, once, often, "whoever asks how often")
	require.NotEqual(t, once, play(2, time.Hour))
}

func TestPairsDecideTheLink(t *testing.T) {
	for _, row := range []struct {
		open []Pair
		want int
	}{
		{nil, 1000},
		{[]Pair{Pair45}, 100}, // the PHY's downshift, on the two pairs of 100BASE-TX
		{[]Pair{Pair78}, 100},
		{[]Pair{Pair45, Pair78}, 100},
		{[]Pair{Pair12}, 0}, // no auto-negotiation without 1-2 and 3-6
		{[]Pair{Pair36, Pair78}, 0},
	} {
		c, s, _ := bench()
		cable := patched(s, "pc")
		cable.Open = row.open
		c.Connect(cable)
		c.Do(noon.Add(10*time.Second), func() {
			speed, half := cable.A.Link()
			require.Equal(t, row.want, speed, row.open)
			require.False(t, half)
			require.Zero(t, cable.A.Counters().FCS)
			if speed > 0 {
				require.Equal(t, gigabit, cable.A.line.heard, "the far end still offers 1000")
			}
		})
	}
}

func TestTheSlowerSideDecides(t *testing.T) {
	for says, row := range map[string]struct {
		change func(*Cable)
		want   int
	}{
		"a 100 Mb/s device":     {func(c *Cable) { c.Device.Speeds = legacy }, 100},
		"an administered limit": {func(c *Cable) { c.A.Advertised = []int{10} }, 10},
		"nothing in common":     {func(c *Cable) { c.A.Advertised = []int{1000}; c.Device.Speeds = legacy }, 0},
		"a shut port":           {func(c *Cable) { c.A.Shut = true }, 0},
		"a device without power": {func(c *Cable) {
			c.Device.Off = true
		}, 0},
		"nothing plugged in": {func(c *Cable) { c.Device = nil }, 0},
	} {
		c, s, _ := bench()
		cable := patched(s, "pc")
		row.change(&cable)
		c.Connect(cable)
		c.Do(noon.Add(10*time.Second), func() {
			speed, _ := cable.A.Link()
			require.Equal(t, row.want, speed, says)
		})
	}
}

func TestASleepingPCSlowsDownAndFallsSilent(t *testing.T) {
	c, s, _ := bench()
	cable := patched(s, "pc")
	cable.Device.Asleep = Schedule{Offset: time.Minute, Every: time.Hour, For: 10 * time.Minute}
	cable.Device.SleepSpeeds = []int{10}
	c.Connect(cable)
	speed := func(now time.Time) (n int) {
		c.Do(now, func() { n, _ = cable.A.Link() })
		return n
	}
	require.Equal(t, 1000, speed(noon.Add(59*time.Second)))
	require.Equal(t, 0, speed(noon.Add(61*time.Second)), "one brief loss")
	require.Equal(t, 10, speed(noon.Add(65*time.Second)))
	before := counted(c, cable.A, noon.Add(65*time.Second))
	after := counted(c, cable.A, noon.Add(10*time.Minute))
	require.Equal(t, before.In[unicast], after.In[unicast])
	require.LessOrEqual(t, after.In[broadcast]-before.In[broadcast], uint64(30), "an address resolution now and then")
	require.Zero(t, after.InErrors())
	require.Equal(t, uint64(1), after.Exits)
	require.Equal(t, 1000, speed(noon.Add(11*time.Minute+5*time.Second)))
	awake := counted(c, cable.A, noon.Add(12*time.Minute))
	require.Greater(t, awake.In[unicast], after.In[unicast]+1000)
}

func TestARattlingPlugLosesItsLinkWithErrorsAround(t *testing.T) {
	c, s, _ := bench()
	cable := patched(s, "workstation")
	cable.Rattle = &Rattle{Mean: 20 * time.Second, BER: 4e-6}
	c.Connect(cable)
	before := counted(c, cable.A, noon)
	after := counted(c, cable.A, noon.Add(10*time.Minute))
	require.Zero(t, before.Exits)
	require.InDelta(t, 600/27.0, float64(after.Exits), 16, "losses every 20 s and what training takes")
	require.Positive(t, after.FCS)
}

func TestNoiseStrikesThePathwayAtTheSameSeconds(t *testing.T) {
	c, s, _ := bench()
	c.Noise("tray-a", Schedule{Offset: 20 * time.Second, Every: time.Minute, For: 10 * time.Second}, 1e-6)
	var ports []*Port
	for i, coupling := range []float64{1, 0.5, 0, 1} {
		cable := patched(s, "workstation")
		cable.A = s.Ports()[min(i, 1)]
		if i > 1 {
			s = c.AddSwitch(SwitchPlan{Name: string(rune('p' + i)), Copper: 2})
			cable.A = s.Port("1/1")
		}
		cable.Coupling, cable.Pathways = coupling, []string{[]string{"tray-a", "tray-a", "tray-a", "tray-b"}[i]}
		c.Connect(cable)
		ports = append(ports, cable.A)
	}
	fcs := func(second int) (n [4]uint64) {
		for i, p := range ports {
			n[i] = counted(c, p, noon.Add(time.Duration(second)*time.Second)).FCS
		}
		return n
	}
	require.Equal(t, [4]uint64{}, fcs(19))
	burst := fcs(31)
	require.Greater(t, burst[0], burst[1])
	require.Positive(t, burst[1])
	require.Zero(t, burst[2], "uncoupled")
	require.Zero(t, burst[3], "another pathway")
	require.Equal(t, burst, fcs(79))
	require.Greater(t, fcs(95)[0], burst[0])
}

// A duplex mismatch: late collisions at the half end, bad frames at the full
// end, and more of them per frame the more is said both ways.
func TestDuplexMismatch(t *testing.T) {
	ratio := func(bits float64, fixedSwitch bool) (fcs, late float64) {
		c, s, _ := bench()
		cable := patched(s, "pc")
		cable.AtoB, cable.BtoA = Flow{Bits: bits, Mix: office}, Flow{Bits: bits, Mix: office}
		if fixedSwitch {
			cable.A.Advertised, cable.A.Fixed = []int{100}, 100
		} else {
			cable.Device.Speeds, cable.Device.Fixed = []int{100}, 100
		}
		laid := c.Connect(cable)
		n := counted(c, cable.A, noon.Add(time.Minute))
		speed, half := cable.A.Link()
		require.Equal(t, 100, speed)
		require.Equal(t, !fixedSwitch, half)
		require.Equal(t, n.Late, n.OutErrors())
		require.Equal(t, fixedSwitch, laid.Device.line.half)
		return float64(n.FCS) / float64(n.In[unicast]+n.FCS), float64(n.Late) / float64(n.Out[unicast])
	}
	quiet, none := ratio(2e5, true)
	busy, noneEither := ratio(2e7, true)
	require.Greater(t, busy, 20*quiet, "rises with the load")
	require.Zero(t, none+noneEither, "never a late collision in full duplex (RFC 3635)")
	fcs, late := ratio(2e7, false)
	require.Zero(t, fcs)
	require.InEpsilon(t, busy, late, 0.05, "the same frames, seen from the other end")
}

func TestSchedules(t *testing.T) {
	s := Schedule{Offset: -time.Minute, Every: 10 * time.Minute, For: 3 * time.Minute}
	for at, want := range map[time.Duration]bool{0: true, 119 * time.Second: true, 2 * time.Minute: false, 9 * time.Minute: true, 12 * time.Minute: false} {
		require.Equal(t, want, s.On(at), at)
	}
	require.False(t, Schedule{}.On(0))
}

func TestALongSilenceIsPlayedCoarsely(t *testing.T) {
	c, near, far := bench()
	p := far.Port("1/1")
	c.Connect(Cable{ID: "F", Media: Fibre, A: near.Port("1/3"), B: p, AtoB: Flow{Bits: 150e6, Mix: office}})
	before := counted(c, p, noon)
	after := counted(c, p, noon.Add(8*time.Hour))
	bits := float64(8 * (after.InOctets - before.InOctets))
	require.InEpsilon(t, 8*3600*150e6*0.85, bits, 0.2)
	require.Equal(t, after, counted(c, p, noon), "time does not run backwards")
}
