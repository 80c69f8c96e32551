package fault

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// blink lets the link be gone for a moment before the next poll: that long ago
// it came back.
func (l *link) blink(s *scene, ago time.Duration) {
	l.lastChange = s.uptime + uint32((s.every-ago)/(10*time.Millisecond))
}

// away takes the link down at a time before the next poll.
func (l *link) away(s *scene, ago time.Duration) {
	l.oper = port.Down
	l.blink(s, ago)
}

// back brings the link up at a time before the next poll.
func (l *link) back(s *scene, ago time.Duration) {
	l.oper = port.Up
	l.blink(s, ago)
}

func TestALoosePlugIsALinkThatComesAndGoes(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(3)
	for range 4 {
		l.blink(s, 45*time.Second)
		require.Empty(t, s.polls(1).Faults)
		s.polls(3)
	}
	l.blink(s, 45*time.Second)
	f := only(t, s.polls(1))
	require.Equal(t, LinkFlapping, f.Kind)
	require.Equal(t, "R", f.Run)
	require.Equal(t, LoosePlug, f.Cause())
	require.Equal(t, AboutRun, f.About)
	require.True(t, f.Alarm)
	require.Equal(t, "sw-1 port 1/17 lost its link at least 5 times within 16 minutes.", f.Summary)
	require.Contains(t, f.Evidence, "The link came or went at least 10 times in the last hour.")
	require.Contains(t, f.FirstCheck(), "Reseat")
	require.Len(t, s.polls(60).Faults, 1, "an hour without lets go")
	require.Empty(t, s.polls(1).Faults)
}

// A loss as long as a restart of the device ends nothing that is open.
func TestALongLossWhileItFlaps(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.every = 10 * time.Second
	s.polls(3)
	for range flapsTakeHold {
		l.blink(s, 5*time.Second)
		s.polls(1)
	}
	was := only(t, s.polls(1))
	l.away(s, 5*time.Second)
	s.polls(4)
	l.back(s, 5*time.Second) // gone for 40 s
	require.Equal(t, was.Since, only(t, s.polls(1)).Since)
	require.Len(t, s.polls(350).Faults, 1)
	require.Empty(t, s.polls(10).Faults)
}

func TestSlowLossesAreNotFlapping(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	for range 12 {
		l.blink(s, 45*time.Second)
		require.Empty(t, s.polls(16).Faults, "never 5 within an hour")
	}
}

// Five losses, each told in its way.
func TestWhatIsALossAndWhatIsNone(t *testing.T) {
	seconds := func(n int) time.Duration { return time.Duration(n) * time.Second }
	gone := func(gap int) func(*scene, *link) { // seen down by one poll
		return func(s *scene, l *link) {
			l.away(s, seconds(min(gap-1, 5)))
			s.polls(1)
			l.back(s, seconds(60-gap+min(gap-1, 5)))
		}
	}
	rows := []struct {
		name    string
		happens func(*scene, *link)
		flaps   bool
	}{
		{"gone for 4 seconds, and a poll falls into it", gone(4), true},
		{"a device restarts: gone for 30 seconds", gone(30), false},
		{"a device restarts with a moment's loss before and after", func(s *scene, l *link) {
			l.blink(s, seconds(20))
			s.polls(1)
			gone(45)(s, l)
			s.polls(1)
			l.blink(s, seconds(20))
		}, false},
		{"gone for 5 minutes", func(s *scene, l *link) {
			l.away(s, seconds(5))
			s.polls(5)
			l.back(s, seconds(5))
		}, true},
		{"the switch restarts", func(s *scene, l *link) { s.uptime = 0; l.lastChange = 2000 }, false},
		{"the port is shut and opened", func(s *scene, l *link) {
			l.edit = func(r *port.Reading) { r.Admin = port.Down }
			l.away(s, seconds(30))
			s.polls(1)
			l.edit = nil
			l.back(s, seconds(30))
		}, false},
		{"a sleeper changes its speed, and no poll sees it down", func(s *scene, l *link) {
			l.fellBack()
			l.frames = 0
			l.blink(s, seconds(20))
			s.polls(3)
			l.gigabitAgain()
			l.frames = 60_000
			l.blink(s, seconds(20))
		}, false},
		{"a sleeper changes its speed, and a poll sees it down", func(s *scene, l *link) {
			gone(4)(s, l)
			l.fellBack()
			l.frames = 0
			s.polls(3)
			gone(4)(s, l)
			l.gigabitAgain()
			l.frames = 60_000
		}, false},
		{"a sleeper goes down and up in a night", func(s *scene, l *link) {
			l.blink(s, seconds(20))
			s.polls(120)
			l.blink(s, seconds(20))
			s.polls(120)
		}, false},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			l := gigabitLink("1/17")
			s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
			s.polls(3)
			for range 6 {
				row.happens(s, l)
				s.polls(2)
			}
			flaps := false
			for _, f := range s.tracker.Snapshot().Faults {
				flaps = flaps || f.Kind == LinkFlapping
			}
			require.Equal(t, row.flaps, flaps)
		})
	}
}

