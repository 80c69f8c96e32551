package fault

import (
	"maps"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
)

// passing wires acc 1/4 - 1/1 dist 1/2 - 1/1 core; a device at acc 1/1.
func passing() (acc, dist, core *box, runs []*plant.Run) {
	acc, dist, core = boxed("acc", 4), boxed("dist", 4), boxed("core", 4)
	cable(acc, "1/4", dist, "1/1")
	cable(dist, "1/2", core, "1/1")
	runs = []*plant.Run{
		{ID: "W", Switch: "acc", Port: "1/1", Cable: "horizontal-6a"},
		{ID: "U1", Switch: "acc", Port: "1/4", FarSwitch: "dist", FarPort: "1/1", Cable: "riser-om4"},
		{ID: "U2", Switch: "dist", Port: "1/2", FarSwitch: "core", FarPort: "1/1", Cable: "riser-om4"},
	}
	return acc, dist, core, runs
}

// alarmed are the runs that somebody was told of within so many polls.
func (w *world) alarmed(polls int) map[string]bool {
	told := map[string]bool{}
	for range polls {
		for _, f := range w.polls(1).Faults {
			if f.Alarm {
				told[f.Run+" "+string(f.Kind)] = true
			}
		}
	}
	return told
}

func TestFramesPassedOnDamagedAreBlamedOnTheFirstPort(t *testing.T) {
	for _, rate := range []float64{8, 300, 20_000} {
		for _, order := range []string{"from the device up", "from the core down"} {
			acc, dist, core, runs := passing()
			boxes := []*box{acc, dist, core}
			if order == "from the core down" {
				boxes = []*box{core, dist, acc}
			}
			w := newWorld(t, runs, boxes...)
			w.polls(12)
			acc.link("1/1").errored, dist.link("1/1").errored, core.link("1/1").errored = rate, rate, rate
			require.Equal(t, map[string]bool{"W frame-errors": true}, w.alarmed(120), "%v frames a poll, polled %s", rate, order)
			for _, id := range []string{"U1", "U2"} {
				f := w.tracker.Snapshot().FaultsOf(id)[0]
				require.True(t, f.Quiet)
				require.Equal(t, UpstreamErrors, f.Cause())
				require.Equal(t, PassedOn, f.Guards[0].Name)
				require.Contains(t, f.Guards[0].Says, "acc port 1/1 received about as many damaged frames")
			}
		}
	}
}

// What was found stands when the damage ends, and while a switch on the way is
// silent.
func TestWhatWasPassedOnStaysSo(t *testing.T) {
	acc, dist, core, runs := passing()
	w := newWorld(t, runs, acc, dist, core)
	w.polls(12)
	for _, l := range []*link{acc.link("1/1"), dist.link("1/1"), core.link("1/1")} {
		l.errored = 40
	}
	want := map[string]bool{"W frame-errors": true}
	require.Equal(t, want, w.alarmed(60))
	dead(dist)
	require.Equal(t, want, w.alarmed(2))
	dist.class = ""
	require.Equal(t, want, w.alarmed(10))
	for _, l := range []*link{acc.link("1/1"), dist.link("1/1"), core.link("1/1")} {
		l.errored = 0
	}
	require.Subset(t, want, w.alarmed(600))
	require.Empty(t, w.tracker.Snapshot().Faults)
}

func TestDamageOfItsOwnIsBlamedOnTheCableBetween(t *testing.T) {
	rows := []struct {
		name                string
		device, first, next float64 // damaged frames a poll at acc 1/1, dist 1/1, core 1/1
		want                map[string]bool
	}{
		{"the uplink alone", 0, 40, 40, map[string]bool{"U1 frame-errors": true}},
		{"the device damages a third as many", 15, 45, 0, map[string]bool{"W frame-errors": true, "U1 frame-errors": true}},
		{"both damage", 40, 80, 80, map[string]bool{"W frame-errors": true, "U1 frame-errors": true}},
		{"the next uplink alone", 0, 0, 40, map[string]bool{"U2 frame-errors": true}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			acc, dist, core, runs := passing()
			w := newWorld(t, runs, acc, dist, core)
			w.polls(12)
			acc.link("1/1").errored, dist.link("1/1").errored, core.link("1/1").errored = row.device, row.first, row.next
			require.Equal(t, row.want, w.alarmed(60))
		})
	}
}

// Where each of three switches in a ring seems to have its damaged frames from
// the one before, nobody can tell which is first: all are told.
func TestARingBlamesNobodyAway(t *testing.T) {
	a, b, c := boxed("a", 4), boxed("b", 4), boxed("c", 4)
	cable(a, "1/1", b, "1/2")
	cable(b, "1/1", c, "1/2")
	cable(c, "1/1", a, "1/2")
	w := newWorld(t, nil, a, b, c)
	w.polls(12)
	for _, x := range []*box{a, b, c} {
		x.link("1/2").errored = 50
	}
	w.polls(60)
	loud := 0
	for _, f := range w.tracker.Snapshot().Faults {
		if f.Alarm {
			loud++
		}
	}
	require.Equal(t, 3, loud)
}

// A frame or two an hour that a switch passes on damaged are fewer than agree in any
// hour; in a day they do.
func TestATrickleThatWasPassedOn(t *testing.T) {
	for _, row := range []struct {
		name string
		own  float64 // frames a poll that the uplink damages itself
		told map[string]bool
	}{
		{"all of it", 0, map[string]bool{"W frame-errors": true}},
		{"a third of it", 0.06, map[string]bool{"W frame-errors": true, "U1 frame-errors": true}},
	} {
		t.Run(row.name, func(t *testing.T) {
			acc, dist, core, runs := passing()
			w := newWorld(t, runs, acc, dist, core)
			w.polls(12)
			random, told := rand.New(rand.NewPCG(1, 2)), map[string]bool{}
			for i := range 9 * 24 * 60 {
				if i == 8*24*60 { // from which on all is counted from 0
					w.restart()
				}
				var desk, own uint64
				if random.Float64() < 0.03 {
					desk = 1
				}
				if random.Float64() < row.own {
					own = 1
				}
				acc.link("1/1").bad += desk
				dist.link("1/1").bad += desk + own
				core.link("1/1").bad += desk + own
				maps.Copy(told, w.alarmed(1))
			}
			require.Equal(t, row.told, told)
		})
	}
}
