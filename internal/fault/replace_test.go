package fault

import (
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/standards"
)

func TestANewInventoryOnARunningTracker(t *testing.T) {
	a, b := boxed("a", 2), boxed("b", 2)
	runs := []*plant.Run{
		{ID: "RA", Switch: "a", Port: "1/1", Cable: "horizontal-6a", DesignSpeed: standards.Gbps},
		{ID: "RB", Switch: "b", Port: "1/1", Cable: "horizontal-6a", DesignSpeed: standards.Gbps},
	}
	w := newWorld(t, runs, a, b)
	a.link("1/1").fellBack()
	b.link("1/1").fellBack()
	w.polls(6)
	before := w.tracker.Snapshot()
	require.Len(t, before.Faults, 2)
	since := before.FaultsOf("RA")[0].Since

	w.runs = []*plant.Run{{ID: "RB", Switch: "b", Port: "1/1", Cable: "horizontal-6a", DesignSpeed: standards.Gbps, Owner: "Estates"}}
	snap := w.tracker.Replace(plant.New(w.plant()), w.settings(), w.now)
	require.Len(t, snap.Faults, 2)
	require.Empty(t, snap.FaultsOf("RA"))
	moved := snap.FaultsAt("a", "1/1")[0]
	require.Empty(t, moved.Run, "the run is gone, its fault is the port's")
	require.Equal(t, since, moved.Since)
	require.Equal(t, "Estates", snap.FaultsOf("RB")[0].Owner)
	require.Equal(t, []EventKind{Closed, Opened}, kinds(snap.Events))
	require.Len(t, before.FaultsOf("RA"), 1, "a snapshot is never changed")
	require.Empty(t, w.polls(1).Events)
}

func kinds(events []Event) (kinds []EventKind) {
	for _, want := range []EventKind{Closed, Opened, Alarmed, Hushed} {
		for _, e := range events {
			if e.What == want {
				kinds = append(kinds, want)
			}
		}
	}
	return kinds
}

func TestANewListOfSwitches(t *testing.T) {
	a, b, c := boxed("a", 2), boxed("b", 2), boxed("c", 2)
	cable(a, "1/1", b, "1/1")
	w := newWorld(t, nil, a, b)
	b.link("1/2").fellBack()
	w.polls(6)
	require.Len(t, w.tracker.Snapshot().Faults, 1)
	require.True(t, w.tracker.Snapshot().Tried())

	w.boxes = []*box{c, a}
	s := w.settings()
	s.Switches[1].Address = "192.0.2.9:161"
	snap := w.tracker.Replace(w.tracker.plant, s, w.now)
	require.Empty(t, snap.Faults)
	require.Equal(t, []EventKind{Closed}, kinds(snap.Events))
	require.Equal(t, "c", snap.Switches[0].Name)
	require.False(t, snap.Tried(), "c was not tried yet")
	sw, ok := snap.Switch("a")
	require.True(t, ok)
	require.Equal(t, "192.0.2.9:161", sw.Address)
	require.Len(t, sw.Ports, 2, "what was seen of it stays")
	_, ok = snap.Switch("b")
	require.False(t, ok)
	require.Empty(t, snap.Links)
	require.Zero(t, sw.Ports[0].Peer)
	require.Equal(t, 2, w.tracker.ports)
	w.poll(b) // an answer that was under way
	require.True(t, w.polls(2).Tried())
	require.Equal(t, 4, w.tracker.ports)
	require.Empty(t, w.tracker.Snapshot().Faults)
}

func TestTheSameAddressWithAnotherSwitchIsSeenByItsIdentity(t *testing.T) {
	a, core, runs := access("FQ48-0007")
	a.neighbours = nil
	w := newWorld(t, runs, a, core)
	w.polls(6)
	s := w.settings()
	s.Switches[0].Address = "192.0.2.77:161"
	w.tracker.Replace(w.tracker.plant, s, w.now)
	require.Equal(t, allFour, w.joined("acc"))
	a.replaced("FQ48-0031")
	w.ask = true
	w.polls(2)
	require.Empty(t, w.joined("acc"))
}

func TestRowsThatNoLongerFit(t *testing.T) {
	a := boxed("a", 2)
	a.hears("1/1", station("pc-9"))
	runs := []*plant.Run{
		{ID: "R1", Switch: "a", Port: "1/1", Device: "pc-7", Status: plant.Live},
		{ID: "R2", Switch: "a", Port: "1/2", Status: plant.Spare},
	}
	w := newWorld(t, runs, a)
	w.polls(3)
	rows := w.tracker.Snapshot().Stale()
	require.Len(t, rows, 2)
	require.Contains(t, rows[0].Why, `"pc-9" is heard`)
	require.Contains(t, rows[1].Why, "recorded as spare")
}
