package sim

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// riser is 300 m of OM4 with two mated pairs between the bench's optic and the far one.
func riser(near, far *Switch) Cable {
	return Cable{
		ID: "F-1", Media: Fibre, Kind: "OM4", LengthM: 300, A: near.Port("1/3"), B: far.Port("1/1"), Path: Path{Connectors: 2},
		AtoB: Flow{Bits: 400e6, Mix: office}, BtoA: Flow{Bits: 900e6, Mix: bulk},
	}
}

// Budgets summed by hand, in the way of TIA-568.3-D (length times coefficient,
// plus pairs, plus splices); the coefficients are the model's own.
func TestLossIsWhatThePathSumsUpTo(t *testing.T) {
	for _, row := range []struct {
		phy, fibre string
		metres     float64
		path       Path
		toA, toB   float64
	}{
		{"10GBASE-SR", "OM4", 300, Path{Connectors: 2}, 1.35, 1.35},                     // 0.3*2.5 + 2*0.3
		{"10GBASE-LR", "OS2", 10000, Path{Connectors: 4, Splices: 6}, 5.3, 5.3},         // 10*0.35 + 4*0.3 + 6*0.1
		{"10GBASE-ER", "OS2", 40000, Path{}, 8.8, 8.8},                                  // 40*0.22
		{"10GBASE-SR", "OS2", 100, Path{}, 10.035, 10.035},                              // too wide a beam for the core
		{"1000BASE-LX", "OM3", 500, Path{LossToA: 4}, 4.35, 0.35},                       // a dirty connector, one way
		{"10GBASE-SR", "OM3", 0, Path{Connectors: 2, LossToA: 1, LossToB: 2}, 1.6, 2.6}, // both
	} {
		cable := Cable{Kind: row.fibre, LengthM: row.metres, Path: row.path}
		from := &Module{phy: phys[row.phy]}
		require.InDelta(t, row.toA, cable.loss(from, true), 1e-9, row)
		require.InDelta(t, row.toB, cable.loss(from, false), 1e-9, row)
	}
}

// IEEE 802.3: the objective of 1e-12 holds within the window (clause 52 for
// 10GBASE-SR, -9.9 to -1.0 dBm, and LR, -14.4 to 0.5; clause 38 for
// 1000BASE-SX, -17, and LX, -19). Q = 7.03 at 1e-12 and its values below are
// those of the Gaussian tail's tables.
func TestBitErrorsFollowFromTheLight(t *testing.T) {
	for _, row := range []struct {
		phy         string
		least, most float64
	}{{"10GBASE-SR", -9.9, -1}, {"10GBASE-LR", -14.4, 0.5}, {"1000BASE-SX", -17, 0}, {"1000BASE-LX", -19, -3}} {
		m := &Module{phy: phys[row.phy]}
		require.InEpsilon(t, 1e-12, m.waterfall(row.least), 0.01, row.phy)
		require.InEpsilon(t, 1e-12, m.waterfall(row.most), 0.01, row.phy)
		require.InEpsilon(t, 1.2e-8, m.waterfall(row.least-1), 0.1, "Q = 5.59")
		require.InEpsilon(t, 4.5e-6, m.waterfall(row.least-2), 0.1, "Q = 4.44")
		require.InEpsilon(t, 2.1e-4, m.waterfall(row.most+3), 0.1, "Q = 3.53")
		require.Less(t, m.waterfall(row.least+1), 1e-17)
	}
}

// light is what a port's optic sends, receives (dBm) and its lasers' current.
func light(p *Port, cable *Cable, at time.Duration) (sent, received, mA float64) {
	return p.module.sent(at, 0), cable.received(at, 0, cable.A == p), p.module.bias(at, 0)
}

func TestReceivedIsWhatTheFarEndSendsLessTheLoss(t *testing.T) {
	c, near, far := bench()
	cable := c.Connect(riser(near, far))
	cable.LossToA = 2.5
	_, atA, _ := light(cable.A, cable, 0)
	_, atB, _ := light(cable.B, cable, 0)
	require.InDelta(t, -2.5-1.35-2.5, atA, 1e-9)
	require.InDelta(t, -2.5-1.35, atB, 1e-9)
	cable.Bend(3)
	_, atA, _ = light(cable.A, cable, 0)
	_, atB, _ = light(cable.B, cable, 0)
	require.InDelta(t, -9.35, atA, 1e-9)
	require.InDelta(t, -6.85, atB, 1e-9)
	cable.B.Shut = true
	_, atA, _ = light(cable.A, cable, 0)
	_, atB, _ = light(cable.B, cable, 0)
	require.Equal(t, dark, atA, "a shut port's laser is off")
	require.InDelta(t, -6.85, atB, 1e-9)
}

// Low light and damaged frames go together, at the end that receives.
func TestTooLittleLightDamagesFramesOneWay(t *testing.T) {
	for _, row := range []struct {
		loss float64 // beside 1.35 dB of the path; -2.5 sent, -9.9 needed
		bad  bool
		up   bool
	}{{0, false, true}, {5, false, true}, {7.5, true, true}, {9.5, false, false}} {
		c, near, far := bench()
		cable := c.Connect(riser(near, far))
		c.Do(noon, func() { cable.LossToB = row.loss })
		before := counted(c, cable.B, noon)
		after := counted(c, cable.B, noon.Add(time.Minute))
		speed, _ := cable.B.Link()
		require.Equal(t, row.up, speed > 0, row.loss)
		require.Equal(t, row.bad, after.FCS > before.FCS, row.loss)
		require.Zero(t, counted(c, cable.A, noon.Add(time.Minute)).FCS, "the other way is clean")
	}
}

