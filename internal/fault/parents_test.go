package fault

import (
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
)

// dead lets switches fall silent.
func dead(boxes ...*box) {
	for _, b := range boxes {
		b.class = "no-answer"
	}
}

// told are the switches that people are told of, hidden those behind another.
func (w *world) told() (told []string, behind map[string]string) {
	behind = map[string]string{}
	for _, sw := range w.tracker.Snapshot().Switches {
		if sw.Told() {
			told = append(told, sw.Name)
		}
		if sw.Behind != "" {
			require.True(w.t, sw.Unread())
			require.False(w.t, sw.Told())
			behind[sw.Name] = sw.Behind
		}
	}
	return told, behind
}

func TestWhichSilentSwitchIsTold(t *testing.T) {
	make5 := func() (core, d, x, y, z *box) {
		return boxed("core", 8), boxed("d", 8), boxed("x", 8), boxed("y", 8), boxed("z", 8)
	}
	rows := []struct {
		name   string
		wire   func(core, d, x, y, z *box)
		dies   func(core, d, x, y, z *box)
		told   []string
		behind map[string]string
	}{
		{"a star: the distribution switch dies", func(core, d, x, y, z *box) {
			cable(core, "1/1", d, "1/1")
			cable(d, "1/2", x, "1/1")
			cable(d, "1/3", y, "1/1")
			cable(d, "1/4", z, "1/1")
		}, func(core, d, x, y, z *box) { dead(d, x, y, z) },
			[]string{"d"}, map[string]string{"x": "d", "y": "d", "z": "d"}},
		{"a star: one at its edge dies", func(core, d, x, y, z *box) {
			cable(core, "1/1", d, "1/1")
			cable(d, "1/2", x, "1/1")
			cable(d, "1/3", y, "1/1")
			cable(d, "1/4", z, "1/1")
		}, func(core, d, x, y, z *box) { dead(y) }, []string{"y"}, map[string]string{}},
		{"a chain", func(core, d, x, y, z *box) {
			cable(core, "1/1", d, "1/1")
			cable(d, "1/2", x, "1/1")
			cable(x, "1/2", y, "1/1")
			cable(y, "1/2", z, "1/1")
		}, func(core, d, x, y, z *box) { dead(x, y, z) }, []string{"x"}, map[string]string{"y": "x", "z": "x"}},
		{"one with two ways, of which one lives", func(core, d, x, y, z *box) {
			cable(core, "1/1", d, "1/1")
			cable(core, "1/2", x, "1/1")
			cable(d, "1/2", y, "1/1")
			cable(x, "1/2", y, "1/2")
			cable(d, "1/3", z, "1/1")
		}, func(core, d, x, y, z *box) { dead(d, z) }, []string{"d"}, map[string]string{"z": "d"}},
		{"one with two ways, of which both are dead", func(core, d, x, y, z *box) {
			cable(core, "1/1", d, "1/1")
			cable(core, "1/2", x, "1/1")
			cable(d, "1/2", y, "1/1")
			cable(x, "1/2", y, "1/2")
		}, func(core, d, x, y, z *box) { dead(d, x, y) }, []string{"d", "x"}, map[string]string{"y": "d"}},
		{"a ring, cut at two places", func(core, d, x, y, z *box) {
			cable(core, "1/1", d, "1/1")
			cable(d, "1/2", x, "1/1")
			cable(x, "1/2", y, "1/1")
			cable(y, "1/2", z, "1/1")
			cable(z, "1/2", core, "1/2")
		}, func(core, d, x, y, z *box) { dead(d, x, y, z) },
			[]string{"d", "z"}, map[string]string{"x": "d", "y": "z"}},
		{"everything: the one with most links", func(core, d, x, y, z *box) {
			cable(core, "1/1", d, "1/1")
			cable(d, "1/2", x, "1/1")
			cable(d, "1/3", y, "1/1")
			cable(core, "1/2", z, "1/1")
		}, func(core, d, x, y, z *box) { dead(core, d, x, y, z) },
			[]string{"d"}, map[string]string{"core": "d", "x": "d", "y": "d", "z": "d"}},
		{"two that hang together with nothing else", func(core, d, x, y, z *box) {
			cable(x, "1/1", y, "1/1")
		}, func(core, d, x, y, z *box) { dead(x, y, z) }, []string{"x", "z"}, map[string]string{"y": "x"}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			core, d, x, y, z := make5()
			row.wire(core, d, x, y, z)
			w := newWorld(t, nil, z, y, x, d, core) // those behind are polled first
			w.polls(6)
			row.dies(core, d, x, y, z)
			w.polls(20) // neighbours that answer forget the silent ones meanwhile
			told, behind := w.told()
			require.ElementsMatch(t, row.told, told)
			require.Equal(t, row.behind, behind)
		})
	}
}

