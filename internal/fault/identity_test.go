package fault

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// access is a switch of four ports with a run on each, whose neighbours are a
// core switch and two stations.
func access(serial string) (*box, *box, []*plant.Run) {
	a, core := boxed("acc", 4), boxed("core", 2)
	a.unit(serial)
	cable(a, "1/1", core, "1/1")
	a.hears("1/2", station("pc-2"))
	a.hears("1/3", station("pc-3"))
	var runs []*plant.Run
	for i := range 4 {
		runs = append(runs, &plant.Run{ID: fmt.Sprintf("R%d", i+1), Switch: "acc", Port: fmt.Sprintf("1/%d", i+1),
			Cable: "horizontal-6a", DesignSpeed: standards.Gbps})
	}
	return a, core, runs
}

// unit makes a switch one chassis of a serial, or of none.
func (b *box) unit(serial string) {
	b.units = nil
	if serial != "" {
		b.units = []port.Unit{{Serial: serial}}
	}
	for _, l := range b.links {
		l.edit = func(r *port.Reading) { r.Unit = serial }
	}
}

// replaced puts another switch in a switch's place, with its cables as they
// were.
func (b *box) replaced(serial string) {
	b.unit(serial)
	b.restart = true
	for _, l := range b.links {
		l.good, l.octets, l.bad, l.counters = 0, 0, 0, port.Counters{}
	}
}

func (w *world) joined(name string) (runs []string) {
	for _, p := range w.view(name).Ports {
		if p.Run != "" {
			runs = append(runs, p.Run)
		}
	}
	return runs
}

var allFour = []string{"R1", "R2", "R3", "R4"}

func TestAReplacedSwitchWaitsUntilItsNeighboursAreHeardAgain(t *testing.T) {
	a, core, runs := access("FQ48-0007")
	w := newWorld(t, runs, a, core)
	w.polls(10)
	require.Equal(t, allFour, w.joined("acc"))
	require.Empty(t, w.view("acc").Suspended)

	neighbours := a.neighbours
	a.neighbours = nil // nothing announces itself yet
	a.replaced("FQ48-0031")
	w.ask = true
	w.polls(1)
	suspended := w.view("acc").Suspended
	require.Contains(t, suspended, "acc was replaced: serial FQ48-0007 before, FQ48-0031 now; its ports' runs wait")
	require.Contains(t, suspended, "serials in the configuration lists FQ48-0031")
	w.polls(6)
	require.Empty(t, w.joined("acc"))
	require.Equal(t, Unknown, w.state("R2"), "unknown is never healthy")
	require.Contains(t, conflicts(w), "acc was replaced: serial FQ48-0007 before, FQ48-0031 now")

	a.neighbours = neighbours
	w.polls(6)
	require.Empty(t, w.view("acc").Suspended)
	require.Equal(t, allFour, w.joined("acc"))
	require.Equal(t, Healthy, w.state("R2"))
	require.Equal(t, "acc was replaced: serial FQ48-0007 before, FQ48-0031 now", w.tracker.Snapshot().Moves[0].What)
}

func conflicts(w *world) (text string) {
	for _, c := range w.tracker.Snapshot().Joined.Conflicts {
		text += c.Text + "\n"
	}
	return text
}

func TestAReplacedSwitchWhoseCordsWereMixedUpStaysSuspended(t *testing.T) {
	a, core, runs := access("FQ48-0007")
	w := newWorld(t, runs, a, core)
	w.polls(10)
	a.hearsNobody("1/2")
	a.hearsNobody("1/3")
	a.hears("1/2", station("pc-3"))
	a.hears("1/3", station("pc-2"))
	a.replaced("FQ48-0031")
	w.ask = true
	w.polls(20)
	require.NotEmpty(t, w.view("acc").Suspended, "1/1 is right, but two neighbours are heard at other ports")
	require.NotContains(t, w.joined("acc"), "R2")

	var from []plant.PortRef
	for _, m := range w.tracker.Snapshot().Moves {
		if m.What == "device pc-2" {
			from = append(from, m.From, m.To)
		}
	}
	require.Equal(t, []plant.PortRef{ref("acc", "1/2"), ref("acc", "1/3")}, from)
}

