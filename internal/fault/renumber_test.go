package fault

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
)

func TestRenumberedPortsKeepTheirRuns(t *testing.T) {
	a, core, runs := access("FQ48-0007")
	runs[3].Port = "4" // recorded by ifIndex
	w := newWorld(t, runs, a, core)
	w.polls(10)
	require.Equal(t, allFour, w.joined("acc"))
	for i, l := range a.links { // 2, 3, 4, 5
		l.index = i + 2
	}
	for i := range a.neighbours {
		a.neighbours[i].Index++
	}
	w.ask = true
	w.polls(2)
	require.Equal(t, []string{"R1", "R2", "R3"}, w.joined("acc"), "ifIndex 4 is another port now")
	require.Empty(t, w.view("acc").Suspended)
	require.Equal(t, "ifIndex of 4 ports", w.tracker.Snapshot().Moves[0].What)
	require.Len(t, w.tracker.Snapshot().Moves, 1)
	require.Empty(t, w.tracker.Snapshot().Faults)
}

func TestANumberThatIsAnotherPortsNowIsInDoubt(t *testing.T) {
	a, core, runs := access("FQ48-0007")
	a.neighbours, core.neighbours = nil, nil
	runs[3].Port = "104"
	for i, l := range a.links {
		l.index = i + 101
	}
	w := newWorld(t, runs[3:], a, core)
	w.polls(10)
	for i, l := range a.links {
		l.index = i + 102
	}
	w.polls(2)
	require.Empty(t, w.joined("acc"))
	require.Contains(t, conflicts(w), "numbered anew: its port 1/3 had ifIndex 103 before, and has 104 now")

	w.runs = append(slices.Clone(w.runs), &plant.Run{ID: "R9", Switch: "core", Port: "1/2"})
	w.tracker.Replace(plant.New(w.plant()), w.settings(), w.now)
	require.Empty(t, w.joined("acc"), "an edit elsewhere puts nothing right here")
	edited := *runs[3]
	edited.Port = "105"
	w.runs = []*plant.Run{&edited}
	w.tracker.Replace(plant.New(w.plant()), w.settings(), w.now)
	require.Equal(t, "R4", w.port("acc", "1/4").Run)
}

func TestShiftedNamesWait(t *testing.T) {
	a, core, runs := access("FQ48-0007")
	w := newWorld(t, runs, a, core)
	w.polls(10)
	for i, l := range a.links { // 1/2 to 1/5
		l.name = fmt.Sprintf("1/%d", i+2)
	}
	a.restart, w.ask = true, true
	w.polls(6)
	require.Contains(t, w.view("acc").Suspended, "acc may number its ports anew: 1/1 left as 1/5 came")
	require.Empty(t, w.joined("acc"))
	elsewhere := &plant.Run{ID: "R9", Switch: "core", Port: "1/2"}
	w.runs = append(slices.Clone(runs), elsewhere)
	w.tracker.Replace(plant.New(w.plant()), w.settings(), w.now)
	require.NotEmpty(t, w.view("acc").Suspended, "an edit elsewhere puts nothing right here")
	require.Empty(t, w.joined("acc"))

	w.runs = slices.Clone(w.runs)
	for i := range 4 {
		edited := *runs[i]
		edited.Port = fmt.Sprintf("1/%d", i+2)
		w.runs[i] = &edited
	}
	w.tracker.Replace(plant.New(w.plant()), w.settings(), w.now)
	require.Empty(t, w.view("acc").Suspended, "a person put its rows right")
	require.Equal(t, allFour, w.joined("acc"))
}

func TestAnotherModuleIsNoShift(t *testing.T) {
	a, core, runs := access("FQ48-0007")
	w := newWorld(t, runs, a, core)
	w.polls(10)
	a.link("1/4").name = "T1/4" // a faster module shows under another name
	w.polls(6)
	require.Empty(t, w.view("acc").Suspended)
	require.Equal(t, []string{"R1", "R2", "R3"}, w.joined("acc"))
}

func TestPortsThatComeAndGoAreNoShift(t *testing.T) {
	rows := []struct {
		name string
		play func(w *world, a *box)
	}{
		{"an optic moved to another cage", func(w *world, a *box) {
			a.link("1/4").name = "1/5"
		}},
		{"modules that start one after the other", func(w *world, a *box) {
			all := a.links
			a.links, a.restart = all[:2], true
			w.polls(4)
			a.links = append(all[:2:2], all[3])
			w.polls(1)
			a.links = all[:3]
		}},
		{"a shift that is undone", func(w *world, a *box) {
			for i, l := range a.links {
				l.name = fmt.Sprintf("1/%d", i+2)
			}
			a.restart, w.ask = true, true
			w.polls(6)
			require.NotEmpty(w.t, w.view("acc").Suspended)
			for i, l := range a.links {
				l.name = fmt.Sprintf("1/%d", i+1)
			}
			a.restart, w.ask = true, true
		}},
		{"a switch whose optic was pulled long ago gets another engine id", func(w *world, a *box) {
			a.unit("")
			a.links = a.links[:3]
			w.polls(20)
			a.engine, a.restart, w.ask = "80001f880499", true, true
		}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			a, core, runs := access("")
			a.engine, a.neighbours, core.neighbours = "80001f880401", nil, nil
			w := newWorld(t, runs, a, core)
			w.polls(10)
			row.play(w, a)
			w.polls(10)
			require.Empty(t, w.view("acc").Suspended)
			require.Subset(t, w.joined("acc"), []string{"R1", "R2", "R3"})
		})
	}
}
