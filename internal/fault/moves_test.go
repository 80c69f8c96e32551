package fault

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
)

func TestADeviceThatMoves(t *testing.T) {
	a, b := boxed("a", 4), boxed("b", 4)
	w := newWorld(t, nil, a, b)
	a.hears("1/1", station("pc"))
	w.polls(6)
	require.Empty(t, w.tracker.Snapshot().Moves)

	b.hears("1/2", station("pc")) // seen there before a is asked again
	w.ask = true
	w.polls(1)
	require.Empty(t, w.tracker.Snapshot().Moves, "it may have two ports")
	a.hearsNobody("1/1")
	w.ask = true
	w.polls(1)
	moves := w.tracker.Snapshot().Moves
	require.Len(t, moves, 1)
	require.Equal(t, "device pc", moves[0].What)
	require.Equal(t, ref("a", "1/1"), moves[0].From)
	require.Equal(t, ref("b", "1/2"), moves[0].To)

	b.hearsNobody("1/2") // unplugged for a while
	w.ask = true
	w.polls(3)
	a.hears("1/4", station("pc"))
	w.ask = true
	w.polls(1)
	moves = w.tracker.Snapshot().Moves
	require.Len(t, moves, 2)
	require.Equal(t, ref("a", "1/4"), moves[0].To, "latest first")
}

// Until a switch has told its chassis id, it is heard as a device like others,
// here at two ports. That it turns out to be a switch is no move.
func TestASwitchThatIsReadLastHasNotMoved(t *testing.T) {
	a, b, late := boxed("a", 2), boxed("b", 2), boxed("late", 2)
	late.class = "no answer"
	w := newWorld(t, nil, a, b, late)
	a.hears("1/1", late.announces("1/1"))
	w.polls(3)
	b.hears("1/1", late.announces("1/2"))
	w.polls(6)
	late.class = ""
	w.ask = true
	w.polls(12)
	require.Empty(t, w.tracker.Snapshot().Moves)
}

func TestWhatIsNoMove(t *testing.T) {
	rows := map[string]func(w *world, a, b *box){
		"back at its port": func(w *world, a, b *box) {
			a.hears("1/1", station("pc"))
			w.polls(6)
			a.hearsNobody("1/1")
			w.polls(6)
			a.hears("1/1", station("pc"))
		},
		"a server with two ports loses one": func(w *world, a, b *box) {
			a.hears("1/1", station("server"))
			b.hears("1/1", station("server"))
			w.polls(6)
			b.hearsNobody("1/1")
		},
		"a watched switch": func(w *world, a, b *box) {
			cable(a, "1/1", b, "1/1")
			w.polls(6)
			a.hearsNobody("1/1")
			a.hears("1/2", b.announces("1/1"))
		},
		"a description that was copied": func(w *world, a, b *box) {
			a.link("1/1").alias = "R1"
			w.polls(6)
			b.link("1/1").alias = "R1"
		},
		"text that names no run": func(w *world, a, b *box) {
			a.link("1/1").alias = "PRINTER"
			w.polls(6)
			a.link("1/1").alias, b.link("1/1").alias = "", "PRINTER"
		},
	}
	for name, scene := range rows {
		t.Run(name, func(t *testing.T) {
			a, b := boxed("a", 4), boxed("b", 4)
			w := newWorld(t, []*plant.Run{{ID: "R1"}}, a, b)
			scene(w, a, b)
			w.polls(12)
			require.Empty(t, w.tracker.Snapshot().Moves)
		})
	}
}

func TestADescriptionThatMoves(t *testing.T) {
	a, b := boxed("a", 4), boxed("b", 4)
	a.link("1/1").alias = "R1 room 7"
	w := newWorld(t, []*plant.Run{{ID: "R1"}}, a, b)
	w.polls(3)
	a.link("1/1").alias, b.link("1/3").alias = "", "R1 room 7"
	w.polls(1)
	moves := w.tracker.Snapshot().Moves
	require.Len(t, moves, 1)
	require.Equal(t, "description of run R1", moves[0].What)
	require.Equal(t, ref("b", "1/3"), moves[0].To)
}

func TestMovesAreBounded(t *testing.T) {
	a := boxed("a", 2)
	w := newWorld(t, nil, a)
	for i := range 300 {
		a.neighbours = nil
		a.hears([]string{"1/1", "1/2"}[i%2], station("pc"))
		for n := range 6 {
			a.hears("1/1", station(fmt.Sprintf("visitor %d of %d", n, i)))
		}
		w.ask = true
		w.polls(1)
	}
	require.Len(t, w.tracker.Snapshot().Moves, mostMoves)
	require.LessOrEqual(t, len(w.tracker.places), 2*mostDevices+mostDevices)
}

// Ports that come and go with ever other devices, as on a host of virtual
// machines, leave nothing behind.
func TestDevicesOfPortsThatLeftAreForgotten(t *testing.T) {
	a := boxed("a", 1)
	w := newWorld(t, nil, a)
	for i := range 30 {
		l := gigabitLink(fmt.Sprintf("v%d-x", i))
		l.index = 100 + i
		a.links = append(a.links[:1:1], l)
		a.neighbours = nil
		a.hears(l.name, station(fmt.Sprintf("guest-%d", i)))
		w.ask = true
		w.polls(4)
	}
	require.LessOrEqual(t, len(w.tracker.places), 2)
}
