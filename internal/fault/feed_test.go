package fault

import (
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// feeding is a row of pethPsePortTable (RFC 3621).
func feeding(overloads, shorts, denied uint32) port.Power {
	return port.Power{Enabled: port.Yes, Status: port.PowerDelivering, Class: port.Some(3),
		Absent: port.Some(uint32(0)), Invalid: port.Some(uint32(9)),
		Denied: port.Some(denied), Overloads: port.Some(overloads), Shorts: port.Some(shorts)}
}

func TestPowerThatIsCut(t *testing.T) {
	rows := []struct {
		name    string
		then    port.Power
		kind    Kind
		cause   Cause
		summary string
	}{
		{"a short", feeding(4, 8, 0), PowerFailing, ShortedPair, "a port 1/1 cut the power over its pairs once for a short circuit since this began."},
		{"overloads", feeding(7, 7, 0), PowerFailing, FarEndFaulty, "a port 1/1 cut the power over its pairs 3 times for an overload since this began."},
		{"no power left", feeding(4, 7, 5), "", "", ""},
		{"counts that were reset", feeding(0, 2, 0), "", "", ""},
		{"nothing new", feeding(4, 7, 0), "", "", ""},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			a := boxed("a", 2)
			run := &plant.Run{ID: "R", Switch: "a", Port: "1/1", Cable: "horizontal-6a", Outlet: "12"}
			w := newWorld(t, []*plant.Run{run}, a)
			a.power = map[int]port.Power{1: feeding(4, 7, 0)}
			require.Empty(t, w.polls(11).Faults, "what was counted before is no rise")
			a.power[1] = row.then
			snap := w.polls(5)
			if row.kind == "" {
				require.Empty(t, snap.Faults)
				return
			}
			f := only(t, snap)
			require.Equal(t, row.kind, f.Kind)
			require.Equal(t, row.cause, f.Cause())
			require.Equal(t, row.summary, f.Summary)
			require.True(t, f.Alarm)
			require.Equal(t, powered, f.Cautions[0])
			require.Equal(t, port.PowerDelivering, w.port("a", "1/1").Power.Status)
			require.Nil(t, w.port("a", "1/2").Power)
			require.Len(t, w.polls(56).Faults, 1, "an hour without lets go")
			require.Empty(t, w.polls(5).Faults)
		})
	}
}

// A short that stays may be counted once: by its status the port waits for its end.
func TestAShortThatStays(t *testing.T) {
	a := boxed("a", 2)
	w := newWorld(t, []*plant.Run{{ID: "R", Switch: "a", Port: "1/1", Cable: "horizontal-6a", AlwaysOn: true}}, a)
	a.power = map[int]port.Power{1: feeding(4, 7, 0)}
	w.polls(11)
	shorted := feeding(4, 8, 0)
	shorted.Status = port.PowerFault
	a.power[1] = shorted
	a.loses("1/1")
	w.polls(5)
	require.Equal(t, "power-fault alarmed, no-link", told(w.polls(180)))
	a.power[1] = feeding(4, 8, 0)
	a.finds("1/1")
	w.polls(5)
	require.Equal(t, "power-fault alarmed", told(w.polls(50)))
	require.Empty(t, w.polls(20).Faults)
}

func TestPowerIsComparedAcrossASlowReadingWithoutIt(t *testing.T) {
	a := boxed("a", 2)
	w := newWorld(t, nil, a)
	a.power = map[int]port.Power{1: feeding(0, 0, 0)}
	w.polls(6)
	a.power = map[int]port.Power{}
	w.polls(5)
	require.Nil(t, w.port("a", "1/1").Power, "what is not told is gone")
	a.power = map[int]port.Power{1: feeding(0, 1, 0)}
	require.Equal(t, PowerFailing, only(t, w.polls(5)).Kind)
}

func TestAnotherPortsPowerIsNoRise(t *testing.T) {
	a := boxed("a", 2)
	w := newWorld(t, nil, a)
	a.power = map[int]port.Power{1: feeding(0, 0, 0), 2: feeding(90, 90, 0)}
	w.polls(6)
	a.links[0].index, a.links[1].index = 2, 1
	w.ask = true
	require.Empty(t, w.polls(10).Faults)
	require.Equal(t, feeding(90, 90, 0), *w.port("a", "1/1").Power)
}

func TestOpticsAreThoseOfTheLatestDetails(t *testing.T) {
	a := boxed("a", 2)
	w := newWorld(t, nil, a)
	a.optics = map[int]*port.Optic{1: {Serial: "X1"}}
	w.polls(1)
	require.Equal(t, "X1", w.port("a", "1/1").Optic.Serial)
	a.optics = map[int]*port.Optic{}
	w.polls(5)
	require.Nil(t, w.port("a", "1/1").Optic)
}

// A device that is up and draws nothing wants no power: that none is fed tells something
// only while the link is down.
func TestThatNothingIsFedIsToldWithoutALink(t *testing.T) {
	searching := port.Power{Enabled: port.Yes, Status: port.PowerSearching}
	p := &portState{reading: &port.Reading{Oper: port.Down}}
	p.feeds = &searching
	require.Equal(t, "The port finds no device to feed now.", p.powerSentence())
	p.reading = &port.Reading{Oper: port.Up}
	require.Empty(t, p.powerSentence())
}
