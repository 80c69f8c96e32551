package fault

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
)

func TestWhatIsUsualOutlastsARestart(t *testing.T) {
	s := settled(t, nil)
	s.restart()
	s.light(-2.5, -4, -2.5, -8)
	require.Equal(t, "low-light alarmed, excess-loss", told(s.slow(2)))
	since := lightFault(t, s.tracker.Snapshot(), LowLight).Since
	s.restart()
	snap := s.slow(1)
	require.Equal(t, "low-light alarmed, excess-loss", told(snap))
	require.Equal(t, since, lightFault(t, snap, LowLight).Since)
	s.light(-2.5, -4, -2.5, -4)
	require.Empty(t, s.slow(2).Faults)
}

func TestAnOpenLossOutlastsARestart(t *testing.T) {
	s := settled(t, nil)
	s.light(-2.5, -6.5, -2.5, -4)
	require.Equal(t, "excess-loss alarmed", told(s.slow(2)))
	since := only(t, s.tracker.Snapshot()).Since
	s.restart()
	for range 20 {
		f := only(t, s.polls(1))
		require.Equal(t, since, f.Since)
	}
	s.optics(lit("A", -2.5, -6.5), nil)
	require.Empty(t, s.slow(1).Faults, "gone with the optic at the other end")
}

// A port without a run is judged by what it is seen to be, and by the other end
// that it hears.
func TestLightOfAPortWithoutARun(t *testing.T) {
	s := newFibreScene(t, nil)
	s.runs = nil
	s.tracker.Replace(plant.New(s.world.plant()), s.settings(), s.now)
	require.Empty(t, s.slow(13).Faults)
	s.light(-2.5, -4, -2.5, -8)
	snap := s.slow(2)
	require.Equal(t, "low-light alarmed, excess-loss", told(snap))
	for _, f := range snap.Faults {
		require.Equal(t, "", f.Run)
		require.Equal(t, ref("b", "1/1"), plant.PortRef{Switch: f.Switch, Port: f.Port})
	}
}

// A run that gets another cable or other ports is another way for the light.
func TestWhatIsUsualIsOfTheRun(t *testing.T) {
	s := settled(t, nil)
	other := *s.run
	other.ID = "RISER-2"
	s.runs = []*plant.Run{&other}
	s.tracker.Replace(plant.New(s.world.plant()), s.settings(), s.now)
	s.light(-2.5, -4, -2.5, -7)
	require.Empty(t, s.slow(4).Faults)
}

// Loss is of readings of about the same time, each counted once.
func TestLossIsOfOneTime(t *testing.T) {
	s := settled(t, nil)
	require.True(t, s.port("b", "1/1").Light.Lanes[0].Loss != port.Value[float64]{})
	s.a.deaf = true // tells no new details: its reading grows old
	s.light(-2.5, -4, -2.5, -6.5)
	require.Empty(t, s.slow(3).Faults, "one comparison with the last reading of a")
	s.a.deaf = false
	require.Equal(t, "excess-loss alarmed", told(s.slow(2)))
}

// 10GBASE-SR at one end and a 40GBASE-SR4 at the other have no lanes in common.
func TestLanesArePairedWhereBothHaveAsMany(t *testing.T) {
	one := [2]float64{-2.5, -4}
	require.Nil(t, losses(lanes("A", one).Lanes, lanes("B", one, one).Lanes))
	lost := losses(lanes("A", one, [2]float64{-1, -4}).Lanes, lanes("B", [2]float64{-2.5, -5.5}, [2]float64{-2.5, noLight}).Lanes)
	require.Equal(t, []port.Value[float64]{port.Some(3.0), {}}, lost, "nothing is lost that cannot be measured")
}

// A run whose record names another optic than is seen is judged by what is seen
// there, and by no budget.
func TestTheOpticSeenCounts(t *testing.T) {
	s := newFibreScene(t, func(r *plant.Run) { r.Optic, r.FarOptic = "1000BASE-SX", "1000BASE-SX" })
	s.light(-2.5, -9, -2.5, -10.5) // 1000BASE-SX takes -17, 10GBASE-SR -9.9 (IEEE 802.3 clauses 38 and 52)
	f := only(t, s.slow(2))
	require.Equal(t, LowLight, f.Kind)
	require.Contains(t, f.Summary, "10GBASE-SR")
}

// A fault that alarms is told of by one of the kinds: what harms the link
// before what is measured, of those what came first.
func TestOneTroubleIsToldOnce(t *testing.T) {
	made := func(kind Kind, minutes int, alarm bool) *Fault {
		return &Fault{Kind: kind, Since: start.Add(time.Duration(minutes) * time.Minute), Alarm: alarm, Summary: string(kind),
			Causes: []CauseProbability{{DirtyConnector, 1}}}
	}
	rows := []struct {
		name   string
		faults []*Fault
		want   Kind // "" for none
	}{
		{"light alone", []*Fault{made(LowLight, 0, true)}, LowLight},
		{"loss came first", []*Fault{made(LowLight, 5, true), made(ExcessLoss, 0, true)}, ExcessLoss},
		{"at once", []*Fault{made(LowLight, 0, true), made(ExcessLoss, 0, true)}, LowLight},
		{"damaged frames", []*Fault{made(FrameErrors, 9, true), made(LowLight, 0, true), made(ExcessLoss, 0, true)}, FrameErrors},
		{"damaged frames that nobody is told of", []*Fault{made(FrameErrors, 9, false), made(LowLight, 0, true)}, LowLight},
		{"a light that nobody is told of", []*Fault{made(NoLink, 9, true), made(LowLight, 0, false)}, NoLink},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			var alarmed []Kind
			for _, f := range foldLight(row.faults, nil, start, start) {
				if f.Alarm {
					alarmed = append(alarmed, f.Kind)
				}
			}
			require.Equal(t, []Kind{row.want}, alarmed)
		})
	}
	slow := made(BelowDesignSpeed, 0, true)
	foldLight([]*Fault{slow, made(LowLight, 0, true)}, nil, start, start)
	require.True(t, slow.Alarm, "a low speed is another trouble")
}
