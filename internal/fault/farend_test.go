package fault

import (
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

func offering(n port.Neighbour, offer standards.Abilities) port.Neighbour {
	n.Offered = port.Some(offer)
	return n
}

// room is a switch with one run, whose design speed the inventory names or not.
func room(t *testing.T, design standards.Speed, heard ...port.Neighbour) (*world, *box, *link) {
	a := boxed("acc", 2)
	for _, n := range heard {
		a.hears("1/1", n)
	}
	run := &plant.Run{ID: "R", Switch: "acc", Port: "1/1", Cable: "horizontal-6a", DesignSpeed: design}
	w := newWorld(t, []*plant.Run{run}, a)
	return w, a, a.link("1/1")
}

// IEEE 802.3 79.3.1: what the far end announces to be able to.
func TestWhatANeighbourAnnouncesIsAnOffer(t *testing.T) {
	rows := []struct {
		name  string
		heard []port.Neighbour
		want  Cause
	}{
		{"able to 1G, and no longer offering it", []port.Neighbour{offering(station("pc"), gigabit)}, OpenPair},
		{"able to 100M", []port.Neighbour{offering(station("pc"), legacy)}, FarEndLimit},
		{"a telephone of 100M with a computer behind it", []port.Neighbour{offering(phone("ph"), legacy), offering(station("pc"), gigabit)}, FarEndLimit},
		{"several behind a hub tell nothing", []port.Neighbour{offering(station("pc-1"), gigabit), offering(station("pc-2"), gigabit)}, FarEndLimit},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			w, _, l := room(t, standards.Gbps, row.heard...)
			l.fellBack()
			l.far = legacy // some devices withdraw the offer after falling back
			require.Equal(t, row.want, only(t, w.polls(6)).Cause())
		})
	}
}

func TestAnotherNeighbourIsAnotherFarEnd(t *testing.T) {
	w, a, l := room(t, standards.Gbps, station("old"))
	w.polls(6)
	a.hearsNobody("1/1")
	a.hears("1/1", station("new"))
	l.fellBack()
	l.far = legacy
	w.ask = true
	require.Equal(t, FarEndLimit, only(t, w.polls(5)).Cause(), "what the old one was able to no longer counts")
}

// A cord is moved from one device to another within a poll, and the new one
// announces nothing.
func TestANeighbourThatIsHeardNoLongerMayBeAnotherDevice(t *testing.T) {
	rows := []struct {
		name  string
		unask bool // the link goes before the switch forgets the neighbour
		flap  bool
		want  Cause
	}{
		{"forgotten, then seen to flap", true, true, FarEndLimit},
		{"seen to flap, then forgotten", false, true, FarEndLimit},
		{"it ceased to announce itself, and the link stood", true, false, OpenPair},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			w, a, l := room(t, standards.Gbps, station("pc"))
			w.polls(6)
			if row.unask {
				a.hearsNobody("1/1")
				w.ask = true
				w.polls(1)
			}
			l.fellBack()
			l.far = legacy
			if row.flap {
				l.lastChange = a.uptime + 2000
			}
			w.polls(1)
			a.hearsNobody("1/1")
			w.ask = true
			require.Equal(t, row.want, only(t, w.polls(8)).Cause())
		})
	}
}

func TestTheSameNeighbourIsRememberedOverALossOfTheLink(t *testing.T) {
	rows := []struct {
		name string
		back port.Neighbour
		want Cause
	}{
		{"the same", station("pc"), OpenPair},
		{"another", station("other"), FarEndLimit},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			w, a, l := room(t, standards.Gbps, station("pc"))
			w.polls(6)
			l.oper = port.Down
			a.hearsNobody("1/1")
			w.ask = true
			w.polls(10)
			l.oper, l.far = port.Up, legacy
			l.fellBack()
			a.hears("1/1", row.back)
			w.ask = true
			require.Equal(t, row.want, only(t, w.polls(6)).Cause())
		})
	}
}

// A telephone may name itself by an address that changes.
func TestATelephoneOfAnotherAddressIsTheSame(t *testing.T) {
	ph := phone("ph")
	ph.Chassis, ph.Port = port.ID{Kind: port.IDAddress, Text: "192.0.2.7"}, port.ID{Kind: port.IDMAC, Text: "00:00:5e:00:53:07"}
	w, a, l := room(t, standards.Gbps, ph)
	w.polls(6)
	a.hearsNobody("1/1")
	ph.Chassis.Text = "192.0.2.8"
	a.hears("1/1", ph)
	l.fellBack()
	l.far = legacy
	w.ask = true
	require.Equal(t, OpenPair, only(t, w.polls(6)).Cause())
	require.Empty(t, w.tracker.Snapshot().Moves)
}

const week = 7 * 24 * 60 // polls

func TestWhatWasHeldForAWeekIsMeant(t *testing.T) {
	w, a, l := room(t, 0, station("pc"))
	l.edit = noOffers
	w.polls(week - 60)
	require.Zero(t, w.port("acc", "1/1").Meant)
	w.polls(70)
	require.Equal(t, standards.Speed(standards.Gbps), w.port("acc", "1/1").Meant)
	l.fellBack()
	f := only(t, w.polls(5))
	require.Equal(t, BelowDesignSpeed, f.Kind)
	require.Contains(t, f.Evidence[0], "it should be 1G (it held that for a week with the same neighbour)")

	a.hearsNobody("1/1")
	a.hears("1/1", station("other"))
	w.ask = true
	require.Empty(t, w.polls(3).Faults, "of another device nothing is known")
}

func TestAWeekAtNightSpeedsMeansTheDaysSpeed(t *testing.T) {
	w, _, l := room(t, 0, station("pc"))
	l.edit = noOffers
	for range 9 {
		l.gigabitAgain()
		l.frames = 60_000
		w.polls(10 * 60)
		l.fellBack()
		l.frames = 0
		w.polls(14 * 60)
	}
	require.Equal(t, standards.Speed(standards.Gbps), w.port("acc", "1/1").Meant)
	for _, f := range w.tracker.Snapshot().Faults {
		require.True(t, f.Quiet, "asleep")
	}
}

func TestTheInventoryRulesOverHabit(t *testing.T) {
	w, _, l := room(t, 100*standards.Mbps, station("pc"))
	l.edit = noOffers
	w.polls(week + 60)
	require.Equal(t, 100*standards.Mbps, w.port("acc", "1/1").Meant)
}

func TestAMomentAtAHigherSpeedIsNoHabit(t *testing.T) {
	w, _, l := room(t, 0, station("pc"))
	l.edit = noOffers
	l.fellBack()
	w.polls(100)
	l.gigabitAgain()
	w.polls(20)
	l.fellBack()
	w.polls(week)
	require.Equal(t, 100*standards.Mbps, w.port("acc", "1/1").Meant)
	require.Empty(t, w.tracker.Snapshot().Faults)
}
