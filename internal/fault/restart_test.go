package fault

import (
	"bytes"
	"fmt"
	"reflect"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// lasting are scenes with an open fault of each kind.
var lasting = map[Kind]func(t *testing.T) (*scene, func(polls int) *Snapshot){
	BelowDesignSpeed: onOneLink(nil, func(s *scene, l *link) { l.fellBack() }),
	FrameErrors:      onOneLink(nil, func(s *scene, l *link) { l.errored = 200 }),
	LinkFlapping: onOneLink(nil, func(s *scene, l *link) {
		for range flapsTakeHold {
			l.blink(s, 45*time.Second)
			s.polls(2)
		}
	}),
	NoLink: onOneLink(func(r *plant.Run) { r.AlwaysOn = true }, func(s *scene, l *link) { l.away(s, time.Second) }),
	DuplexMismatch: func(t *testing.T) (*scene, func(int) *Snapshot) {
		a, b := boxed("a", 1), boxed("b", 1)
		cable(a, "1/1", b, "1/1")
		w := newWorld(t, between(a, b), a, b)
		a.links[0].hundred(hundredHalf).far = 0
		b.links[0].hundred(hundredFull).auto = port.No
		return &w.scene, w.polls
	},
	PowerFailing: func(t *testing.T) (*scene, func(int) *Snapshot) {
		a := boxed("a", 2)
		w := newWorld(t, []*plant.Run{{ID: "R", Switch: "a", Port: "1/1", Cable: "horizontal-6a", Outlet: "12"}}, a)
		a.power = map[int]port.Power{1: feeding(4, 7, 0)}
		w.polls(11)
		a.power[1] = feeding(4, 8, 0)
		return &w.scene, w.polls
	},
	LowLight:   inLight(-2.5, -12),
	ExcessLoss: inLight(-2.5, -6.5),
	HighLight:  inLight(3, 1.5),
}

// onOneLink is a scene in which something happens to a link.
func onOneLink(change func(*plant.Run), happens func(*scene, *link)) func(*testing.T) (*scene, func(int) *Snapshot) {
	return func(t *testing.T) (*scene, func(int) *Snapshot) {
		run, l := horizontal("R", "1/17"), gigabitLink("1/17")
		if change != nil {
			change(run)
		}
		s := newScene(t, []*plant.Run{run}, l)
		s.polls(5)
		happens(s, l)
		return s, s.polls
	}
}

// inLight is a fibre whose light towards b changes, by what a sends and b
// receives.
func inLight(sent, received float64) func(*testing.T) (*scene, func(int) *Snapshot) {
	return func(t *testing.T) (*scene, func(int) *Snapshot) {
		s := settled(t, nil)
		s.light(sent, -4, -2.5, received)
		return &s.scene, s.polls
	}
}

// open lets polls pass until a fault of a kind is open.
func open(t *testing.T, kind Kind, polls func(int) *Snapshot) *Fault {
	for range 30 {
		for _, f := range polls(1).Faults {
			if f.Kind == kind {
				return f
			}
		}
	}
	require.Fail(t, "no fault", "%s", kind)
	return nil
}

// A fault of any kind is the same one after a restart: nothing opens, nothing
// closes, its age stays.
func TestAFaultOfAnyKindOutlastsARestart(t *testing.T) {
	for _, kind := range Kinds {
		t.Run(string(kind), func(t *testing.T) {
			require.Contains(t, lasting, kind, "each kind wants a scene")
			s, polls := lasting[kind](t)
			was := open(t, kind, polls)
			polls(3)
			for range 3 {
				s.restart()
				for range 8 {
					snap := polls(1)
					for _, e := range snap.Events {
						require.Equal(t, Resumed, e.What, "%s: %s", e.Fault.Kind, e.Fault.Summary)
					}
					f := kindAmong(snap.Faults, kind)
					require.NotNil(t, f)
					require.Equal(t, [...]any{was.Run, was.Since, was.Alarm}, [...]any{f.Run, f.Since, f.Alarm})
				}
			}
		})
	}
}

// A switch that misses its first poll after a restart is joined a little after it
// answers: until then nobody is to think that nothing is open there.
func TestASwitchThatAnswersLateAfterARestart(t *testing.T) {
	a, b := boxed("a", 1), boxed("b", 1)
	w := newWorld(t, []*plant.Run{{ID: "R", Switch: "b", Port: "1/1", Cable: "horizontal-6a", DesignSpeed: standards.Gbps}}, a, b)
	b.links[0].fellBack()
	was := only(t, w.polls(5))
	w.restart()
	b.class = "no-answer"
	w.polls(1)
	require.False(t, w.view("b").Answering())
	b.class = ""
	w.now = w.now.Add(10*time.Second - w.every) // ports were joined just now
	snap := w.poll(b)
	require.Empty(t, snap.Faults)
	require.True(t, w.view("b").Answering())
	require.True(t, w.view("b").Unplaced)
	f := only(t, w.polls(2))
	require.Equal(t, was.Since, f.Since)
	require.False(t, w.view("b").Unplaced)
}

// fields calls visit with every field under a value, however deep, with a name
// for it.
func fields(v reflect.Value, name string, visit func(reflect.Value, string)) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			fields(v.Elem(), name, visit)
		}
	case reflect.Slice, reflect.Array:
		for i := range min(v.Len(), 2) {
			fields(v.Index(i), fmt.Sprintf("%s[%d]", name, i), visit)
		}
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			return
		}
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() {
				visit(v.Field(i), name+"."+f.Name)
				fields(v.Field(i), name+"."+f.Name, visit)
			}
		}
	}
}

