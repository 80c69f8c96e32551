package fault

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// Windows by IEEE 802.3: 10GBASE-SR takes -9.9 to -1.0 dBm (clause 52),
// 1000BASE-LX -19 to -3 dBm (clause 38), 100GBASE-SR4 10.3 below to 2.4 above
// (clause 95, memory). Without a baseline the window alone counts.
func TestLightOutsideTheWindow(t *testing.T) {
	rows := []struct {
		name     string
		mau      int
		sent     float64
		received float64
		want     Kind
	}{
		{"10GBASE-SR well inside", 36, -4, -5, ""},
		{"10GBASE-SR just inside", 36, -8, -9.8, ""},
		{"10GBASE-SR just below", 36, -8, -10.0, LowLight},
		{"10GBASE-SR just above", 36, 0, -0.9, HighLight},
		{"1000BASE-LX where 10GBASE-SR would be dark", 24, -16, -18.5, ""},
		{"1000BASE-LX below", 24, -17, -19.2, LowLight},
		{"1000BASE-LX above", 24, 0, -2.9, HighLight},
		{"a PHY that no table knows", 0, -30, -33, ""},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			s := newFibreScene(t, func(r *plant.Run) { r.Cable = "" })
			s.a.links[0].mau, s.b.links[0].mau = row.mau, row.mau
			s.light(row.sent, -5, -4, row.received)
			if row.mau == 24 {
				s.light(row.sent, -8, -7, row.received)
			}
			require.Empty(t, s.slow(1).Faults, "one reading raises nothing")
			snap := s.slow(1)
			if row.want == "" {
				require.Empty(t, snap.Faults)
				return
			}
			f := only(t, snap)
			require.Equal(t, row.want, f.Kind)
			require.Equal(t, start.Add(s.b.offset), f.Since)
			require.Contains(t, f.Summary, fmt.Sprintf("b port 1/1 receives %.1f dBm", row.received))
			require.Contains(t, f.Cautions, laser)
		})
	}
}

// The rule of the baseline: 2 dB from it and within 3 dB of the edge of -9.9
// dBm, that is below -6.9. The loss rises with it; the budget of the scene is 2
// connections of 0.75 dB and 30 m at 3.0 dB/km (ANSI/TIA-568.3-D), 1.6 dB.
func TestLightThatFallsFromWhatIsUsual(t *testing.T) {
	rows := []struct {
		name     string
		received float64 // at b, -4 before
		want     string
		back     float64 // lets go
		still    float64 // does not
	}{
		{"less than 2 dB", -5.9, "", 0, 0},
		{"2.5 dB, far from the edge", -6.5, "excess-loss alarmed", -5.0, -5.2},
		{"2.9 dB, just outside 3 dB of the edge", -6.85, "excess-loss alarmed", -5.0, -5.2},
		{"3.1 dB, within 3 dB of the edge", -7.1, "low-light alarmed, excess-loss", -5.0, -7.2},
		{"out of the window", -12, "low-light alarmed, excess-loss", -5, -8.95},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			s := settled(t, nil)
			s.light(-2.5, -4, -2.5, row.received)
			require.Empty(t, s.slow(1).Faults, "one reading raises nothing")
			require.Equal(t, row.want, told(s.slow(1)))
			if row.want == "" {
				return
			}
			s.light(-2.5, -4, -2.5, row.still)
			require.Equal(t, row.want, told(s.slow(4)), "still")
			s.light(-2.5, -4, -2.5, row.back)
			require.NotEmpty(t, s.slow(1).Faults, "one reading lets nothing go")
			require.Empty(t, s.slow(1).Faults)
		})
	}
}

func TestOneWrongValueRaisesNothing(t *testing.T) {
	s := settled(t, nil)
	for range 20 {
		s.light(-2.5, -4, -2.5, -30)
		require.Empty(t, s.slow(1).Faults)
		s.light(-2.5, -4, -2.5, -4)
		require.Empty(t, s.slow(1).Faults)
		s.light(9, -4, -2.5, -4)
		require.Empty(t, s.slow(1).Faults)
		s.light(-2.5, -4, -2.5, -4)
		require.Empty(t, s.slow(1).Faults)
	}
}

