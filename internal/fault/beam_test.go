package fault

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// What is not known raises nothing, and the window is of what is seen before
// what is recorded. 10GBASE-SR takes -9.9 to -1.0 dBm, 10GBASE-LR -14.4 to 0.5
// (IEEE 802.3 clause 52).
func TestWhichWindowCounts(t *testing.T) {
	rows := []struct {
		name     string
		mau      int
		edit     func(*plant.Run)
		phy      string
		expected bool // what ought to arrive is known
		budget   bool
	}{
		{"seen alone", 36, func(r *plant.Run) { r.Cable = "" }, "10GBASE-SR", false, false},
		{"seen, and the way recorded", 36, func(*plant.Run) {}, "10GBASE-SR", true, true},
		{"recorded alone", 0, func(r *plant.Run) { r.Optic, r.FarOptic = "10GBASE-SR", "10GBASE-SR" }, "10GBASE-SR", true, true},
		{"a type of port that names no optic (10GBASE-R)", 33, func(r *plant.Run) { r.Optic, r.FarOptic = "10GBASE-SR", "10GBASE-SR" }, "10GBASE-SR", true, true},
		{"seen against the record", 35, func(r *plant.Run) { r.Optic, r.FarOptic = "10GBASE-SR", "10GBASE-SR" }, "10GBASE-LR", false, false},
		{"neither", 0, func(*plant.Run) {}, "", false, false},
		{"an active optical cable", 36, func(r *plant.Run) { r.Cable = "aoc" }, "", false, false},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			s := newFibreScene(t, row.edit)
			s.a.links[0].mau, s.b.links[0].mau = row.mau, row.mau
			s.slow(3)
			light := s.port("b", "1/1").Light
			require.Equal(t, row.phy, light.PHY)
			require.Equal(t, row.expected, light.Takes.Known)
			_, budgeted := light.Most.Get()
			require.Equal(t, row.budget, budgeted)
			if row.phy == "" {
				s.light(-2.5, -4, -2.5, -25)
				require.Empty(t, s.slow(3).Faults)
			}
		})
	}
}

// Light does not pass through a converter, and a neighbour that contradicts the
// record leaves the other end in doubt.
func TestTheOtherEndIsKnownOrNone(t *testing.T) {
	s := newFibreScene(t, func(r *plant.Run) { r.PassesThrough = []string{"converter"} })
	s.slow(2)
	require.Equal(t, plant.PortRef{}, s.port("b", "1/1").Light.From)

	s = newFibreScene(t, nil)
	s.slow(2)
	require.Equal(t, ref("a", "1/1"), s.port("b", "1/1").Light.From)
}

// A laser near its end takes more current for less light.
func TestAFadingLaserTakesMoreCurrent(t *testing.T) {
	s := settled(t, nil)
	fading := lit("A", -7, -4)
	fading.Lanes[0].BiasMA = port.Some(9.0) // 6 before
	s.optics(fading, lit("B", -2.5, -8.5))
	f := only(t, s.slow(2))
	require.Equal(t, LowLight, f.Kind, "the way loses no more")
	require.Equal(t, FailingTransmitter, f.Cause())
	require.Contains(t, strings.Join(f.Evidence, " "), "a port 1/1 sends -7.0 dBm, 4.5 dB less than usual; its laser takes 50 % more current than usual.")
}

// Modules send less when warm: a day's swing of 1.8 dB is none (common practice,
// no source).
func TestADaysSwingRaisesNothing(t *testing.T) {
	s := newFibreScene(t, func(r *plant.Run) { r.LengthM = port.Value[float64]{} })
	for i := range 10 * 288 {
		swing := 0.9*math.Sin(2*math.Pi*float64(i)/288) + 0.1*s.random.NormFloat64()
		s.light(-2.5+swing, -4, -2.5, -7.3+swing)
		require.Empty(t, s.slow(1).Faults, "reading %d", i)
	}
}