// A checkpoint of an older or a newer toneout may lack any field that this one
// knows. It goes on without, whatever is missing.
func TestAnyFieldMayBeMissing(t *testing.T) {
	tried := 0
	for _, kind := range Kinds {
		s, polls := lasting[kind](t)
		open(t, kind, polls)
		file := writtenDown(t, s.tracker, s.now)
		read := func() *Checkpoint {
			c, err := ReadCheckpoint(bytes.NewReader(file))
			require.NoError(t, err)
			return c
		}
		var names []string
		fields(reflect.ValueOf(&read().switches).Elem(), "", func(v reflect.Value, name string) {
			if !v.IsZero() {
				names = append(names, name)
			}
		})
		p, settings := s.tracker.plant, s.tracker.settings
		for _, missing := range names {
			c := read()
			fields(reflect.ValueOf(&c.switches).Elem(), "", func(v reflect.Value, name string) {
				if name == missing {
					v.SetZero()
				}
			})
			s.tracker = NewTracker(p, settings)
			_, _ = s.tracker.Restore(c, s.now)
			require.NotPanics(t, func() { polls(2) }, "%s without %s", kind, missing)
			tried++
		}
	}
	require.Greater(t, tried, 200)
}

// A loss of before the restart and a link of after it say nothing of how long
// it was gone, and so nothing of what it was.
func TestALossAcrossARestart(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	s.polls(3)
	for range flapsTakeHold - 1 {
		l.blink(s, 45*time.Second)
		s.polls(1)
	}
	l.away(s, 40*time.Second)
	s.polls(1)
	s.restart()
	l.back(s, 50*time.Second) // as a restart of the device looks
	require.Empty(t, s.polls(2).Faults)
	l.blink(s, 45*time.Second)
	require.Equal(t, LinkFlapping, only(t, s.polls(1)).Kind, "the losses before are remembered")
}

func TestARenumberedPortInheritsAndAnotherRunDoesNot(t *testing.T) {
	l := gigabitLink("1/17")
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, l)
	l.fellBack()
	since := only(t, s.polls(5)).Since

	l.index = 4711 // its name is the same
	s.restart()
	f := only(t, s.polls(1))
	require.Equal(t, since, f.Since)

	other := plant.New(plant.Plant{Cables: []*plant.Cable{{ID: "horizontal-6a", Media: standards.Copper}}, Runs: []*plant.Run{horizontal("OTHER", "1/17")}})
	s.tracker = restarted(t, s.tracker, other, s.tracker.settings, s.now, s.now)
	require.Empty(t, s.polls(1).Faults, "the port now is another run's: it begins anew")
	f = only(t, s.polls(4))
	require.Equal(t, "OTHER", f.Run)
	require.True(t, f.Since.After(since))
}

