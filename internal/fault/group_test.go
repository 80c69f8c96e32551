package fault

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// used lets ports of a switch have had a link for 30 days.
func (w *world) used(b *box, names ...string) {
	for _, p := range w.tracker.switches[b.name].order {
		if slices.Contains(names, p.ref.Port) {
			p.Link.Seconds, p.Link.Up = month.Seconds(), month.Seconds()
		}
	}
}

func (b *box) names(from, to int) (names []string) {
	for i := from; i <= to; i++ {
		names = append(names, fmt.Sprintf("1/%d", i))
	}
	return names
}

// loses takes links of a box down, seconds before its next poll.
func (b *box) loses(names ...string) {
	for _, name := range names {
		b.link(name).oper = port.Down
		b.link(name).lastChange = b.uptime + 100
	}
}

func (b *box) finds(names ...string) {
	for _, name := range names {
		b.link(name).oper = port.Up
		b.link(name).lastChange = b.uptime + 4000
	}
}

// A floor of sockets loses its power: what was always up went with 11 others.
func TestLinksThatGoTogether(t *testing.T) {
	a := boxed("a", 24)
	always := &plant.Run{ID: "DOOR", Switch: "a", Port: "1/1", AlwaysOn: true}
	w := newWorld(t, []*plant.Run{always}, a)
	w.polls(12)
	w.used(a, a.names(1, 24)...)
	a.loses(a.names(1, 12)...)
	require.Equal(t, map[string]bool{"DOOR no-link": true}, w.alarmed(60), "what the record wants on is told")
	f := w.tracker.Snapshot().FaultsAt("a", "1/2")[0]
	require.True(t, f.Quiet)
	require.Equal(t, GroupEvent, f.Guards[0].Name)
	require.Contains(t, f.Guards[0].Says, "It went when 12 ports of the switch changed their links at once: held back for 23 hours more.")
	w.alarmed(23*60 + 3)
	require.True(t, w.tracker.Snapshot().FaultsAt("a", "1/2")[0].Quiet)
	w.alarmed(6)
	f = w.tracker.Snapshot().FaultsAt("a", "1/2")[0]
	require.True(t, f.Quiet, "a holiday")
	require.Contains(t, f.Guards[0].Says, "and 11 of these are still away")
	a.finds(a.names(4, 12)...)
	w.alarmed(1)
	require.True(t, w.tracker.Snapshot().FaultsAt("a", "1/2")[0].Alarm, "one that was forgotten when the others came back")
}

// Four of 24 are no group.
func TestFewLinksThatGoTogether(t *testing.T) {
	a := boxed("a", 24)
	w := newWorld(t, nil, a)
	w.polls(12)
	w.used(a, a.names(1, 24)...)
	a.loses(a.names(1, 4)...)
	w.polls(4)
	for _, name := range a.names(1, 4) {
		require.True(t, w.tracker.Snapshot().FaultsAt("a", name)[0].Alarm)
	}
}

func TestFlapsAndDamageOfManyPortsAtOnceAreNobodys(t *testing.T) {
	a := boxed("a", 12)
	w := newWorld(t, nil, a)
	w.polls(12)
	for range 6 { // something shakes the whole panel
		for _, l := range a.links {
			l.lastChange = a.uptime + 1500
			l.bad += 400
		}
		w.polls(3)
	}
	require.Empty(t, w.tracker.Snapshot().Faults)
	require.Contains(t, w.port("a", "1/1").Guards[0].Says, "12 ports of the switch changed their links at once")
	w.polls(10)
	require.Empty(t, w.port("a", "1/1").Guards)
	for range 6 {
		a.link("1/3").lastChange = a.uptime + 1500
		w.polls(3)
	}
	require.Equal(t, LinkFlapping, only(t, w.tracker.Snapshot()).Kind, "one that goes on alone is")
}

// Two people move the cords of a panel for an hour and leave half of the ports
// unused, on two switches of one room.
func TestAnEveningOfPatching(t *testing.T) {
	a, b := boxed("a", 48), boxed("b", 48)
	w := newWorld(t, nil, a, b)
	w.polls(12)
	for _, x := range []*box{a, b} {
		w.used(x, x.names(1, 48)...)
		w.tracker.switches[x.name].view.Space = "TR-1"
	}
	moved := slices.Concat(a.names(1, 14))
	for i, name := range moved {
		for _, x := range []*box{a, b} {
			x.loses(name)
			if i%2 == 0 {
				w.polls(1)
				x.finds(name)
			}
		}
		require.Empty(t, w.alarmed(1))
	}
	require.Empty(t, w.alarmed(10*60), "until the next morning")
	f := w.tracker.Snapshot().FaultsAt("a", "1/2")[0]
	require.Equal(t, NoLink, f.Kind)
	require.True(t, f.Quiet)
	require.Contains(t, f.Guards[0].Says, "as when somebody patches: held back for ")
}

