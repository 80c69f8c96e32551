package sim

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// lit lays a run of fibre between two switches with optics of their own.
func lit(t *testing.T, kind string, metres float64, near, far string) (*Campus, *Cable) {
	t.Helper()
	campus := NewCampus(1, time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC))
	campus.Step = time.Second
	a := campus.AddSwitch(SwitchPlan{Name: "a", Fibre: 1, Optic: near, Up: time.Hour})
	b := campus.AddSwitch(SwitchPlan{Name: "b", Fibre: 1, Optic: far, Up: time.Hour})
	flow := Flow{Bits: 200e6, Mix: bulk}
	cable := Cable{ID: "F", Media: Fibre, Kind: kind, LengthM: metres, A: a.Port("1/1"), B: b.Port("1/1"), AtoB: flow, BtoA: flow}
	cable.Connectors = 2
	return campus, campus.Connect(cable)
}

// after plays an hour and gives the link's speed and the damaged frames of both ends.
func after(campus *Campus, cable *Cable, do func()) (speed int, atA, atB uint64) {
	campus.Do(campus.start, do)
	campus.Do(campus.start.Add(time.Hour), func() {
		speed, _ = cable.A.Link()
		atA, atB = cable.A.Counters().FCS, cable.B.Counters().FCS
	})
	return speed, atA, atB
}

// A laser for single-mode fibre on multimode fibre: the light is all there, and
// frames are damaged beyond a reach (IEEE 802.3 38.11.4 wants a mode-conditioning
// cord even at 1 Gb/s).
func TestModalNoiseLeavesTheLight(t *testing.T) {
	campus, cable := lit(t, "OM4", 110, "10GBASE-LR", "10GBASE-LR")
	spare := cable.LightSpare(true)
	speed, atA, atB := after(campus, cable, func() {})
	require.Equal(t, 10000, speed)
	require.Greater(t, spare, 8.0, "dB above the least")
	require.Positive(t, atA)
	require.Positive(t, atB)
	campus, cable = lit(t, "OM4", 30, "10GBASE-LR", "10GBASE-LR")
	_, atA, _ = after(campus, cable, func() {})
	require.Zero(t, atA, "a short one works")
}

// Optics of different wavelengths hardly see each other.
func TestOpticsOfDifferentWavelengths(t *testing.T) {
	campus, cable := lit(t, "OM4", 40, "10GBASE-SR", "10GBASE-LR")
	speed, _, _ := after(campus, cable, func() {})
	require.Zero(t, speed)
	require.Less(t, cable.LightSpare(true), 0.0)
}

// A receiver that has become deaf damages frames in light that is as before.
func TestADeafReceiver(t *testing.T) {
	campus, cable := lit(t, "OM4", 40, "10GBASE-SR", "10GBASE-SR")
	before, _ := cable.A.Senses()
	spare := cable.LightSpare(true)
	_, atA, atB := after(campus, cable, func() { cable.A.Module().Deaf = spare + 1.5 })
	now, _ := cable.A.Senses()
	require.Positive(t, atA)
	require.Zero(t, atB)
	require.InDelta(t, before.ReceivedDBm[0], now.ReceivedDBm[0], 0.7)
}

// Strands in each other's place: both ends are dark, and both send.
func TestReversedStrandsAreDarkAtBothEnds(t *testing.T) {
	campus, cable := lit(t, "OM4", 40, "10GBASE-SR", "10GBASE-SR")
	speed, _, _ := after(campus, cable, func() { cable.Reversed = true })
	require.Zero(t, speed)
	for _, p := range []*Port{cable.A, cable.B} {
		senses, _ := p.Senses()
		require.Less(t, senses.ReceivedDBm[0], -40.0)
		require.InDelta(t, -2.5, senses.SentDBm[0], 1.5)
	}
}

// Two ends that correct errors differently have no link from 25 Gb/s on (IEEE 802.3
// clauses 74, 91 and 108), and light as ever.
func TestErrorCorrectionMustAgree(t *testing.T) {
	for optic, speed := range map[string]int{"25GBASE-SR": 0, "10GBASE-SR": 10000} {
		campus, cable := lit(t, "OM4", 40, optic, optic)
		got, _, _ := after(campus, cable, func() { cable.A.FEC = "none" })
		require.Equal(t, speed, got, optic)
		require.Greater(t, cable.LightSpare(true), 2.0)
	}
}