func TestADeadDistributionSwitchIsNeverMoreThanOneAlert(t *testing.T) {
	core, d := boxed("core", 2), boxed("d", 6)
	cable(core, "1/1", d, "1/1")
	access := []*box{boxed("a1", 2), boxed("a2", 2), boxed("a3", 2), boxed("a4", 2)}
	for i, a := range access {
		cable(d, []string{"1/2", "1/3", "1/4", "1/5"}[i], a, "1/1")
	}
	w := newWorld(t, nil, append(access, d, core)...)
	w.polls(6)
	dead(access...) // d dies after it was polled, so that the others are missed first
	w.now = w.now.Add(every)
	for _, a := range access {
		w.poll(a)
	}
	w.poll(d)
	d.class = "no-answer"
	core.hearsNobody("1/1")
	for range 10 {
		told, _ := w.told()
		require.Subset(t, []string{"d"}, told)
		w.polls(1)
	}
	told, behind := w.told()
	require.Equal(t, []string{"d"}, told)
	require.Len(t, behind, 4)
	for _, a := range access {
		require.False(t, w.view(a.name).Answering(), "what is behind is unknown")
	}

	for _, b := range append(access, d) {
		b.class = ""
	}
	w.now = w.now.Add(every)
	w.poll(d)
	told, _ = w.told()
	require.Empty(t, told, "those below it are asked a moment later")
	w.polls(1)
	told, behind = w.told()
	require.Empty(t, told)
	require.Empty(t, behind)
}

func TestWhenASilentSwitchIsTold(t *testing.T) {
	core, a, lone := boxed("core", 2), boxed("a", 2), boxed("lone", 2)
	cable(core, "1/1", a, "1/1")
	w := newWorld(t, nil, a, core, lone)
	w.polls(6)
	dead(a, lone)
	w.polls(2)
	w.now = w.now.Add(every)
	w.poll(a)
	require.True(t, w.view("a").Unread())
	require.False(t, w.view("a").Told(), "core was not heard since")
	w.now = w.now.Add(1)
	w.poll(core)
	require.True(t, w.view("a").Told())
	w.poll(lone)
	require.True(t, w.view("lone").Told(), "nothing is known that could hide it")
}

func TestASwitchThatRefusesCredentialsIsNotSilent(t *testing.T) {
	core, d, a := boxed("core", 2), boxed("d", 2), boxed("a", 2)
	cable(core, "1/1", d, "1/1")
	cable(d, "1/2", a, "1/1")
	w := newWorld(t, nil, core, d, a)
	w.polls(6)
	d.class = credentialsClass
	dead(a)
	w.polls(10)
	told, behind := w.told()
	require.Equal(t, []string{"a"}, told, "d answers, so it hides nothing")
	require.Empty(t, behind)
	require.True(t, w.view("d").RefusesCredentials())
}

// Switches that never answered hang together by the record alone.
func TestParentsByTheRecord(t *testing.T) {
	core, d, a := boxed("core", 2), boxed("d", 2), boxed("a", 2)
	runs := []*plant.Run{
		{ID: "U1", Switch: "d", Port: "1/1", FarSwitch: "core", FarPort: "1/1"},
		{ID: "U2", Switch: "a", Port: "1/1", FarSwitch: "d", FarPort: "1/2"},
	}
	w := newWorld(t, runs, a, d, core)
	dead(a, d)
	w.polls(6)
	told, behind := w.told()
	require.Equal(t, []string{"d"}, told)
	require.Equal(t, map[string]string{"a": "d"}, behind)
}