// A round of new firmware: each switch restarts in turn, with it what it feeds.
func TestAFirmwareRoundRaisesNothing(t *testing.T) {
	core := boxed("core", 8)
	boxes := []*box{core}
	var runs []*plant.Run
	for i := range 4 {
		x := boxed(fmt.Sprintf("a%d", i+1), 12)
		cable(core, fmt.Sprintf("1/%d", i+1), x, "1/12")
		runs = append(runs, &plant.Run{ID: fmt.Sprintf("U%d", i+1), Switch: x.name, Port: "1/12", FarSwitch: "core", FarPort: fmt.Sprintf("1/%d", i+1), Cable: "riser-om4"})
		for p := range 3 {
			runs = append(runs, &plant.Run{ID: fmt.Sprintf("CAM%d-%d", i+1, p), Switch: x.name, Port: fmt.Sprintf("1/%d", p+1), AlwaysOn: true})
		}
		boxes = append(boxes, x)
	}
	w := newWorld(t, runs, boxes...)
	w.polls(12)
	for i, x := range boxes {
		w.used(x, x.names(1, len(x.links))...)
		x.class = "no-answer" // it starts for 4 minutes
		if i > 0 {
			core.loses(fmt.Sprintf("1/%d", i))
		} else {
			for _, y := range boxes[1:] {
				y.loses("1/12")
			}
		}
		require.Empty(t, w.alarmed(4))
		x.class, x.restart = "", true
		if i > 0 {
			core.finds(fmt.Sprintf("1/%d", i))
			for _, l := range x.links[:11] { // what it feeds takes 3 minutes more, and comes up slowly first
				l.oper, l.lastChange = port.Down, 0
			}
		}
		require.Empty(t, w.alarmed(3))
		for _, y := range boxes {
			for _, l := range y.links {
				l.oper = port.Up
			}
		}
		require.Empty(t, w.alarmed(6))
	}
	told, _ := w.told()
	require.Empty(t, told)
}

// A distribution switch dies: it is told of, and nothing that hangs on it.
func TestADeadDistributionSwitchIsOneAlert(t *testing.T) {
	core, dist := boxed("core", 4), boxed("dist", 8)
	cable(core, "1/1", dist, "1/8")
	runs := []*plant.Run{{ID: "U0", Switch: "dist", Port: "1/8", FarSwitch: "core", FarPort: "1/1", Cable: "riser-om4", AlwaysOn: true}}
	boxes := []*box{core, dist}
	for i := range 3 {
		x := boxed(fmt.Sprintf("a%d", i+1), 6)
		cable(dist, fmt.Sprintf("1/%d", i+1), x, "1/6")
		runs = append(runs, &plant.Run{ID: fmt.Sprintf("U%d", i+1), Switch: x.name, Port: "1/6", FarSwitch: "dist", FarPort: fmt.Sprintf("1/%d", i+1), Cable: "riser-om4"})
		boxes = append(boxes, x)
	}
	// a3 is also managed over another way, and so still answers
	for _, order := range [][]*box{boxes, {boxes[4], boxes[3], boxes[2], dist, core}} {
		t.Run(order[0].name+" first", func(t *testing.T) {
			w := newWorld(t, runs, order...)
			w.polls(12)
			dead(dist, boxes[2], boxes[3])
			core.loses("1/1")
			boxes[4].loses("1/6")
			core.hearsNobody("1/1")
			boxes[4].hearsNobody("1/6")
			for range 40 {
				require.Empty(t, w.alarmed(1))
				told, _ := w.told()
				require.Subset(t, []string{"dist"}, told)
			}
			told, _ := w.told()
			require.Equal(t, []string{"dist"}, told)
			f := w.tracker.Snapshot().FaultsOf("U0")[0]
			require.Equal(t, []Guard{{Name: ParentDown, Switch: "dist", Says: "dist at the other end does not answer, which is told of by itself."}}, f.Guards)
			dist.class, boxes[2].class, boxes[3].class = "", "", ""
			core.finds("1/1")
			boxes[4].finds("1/6")
			cable(core, "1/1", dist, "1/8")
			cable(dist, "1/3", boxes[4], "1/6")
			require.Empty(t, w.alarmed(10))
		})
	}
}

// A cut uplink between two switches that both still answer is the run's.
func TestACutBetweenTwoLivingSwitchesIsTheRuns(t *testing.T) {
	core, a := boxed("core", 4), boxed("a", 4)
	cable(core, "1/1", a, "1/4")
	cable(core, "1/2", a, "1/3")
	runs := []*plant.Run{{ID: "U1", Switch: "a", Port: "1/4", FarSwitch: "core", FarPort: "1/1", Cable: "riser-om4"}}
	w := newWorld(t, runs, core, a)
	w.polls(12)
	core.link("1/1").mau, a.link("1/4").mau = 0, 0
	core.loses("1/1")
	a.loses("1/4")
	require.Equal(t, map[string]bool{"U1 no-link": true}, w.alarmed(5))
	require.Equal(t, BrokenStrand, w.tracker.Snapshot().FaultsOf("U1")[0].Cause())

	a.link("1/4").edit = func(r *port.Reading) { r.Admin = port.Down }
	require.Empty(t, w.alarmed(3), "one end was shut")
	require.Equal(t, PortShut, w.tracker.Snapshot().FaultsOf("U1")[0].Cause())
}