func TestManyLossesInOnePoll(t *testing.T) {
	l := gigabitLink("1/17")
	exits := uint32(0)
	l.edit = func(r *port.Reading) { r.Counters.Set32(port.MediaExits, exits) }
	s := newScene(t, nil, l)
	s.polls(3)
	exits = 7 // ifMauMediaAvailableStateExits, RFC 4836
	require.Equal(t, LinkFlapping, only(t, s.polls(1)).Kind)
}

// A device that sleeps takes its link for a moment, and comes back at another
// speed; so it does when it wakes.
func TestASleeperDoesNotFlap(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(3)
	for range 6 {
		l.fellBack()
		l.frames = 0
		l.blink(s, 45*time.Second)
		s.polls(4)
		l.gigabitAgain()
		l.frames = 60_000
		l.blink(s, 45*time.Second)
		for _, f := range s.polls(4).Faults {
			require.NotEqual(t, LinkFlapping, f.Kind)
		}
	}
}

func TestARestartAmongFlapsForgetsNone(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, nil, l)
	s.polls(3)
	for range 5 {
		l.blink(s, 45*time.Second)
		s.polls(1)
	}
	require.Len(t, s.tracker.Snapshot().Faults, 1)
	l.away(s, 5*time.Second)
	s.polls(1)
	l.back(s, 20*time.Second)
	f := only(t, s.polls(5))
	require.Contains(t, f.Summary, "lost its link at least 5 times within 4 minutes")
	require.Len(t, s.polls(50).Faults, 1)
	require.Empty(t, s.polls(10).Faults)
}

// A plug that loses contact takes the power of what is fed through it, which then
// starts: each loss is as long as a restart. A device that restarts of itself goes
// on drawing power.
func TestALoosePlugOfADeviceThatIsFed(t *testing.T) {
	for name, losesPower := range map[string]bool{"it loses contact": true, "it restarts of itself": false} {
		t.Run(name, func(t *testing.T) {
			a := boxed("a", 8)
			w := newWorld(t, []*plant.Run{{ID: "R", Switch: "a", Port: "1/1", Cable: "horizontal-6a", Outlet: "12"}}, a)
			feeds := feeding(0, 0, 0)
			a.power = map[int]port.Power{1: feeds}
			w.polls(6)
			for n := range uint32(flapsTakeHold) {
				require.Empty(t, w.tracker.Snapshot().Faults)
				a.loses("1/1")
				w.polls(1)
				if losesPower {
					feeds.Absent = port.Some(n + 1)
					a.power[1] = feeds
				}
				a.finds("1/1")
				w.polls(8)
			}
			if !losesPower {
				require.Empty(t, w.polls(60).Faults)
				return
			}
			f := only(t, w.tracker.Snapshot())
			require.Equal(t, LinkFlapping, f.Kind)
			require.Equal(t, LoosePlug, f.Cause())
			require.True(t, f.Alarm)
			require.Len(t, w.polls(45).Faults, 1)
			require.Empty(t, w.polls(20).Faults)
		})
	}
}

// A device that starts anew every ten minutes or so, each time between two polls, is
// not a loose plug until its losses are more than that explains.
func TestRestartsBetweenPollsAreNoFlaps(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(3)
	for range unsureTakeHold - 1 {
		l.blink(s, 10*time.Second) // 50 s after the poll before: it may have been away for 45
		require.Empty(t, s.polls(1).Faults)
		require.Empty(t, s.polls(5).Faults)
	}
	l.blink(s, 45*time.Second) // away for 15 s at the most
	require.Equal(t, LinkFlapping, only(t, s.polls(1)).Kind)
}
