package fault

import (
	"errors"
	"math/rand/v2"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// The auto-negotiation offers of RFC 4836: 10/100/1000 full duplex, and
// 10/100 alone.
var (
	gigabit = standards.ParseAbilities([]byte{0x6C, 0x01})
	legacy  = standards.ParseAbilities([]byte{0x6C, 0x00})
)

const every = time.Minute

var start = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

// link is one simulated port as a scenario sees it: its state, and what comes
// in each poll.
type link struct {
	name, alias string
	index       int
	oper        port.Status
	mbps        uint32
	mau         int
	own, far    standards.Abilities
	auto        port.Answer
	frames      uint64  // good frames received a poll, of 500 octets
	errored     float64 // mean damaged frames a poll

	counters   port.Counters
	octets     uint64
	good, bad  uint64
	lastChange uint32
}

func gigabitLink(name string) *link {
	return &link{name: name, index: 10101, oper: port.Up, mbps: 1000, mau: 30, own: gigabit, far: gigabit,
		auto: port.Yes, frames: 60_000}
}

// scene is a tracker with one switch, sw-1, and a clock.
type scene struct {
	t       *testing.T
	tracker *Tracker
	links   []*link
	now     time.Time
	uptime  uint32
	random  *rand.Rand
}

func newScene(t *testing.T, runs []*plant.Run, links ...*link) *scene {
	p := plant.New(plant.Plant{
		Cables: []*plant.Cable{{ID: "horizontal-6a", Media: standards.Copper}, {ID: "riser-om4", Media: standards.Fibre}},
		Runs:   runs,
	})
	return &scene{
		t: t, links: links, now: start, uptime: 1_000_000, random: rand.New(rand.NewPCG(3, 14)),
		tracker: NewTracker(p, Settings{
			Switches:  []SwitchSettings{{Name: "sw-1", Address: "192.0.2.1:161", Space: "TR-1"}},
			Labels:    regexp.MustCompile(`^(?P<run>[A-Z0-9-]+)`),
			PollEvery: every, FalseAlarmsPerWeek: 1,
		}),
	}
}

func horizontal(id, portName string) *plant.Run {
	return &plant.Run{ID: id, Switch: "sw-1", Port: portName, Cable: "horizontal-6a",
		DesignSpeed: standards.Gbps, Outlet: "214-A", LengthM: port.Some(62.0)}
}

// polls lets so many polls pass.
func (s *scene) polls(n int) *Snapshot {
	var snap *Snapshot
	for range n {
		s.now = s.now.Add(every)
		s.uptime += 6000
		poll := port.Poll{At: s.now, Uptime: port.Some(s.uptime), Name: "sw-1"}
		for _, l := range s.links {
			poll.Ports = append(poll.Ports, l.reading(s))
		}
		snap = s.tracker.Answered("sw-1", poll)
	}
	return snap
}

func (l *link) reading(s *scene) port.Reading {
	if l.oper == port.Up {
		l.good += l.frames
		l.octets += 500 * l.frames
		if l.errored > 0 {
			l.bad += uint64(distuv.Poisson{Lambda: l.errored, Src: s.random}.Rand())
		}
	}
	r := port.Reading{
		At: s.now, Uptime: port.Some(s.uptime), Index: l.index, Name: l.name, Alias: l.alias, Type: 6, Connector: port.Yes,
		Admin: port.Up, Oper: l.oper, HighSpeed: port.Some(l.mbps), MAU: l.mau, LastChange: port.Some(l.lastChange),
		AutoNeg: port.AutoNegotiation{Enabled: l.auto, Capable: port.Some(gigabit), Advertised: port.Some(l.own), Received: port.Some(l.far)},
	}
	r.Counters.Set64(port.InOctets, l.octets)
	r.Counters.Set64(port.InUnicast, l.good)
	r.Counters.Set32(port.FCS, uint32(l.bad))
	r.Counters.Set32(port.Alignment, 0)
	return r
}

// fellBack is a link of 100 Mbit/s where both ends offer 1 Gbit/s.
func (l *link) fellBack() { l.mbps, l.mau = 100, 16 }

func (l *link) gigabitAgain() { l.mbps, l.mau = 1000, 30 }

func only(t *testing.T, snap *Snapshot) Fault {
	require.Len(t, snap.Faults, 1)
	return snap.Faults[0]
}

func TestAnOpenPairIsBelowDesignSpeedOnItsRun(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("N2-P1-17", "1/17")}, l)
	require.Empty(t, s.polls(5).Faults)
	require.Equal(t, Healthy, s.state("N2-P1-17"))

	l.fellBack()
	require.Empty(t, s.polls(2).Faults, "takes hold at the third poll")
	f := only(t, s.polls(1))
	require.Equal(t, "N2-P1-17", f.Run)
	require.Equal(t, "sw-1", f.Switch)
	require.Equal(t, "1/17", f.Port)
	require.Equal(t, BelowDesignSpeed, f.Kind)
	require.Equal(t, start.Add(6*every), f.Since, "the first poll at the lower speed")
	require.Equal(t, OpenPair, f.Cause())
	require.Equal(t, AboutRun, f.About)
	require.True(t, f.Alarm)
	require.Equal(t, Warning, f.Severity)
	require.Equal(t, "sw-1 port 1/17", f.Near)
	require.Equal(t, "outlet 214-A", f.Far)
	require.Contains(t, f.Summary, "Up at 100M instead of 1G while in use")
	require.Contains(t, f.Evidence, "The port offers up to 1G, the far end up to 1G.")
	require.Contains(t, f.FirstCheck(), "4-5 and 7-8")
	require.Subset(t, f.Cautions, standingCautions)
	require.Equal(t, Faulty, s.state("N2-P1-17"))

	l.gigabitAgain()
	require.Len(t, s.polls(9).Faults, 1, "lets go at the tenth poll at speed")
	require.Empty(t, s.polls(1).Faults)
	require.Equal(t, Healthy, s.state("N2-P1-17"))
}

