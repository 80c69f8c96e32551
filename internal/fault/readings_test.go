package fault

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

func TestErrorsStayWithTheirRun(t *testing.T) {
	l := gigabitLink("1/17")
	l.alias, l.errored = "RUN-A", 200
	runs := []*plant.Run{
		{ID: "RUN-A", Switch: "sw-1", Cable: "horizontal-6a", DesignSpeed: standards.Gbps},
		{ID: "RUN-B", Switch: "sw-1", Cable: "horizontal-6a", DesignSpeed: standards.Gbps},
	}
	s := newScene(t, runs, l)
	require.Equal(t, "RUN-A", only(t, s.polls(10)).Run)
	l.alias, l.errored = "RUN-B", 0 // patched over and labelled anew
	require.Empty(t, s.polls(1).Faults)
	require.Empty(t, s.polls(20).Faults)
}

// Between the poll that showed the old description and the one that shows the
// new, the errors may have been the old run's.
func TestErrorsBeforeALabelChangedAreNotTheNewRuns(t *testing.T) {
	for name, refresh := range map[string]time.Duration{"": 0, "cached": 30 * time.Second} {
		t.Run(name, func(t *testing.T) {
			l, other := gigabitLink("1/17"), gigabitLink("1/18")
			l.alias, other.index = "RUN-A", 10102
			runs := []*plant.Run{
				{ID: "RUN-A", Switch: "sw-1", Cable: "horizontal-6a", DesignSpeed: standards.Gbps},
				{ID: "RUN-B", Switch: "sw-1", Cable: "horizontal-6a", DesignSpeed: standards.Gbps},
			}
			s := newScene(t, runs, l, other)
			if refresh > 0 {
				s.every = 10 * time.Second
				cached(s, l, refresh)
				cached(s, other, refresh)
			}
			s.polls(30)
			l.bad += 50_000
			l.alias = "RUN-B"
			require.Empty(t, s.polls(1).Faults)
			require.Empty(t, s.polls(12).FaultsOf("RUN-B"))
		})
	}
}

// RFC 3635: alignment errors alone tell nothing above 100 Mbit/s.
func TestARunWhoseErrorsAreNotCountedIsUnknown(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(10)
	require.Equal(t, Healthy, s.state("R"))
	before, _ := s.ratio("1/17")
	l.edit = without(port.FCS)
	s.polls(20)
	require.Equal(t, Unknown, s.state("R"))
	after, told := s.ratio("1/17")
	require.True(t, told)
	require.Equal(t, before.High, after.High, "frames of which errors were not counted prove nothing")
	s.polls(70)
	_, told = s.ratio("1/17")
	require.False(t, told)
}

// RFC 3418: sysUpTime counts hundredths of a second. An agent that counts
// seconds, a discontinuity stamp that is always new and a status that is not
// told leave nothing to judge by.
func TestReadingsThatNeverCompareAreUnknown(t *testing.T) {
	rows := []struct {
		name string
		edit func(*port.Reading)
		want string
	}{
		{"sysUpTime in seconds", func(r *port.Reading) {
			ticks, _ := r.Uptime.Get()
			r.Uptime = port.Some(ticks / 100)
		}, "the switch's clock and ours disagree"},
		{"a stamp that is always new", func(r *port.Reading) { r.Discontinuity = r.Uptime }, "the port's counters were reset"},
		{"no status", func(r *port.Reading) { r.Oper = port.StatusAbsent }, "does not tell its status"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			l := gigabitLink("1/17")
			s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
			s.polls(10)
			require.Equal(t, Healthy, s.state("R"))
			l.edit = row.edit
			p, _ := s.polls(6).Switches[0].Port("1/17")
			require.Contains(t, p.Unjudged, row.want)
			require.Equal(t, Unknown, s.state("R"))
			l.edit = nil
			s.polls(3)
			require.Equal(t, Healthy, s.state("R"))
		})
	}
}

func (s *scene) ratio(name string) (Ratio, bool) {
	p, ok := s.tracker.Snapshot().Switches[0].Port(name)
	require.True(s.t, ok)
	return p.FrameErrorRatio()
}

// IEEE 802.3 has PHYs of 50 Gbit/s; none is in the table yet, so none can be
// judged.
func TestASpeedWithoutAnObjectiveIsUnknown(t *testing.T) {
	l := gigabitLink("1/17")
	l.mbps, l.mau, l.errored = 50_000, 0, 3000
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(20)
	require.Equal(t, Unknown, s.state("R"))
}

// 32-bit counters at 10 Gbit/s wrap too fast for a poll of a minute (RFC 2863
// 3.1.6), so that traffic is not told: a damaged frame is then no rate.
func TestDamagedFramesWithoutTrafficTellNothing(t *testing.T) {
	l := gigabitLink("1/49")
	l.mbps, l.mau, l.frames = 10_000, 36, 0
	l.edit = func(r *port.Reading) {
		var c port.Counters
		for k := range port.CounterCount {
			if v, ok := r.Counters.Get(k); ok {
				c.Set32(k, uint32(v))
			}
		}
		r.Counters = c
	}
	s := newScene(t, []*plant.Run{horizontal("R", "1/49")}, l)
	s.every = 10 * time.Minute
	s.polls(20)
	l.bad++
	require.Empty(t, s.polls(5).Faults)
}