// Nights of 100 PCs that sleep, and old devices of 100M: nothing is told.
func TestSleepersAndOldDevicesRaiseNothing(t *testing.T) {
	a := boxed("a", 40)
	var runs []*plant.Run
	for i := range a.links {
		runs = append(runs, &plant.Run{ID: fmt.Sprintf("R%d", i), Switch: "a", Port: a.links[i].name, Cable: "horizontal-6a", DesignSpeed: 1e9})
		if i >= 30 {
			a.links[i].hundred(hundredFull).own = gigabit
		}
	}
	w := newWorld(t, runs, a)
	w.polls(30)
	for range 3 {
		for _, l := range a.links[:30] {
			l.fellBack()
			l.frames, l.lastChange = 3, a.uptime+4000
			w.polls(1)
		}
		require.Empty(t, w.alarmed(int(8*time.Hour/every)))
		for _, l := range a.links[:30] {
			l.gigabitAgain()
			l.frames, l.lastChange = 60_000, a.uptime+4000
			require.Empty(t, w.alarmed(1))
		}
		require.Empty(t, w.alarmed(60))
	}
	for _, f := range w.tracker.Snapshot().Faults {
		require.Equal(t, FarLimit, f.Guards[0].Name)
	}
}

// A missed answer of the switch at the other end does not hush what was told;
// that it is gone does.
func TestAMissedAnswerHushesNothing(t *testing.T) {
	core, a := boxed("core", 4), boxed("a", 4)
	cable(core, "1/1", a, "1/4")
	w := newWorld(t, []*plant.Run{{ID: "U1", Switch: "core", Port: "1/1", FarSwitch: "a", FarPort: "1/4"}}, core, a)
	w.polls(12)
	core.loses("1/1")
	a.loses("1/4")
	w.polls(5)
	dead(a)
	w.polls(2)
	require.True(t, w.tracker.Snapshot().FaultsOf("U1")[0].Alarm)
	w.polls(2)
	require.False(t, w.tracker.Snapshot().FaultsOf("U1")[0].Alarm)
}

// A switch that restarts three times in an hour loses its links each time, and
// more than once.
func TestLinksLostByTheOtherSwitchsRestarts(t *testing.T) {
	core, a := boxed("core", 4), boxed("a", 4)
	cable(core, "1/1", a, "1/4")
	w := newWorld(t, nil, core, a)
	w.polls(12)
	for range 3 {
		a.class = "no-answer"
		core.link("1/1").lastChange = core.uptime + 1500
		require.Empty(t, w.alarmed(2))
		core.link("1/1").lastChange = core.uptime + 1500
		require.Empty(t, w.alarmed(2))
		a.class, a.restart = "", true
		require.Empty(t, w.alarmed(6))
	}
	f := kindAmong(w.tracker.Snapshot().Faults, LinkFlapping)
	require.Equal(t, GroupEvent, f.Guards[0].Name)
	require.Contains(t, f.Guards[0].Says, "a restarted meanwhile")
	w.polls(12)
	core.link("1/1").lastChange = core.uptime + 1500
	require.Equal(t, map[string]bool{" link-flapping": true}, w.alarmed(2), "one more that no restart explains")
}

func TestAFaultOfAPortThatWasShutIsNotTold(t *testing.T) {
	l := gigabitLink("1/17")
	l.fellBack()
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	require.True(t, only(t, s.polls(5)).Alarm)
	l.oper = port.Down
	l.edit = func(r *port.Reading) { r.Admin = port.Down }
	f := only(t, s.polls(2))
	require.False(t, f.Alarm)
	require.Equal(t, ShutByAdmin, f.Guards[0].Name)
	l.oper, l.edit = port.Up, nil
	require.True(t, only(t, s.polls(2)).Alarm)
}

// Links that come up together pass a low speed on the way; a speed that stays
// low is told all the same.
func TestALowSpeedWaitsForLinksToSettle(t *testing.T) {
	for _, row := range []struct {
		polls int
		told  bool
	}{{4, false}, {8, true}} {
		a := boxed("a", 12)
		w := newWorld(t, nil, a)
		w.polls(12)
		for _, l := range a.links {
			l.fellBack()
			l.lastChange = a.uptime + 4000
		}
		told := w.alarmed(row.polls)
		for _, l := range a.links {
			l.gigabitAgain()
			l.lastChange = a.uptime + 4000
		}
		w.polls(2)
		require.Equal(t, row.told, len(told) > 0, "%d polls", row.polls)
	}
}

// A computer without a battery for its clock begins in 1970.
func TestTheFirstMinutesOf1970(t *testing.T) {
	lost, beside := gigabitLink("1/17"), gigabitLink("1/18")
	beside.index = 10102
	s := newScene(t, nil, lost, beside)
	s.now = time.Unix(0, 0)
	s.polls(2)
	lost.oper = port.Down
	require.NotPanics(t, func() { s.polls(1) })
}
