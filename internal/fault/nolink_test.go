package fault

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// used lets a port have had a link for 30 days but for so many hours.
func (s *scene) used(portName string, without time.Duration) {
	p := s.tracker.switches["sw-1"].ports[portName]
	p.Link.Seconds, p.Link.Up = month.Seconds(), (month - without).Seconds()
}

func TestALinkThatIsMissing(t *testing.T) {
	run := func(change func(*plant.Run)) *plant.Run {
		r := horizontal("R", "1/17")
		change(r)
		return r
	}
	rows := []struct {
		name  string
		run   *plant.Run
		hours float64 // without a link in 30 days
		opens bool
		says  string
	}{
		{"always on", run(func(r *plant.Run) { r.AlwaysOn = true }), 720, true, "by the inventory it is always on"},
		{"a switch at both ends", run(func(r *plant.Run) { r.FarSwitch, r.FarPort = "elsewhere", "1" }), 720, true, "there is a switch at both ends"},
		{"30 days but for 3.5 hours", run(func(*plant.Run) {}), 3.5, true, "over 99.5 % of 30 days before"},
		{"30 days but for 3.7 hours", run(func(*plant.Run) {}), 3.7, false, ""},
		{"a desk", run(func(*plant.Run) {}), 360, false, ""},
		{"a spare that is always on", run(func(r *plant.Run) { r.AlwaysOn, r.Status = true, plant.Spare }), 0, false, ""},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			l := gigabitLink("1/17")
			s := newScene(t, []*plant.Run{row.run}, l)
			s.polls(5)
			s.used("1/17", time.Duration(row.hours*float64(time.Hour)))
			l.away(s, 20*time.Second)
			require.Empty(t, s.polls(2).Faults, "takes hold at the third poll")
			snap := s.polls(1)
			if !row.opens {
				require.Empty(t, snap.Faults)
				require.Empty(t, s.polls(600).Faults)
				return
			}
			f := only(t, snap)
			require.Equal(t, NoLink, f.Kind)
			require.Equal(t, "R", f.Run)
			require.Contains(t, f.Summary, "sw-1 port 1/17 has had no link for 2 minutes, and ")
			require.Contains(t, f.Summary, row.says)
			require.Equal(t, s.now.Add(-2*every-20*time.Second), f.Since)
			require.True(t, f.Alarm)
			require.True(t, only(t, s.polls(600)).Alarm, "what is missing for long is no habit")
			l.back(s, 20*time.Second)
			require.Empty(t, s.polls(1).Faults, "up lets go")
		})
	}
}

func TestThirtyDaysAreWatchedBeforeHabitSpeaks(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, nil, l)
	s.every = time.Hour
	s.polls(715)
	l.away(s, 20*time.Second)
	require.Empty(t, s.polls(4).Faults)
	l.back(s, 20*time.Second)
	s.polls(720)
	s.every = time.Minute
	s.polls(1)
	l.away(s, 20*time.Second)
	require.Empty(t, s.polls(2).Faults)
	require.Contains(t, only(t, s.polls(1)).Summary, "99.5 %")
}

// A pair of 1-2 and 3-6 is open where a device is fed and has no link; one that
// restarts is so for up to two minutes.
// A device that was never switched off is taken away for good: nobody can
// bring that link back.
func TestADeviceThatWasTakenAwayForGood(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, nil, l)
	s.polls(5)
	s.used("1/17", time.Hour)
	l.away(s, 20*time.Second)
	f := only(t, s.polls(4))
	require.True(t, f.Alarm)
	require.Contains(t, f.Evidence, "Only its habit speaks for a link: it is no longer missed in 7 days.")
	s.every = time.Hour
	require.Len(t, s.polls(167).Faults, 1)
	require.Empty(t, s.polls(2).Faults)
	require.Empty(t, s.polls(30*24).Faults)
}

