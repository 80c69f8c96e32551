package fault

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
)

// What harms a link in several ways is told once, by what brings the rest about.
func TestPartsOfOneTrouble(t *testing.T) {
	made := func(kind Kind, minutes int) *Fault {
		return &Fault{Kind: kind, Since: start.Add(-time.Duration(minutes) * time.Minute), Alarm: true, Summary: string(kind),
			Causes: []CauseProbability{{LoosePlug, 1}}}
	}
	rows := []struct {
		name   string
		faults []*Fault
		want   []Kind
	}{
		{"a loose plug damages frames", []*Fault{made(FrameErrors, 30), made(LinkFlapping, 20)}, []Kind{LinkFlapping}},
		{"and is out for some polls", []*Fault{made(LinkFlapping, 20), made(NoLink, 5)}, []Kind{LinkFlapping}},
		{"and then for good", []*Fault{made(LinkFlapping, 40), made(NoLink, 15)}, []Kind{LinkFlapping, NoLink}},
		{"a short takes the power of a camera", []*Fault{made(NoLink, 40), made(PowerFailing, 41)}, []Kind{PowerFailing}},
		{"now and then", []*Fault{made(FrameErrors, 5), made(LinkFlapping, 20), made(PowerFailing, 41)}, []Kind{PowerFailing}},
		{"a duplex", []*Fault{made(BelowDesignSpeed, 5), made(FrameErrors, 5), made(DuplexMismatch, 5)}, []Kind{DuplexMismatch}},
		{"damaged frames alone", []*Fault{made(FrameErrors, 5)}, []Kind{FrameErrors}},
		{"a low speed is another trouble than a loose plug", []*Fault{made(BelowDesignSpeed, 5), made(LinkFlapping, 5)}, []Kind{BelowDesignSpeed, LinkFlapping}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			var alarmed []Kind
			for _, f := range foldParts(row.faults, nil, start) {
				if f.Alarm {
					alarmed = append(alarmed, f.Kind)
				}
			}
			require.Equal(t, row.want, alarmed)
		})
	}
}

// What is told as one is no milder for it, nor does it become so from poll to poll.
func TestAFaultIsAsSevereAsWhatItTellsOf(t *testing.T) {
	flaps := func() *Fault { return &Fault{Kind: LinkFlapping, Severity: Warning, Alarm: true} }
	first := foldParts([]*Fault{{Kind: FrameErrors, Severity: Critical, Alarm: true}, flaps()}, nil, start)
	require.Equal(t, Critical, first[1].Severity)
	second := foldParts([]*Fault{{Kind: FrameErrors, Severity: Warning, Alarm: true}, flaps()}, first, start)
	require.Equal(t, Critical, second[1].Severity)
	third := foldParts([]*Fault{flaps()}, second, start)
	require.Equal(t, Critical, third[0].Severity)
	require.Equal(t, Warning, foldParts([]*Fault{flaps()}, nil, start)[0].Severity)
}

// A loose plug is one alarm from when it is known to be one until the last of
// it has let go: the damaged frames take longer to.
func TestALoosePlugThatDamagesFramesIsOneAlarm(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(3)
	for range 5 {
		l.errored = 400
		s.polls(1)
		l.errored = 0
		s.polls(59) // a clean hour tells little
	}
	for range flapsTakeHold {
		l.blink(s, 45*time.Second)
		l.errored = 400
		s.polls(1)
		l.errored = 0
		s.polls(1)
	}
	snap := s.tracker.Snapshot()
	require.Equal(t, "link-flapping alarmed, frame-errors", told(snap))
	flaps, errs := snap.Faults[0], snap.Faults[1]
	require.Contains(t, flaps.Evidence, errs.Summary)
	require.Equal(t, SameTrouble, errs.Guards[0].Name)
	require.True(t, errs.IsPart())
	require.False(t, flaps.IsPart())

	alone := 0
	for len(snap.Faults) > 0 { // the plug was mended
		if snap = s.polls(1); len(snap.Faults) == 1 {
			require.Equal(t, "frame-errors", told(snap))
			require.Equal(t, []Guard{wasPart}, only(t, snap).Guards)
			require.False(t, only(t, snap).IsPart(), "the other one has let go")
			if alone++; alone == 65 {
				s.tracker = restarted(t, s.tracker, s.tracker.plant, s.tracker.settings, s.now, s.now)
			}
		}
		require.Less(t, s.now, start.Add(10*24*time.Hour))
	}
	require.Greater(t, alone, 65)
}

// Frames that go on being damaged after the link stands are told.
func TestDamageThatOutlastsALoosePlugIsTold(t *testing.T) {
	l := gigabitLink("1/17")
	l.errored = 400
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(15)
	for range 6 {
		l.blink(s, 45*time.Second)
		s.polls(3)
	}
	require.Equal(t, "link-flapping alarmed, frame-errors", told(s.tracker.Snapshot()))
	require.Equal(t, "frame-errors", told(s.polls(70)))
	require.Equal(t, "frame-errors alarmed", told(s.polls(60)))
}

// A fibre whose optics tell no light and that loses its link now and then is likelier a
// loose optic for an hour each time: that turns the alert once, not with each loss.
func TestWhatAnAlarmIsAboutDoesNotWaver(t *testing.T) {
	s := newFibreScene(t, nil)
	s.optics(nil, nil)
	s.b.links[0].errored = 40
	s.polls(30)
	f := only(t, s.tracker.Snapshot())
	require.Equal(t, FrameErrors, f.Kind)
	require.Equal(t, AboutRun, f.About)
	turns, about := 0, f.About
	for n := range 900 {
		if n%150 == 0 {
			s.b.links[0].lastChange = s.b.uptime + 3000
		}
		f = only(t, s.polls(1))
		if f.About != about {
			turns, about = turns+1, f.About
		}
	}
	require.Equal(t, 1, turns)
	require.Equal(t, AboutPort, about)
	s.polls(4 * 60)
	require.Equal(t, AboutRun, only(t, s.tracker.Snapshot()).About, "but for long")
}
