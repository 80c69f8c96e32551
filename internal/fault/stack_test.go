package fault

import (
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// stack is two members of two ports each, a run on each port.
func stack() (*box, []*plant.Run) {
	b := boxed("stk", 0)
	var runs []*plant.Run
	for i, name := range []string{"1/1", "1/2", "2/1", "2/2"} {
		l := gigabitLink(name)
		l.index = i + 1
		b.links = append(b.links, l)
		runs = append(runs, &plant.Run{ID: "R" + name, Switch: "stk", Port: name, DesignSpeed: standards.Gbps})
	}
	b.stacked("FQ-A", "FQ-B")
	return b, runs
}

// stacked gives a stack its members by position, "" for none.
func (b *box) stacked(first, second string) {
	b.units = nil
	for i, serial := range []string{first, second} {
		if serial != "" {
			b.units = append(b.units, port.Unit{Serial: serial, Position: i + 1})
		}
	}
	for _, l := range b.links {
		serial := map[byte]string{'1': first, '2': second}[l.name[0]]
		l.edit = func(r *port.Reading) { r.Unit = serial }
	}
}

func TestAReplacedMemberSuspendsItsOwnPortsOnly(t *testing.T) {
	b, runs := stack()
	w := newWorld(t, runs, b)
	w.polls(10)
	b.stacked("FQ-A", "FQ-C")
	w.ask = true
	w.polls(3)
	require.Equal(t, []string{"R1/1", "R1/2"}, w.joined("stk"))
	require.Contains(t, w.view("stk").Suspended, "member 2 of stk was replaced: serial FQ-B before, FQ-C now")
}

func TestMembersThatChangedPlaces(t *testing.T) {
	b, runs := stack()
	w := newWorld(t, runs, b)
	w.polls(10)
	b.stacked("FQ-B", "FQ-A")
	w.ask = true
	w.polls(10)
	require.Empty(t, w.joined("stk"))
	require.Contains(t, w.view("stk").Suspended, "member FQ-B of stk changed its place: position 2 before, 1 now")
	require.Contains(t, w.view("stk").Suspended, "member FQ-A of stk changed its place: position 1 before, 2 now")
	s := w.settings()
	s.Switches[0].Serials = []string{"FQ-A", "FQ-B"}
	w.tracker.Replace(w.tracker.plant, s, w.now)
	w.ask = true
	w.polls(3)
	require.Empty(t, w.view("stk").Suspended)
	require.Len(t, w.joined("stk"), 4)
}

func TestAStackThatGrows(t *testing.T) {
	rows := []struct {
		name  string
		units []port.Unit
		waits bool
	}{
		{"beside it", []port.Unit{{Serial: "FQ-A", Position: 1}, {Serial: "FQ-B", Position: 2}}, false},
		{"the first gets a number", []port.Unit{{Serial: "FQ-A", Position: 3}, {Serial: "FQ-B", Position: 4}}, false},
		{"in its place", []port.Unit{{Serial: "FQ-B", Position: 1}, {Serial: "FQ-A", Position: 2}}, true},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			b, runs := stack()
			b.stacked("FQ-A", "")
			b.links = b.links[:2]
			w := newWorld(t, runs[:2], b)
			w.polls(6)
			b.units = row.units
			w.ask = true
			w.polls(2)
			require.Equal(t, row.waits, w.view("stk").Suspended != "")
		})
	}
}

// A lost member is one event, its ports unknown, and no fault; it comes back as
// itself.
func TestALostMember(t *testing.T) {
	b, runs := stack()
	w := newWorld(t, runs, b)
	w.polls(10)
	all := b.links
	b.links = b.links[:2]
	b.stacked("FQ-A", "")
	w.ask = true
	w.polls(5)
	require.Empty(t, w.tracker.Snapshot().Faults)
	require.Equal(t, Unknown, w.state("R2/1"))
	require.Equal(t, Healthy, w.state("R1/1"))
	require.Empty(t, w.view("stk").Suspended)
	require.Equal(t, "member FQ-B (position 2) is gone", w.tracker.Snapshot().Moves[0].What)
	w.ask = true
	w.polls(10)
	require.Len(t, w.tracker.Snapshot().Moves, 1, "told once")

	b.links = all
	b.stacked("FQ-A", "FQ-B")
	w.ask = true
	w.polls(3)
	require.Empty(t, w.view("stk").Suspended)
	require.Equal(t, Healthy, w.state("R2/1"))

	b.links = all[:2]
	b.stacked("FQ-A", "")
	w.ask = true
	w.polls(10)
	b.links = all
	b.stacked("FQ-A", "FQ-C")
	w.ask = true
	w.polls(3)
	require.Contains(t, w.view("stk").Suspended, "serial FQ-B before, FQ-C now", "remembered while it was gone")
	require.Equal(t, []string{"R1/1", "R1/2"}, w.joined("stk"))
}

// RFC 6933 lets an agent give an empty serial; others give one text for all
// (common practice, no source). The engine id is then the switch's identity.
func TestSerialsThatTellNothing(t *testing.T) {
	for _, serial := range []string{"", "0", "N/A", "00000000", "Unknown", "123456"} {
		t.Run(serial, func(t *testing.T) {
			b, runs := stack()
			b.stacked(serial, serial)
			b.engine = "80001f880401"
			w := newWorld(t, runs, b)
			w.polls(10)
			require.Empty(t, w.view("stk").Suspended)
			require.Len(t, w.joined("stk"), 4)
			b.links = b.links[:3]
			b.engine, w.ask = "80001f880499", true
			w.polls(2)
			require.Contains(t, w.view("stk").Suspended, "engine id 80001f880401 before, 80001f880499 now")
		})
	}
}