func (s *scene) state(run string) State {
	r, ok := s.tracker.Snapshot().Run(run)
	require.True(s.t, ok)
	return r.State
}

func TestLookAlikesOfALowSpeedAreNotBlamedOnTheCable(t *testing.T) {
	rows := []struct {
		name   string
		change func(*link)
		first  bool // so from the first poll
		cause  Cause
		about  About
		quiet  bool
	}{
		{"asleep: low speed, nothing received", func(l *link) { l.fellBack(); l.frames = 0 }, false, FarEndAsleep, AboutFarEnd, true},
		{"asleep: an answer now and then", func(l *link) { l.fellBack(); l.frames = 5 }, false, FarEndAsleep, AboutFarEnd, true},
		{"asleep, and offering little", func(l *link) { l.fellBack(); l.far, l.frames = legacy, 0 }, true, FarEndAsleep, AboutFarEnd, true},
		{"a device of 100M", func(l *link) { l.fellBack(); l.far = legacy }, true, FarEndLimit, AboutFarEnd, true},
		{"the port is set to offer 100M", func(l *link) { l.fellBack(); l.own = legacy }, false, SpeedSetting, AboutPort, false},
		{"auto-negotiation is off", func(l *link) { l.fellBack(); l.auto = port.No; l.far = 0 }, false, SpeedSetting, AboutPort, false},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			l := gigabitLink("1/17")
			s := newScene(t, []*plant.Run{horizontal("N2-P1-17", "1/17")}, l)
			if !row.first {
				s.polls(5)
			}
			row.change(l)
			f := only(t, s.polls(4))
			require.Equal(t, row.cause, f.Cause())
			require.Equal(t, row.about, f.About)
			require.Equal(t, row.quiet, f.Quiet)
			require.Equal(t, !row.quiet, f.Alarm)
			if row.quiet {
				require.Equal(t, Quiet, s.state("N2-P1-17"))
			}
		})
	}
}

