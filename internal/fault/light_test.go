package fault

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// fibreScene is two switches with 10GBASE-SR at both ends of a run of 30 m of
// OM4, which hear each other.
type fibreScene struct {
	*world
	a, b *box
	run  *plant.Run
}

// lit is an optic of one lane: what it sends and receives, in dBm.
func lit(serial string, sent, received float64) *port.Optic {
	return lanes(serial, [2]float64{sent, received})
}

func lanes(serial string, each ...[2]float64) *port.Optic {
	o := &port.Optic{Serial: serial, Model: "SR"}
	for _, l := range each {
		o.Lanes = append(o.Lanes, port.Lane{Sent: port.Some(port.Light(l[0])), Received: port.Some(port.Light(l[1])), BiasMA: port.Some(6.0)})
	}
	return o
}

var noLight = float64(port.NoLight)

func newFibreScene(t *testing.T, edit func(*plant.Run)) *fibreScene {
	run := &plant.Run{ID: "RISER-1", Switch: "a", Port: "1/1", FarSwitch: "b", FarPort: "1/1", Cable: "riser-om4",
		LengthM: port.Some(30.0), Connectors: port.Some(2), DesignSpeed: 10 * standards.Gbps}
	if edit != nil {
		edit(run)
	}
	s := &fibreScene{a: boxed("a", 1), b: boxed("b", 1), run: run}
	for _, box := range []*box{s.a, s.b} {
		l := box.links[0]
		l.mbps, l.mau, l.own, l.far = 10000, 36, 0, 0 // dot3MauType10GigBaseSR (RFC 4836)
	}
	cable(s.a, "1/1", s.b, "1/1")
	s.world = newWorld(t, []*plant.Run{run}, s.a, s.b)
	s.light(-2.5, -4, -2.5, -4)
	return s
}

// light sets what both ends send and receive from now on.
func (s *fibreScene) light(aSent, aReceived, bSent, bReceived float64) {
	s.optics(lit("A", aSent, aReceived), lit("B", bSent, bReceived))
}

func (s *fibreScene) optics(a, b *port.Optic) {
	s.a.optics, s.b.optics = map[int]*port.Optic{1: a}, map[int]*port.Optic{1: b}
	if a == nil {
		s.a.optics = map[int]*port.Optic{}
	}
	if b == nil {
		s.b.optics = map[int]*port.Optic{}
	}
}

// slow lets so many readings of the slow clock pass, the last just taken.
func (s *fibreScene) slow(n int) *Snapshot { return s.polls(5 * n) }

func (s *fibreScene) link(oper port.Status) { s.a.links[0].oper, s.b.links[0].oper = oper, oper }

func told(snap *Snapshot) string {
	var out []string
	for _, f := range snap.Faults {
		text := string(f.Kind)
		if f.Alarm {
			text += " alarmed"
		}
		out = append(out, text)
	}
	return strings.Join(out, ", ")
}

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

// settled is a scene whose light is known: 12 readings and one.
func settled(t *testing.T, edit func(*plant.Run)) *fibreScene {
	s := newFibreScene(t, edit)
	require.Empty(t, s.slow(13).Faults)
	return s
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

// Which causes the light speaks for: the table of a fibre's evidence in the
// project's notes on field practice (common practice).
func TestCausesOfLight(t *testing.T) {
	pass := func(s *fibreScene) {}
	rows := []struct {
		name   string
		before func(*fibreScene)
		light  [4]float64
		kind   Kind
		want   Cause
		about  About
	}{
		{"one direction loses more", pass, [4]float64{-2.5, -4, -2.5, -11}, LowLight, DirtyConnector, AboutRun},
		{"both directions lose more", pass, [4]float64{-2.5, -11, -2.5, -11}, LowLight, BentFibre, AboutRun},
		{"both lose more, well inside the window", pass, [4]float64{-2.5, -6.5, -2.5, -6.6}, ExcessLoss, BentFibre, AboutRun},
		{"one loses more, well inside the window", pass, [4]float64{-2.5, -4, -2.5, -6.6}, ExcessLoss, DirtyConnector, AboutRun},
		{"less is sent and as much is lost", pass, [4]float64{-9.5, -4, -2.5, -11}, LowLight, FailingTransmitter, AboutPort},
		{"too much arrives", pass, [4]float64{1, -4, -2.5, -0.5}, HighLight, ReceiverOverload, AboutRun},
		{"dark one way, link down", func(s *fibreScene) { s.link(port.Down) }, [4]float64{-2.5, -4, -2.5, noLight}, LowLight, BrokenStrand, AboutRun},
		{"nothing is sent, link down", func(s *fibreScene) { s.link(port.Down) }, [4]float64{noLight, -4, -2.5, noLight}, LowLight, FailingTransmitter, AboutPort},
		{"both dark, link was up", func(s *fibreScene) { s.link(port.Down) }, [4]float64{-2.5, noLight, -2.5, noLight}, LowLight, BrokenStrand, AboutRun},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			s := settled(t, nil)
			row.before(s)
			s.light(row.light[0], row.light[1], row.light[2], row.light[3])
			f := lightFault(t, s.slow(2), row.kind)
			require.Equal(t, row.want, f.Cause(), "%v", f.Causes)
			require.Equal(t, row.about, f.About)
			require.Contains(t, f.Cautions, laser)
			require.NotEmpty(t, f.Evidence)
		})
	}
}

