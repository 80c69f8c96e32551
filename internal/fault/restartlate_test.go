package fault

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// What was open a month ago says nothing of today; habits do.
func TestAnOldCheckpointTellsHabitsOnly(t *testing.T) {
	for _, kind := range Kinds {
		s, polls := lasting[kind](t)
		open(t, kind, polls)
		s.tracker = restarted(t, s.tracker, s.tracker.plant, s.tracker.settings, s.now.Add(-tooOld), s.now)
		require.Empty(t, polls(1).Faults, kind)
	}
	w := newWorld(t, nil, boxed("sw-1", 1))
	w.boxes[0].hears("1/1", station("press"))
	w.polls(7*24*60 + 10)
	w.tracker = restarted(t, w.tracker, w.tracker.plant, w.tracker.settings, w.now.Add(-tooOld), w.now)
	w.boxes[0].links[0].fellBack()
	f := only(t, w.polls(slowTakesHold+1))
	require.Contains(t, f.Evidence[0], "it should be 1G (it held that for a week with the same neighbour)")
}

// A threshold that follows the ports heard so far would be a thousand times too
// low for the first ones: evidence of before would alarm there.
func TestTheThresholdIsThatOfAllPortsFromTheStart(t *testing.T) {
	c := newCampus(50, 0)
	c.run(50)
	require.Equal(t, 50*benchPorts, c.tracker.ports)
	after := restarted(t, c.tracker, c.tracker.plant, c.tracker.settings, start, start)
	require.Equal(t, 50*benchPorts, after.ports)
	c.tracker = after
	for range 60 {
		c.run(1)
		require.Equal(t, 50*benchPorts, after.ports)
	}
}

// A device that was exchanged for a silent one while nobody watched no longer
// tells what the link is meant to hold.
func TestADeviceThatIsHeardNoLongerAfterARestart(t *testing.T) {
	b := boxed("sw-1", 1)
	w := newWorld(t, nil, b)
	b.hears("1/1", station("press"))
	w.polls(7*24*60 + 10)
	b.hearsNobody("1/1")
	w.restart()
	b.links[0].mbps, b.links[0].mau, b.links[0].far = 100, 16, legacy
	require.Empty(t, w.polls(20).Faults)
}

// Ports are joined a while after their switch's first answer where many switches
// answer at once. Until then a fault of before has no place, and is told
// nowhere else.
func TestAFaultWaitsForItsRun(t *testing.T) {
	boxes := []*box{boxed("a", 1), boxed("b", 1), boxed("c", 1)}
	run := &plant.Run{ID: "R", Switch: "b", Port: "1/1", Cable: "horizontal-6a", DesignSpeed: standards.Gbps}
	w := newWorld(t, []*plant.Run{run}, boxes...)
	boxes[1].links[0].fellBack()
	since := only(t, w.polls(5)).Since
	w.restart()
	for i, wants := range [][]EventKind{nil, nil, {Resumed}} {
		w.now = w.now.Add(time.Second)
		snap := w.poll(boxes[i])
		require.Equal(t, wants, events(snap), boxes[i].name)
	}
	f := only(t, w.tracker.Snapshot())
	require.Equal(t, "R", f.Run)
	require.Equal(t, since, f.Since)
}

// A switch that renews its counters every 30 s is known to after a restart.
func TestACacheOfCountersIsKnownAfterARestart(t *testing.T) {
	s, links := busyScene(t, 10*time.Second)
	for _, l := range links {
		cached(s, l, 30*time.Second)
	}
	s.polls(30)
	span := s.tracker.switches["sw-1"].refresh.Span()
	require.NotZero(t, span)
	s.restart()
	s.polls(1)
	require.Equal(t, span, s.tracker.switches["sw-1"].refresh.Span())
}

// The first answers after a restart may come without what is asked seldom.
func TestALightFaultOutlastsARestartThatTellsItsLightLate(t *testing.T) {
	for _, kind := range []Kind{LowLight, HighLight, ExcessLoss} {
		light := map[Kind][2]float64{LowLight: {-2.5, -12}, HighLight: {3, 1.5}, ExcessLoss: {-2.5, -6.5}}[kind]
		s := settled(t, nil)
		s.light(light[0], -4, -2.5, light[1])
		was := open(t, kind, s.polls)
		s.restart()
		for _, b := range s.boxes {
			b.asked, b.deaf = nil, true
		}
		for i := range 12 {
			s.a.deaf = i < 3
			s.b.deaf = i < 6
			f := kindAmong(s.polls(1).Faults, kind)
			require.NotNil(t, f, "%s, poll %d", kind, i)
			require.Equal(t, was.Since, f.Since)
		}
	}
}

// A checkpoint of a clock that was a year ahead and is put right since: what was open in
// it, and the restart of a switch that it saw, last no year.
func TestACheckpointOfAClockThatWasAhead(t *testing.T) {
	loose, on := gigabitLink("1/17"), gigabitLink("1/18")
	on.index = 10102
	always := horizontal("ON", "1/18")
	always.AlwaysOn = true
	s := newScene(t, []*plant.Run{horizontal("R", "1/17"), always}, loose, on)
	s.polls(5)
	for range 12 {
		loose.lastChange = s.uptime + 5000
		s.polls(1)
	}
	require.Equal(t, LinkFlapping, only(t, s.tracker.Snapshot()).Kind)
	s.uptime = 0
	s.polls(1)
	ahead := s.now
	s.now = s.now.AddDate(-1, 0, 0)
	s.tracker = restarted(t, s.tracker, s.tracker.plant, s.tracker.settings, ahead, s.now)
	require.Empty(t, s.polls(120).Faults)
	on.oper = port.Down
	require.True(t, only(t, s.polls(5)).Alarm)
}

// Nor is a cable that was heard then heard later than all that is heard now.
func TestACableHeardByAClockThatWasAhead(t *testing.T) {
	a, b, c := boxed("a", 2), boxed("b", 2), boxed("c", 2)
	cable(a, "1/1", b, "1/1")
	w := newWorld(t, nil, a, b, c)
	w.polls(2)
	ahead := w.now
	w.now = w.now.AddDate(-1, 0, 0)
	w.tracker = restarted(t, w.tracker, w.tracker.plant, w.tracker.settings, ahead, w.now)
	for _, sw := range w.boxes {
		sw.neighbours, sw.asked = nil, nil
	}
	cable(a, "1/1", c, "1/1")
	links := w.polls(6).Links
	require.Len(t, links, 1)
	require.Equal(t, ref("c", "1/1"), links[0].B)
}