func TestASleeperThatStaysSlowWhenItWakesIsAFault(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("N2-P1-17", "1/17")}, l)
	l.fellBack()
	l.frames = 0
	require.True(t, only(t, s.polls(6)).Quiet)
	l.frames = 60_000
	require.True(t, only(t, s.polls(2)).Quiet)
	require.Equal(t, OpenPair, only(t, s.polls(1)).Cause())
	l.frames = 0
	require.False(t, only(t, s.polls(30)).Quiet, "once seen slow while in use, a night's sleep does not hush it")
}

func TestAFarEndThatStoppedOfferingMoreIsStillSuspect(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("N2-P1-17", "1/17")}, l)
	s.polls(5)
	l.fellBack()
	l.far = legacy // some devices withdraw the offer after falling back
	require.Equal(t, OpenPair, only(t, s.polls(3)).Cause())
}

func TestAfterALongPauseAnotherDeviceMayBeThere(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("N2-P1-17", "1/17")}, l)
	s.polls(5)
	l.oper = port.Down
	s.polls(2)
	l.oper, l.far = port.Up, legacy
	l.fellBack()
	require.Equal(t, FarEndLimit, only(t, s.polls(3)).Cause())
}

func TestTheSpeedMeant(t *testing.T) {
	rows := []struct {
		name string
		run  *plant.Run
		far  standards.Abilities
		want standards.Speed
	}{
		{"design speed", horizontal("R", "1/17"), gigabit, standards.Gbps},
		{"device speed where lower", &plant.Run{ID: "R", Switch: "sw-1", Port: "1/17", DesignSpeed: standards.Gbps, DeviceSpeed: 100 * standards.Mbps}, gigabit, 100 * standards.Mbps},
		{"no run: what both ends offer", nil, gigabit, standards.Gbps},
		{"no run: the lesser offer", nil, legacy, 100 * standards.Mbps},
		{"no run, no offer", nil, 0, 0},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			l := gigabitLink("1/17")
			l.far = row.far
			var runs []*plant.Run
			if row.run != nil {
				runs = append(runs, row.run)
			}
			snap := newScene(t, runs, l).polls(2)
			p, ok := snap.Switches[0].Port("1/17")
			require.True(t, ok)
			require.Equal(t, row.want, p.Meant)
		})
	}
}

func TestAPortWithoutARunRaisesTheSameFaults(t *testing.T) {
	slow, noisy := gigabitLink("1/3"), gigabitLink("1/4")
	slow.alias = "room 12 window"
	slow.fellBack()
	noisy.index, noisy.errored = 10102, 30
	snap := newScene(t, nil, slow, noisy).polls(10)
	require.Len(t, snap.Faults, 2)
	for _, f := range snap.Faults {
		require.Empty(t, f.Run)
		require.True(t, f.Alarm)
	}
	require.Equal(t, `sw-1 port 1/3 ("room 12 window")`, snap.FaultsAt("sw-1", "1/3")[0].Near)
	require.Equal(t, FrameErrors, snap.FaultsAt("sw-1", "1/4")[0].Kind)
}

func TestFrameErrorsOnTheirRun(t *testing.T) {
	l, clean := gigabitLink("1/17"), gigabitLink("1/18")
	clean.index = 10102
	s := newScene(t, []*plant.Run{horizontal("N2-P1-17", "1/17"), horizontal("N2-P1-18", "1/18")}, l, clean)
	require.Empty(t, s.polls(20).Faults)
	l.errored = 12 // of 60,000 frames
	first := s.now.Add(every)
	f := only(t, s.polls(10))
	require.Equal(t, "N2-P1-17", f.Run)
	require.Equal(t, FrameErrors, f.Kind)
	require.Equal(t, first, f.Since)
	require.Equal(t, Warning, f.Severity)
	require.Contains(t, f.Summary, "damaged: 1 in")
	require.Contains(t, f.Evidence[0], "sw-1 port 1/17 counted them")
	require.Contains(t, f.Evidence[1], "1000BASE-T may let through 1 errored bit in 10^10")

	p, _ := s.tracker.Snapshot().Switches[0].Port("1/17")
	r, ok := p.FrameErrorRatio()
	require.True(t, ok)
	require.Less(t, r.Low, r.Estimate)
	require.Less(t, r.Estimate, r.High)

	l.errored = 0
	require.Len(t, s.polls(3).Faults, 1)
	require.Empty(t, s.polls(500).Faults)
}

