package fault

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
)

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
	require.Contains(t, f.Summary, "4.8 dB are lost from b port 1/1 to a port 1/1")
	require.Contains(t, f.Summary, "3.2 dB more than the 1.6 dB expected at most")
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