// A reading wanders with the module's temperature (common practice, no source).
func TestLightThatWandersRaisesNothing(t *testing.T) {
	s := newFibreScene(t, nil)
	for range 1500 {
		wander := func(v float64) float64 { return v + 0.25*s.random.NormFloat64() }
		s.light(wander(-2.5), wander(-5.5), wander(-2.5), wander(-4))
		require.Empty(t, s.slow(1).Faults)
	}
}

// A transmitter that fades by 1 dB a week is not learned.
func TestASlowFallIsNotLearned(t *testing.T) {
	s := newFibreScene(t, nil)
	fallen := 0.0
	for ; len(s.slow(1).Faults) == 0; fallen += 1.0 / 2016 {
		require.Less(t, fallen, 4.0)
		s.light(-2.5-fallen, -4, -2.5, -5-fallen)
	}
	f := only(t, s.tracker.Snapshot())
	require.Equal(t, LowLight, f.Kind)
	require.Equal(t, FailingTransmitter, f.Cause(), "%v", f.Causes)
}

// A dark receiver is no fault of a run whose other end is off on purpose, or
// has no power.
func TestADarkReceiverThatNobodyIsToldOf(t *testing.T) {
	t.Run("the port at the other end is shut", func(t *testing.T) {
		s := settled(t, nil)
		s.link(port.Down)
		s.a.links[0].edit = func(r *port.Reading) { r.Admin = port.Down }
		s.light(noLight, -4, -2.5, noLight)
		f := lightFault(t, s.slow(2), LowLight)
		require.False(t, f.Alarm)
		require.True(t, f.Quiet)
		require.Equal(t, PortShut, f.Cause())
		require.Equal(t, ShutByAdmin, f.Guards[0].Name)
		require.NotContains(t, told(s.tracker.Snapshot()), "alarmed")
	})
	t.Run("the switch at the other end is gone", func(t *testing.T) {
		s := settled(t, nil)
		s.b.links[0].oper = port.Down
		s.a.class = "no-answer"
		s.light(noLight, -4, -2.5, noLight)
		f := lightFault(t, s.slow(2), LowLight)
		require.False(t, f.Alarm)
		require.Equal(t, ParentDown, f.Guards[0].Name)
	})
	t.Run("the sensor tells no light while the link is up", func(t *testing.T) {
		s := settled(t, nil)
		s.light(-2.5, -4, -2.5, noLight)
		require.Empty(t, s.slow(5).Faults)
		require.Equal(t, DataNotValid, s.port("b", "1/1").Guards[0].Name)
		require.Empty(t, s.port("a", "1/1").Guards)
	})
	t.Run("its own port is shut", func(t *testing.T) {
		s := settled(t, nil)
		s.link(port.Down)
		s.b.links[0].edit = func(r *port.Reading) { r.Admin = port.Down }
		s.light(-2.5, noLight, noLight, noLight)
		for _, f := range s.slow(3).Faults {
			require.False(t, f.Alarm, "%+v", f)
		}
	})
	t.Run("a spare run", func(t *testing.T) {
		s := newFibreScene(t, func(r *plant.Run) { r.Status = plant.Spare })
		s.link(port.Down)
		s.light(-2.5, noLight, -2.5, noLight)
		require.Empty(t, s.slow(3).Faults)
	})
	t.Run("a device of which nothing is known", func(t *testing.T) {
		s := newFibreScene(t, func(r *plant.Run) { r.FarSwitch, r.FarPort = "", "" })
		s.a.hearsNobody("1/1")
		s.b.hearsNobody("1/1")
		s.link(port.Down)
		s.light(-2.5, noLight, -2.5, noLight)
		require.Empty(t, s.slow(3).Faults)
		s.light(-2.5, -33, -2.5, -27) // sensors that know no zero
		require.Empty(t, s.slow(3).Faults)
	})
}