func TestSeverity(t *testing.T) {
	run := func(i plant.Importance) *plant.Run {
		r := horizontal("R", "1/17")
		r.Importance = i
		return r
	}
	rows := []struct {
		name       string
		importance plant.Importance
		errored    float64
		want       Severity
	}{
		{"normal", plant.Normal, 12, Warning},
		{"high", plant.High, 12, Critical},
		{"low", plant.Low, 12, Info},
		{"1 in 300 lost", plant.Normal, 200, Critical},
		{"1 in 300 lost, low", plant.Low, 200, Warning},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			l := gigabitLink("1/17")
			l.errored = row.errored
			require.Equal(t, row.want, only(t, newScene(t, []*plant.Run{run(row.importance)}, l).polls(20)).Severity)
		})
	}
}

func TestNothingIsRaisedByWhatDoesNotCompare(t *testing.T) {
	rows := []struct {
		name   string
		change func(*scene, *link)
	}{
		{"the agent restarts with counters high", func(s *scene, l *link) { s.uptime = 0; l.bad = 1_000_000 }},
		{"the port is renumbered", func(s *scene, l *link) { l.index = 4; l.bad = 1_000_000 }},
		{"the counters are cleared", func(s *scene, l *link) { l.bad, l.good, l.octets = 0, 0, 0 }},
		{"a plug is pulled and put back", func(s *scene, l *link) { l.lastChange = s.uptime + 3000; l.bad += 500 }},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			l := gigabitLink("1/17")
			l.bad, l.good, l.octets = 3, 5000, 1<<40
			s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
			s.polls(5)
			row.change(s, l)
			require.Empty(t, s.polls(10).Faults)
			require.Equal(t, Healthy, s.state("R"))
		})
	}
}

func TestUnknownIsNeverHealthy(t *testing.T) {
	l := gigabitLink("1/17")
	idle := gigabitLink("1/18")
	idle.index, idle.oper = 10102, port.Down
	runs := []*plant.Run{
		horizontal("R", "1/17"), horizontal("DOWN", "1/18"), horizontal("NOWHERE", "1/99"),
		{ID: "OTHER", Switch: "sw-9", Port: "1"},
	}
	s := newScene(t, runs, l, idle)
	require.Equal(t, Unknown, s.state("R"), "before the first answer")
	s.polls(3)
	require.Equal(t, Healthy, s.state("R"))
	require.Equal(t, Idle, s.state("DOWN"))
	require.Equal(t, Unknown, s.state("NOWHERE"))
	require.Equal(t, Unknown, s.state("OTHER"))

	for range 2 {
		s.fail()
		require.Equal(t, Healthy, s.state("R"), "a missed poll or two is no silence")
	}
	s.fail()
	require.Equal(t, Unknown, s.state("R"))
	sw := s.tracker.Snapshot().Switches[0]
	require.False(t, sw.Answering())
	require.Equal(t, "no answer", sw.Problem)
	require.Equal(t, "no-answer", sw.Class)
	s.polls(1)
	require.Equal(t, Healthy, s.state("R"))
}

func (s *scene) fail() {
	s.now = s.now.Add(every)
	s.uptime += 6000
	s.tracker.Failed("sw-1", s.now, "no-answer", errors.New("no answer"))
}

func TestASilentSwitchKeepsItsFaults(t *testing.T) {
	l := gigabitLink("1/17")
	l.fellBack()
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	since := only(t, s.polls(4)).Since
	for range 5 {
		s.fail()
	}
	require.Equal(t, since, only(t, s.tracker.Snapshot()).Since)
	require.Equal(t, since, only(t, s.polls(1)).Since)
}