func TestTheCountOfFramesNeverFalls(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, nil, l)
	multicast := uint64(0)
	edit := func(r *port.Reading) { multicast += 7; r.Counters.Set64(port.InMulticast, multicast) }
	last := uint64(0)
	for poll := range 6 {
		l.edit = edit
		if poll == 4 {
			l.edit = func(r *port.Reading) { without(port.InUnicast)(r); edit(r) }
		}
		p, _ := s.polls(1).Switches[0].Port("1/17")
		if frames, ok := p.Totals.FramesIn(); ok {
			require.GreaterOrEqual(t, frames, last)
			last = frames
		} else {
			require.Contains(t, []int{0, 4}, poll)
		}
	}
}

func TestTheHourSurvivesAClockSetBack(t *testing.T) {
	var w window
	at := start
	minute := part{Hour: Hour{Seconds: 60, Frames: 1}}
	for range 120 {
		at = at.Add(every)
		w.add(at, minute)
	}
	require.InDelta(t, 3600, w.sum().Seconds, 600)
	at = at.Add(-48 * time.Hour)
	w.add(at, minute)
	require.Equal(t, 60.0, w.sum().Seconds)
	for range 600 {
		at = at.Add(every)
		w.add(at, minute)
	}
	require.LessOrEqual(t, w.sum().Seconds, 3600.0)
}

func TestPortsThatShareANameAreToldApartAndNotJoined(t *testing.T) {
	a, b := gigabitLink("1/17"), gigabitLink("1/17")
	b.index, b.errored = 20101, 60
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, a, b)
	snap := s.polls(20)
	require.Len(t, snap.Switches[0].Ports, 2)
	require.Empty(t, snap.Joined.Joins, "which of the two is the run's?")
	require.Equal(t, "1/17 (ifIndex 20101)", only(t, snap).Port)
	require.Equal(t, Unknown, s.state("R"))
}

func TestANameThatIsNotToldOnceIsRemembered(t *testing.T) {
	a, b := gigabitLink("1/17"), gigabitLink("1/18")
	b.index = 2
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, a, b)
	s.polls(5)
	a.name, b.name = "", ""
	snap := s.polls(1)
	require.Len(t, snap.Switches[0].Ports, 2)
	require.Equal(t, Healthy, s.state("R"))
}

func TestEvidenceWhileTheLinkIsDown(t *testing.T) {
	l := gigabitLink("1/17")
	l.errored = 200
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(10)
	l.oper, l.mau = port.Down, 0
	require.Contains(t, only(t, s.polls(2)).Evidence[1], "1000BASE-T is allowed 1 errored bit in 10^10")
}

func TestTheMediumOfThePHYRules(t *testing.T) {
	l := gigabitLink("1/49")
	l.mau, l.errored = 24, 60 // 1000BASE-LX, RFC 4836
	f := only(t, newScene(t, nil, l).polls(10))
	require.Equal(t, DirtyConnector, f.Cause())
}

// A count speaks of one direction: the sender is the other end, which may be
// the run's near one.
func TestTheSenderIsTheOtherEndThanCounted(t *testing.T) {
	a, b := gigabitLink("1/1"), gigabitLink("1/2")
	a.mau, b.mau, b.index, b.errored = 24, 24, 10102, 40
	run := horizontal("UPLINK", "1/1")
	run.FarSwitch, run.FarPort, run.Outlet = "sw-1", "1/2", ""
	f := only(t, newScene(t, []*plant.Run{run}, a, b).polls(10))
	require.Equal(t, "1/1", f.Port)
	require.Contains(t, f.Summary, "that sw-1 port 1/2 received")
	for _, check := range f.Checks {
		require.NotContains(t, check, "at the far end")
	}
}

func TestOneDamagedFrameIsNoFault(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(7 * 24 * 60)
	l.bad++
	require.Empty(t, s.polls(5).Faults)
}

// Severity is raised by the whole interval above 1 in 1,000 and lowered by the
// whole of it below, so that it does not flutter.
func TestSeverityDoesNotFlutter(t *testing.T) {
	l := gigabitLink("1/17")
	l.errored = 66 // of 60,000 frames: 1 in 900
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	changes, last := 0, Warning
	for range 300 {
		for _, f := range s.polls(1).Faults {
			if f.Severity != last {
				changes++
			}
			last = f.Severity
		}
	}
	require.Equal(t, Critical, last)
	require.Equal(t, 1, changes)
}

// Bursts of every half hour are one critical fault, which is no longer so an
// hour after the last.
func TestSeverityOutlastsTheTimeBetweenBursts(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	var changes []Severity
	minutes := func(n int, errored float64) {
		l.errored = errored
		for range n {
			for _, f := range s.polls(1).Faults {
				if len(changes) == 0 || changes[len(changes)-1] != f.Severity {
					changes = append(changes, f.Severity)
				}
			}
		}
	}
	for range 4 {
		minutes(3, 2000)
		minutes(27, 0.3)
	}
	require.Equal(t, []Severity{Critical}, changes[max(0, len(changes)-1):])
	require.LessOrEqual(t, len(changes), 2, "%v", changes)
	minutes(150, 0.3)
	require.Equal(t, Warning, changes[len(changes)-1])
	require.LessOrEqual(t, len(changes), 3, "%v", changes)
}

func TestEventsTellEachChangeOnce(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	var told []EventKind
	polls := func(n int) {
		for range n {
			for _, e := range s.polls(1).Events {
				told = append(told, e.What)
			}
		}
	}
	l.fellBack()
	l.frames = 0
	polls(6) // asleep
	l.frames = 60_000
	polls(6) // in use
	l.gigabitAgain()
	polls(3) // at speed for a while
	l.fellBack()
	l.frames = 0
	polls(3) // asleep
	l.gigabitAgain()
	polls(10)
	require.Equal(t, []EventKind{Opened, Alarmed, Hushed, Closed}, told)
	require.Empty(t, s.tracker.Snapshot().Events)
}
