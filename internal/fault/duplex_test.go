package fault

import (
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// dot3MauType numbers of 100BASE-TX (RFC 4836).
const (
	hundredHalf = 15
	hundredFull = 16
)

// hundred makes a link one of 100 Mbit/s at a duplex.
func (l *link) hundred(mau int) *link {
	l.mbps, l.mau, l.own, l.far = 100, mau, legacy, legacy
	return l
}

// counting lets a port tell counters besides, each rising by so many a poll.
func counting(rises map[port.Counter]uint64) func(*port.Reading) {
	totals := map[port.Counter]uint64{}
	return func(r *port.Reading) {
		for k, n := range rises {
			totals[k] += n
			r.Counters.Set64(k, totals[k])
		}
	}
}

func between(a, b *box) []*plant.Run {
	return []*plant.Run{{ID: "U", Switch: a.name, Port: "1/1", FarSwitch: b.name, FarPort: "1/1", Cable: "horizontal-6a", DesignSpeed: 100 * standards.Mbps}}
}

func TestEndsThatDifferInDuplex(t *testing.T) {
	rows := []struct {
		name  string
		a, b  func(*link)
		opens bool
		about About
	}{
		{"half with full beyond, which does not negotiate",
			func(l *link) { l.hundred(hundredHalf).far = 0 },
			func(l *link) { l.hundred(hundredFull).auto = port.No }, true, AboutFarEnd},
		{"full without negotiation, half beyond",
			func(l *link) { l.hundred(hundredFull).auto = port.No },
			func(l *link) { l.hundred(hundredHalf).far = 0 }, true, AboutPort},
		{"half at both ends", func(l *link) { l.hundred(hundredHalf) }, func(l *link) { l.hundred(hundredHalf) }, false, ""},
		{"full at both ends", func(l *link) { l.hundred(hundredFull) }, func(l *link) { l.hundred(hundredFull) }, false, ""},
		{"not told at one end", func(l *link) { l.hundred(hundredHalf) }, func(l *link) { l.hundred(0) }, false, ""},
		{"gigabit is full, whatever an agent tells", func(l *link) { l.mau = 29 }, func(l *link) {}, false, ""},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			a, b := boxed("a", 2), boxed("b", 2)
			cable(a, "1/1", b, "1/1")
			w := newWorld(t, between(a, b), a, b)
			row.a(a.link("1/1"))
			row.b(b.link("1/1"))
			require.Empty(t, w.polls(2).Faults, "takes hold at the third poll")
			snap := w.polls(2)
			if !row.opens {
				require.Empty(t, w.polls(20).Faults)
				return
			}
			f := only(t, snap)
			require.Equal(t, DuplexMismatch, f.Kind)
			require.Equal(t, "U", f.Run)
			require.Equal(t, DuplexSetting, f.Cause())
			require.Equal(t, row.about, f.About)
			require.True(t, f.Alarm)
			require.Contains(t, f.Summary, "differ in duplex")
			require.Contains(t, f.FirstCheck(), "auto-negotiation")

			for _, l := range []*link{a.link("1/1"), b.link("1/1")} {
				l.hundred(hundredFull).auto = port.Yes
			}
			require.Len(t, w.polls(9).Faults, 1)
			require.Empty(t, w.polls(2).Faults, "10 polls without let go")
		})
	}
}

// What a device announces of its link: the operational MAU type of the IEEE
// 802.3 MAC/PHY part (IEEE 802.1AB annex F of 2005, memory).
func TestADeviceThatAnnouncesItsDuplex(t *testing.T) {
	rows := []struct {
		name  string
		mau   int
		opens bool
	}{
		{"full", hundredFull, true},
		{"half", hundredHalf, false},
		{"full, of another speed: an old one", 30, false},
		{"nothing", 0, false},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			a := boxed("a", 2)
			n := station("camera")
			n.MAU = row.mau
			a.hears("1/1", n)
			a.link("1/1").hundred(hundredHalf)
			w := newWorld(t, nil, a)
			snap := w.polls(8)
			if !row.opens {
				require.Empty(t, snap.Faults)
				return
			}
			f := only(t, snap)
			require.Equal(t, "a port 1/1 and the far end differ in duplex: it runs at half duplex, the device at full duplex.", f.Summary)
		})
	}
}