func TestAPortThatGoesAwayTakesItsFaultWithIt(t *testing.T) {
	l, stays := gigabitLink("1/17"), gigabitLink("1/18")
	stays.index = 10102
	l.fellBack()
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l, stays)
	require.Len(t, s.polls(4).Faults, 1)
	s.links = []*link{stays}
	require.Len(t, s.polls(2).Faults, 1)
	snap := s.polls(1)
	require.Empty(t, snap.Faults)
	require.Len(t, snap.Switches[0].Ports, 1)
	require.Equal(t, Unknown, s.state("R"))
}

func TestARunWithTwoSwitchPortsHasOneFaultOfAKind(t *testing.T) {
	a, b := gigabitLink("1/1"), gigabitLink("1/2") // both ends on one switch for brevity
	b.index = 10102
	a.fellBack()
	b.fellBack()
	run := horizontal("UPLINK", "1/1")
	run.FarSwitch, run.FarPort, run.Outlet = "sw-1", "1/2", ""
	f := only(t, newScene(t, []*plant.Run{run}, a, b).polls(5))
	require.Equal(t, "1/1", f.Port, "the near end")
	require.Equal(t, "sw-1 port 1/2", f.Far)
	require.Len(t, f.Evidence, 6, "both ends speak")
}

func TestErrorsAtTheFarEndArePlacedOnTheRun(t *testing.T) {
	a, b := gigabitLink("1/1"), gigabitLink("1/2")
	b.index, b.errored = 10102, 40
	run := horizontal("UPLINK", "1/1")
	run.FarSwitch, run.FarPort, run.Outlet = "sw-1", "1/2", ""
	f := only(t, newScene(t, []*plant.Run{run}, a, b).polls(10))
	require.Equal(t, "UPLINK", f.Run)
	require.Equal(t, "1/1", f.Port, "the near end names the run")
	require.Contains(t, f.Evidence[0], "sw-1 port 1/2 counted them")
}

func TestFaultsAreWorstFirst(t *testing.T) {
	at := func(minute int) time.Time { return start.Add(time.Duration(minute) * time.Minute) }
	sorted := []Fault{
		{Run: "a", Alarm: true, Severity: Critical, Since: at(5)},
		{Run: "b", Alarm: true, Severity: Warning, Since: at(1)},
		{Run: "c", Alarm: true, Severity: Warning, Since: at(2)},
		{Run: "d", Alarm: false, Severity: Critical, Since: at(0)},
	}
	for i := range sorted {
		for j := range sorted {
			got := worstFirst(sorted[i], sorted[j])
			require.Equal(t, compareInts(i, j), got)
		}
	}
}

func compareInts(i, j int) int {
	switch {
	case i < j:
		return -1
	case i > j:
		return 1
	}
	return 0
}

func TestEveryCauseThatCanBeNamedHasItsWords(t *testing.T) {
	for _, w := range []weights{copperFellBack, copperTrained, fibreSlow, copperErrors, fibreErrors} {
		for cause := range w {
			require.Contains(t, words, cause)
		}
	}
	for cause, w := range words {
		require.NotEmpty(t, w.title, cause)
		require.NotEmpty(t, w.check, cause)
		require.NotEmpty(t, w.about, cause)
	}
}

func TestProbabilitiesSumToOne(t *testing.T) {
	for _, w := range []weights{copperFellBack, fibreErrors, guarded(SpeedSetting, fibreSlow), guarded(FarEndLimit, copperTrained)} {
		sum := 0.0
		ranked := w.ranked()
		for _, c := range ranked {
			sum += c.Probability
		}
		require.InDelta(t, 1, sum, 1e-9)
	}
	require.InDelta(t, 0.9, guarded(FarEndLimit, copperTrained).ranked()[0].Probability, 1e-9)
}