func lightFault(t *testing.T, snap *Snapshot, kind Kind) *Fault {
	for _, f := range snap.Faults {
		if f.Kind == kind {
			return f
		}
	}
	require.Failf(t, "no such fault", "%s among %s", kind, told(snap))
	return nil
}

func TestFibresTheWrongWayRoundNeverCameUp(t *testing.T) {
	s := newFibreScene(t, nil)
	s.link(port.Down)
	s.light(-2.5, noLight, -2.5, noLight)
	f := lightFault(t, s.slow(3), LowLight)
	require.Equal(t, ReversedPolarity, f.Cause(), "%v", f.Causes)
	require.Contains(t, f.Summary, "No light reaches a port 1/1")
}

func TestMoreLossThanTheBudgetSinceInstalled(t *testing.T) {
	s := newFibreScene(t, nil)
	s.light(-2.5, -7.0, -2.5, -7.0) // 4.5 dB: 2.9 over 1.6
	require.Empty(t, s.slow(3).Faults)
	s.light(-2.5, -7.3, -2.5, -7.3) // 4.8 dB: 3.2 over
	f := only(t, s.slow(2))
	require.Equal(t, ExcessLoss, f.Kind)
	require.Equal(t, LossOverBudget, f.Cause(), "%v", f.Causes)
	require.Contains(t, f.Summary, "From b port 1/1 to a port 1/1 4.8 dB are lost")
	require.Contains(t, f.Summary, "3.2 dB over the budget of 1.6 dB")
}

// What is so from the start of watching: one direction over its budget sits at
// a plug, both in the way; a sender below what its PHY sends at least (-7.3 dBm
// of 10GBASE-SR, IEEE 802.3 clause 52) explains what does not arrive.
func TestCausesWithoutABaseline(t *testing.T) {
	rows := []struct {
		name   string
		tested plant.TestResult
		light  [4]float64
		want   Cause
	}{
		{"one direction", "", [4]float64{-2.5, -3.5, -2.5, -10.5}, DirtyConnector},
		{"both", "", [4]float64{-2.5, -8.5, -2.5, -10.5}, LossOverBudget},
		{"both, of a run that passed its test", plant.Pass, [4]float64{-2.5, -8.5, -2.5, -10.5}, BentFibre},
		{"little sent", "", [4]float64{-10.4, -3.5, -2.5, -11}, FailingTransmitter},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			s := newFibreScene(t, func(r *plant.Run) { r.TestResult = row.tested })
			s.b.links[0].errored = 12
			s.light(row.light[0], row.light[1], row.light[2], row.light[3])
			snap := s.slow(3)
			require.Equal(t, row.want, lightFault(t, snap, LowLight).Cause(), "%v", lightFault(t, snap, LowLight).Causes)
			f := lightFault(t, snap, FrameErrors)
			require.Equal(t, row.want, f.Cause(), "%v", f.Causes)
		})
	}
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
	require.Contains(t, f.Summary, "b port 1/1 receives -9.7 dBm on lane 3: its 40GBASE-SR4 receiver takes -9.5 dBm at least.")
	require.Contains(t, strings.Join(f.Evidence, " "), "1: -2.0 dBm, 2: -2.0 dBm, 3: -9.7 dBm, 4: -9.6 dBm")
	f = lightFault(t, s.tracker.Snapshot(), ExcessLoss)
	require.Contains(t, f.Summary, "8.7 dB are lost on lane 3")
}

// A missing link with a dark receiver is one trouble too: what the light tells
// of it are the causes.
func TestAMissingLinkNamesTheLight(t *testing.T) {
	s := settled(t, nil)
	s.link(port.Down)
	s.light(-2.5, -4, -2.5, noLight)
	snap := s.slow(3)
	require.Equal(t, "no-link alarmed, low-light", told(snap))
	f := lightFault(t, snap, NoLink)
	require.Equal(t, BrokenStrand, f.Cause())
	require.Contains(t, strings.Join(f.Evidence, " "), "No light reaches b port 1/1")
	s.link(port.Up)
	s.light(-2.5, -4, -2.5, -4)
	require.Empty(t, s.slow(3).Faults)
}

// Damaged frames that come with too little light are one trouble: the damage
// is told, and its evidence names the light.
func TestDamagedFramesNameTheLight(t *testing.T) {
	s := settled(t, nil)
	s.b.links[0].errored = 12
	s.light(-2.5, -4, -2.5, -12)
	snap := s.slow(3)
	require.Equal(t, "frame-errors alarmed, excess-loss, low-light", told(snap))
	f := lightFault(t, snap, FrameErrors)
	require.Equal(t, DirtyConnector, f.Cause(), "%v", f.Causes)
	require.Contains(t, strings.Join(f.Evidence, " "), "b port 1/1 receives -12.0 dBm, 8.0 dB less than usual")
	require.Contains(t, f.Cautions, laser)
	low := lightFault(t, snap, LowLight)
	require.Equal(t, SameTrouble, low.Guards[len(low.Guards)-1].Name)
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
	require.Contains(t, f.Evidence[1], "More than 4.0 dBm may damage the receiver.")
	require.Equal(t, Warning, f.Severity)
	s.light(4.5, -5, -2, 4.2)
	f = only(t, s.slow(1))
	require.Equal(t, Critical, f.Severity)
	require.Contains(t, f.Evidence[1], "may have damaged")
}