func TestLateCollisionsAtAHalfDuplexEnd(t *testing.T) {
	l := gigabitLink("1/17").hundred(hundredHalf)
	l.far = 0
	s := newScene(t, nil, l)
	require.Empty(t, s.polls(10).Faults, "half alone is no mismatch")
	l.edit = counting(map[port.Counter]uint64{port.LateCollisions: 4})
	require.Empty(t, s.polls(3).Faults)
	f := only(t, s.polls(1))
	require.Equal(t, DuplexMismatch, f.Kind)
	require.Equal(t, AboutFarEnd, f.About, "it negotiates and is offered nothing")
	require.Contains(t, f.Summary, "late collisions")
	require.Contains(t, f.Evidence[1], "12 late collisions in the last")
	l.edit = counting(nil)
	require.Len(t, s.polls(9).Faults, 1)
	require.Empty(t, s.polls(1).Faults)
}

// A printer is idle for most of the day: that tells nothing of its duplex, and
// each job is no new fault.
func TestAMismatchThatShowsWithTrafficOnly(t *testing.T) {
	l := gigabitLink("1/17").hundred(hundredHalf)
	l.far = 0
	late := map[port.Counter]uint64{port.LateCollisions: 40}
	l.edit = counting(late)
	s := newScene(t, nil, l)
	since := only(t, s.polls(8)).Since
	for range 5 {
		l.frames, late[port.LateCollisions] = 60, 0
		require.Equal(t, since, only(t, s.polls(60)).Since)
		l.frames, late[port.LateCollisions] = 60_000, 40
		require.Equal(t, since, only(t, s.polls(5)).Since)
	}
	late[port.LateCollisions] = 0
	require.Empty(t, s.polls(duplexLetsGo).Faults, "mended")
	late[port.LateCollisions] = 40
	require.Len(t, s.polls(5).Faults, 1)
	l.hundred(hundredFull).frames, late[port.LateCollisions] = 60, 0
	require.Empty(t, s.polls(duplexLetsGo).Faults, "it runs at full duplex now")
}

// Damaged frames of a full-duplex end that does not negotiate: where they rise
// with traffic, the other end has fallen to half; where their share stays, a
// cable damages them.
func TestErrorsThatRiseWithTraffic(t *testing.T) {
	rows := []struct {
		name    string
		quiet   float64 // damaged frames a poll of 6,000
		loaded  float64 // of 60,000
		auto    port.Answer
		mau     int
		differs bool
	}{
		{"rising", 0, 900, port.No, hundredFull, true},
		{"the same share", 90, 900, port.No, hundredFull, false},
		{"hardly any", 0, 0.3, port.No, hundredFull, false},
		{"rising at an end that negotiates", 0, 900, port.Yes, hundredFull, false},
		{"rising, its own duplex not told", 0, 900, port.No, 0, false},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			l := gigabitLink("1/17").hundred(row.mau)
			l.auto = row.auto
			sent := uint64(0)
			l.edit = func(r *port.Reading) {
				sent += l.frames
				r.Counters.Set64(port.OutUnicast, sent)
			}
			s := newScene(t, nil, l)
			for i := range 60 {
				l.frames, l.errored = 6000, row.quiet
				if i%3 == 2 {
					l.frames, l.errored = 60_000, row.loaded
				}
				s.polls(1)
			}
			differs := kindAmong(s.tracker.Snapshot().Faults, DuplexMismatch)
			require.Equal(t, row.differs, differs != nil)
			if !row.differs {
				return
			}
			require.True(t, differs.Alarm)
			require.Contains(t, differs.Summary, "grow with traffic in both directions")
			errors := kindAmong(s.tracker.Snapshot().Faults, FrameErrors)
			require.NotNil(t, errors)
			require.False(t, errors.Alarm, "one trouble is told once")
			require.Equal(t, SameTrouble, errors.Guards[0].Name)
		})
	}
}