// Telephones that save energy sleep without a link, and are fed.
func TestTelephonesThatSleepTogether(t *testing.T) {
	a := boxed("a", 24)
	w := newWorld(t, nil, a)
	a.power = map[int]port.Power{}
	for i := range 24 {
		a.power[i+1] = feeding(0, 0, 0)
	}
	w.polls(12)
	a.loses(a.names(1, 12)...)
	require.Empty(t, w.alarmed(11*60))
	require.Len(t, w.tracker.Snapshot().Faults, 12)
	a.finds(a.names(1, 12)...)
	require.Empty(t, w.polls(30).Faults)
	a.loses("1/3")
	require.Equal(t, NoLink, only(t, w.polls(20)).Kind)
	require.True(t, only(t, w.tracker.Snapshot()).Alarm, "one alone is told")
}

func TestAFedDeviceWithoutALink(t *testing.T) {
	a := boxed("a", 2)
	w := newWorld(t, []*plant.Run{{ID: "R", Switch: "a", Port: "1/1", Cable: "horizontal-6a"}}, a)
	a.power = map[int]port.Power{1: feeding(0, 0, 0)}
	w.polls(6)
	a.link("1/1").oper = port.Down
	a.link("1/1").lastChange = a.uptime + 100
	w.ask = true
	require.Empty(t, w.polls(3).Faults, "by what was told when it went, it may be starting")
	w.ask = true
	f := only(t, w.polls(1))
	require.Equal(t, NoLink, f.Kind)
	require.Equal(t, OpenPair, f.Cause())
	require.Contains(t, f.FirstCheck(), "pins 1-2 and 3-6")
	require.Contains(t, f.Evidence, "The port feeds the device now.")

	unfed := feeding(0, 0, 0)
	unfed.Status = port.PowerSearching
	a.power[1] = unfed
	w.ask = true
	require.Empty(t, w.polls(1).Faults, "a device that was taken away")
}

// What is always on and fed is held back until it had the time to start anew, and
// until the switch told after the loss whether it feeds it.
func TestAFedDeviceThatStartsAnewIsNoFault(t *testing.T) {
	a := boxed("a", 2)
	w := newWorld(t, []*plant.Run{{ID: "R", Switch: "a", Port: "1/1", Cable: "horizontal-6a", AlwaysOn: true}}, a)
	a.power = map[int]port.Power{1: feeding(0, 0, 0)}
	w.polls(6)
	a.link("1/1").oper = port.Down
	a.link("1/1").lastChange = a.uptime + 100
	f := only(t, w.polls(3))
	require.False(t, f.Alarm)
	require.Equal(t, DataNotValid, f.Guards[0].Name)
	w.ask = true
	f = only(t, w.polls(1))
	require.False(t, f.Alarm)
	require.Equal(t, Restarting, f.Guards[0].Name)
	require.True(t, only(t, w.polls(2)).Alarm)
}

func TestALinkThatNobodyMisses(t *testing.T) {
	always := func() *plant.Run {
		r := horizontal("R", "1/17")
		r.AlwaysOn = true
		return r
	}
	t.Run("the port is shut", func(t *testing.T) {
		l := gigabitLink("1/17")
		s := newScene(t, []*plant.Run{always()}, l)
		s.polls(5)
		l.oper = port.Down
		l.edit = func(r *port.Reading) { r.Admin = port.Down }
		f := only(t, s.polls(5))
		require.Equal(t, PortShut, f.Cause())
		require.Equal(t, AboutPort, f.About)
		require.True(t, f.Quiet)
		require.False(t, f.Alarm)
		require.Equal(t, []Guard{{Name: ShutByAdmin, Says: "sw-1 port 1/17 is shut."}}, f.Guards)
		require.Equal(t, Quiet, s.state("R"))
		l.edit = nil
		require.Empty(t, s.polls(2).Faults, "it was just opened, and has to find its link")
		require.True(t, only(t, s.polls(1)).Alarm)
	})
	t.Run("the switch has no power left", func(t *testing.T) {
		a := boxed("a", 2)
		run := always()
		run.Switch, run.Port = "a", "1/1"
		w := newWorld(t, []*plant.Run{run}, a)
		a.power = map[int]port.Power{1: feeding(0, 0, 0)}
		w.polls(6)
		refused := feeding(0, 0, 3)
		refused.Status = port.PowerSearching
		a.power[1] = refused
		a.link("1/1").oper = port.Down
		w.ask = true
		f := only(t, w.polls(5))
		require.Equal(t, PowerBudget, f.Cause())
		require.True(t, f.Quiet)
		require.True(t, only(t, w.polls(600)).Quiet, "a refusal may be counted once")
		fed := feeding(0, 0, 3)
		a.power[1] = fed
		w.ask = true
		require.True(t, only(t, w.polls(2)).Alarm, "it is fed now")
	})
}