// The darkness of a sensor that ends at -32 dBm is that of a broken strand too.
func TestTheDarkOfASensorThatKnowsNoZero(t *testing.T) {
	s := settled(t, nil)
	s.b.links[0].oper = port.Down
	s.light(-2.5, -4, -2.5, -32)
	f := s.slow(2).Faults[0]
	require.Equal(t, NoLink, f.Kind)
	require.Equal(t, BrokenStrand, f.Cause())
	require.Contains(t, strings.Join(f.Evidence, " "), "No light reaches b port 1/1")
}

// The run is the one that the light is of: another optic or none takes the
// fault with it, the same one brings its baseline back.
func TestTheOpticChanges(t *testing.T) {
	fallen := func(t *testing.T) *fibreScene {
		s := settled(t, nil)
		s.light(-2.5, -4, -2.5, -8)
		require.Equal(t, "low-light alarmed, excess-loss", told(s.slow(2)))
		return s
	}
	t.Run("it is gone", func(t *testing.T) {
		s := fallen(t)
		s.optics(lit("A", -2.5, -4), nil)
		require.Empty(t, s.slow(1).Faults)
		require.Nil(t, s.port("b", "1/1").Optic)
		s.optics(lit("A", -2.5, -4), lit("B", -2.5, -8))
		require.Equal(t, "low-light alarmed, excess-loss", told(s.slow(2)), "the same optic is back")
	})
	t.Run("another is there", func(t *testing.T) {
		s := fallen(t)
		s.optics(lit("A", -2.5, -4), lit("C", -2.5, -7))
		require.Empty(t, s.slow(3).Faults, "what is usual is not known of it")
	})
	t.Run("another is at the other end", func(t *testing.T) {
		s := fallen(t)
		s.optics(lit("D", -2.5, -4), lit("B", -2.5, -6))
		require.Empty(t, s.slow(3).Faults)
	})
	t.Run("it tells no light any longer", func(t *testing.T) {
		s := fallen(t)
		s.optics(lit("A", -2.5, -4), &port.Optic{Serial: "B", Lanes: []port.Lane{{}}})
		require.NotEmpty(t, s.slow(2).Faults)
		require.Empty(t, s.slow(1).Faults)
	})
}

// 40GBASE-SR4 takes -9.5 to 2.4 dBm on each lane (IEEE 802.3 clause 86, memory).
func TestTheWorstLaneCounts(t *testing.T) {
	s := newFibreScene(t, nil)
	for _, b := range []*box{s.a, s.b} {
		b.links[0].mau, b.links[0].mbps = 72, 40000
	}
	good := [2]float64{-1, -2}
	s.optics(lanes("A", good, good, good, good), lanes("B", good, good, [2]float64{-1, -9.7}, [2]float64{-1, -9.6}))
	f := lightFault(t, s.slow(2), LowLight)
	require.Contains(t, f.Summary, "b port 1/1 receives -9.7 dBm on lane 3: its 40GBASE-SR4 receiver needs at least -9.5 dBm.")
	require.Contains(t, strings.Join(f.Evidence, " "), "1: -2.0 dBm, 2: -2.0 dBm, 3: -9.7 dBm, 4: -9.6 dBm")
	f = lightFault(t, s.tracker.Snapshot(), ExcessLoss)
	require.Contains(t, f.Summary, "8.7 dB are lost from")
}

// 10GBASE-ER sends up to 4.0 dBm and takes -15.8 to -1.0, and 4.0 dBm may
// damage it (IEEE 802.3 clause 52): 2.6 dBm want 3.6 dB and 2 to spare.
func TestTooMuchLightTellsWhichAttenuator(t *testing.T) {
	s := newFibreScene(t, func(r *plant.Run) { r.Cable = "" })
	for _, b := range []*box{s.a, s.b} {
		b.links[0].mau = 34
	}
	s.light(3, -5, -2, 2.6)
	f := only(t, s.slow(2))
	require.Contains(t, f.Evidence[0], "An attenuator of 6 dB at the receiver of b port 1/1 would leave -3.4 dBm.")
	require.Contains(t, f.Evidence[1], "More than 4.0 dBm can damage the receiver.")
	require.Equal(t, Warning, f.Severity)
	s.light(4.5, -5, -2, 4.2)
	f = only(t, s.slow(1))
	require.Equal(t, Critical, f.Severity)
	require.Contains(t, f.Evidence[1], "may have damaged")
}