func TestTooMuchLightDamagesFrames(t *testing.T) {
	c := NewCampus(5, noon)
	near := c.AddSwitch(SwitchPlan{Name: "near", Copper: 2, Fibre: 1, Optic: "10GBASE-ER", Up: time.Hour})
	far := c.AddSwitch(SwitchPlan{Name: "far", Fibre: 1, Optic: "10GBASE-ER", Up: time.Hour})
	cable := riser(near, far)
	cable.Kind = "OS2"
	laid := c.Connect(cable)
	_, got, _ := light(laid.A, laid, 0)
	require.InDelta(t, 1.5-0.3*0.22-0.6, got, 1e-9)
	require.Greater(t, got, -1.0, "IEEE 802.3 clause 52: at most -1.0 dBm at a 10GBASE-ER receiver")
	require.Greater(t, counted(c, laid.A, noon.Add(time.Minute)).FCS, uint64(100))
	c.Do(noon.Add(time.Minute), func() { laid.Bend(5) }) // an attenuator
	calm := counted(c, laid.A, noon.Add(61*time.Second))
	require.Equal(t, calm.FCS, counted(c, laid.A, noon.Add(2*time.Minute)).FCS)
}

// A laser that wears: first its current rises, by half, then its light falls;
// the loss stays the same.
func TestADyingTransmitter(t *testing.T) {
	c, near, far := bench()
	cable := c.Connect(riser(near, far))
	m := cable.A.Module()
	m.WearPerDay = 0.5
	sent, received, current := light(cable.A, cable, 0)
	_, far0, _ := light(cable.B, cable, 0)
	later := 2 * 24 * time.Hour // 1 dB
	sent1, _, current1 := light(cable.A, cable, later)
	require.InDelta(t, sent, sent1, 1e-9)
	require.InEpsilon(t, current*1.2589, current1, 1e-3, "1 dB is a factor of 1.2589")
	last := 12 * 24 * time.Hour // 6 dB, of which the current makes good 1.76
	sent2, received2, current2 := light(cable.A, cable, last)
	_, far2, _ := light(cable.B, cable, last)
	require.InEpsilon(t, 1.5*current, current2, 1e-9)
	require.InDelta(t, sent-(6-1.7609), sent2, 1e-3)
	require.InDelta(t, sent-far0, sent2-far2, 1e-9, "the loss is the same")
	require.Equal(t, received, received2)
	require.Greater(t, m.celsius(last, noon), m.celsius(0, noon))
}

func TestTemperatureSwingsWithTheDay(t *testing.T) {
	m := (&Campus{}).optic("10GBASE-SR")
	coldest, warmest := math.Inf(1), math.Inf(-1)
	for hour := range 24 {
		now := m.celsius(time.Duration(hour)*time.Hour, noon)
		coldest, warmest = min(coldest, now), max(warmest, now)
	}
	require.InDelta(t, 6, warmest-coldest, 1e-9)
	require.Equal(t, warmest, m.celsius(3*time.Hour, noon), "at 15:00")
}

// One end in the dark takes both down, but a port that needs no far end stays up.
func TestABrokenStrand(t *testing.T) {
	for _, oneWay := range []bool{false, true} {
		c, near, far := bench()
		cable := riser(near, far)
		cable.A.OneWay = oneWay
		laid := c.Connect(cable)
		c.Do(noon, func() { laid.BrokenToB = true })
		before := counted(c, laid.A, noon.Add(5*time.Second))
		c.Do(noon.Add(time.Minute), func() {
			a, _ := laid.A.Link()
			b, _ := laid.B.Link()
			require.Equal(t, oneWay, a == 10000)
			require.Zero(t, b)
			_, atA, _ := light(laid.A, laid, 0)
			_, atB, _ := light(laid.B, laid, 0)
			require.InDelta(t, -3.85, atA, 1e-9)
			require.Equal(t, dark, atB)
			require.Equal(t, before.In, laid.A.Counters().In, "up, and nothing comes in")
			laid.BrokenToB = false
		})
		c.Do(noon.Add(2*time.Minute), func() {
			b, _ := laid.B.Link()
			require.Equal(t, 10000, b)
		})
	}
}

func TestALooseOpticJumpsAndFlaps(t *testing.T) {
	c, near, far := bench()
	cable := c.Connect(riser(near, far))
	cable.B.Module().Loose = 12
	least, most := math.Inf(1), math.Inf(-1)
	for n := range 60 {
		_, got, _ := light(cable.A, cable, time.Duration(n)*contactHolds)
		least, most = min(least, got), max(most, got)
	}
	require.Greater(t, most-least, 6.0)
	after := counted(c, cable.A, noon.Add(20*time.Minute))
	require.Greater(t, after.Exits, uint64(3))
	require.Less(t, after.Exits, uint64(30))
	require.Positive(t, after.FCS)
}