// The uplink is back where it was; of the cords that somebody moved over by
// hand that tells nothing.
func TestAnUplinkAloneDoesNotConfirmAReplacedSwitch(t *testing.T) {
	a, core, runs := access("FQ48-0007")
	a.neighbours = a.neighbours[:1]
	w := newWorld(t, runs, a, core)
	w.polls(10)
	a.replaced("FQ48-0031")
	w.ask = true
	w.polls(20)
	require.Contains(t, w.view("acc").Suspended, "serials in the configuration lists FQ48-0031")
	require.NotContains(t, w.joined("acc"), "R2")
}

func TestAPersonConfirmsAReplacedSwitch(t *testing.T) {
	a, core, runs := access("FQ48-0007")
	a.neighbours, core.neighbours = nil, nil
	w := newWorld(t, runs, a, core)
	w.polls(10)
	a.replaced("FQ48-0031")
	w.ask = true
	w.polls(20)
	require.Empty(t, w.joined("acc"), "without neighbours nothing else confirms a changed serial")
	s := w.settings()
	s.Switches[0].Serials = []string{"FQ48-0031"}
	snap := w.tracker.Replace(w.tracker.plant, s, w.now)
	require.Empty(t, snap.Switches[0].Suspended)
	require.Equal(t, allFour, w.joined("acc"))
}

// What the configuration lists outlasts a restart of the daemon, which knows of
// no earlier serial.
func TestASerialThatTheConfigurationDoesNotListWaits(t *testing.T) {
	for name, listed := range map[string][]string{"put right": {"FQ48-0031"}, "taken out": nil} {
		t.Run(name, func(t *testing.T) {
			a, core, runs := access("FQ48-0031")
			w := newWorld(t, runs, a, core)
			s := w.settings()
			s.Switches[0].Serials = []string{"FQ48-0007"}
			w.tracker = NewTracker(plant.New(w.plant()), s)
			w.polls(20)
			require.Empty(t, w.joined("acc"))
			require.Contains(t, w.view("acc").Suspended, "acc has serial FQ48-0031, which the configuration does not list")
			s.Switches[0].Serials = listed
			w.tracker.Replace(w.tracker.plant, s, w.now)
			require.Equal(t, allFour, w.joined("acc"))
			w.polls(3)
			require.Equal(t, allFour, w.joined("acc"))
		})
	}
	t.Run("listed", func(t *testing.T) {
		a, core, runs := access("FQ48-0031")
		w := newWorld(t, runs, a, core)
		s := w.settings()
		s.Switches[0].Serials = []string{"FQ48-0007", "FQ48-0031"}
		w.tracker = NewTracker(plant.New(w.plant()), s)
		w.polls(5)
		require.Equal(t, allFour, w.joined("acc"))
	})
}

func TestThePortsDescriptionsConfirmAReplacedSwitch(t *testing.T) {
	a, core, runs := access("FQ48-0007")
	a.neighbours, core.neighbours = nil, nil
	w := newWorld(t, runs, a, core)
	w.polls(10)
	a.replaced("FQ48-0031")
	a.link("1/2").alias = "R2 room 7"
	w.ask = true
	w.polls(10)
	require.Equal(t, []string{"R2"}, w.joined("acc"))
	for i, l := range a.links {
		l.alias = fmt.Sprintf("R%d", i+1)
	}
	w.polls(3)
	require.Equal(t, allFour, w.joined("acc"))
	require.Empty(t, w.view("acc").Suspended)
}

func TestTheOldSwitchPutBackIsAsItWas(t *testing.T) {
	a, core, runs := access("FQ48-0007")
	a.neighbours, core.neighbours = nil, nil
	w := newWorld(t, runs, a, core)
	w.polls(10)
	a.replaced("FQ48-0031")
	a.link("1/3").fellBack()
	w.ask = true
	w.polls(5)
	require.Empty(t, w.joined("acc"))
	require.Len(t, w.tracker.Snapshot().Faults, 1)
	a.replaced("FQ48-0007")
	a.link("1/3").gigabitAgain()
	w.ask = true
	w.polls(2)
	require.Equal(t, allFour, w.joined("acc"))
	require.Empty(t, w.tracker.Snapshot().Faults, "what the other one showed is not blamed on the run")
	require.Empty(t, w.view("acc").Suspended)
}