// Names that shifted while nobody watched: what was at one port is at another.
func TestNamesThatShiftedMeanwhileWait(t *testing.T) {
	b := boxed("sw-1", 3)
	w := newWorld(t, []*plant.Run{horizontal("R1", "1/1"), horizontal("R2", "1/2")}, b)
	b.links[0].fellBack()
	require.Len(t, w.polls(5).Faults, 1)
	w.restart()
	for i, l := range b.links {
		l.name = fmt.Sprintf("1/%d", i) // 1/0, 1/1, 1/2
	}
	snap := w.polls(1)
	require.Contains(t, snap.Switches[0].Suspended, "sw-1 may number its ports anew")
	require.Empty(t, snap.Faults)
	require.Equal(t, Unknown, w.state("R1"))

	w.restart()
	require.NotEmpty(t, w.polls(5).Switches[0].Suspended, "until somebody looks")
	w.runs = []*plant.Run{horizontal("R1", "1/0"), horizontal("R2", "1/1")}
	w.tracker = restarted(t, w.tracker, plant.New(w.plant()), w.settings(), w.now, w.now)
	snap = w.polls(4)
	require.Empty(t, snap.Switches[0].Suspended, "the rows were put right meanwhile")
	require.Equal(t, "R1", only(t, snap).Run)
}

func TestASuspensionOutlastsARestart(t *testing.T) {
	b := boxed("sw-1", 2)
	b.units = []port.Unit{{Serial: "FQ1", Position: 1}}
	w := newWorld(t, []*plant.Run{horizontal("R", "1/1")}, b)
	w.polls(3)
	b.units = []port.Unit{{Serial: "FQ2", Position: 1}}
	w.ask = true
	why := w.polls(1).Switches[0].Suspended
	require.Contains(t, why, "serial FQ1 before, FQ2 now")
	w.restart()
	require.Equal(t, why, w.polls(1).Switches[0].Suspended)
	require.Equal(t, why, w.polls(10).Switches[0].Suspended, "it is not taken for granted with time")

	settings := w.tracker.settings
	settings.Switches[0].Serials = []string{"FQ2"}
	w.tracker = restarted(t, w.tracker, w.tracker.plant, settings, w.now, w.now)
	require.Empty(t, w.polls(2).Switches[0].Suspended, "a person confirmed it")
}

func TestAPortThatIsGoneAfterARestart(t *testing.T) {
	l, stays := gigabitLink("1/17"), gigabitLink("1/18")
	stays.index = 10102
	l.fellBack()
	s := newScene(t, []*plant.Run{horizontal("R", "1/17"), horizontal("S", "1/18")}, l, stays)
	s.polls(4)
	s.restart()
	s.links = []*link{stays}
	for range 5 {
		snap := s.polls(1)
		require.Empty(t, snap.Faults)
		require.Len(t, snap.Switches[0].Ports, 1)
		require.Equal(t, Unknown, s.state("R"))
	}
	s.links = []*link{l, stays}
	require.Empty(t, s.polls(1).Faults, "what leaves for 3 polls begins anew")
	require.Len(t, s.polls(3).Faults, 1)
}

// While a distribution switch is dead, what hangs below stays hidden behind it.
func TestADeadSwitchIsOneAlertAfterARestartToo(t *testing.T) {
	top, middle, below := boxed("top", 2), boxed("middle", 2), boxed("below", 2)
	cable(top, "1/1", middle, "1/1")
	cable(middle, "1/2", below, "1/1")
	w := newWorld(t, nil, top, middle, below)
	w.polls(6)
	middle.class, below.class = "no-answer", "no-answer"
	told := func(snap *Snapshot) (names []string) {
		for _, sw := range snap.Switches {
			if sw.Told() {
				names = append(names, sw.Name)
			}
		}
		return names
	}
	require.Equal(t, []string{"middle"}, told(w.polls(6)))
	w.restart()
	w.polls(1)
	w.restart() // and once more before they were heard
	require.Equal(t, []string{"middle"}, told(w.polls(6)))
}