func TestAFibreWithoutALink(t *testing.T) {
	light := func(dbm port.Light) map[int]*port.Optic {
		return map[int]*port.Optic{1: {Lanes: []port.Lane{{Received: port.Some(dbm), Sent: port.Some(port.Light(-2))}}}}
	}
	rows := []struct {
		name  string
		ever  bool
		light map[int]*port.Optic
		cause Cause
	}{
		{"it was up", true, nil, BrokenStrand},
		{"it was up, and is dark", true, light(port.NoLight), BrokenStrand},
		{"it never was, and is dark", false, light(port.NoLight), ReversedPolarity},
		{"light arrives, so that the other strand may be broken", true, light(-4), BrokenStrand},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			a := boxed("a", 2)
			l := a.link("1/1")
			l.mau, l.mbps = 0, 10000
			run := &plant.Run{ID: "R", Switch: "a", Port: "1/1", Cable: "riser-om4", AlwaysOn: true}
			w := newWorld(t, []*plant.Run{run}, a)
			if row.ever {
				w.polls(5)
			}
			l.oper, a.optics = port.Down, row.light
			w.ask = true
			f := only(t, w.polls(6))
			require.Equal(t, NoLink, f.Kind)
			require.Equal(t, row.cause, f.Cause(), fmt.Sprint(f.Causes))
			require.Contains(t, f.Cautions, laser)
		})
	}
}

// A cable between two switches is moved to another port of one of them, which
// is no fault of the port that it left.
func TestACableThatWasMovedToAnotherPort(t *testing.T) {
	for name, runs := range map[string][]*plant.Run{
		"not recorded": nil,
		"recorded":     {{ID: "R", Switch: "a", Port: "1/1", FarSwitch: "b", FarPort: "1/1", Cable: "horizontal-6a"}},
	} {
		t.Run(name, func(t *testing.T) {
			a, b := boxed("a", 2), boxed("b", 1)
			a.link("1/2").oper = port.Down
			cable(a, "1/1", b, "1/1")
			w := newWorld(t, runs, a, b)
			w.polls(12)
			w.used(a, "1/1")
			a.loses("1/1")
			b.loses("1/1")
			a.hearsNobody("1/1")
			b.hearsNobody("1/1")
			require.Contains(t, told(w.polls(6)), "no-link alarmed")
			a.finds("1/2")
			b.finds("1/1")
			cable(a, "1/2", b, "1/1")
			require.NotContains(t, told(w.polls(12)), "no-link alarmed")
		})
	}
}

// What was before watching began is not known, and the evidence says no more.
func TestAMissingLinkClaimsNoMoreThanWatchingShows(t *testing.T) {
	a := boxed("a", 2)
	a.link("1/1").oper = port.Down
	a.power = map[int]port.Power{1: feeding(0, 0, 0)}
	w := newWorld(t, []*plant.Run{{ID: "R", Switch: "a", Port: "1/1", Cable: "horizontal-6a", AlwaysOn: true}}, a)
	said := strings.Join(only(t, w.polls(60)).Evidence, " ")
	require.Contains(t, said, "no link was seen since watching began")
	require.NotContains(t, said, "never up")
	require.NotContains(t, said, "fed anew")
}