// What a new switch's port shows while nobody knows which run it has is not
// blamed on the run, nor is what the old switch's port had shown.
func TestFaultsOfAReplacedSwitchBeginAnew(t *testing.T) {
	a, core, runs := access("FQ48-0007")
	w := newWorld(t, runs, a, core)
	w.polls(10)
	a.link("1/4").errored = 200
	w.polls(10)
	require.Equal(t, "R4", only(t, w.tracker.Snapshot()).Run)

	neighbours := a.neighbours
	a.neighbours = nil
	a.replaced("FQ48-0031")
	a.link("1/4").errored = 0
	a.link("1/3").fellBack()
	w.ask = true
	w.polls(10)
	f := only(t, w.tracker.Snapshot())
	require.Empty(t, f.Run, "a suspended port's fault is its own")
	require.Equal(t, "1/3", f.Port)

	a.link("1/3").gigabitAgain()
	a.neighbours = neighbours
	w.ask = true
	w.polls(1)
	require.Empty(t, w.view("acc").Suspended)
	w.polls(2)
	require.Empty(t, w.tracker.Snapshot().Faults)
	require.Equal(t, allFour, w.joined("acc"))
}

func TestEngineIDsWhereNoSerialIsTold(t *testing.T) {
	rows := []struct {
		name    string
		change  func(*box)
		waits   bool
		confirm func(*box)
	}{
		{"the same neighbours confirm", func(b *box) {}, false, nil},
		{"no neighbours and the same names confirm", func(b *box) { b.neighbours = nil }, false, nil},
		{"a name that is missing does not", func(b *box) { b.neighbours, b.links = nil, b.links[:3] }, true, nil},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			a, core, runs := access("")
			a.engine = "80001f880401"
			if row.name != "the same neighbours confirm" {
				a.neighbours, core.neighbours = nil, nil
			}
			w := newWorld(t, runs, a, core)
			w.polls(10)
			row.change(a)
			a.engine, a.restart = "80001f880499", true
			w.ask = true
			w.polls(3)
			if row.waits {
				require.Contains(t, w.view("acc").Suspended, "acc may have been replaced: engine id 80001f880401 before, 80001f880499 now")
				require.Empty(t, w.joined("acc"))
				return
			}
			require.Empty(t, w.view("acc").Suspended)
			require.Equal(t, allFour, w.joined("acc"))
		})
	}
}

func TestANewEngineIDOfTheSameSerialIsNothing(t *testing.T) {
	a, core, runs := access("FQ48-0007")
	a.engine = "80001f880401"
	w := newWorld(t, runs, a, core)
	w.polls(10)
	a.engine, a.restart = "80001f880499", true
	w.polls(1)
	require.Empty(t, w.view("acc").Suspended)
	require.Equal(t, allFour, w.joined("acc"))
}

// After a restart some agents tell what they are built of later than the rest
// (common practice, no source).
func TestAKnownSerialEndsTheDoubtOfANewEngineID(t *testing.T) {
	a, core, runs := access("FQ48-0007")
	a.engine = "80001f880401"
	w := newWorld(t, runs, a, core)
	w.polls(10)
	a.unit("")
	a.engine, a.restart, w.ask = "80001f880499", true, true
	a.hearsNobody("1/2")
	a.hears("1/4", station("pc-2")) // moved meanwhile
	w.polls(2)
	require.Contains(t, w.view("acc").Suspended, "may have been replaced: engine id")
	a.unit("FQ48-0007")
	w.ask = true
	w.polls(2)
	require.Empty(t, w.view("acc").Suspended)
	require.Equal(t, allFour, w.joined("acc"))
}

// Firmware that counts ports from 1 where it counted from 0 shifts every name
// by one.
func TestADetailNotToldOnceChangesNothing(t *testing.T) {
	a, core, runs := access("FQ48-0007")
	w := newWorld(t, runs, a, core)
	w.polls(10)
	a.unit("")
	w.ask = true
	w.polls(3)
	require.Empty(t, w.view("acc").Suspended)
	a.unit("FQ48-0007")
	w.ask = true
	w.polls(3)
	require.Empty(t, w.view("acc").Suspended)
	require.Equal(t, allFour, w.joined("acc"))
}
