package corpus

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"toneout/internal/sim"
)

// Event is something that happens to runs or switches. One that lasts For is
// undone afterwards; with Every and Times it comes again; with Apart it
// reaches one after the other of what it happens to.
type Event struct {
	At    time.Duration `yaml:"at"`
	For   time.Duration `yaml:"for"`
	Every time.Duration `yaml:"every"`
	Times int           `yaml:"times"`
	Apart time.Duration `yaml:"apart"`

	On       names `yaml:"on"`       // runs; "P1-*" is all whose ids begin so, "*" all
	Switches names `yaml:"switches"` // likewise

	// To runs.
	OpenPairs  []sim.Pair `yaml:"open_pairs"`
	BERToA     float64    `yaml:"ber_to_a"` // bit error ratio of what the switch in `at` receives
	BERToB     float64    `yaml:"ber_to_b"` // of what the other end receives
	Rattle     *rattle    `yaml:"rattle"`   // a loose plug
	Unplugged  bool       `yaml:"unplugged"`
	Off        bool       `yaml:"off"`         // the device has no power
	Asleep     int        `yaml:"asleep"`      // the device sleeps at so many Mb/s
	Forced     int        `yaml:"forced"`      // the device is set to so many Mb/s, full duplex, without negotiation
	ForcedPort int        `yaml:"forced_port"` // the switch's port in `at` is, likewise
	Offers     []int      `yaml:"offers"`      // the switch's port is set to offer only these Mb/s
	Shut       bool       `yaml:"shut"`        // the switch's port is

	Reboot    bool    `yaml:"reboot"`    // the device is started anew
	Leak      *leak   `yaml:"leak"`      // a short or water in the cable, which trips the power over its pairs
	LossToA   float64 `yaml:"loss_to_a"` // dB more on the strand whose light the switch in `at` receives
	LossToB   float64 `yaml:"loss_to_b"`
	BrokenToA bool    `yaml:"broken_to_a"` // that strand is
	BrokenToB bool    `yaml:"broken_to_b"`
	DimmedA   float64 `yaml:"dimmed_a"` // dB that the optic of the switch in `at` sends less; below 0 more
	Pulled    bool    `yaml:"pulled"`   // that optic is taken out; undone by another of its kind

	// To switches.
	Dead     bool     `yaml:"dead"` // it has no power
	Lost     int      `yaml:"lost"` // this member of the stack is
	Restart  bool     `yaml:"restart"`
	Cleared  bool     `yaml:"cleared"`  // its counters are
	Hide     []string `yaml:"hide"`     // tables, as in sim.SwitchPlan
	Renumber int      `yaml:"renumber"` // by how much every ifIndex moves
	Moves    int      `yaml:"moves"`    // so often two of its cords change places within an hour, and no record with them
}

type rattle struct {
	Mean time.Duration `yaml:"mean"` // between losses of the link
	BER  float64       `yaml:"ber"`  // while contact fails
}

type leak struct {
	Mean     time.Duration `yaml:"mean"`     // between two trips; 0 is whenever power is tried
	Overload bool          `yaml:"overload"` // it draws too much rather than shorts
}

// action is one change at one moment.
type action struct {
	at time.Duration
	do func(now time.Time)
}

var pairs = []sim.Pair{sim.Pair12, sim.Pair36, sim.Pair45, sim.Pair78}

// actions are all that an event does, undoing included.
func (e *Event) actions(s *Stage) (all []action, err error) {
	for _, pair := range e.OpenPairs {
		if !slices.Contains(pairs, pair) {
			return nil, fmt.Errorf("the event at %v opens %q, which is none of %v", e.At, pair, pairs)
		}
	}
	for again := range max(e.Times, 1) {
		at := e.At + time.Duration(again)*e.Every
		cables, err := s.cables(e.On)
		if err != nil {
			return nil, err
		}
		for i, cable := range cables {
			moment := at + time.Duration(i)*e.Apart
			all = append(all, e.during(moment, s.inCampus(func() []undo { return e.toCable(cable) }))...)
			if e.Pulled {
				all = append(all, e.during(moment, func(now time.Time) func(time.Time) { return pull(cable.A, now) })...)
			}
		}
		switches, err := s.switches(e.Switches)
		if err != nil {
			return nil, err
		}
		if e.Moves > 0 {
			all = append(all, action{at, func(now time.Time) { s.Campus.PatchEvening(now, e.Moves, switches...) }})
		}
		for i, sw := range switches {
			all = append(all, e.during(at+time.Duration(i)*e.Apart, func(now time.Time) func(time.Time) { return e.toSwitch(sw, now) })...)
		}
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("the event at %v is on nothing", e.At)
	}
	return all, nil
}

// during makes the actions of doing something, and of undoing it where the
// event does not stay.
func (e *Event) during(at time.Duration, do func(now time.Time) (undo func(time.Time))) []action {
	back := func(time.Time) {}
	out := []action{{at, func(now time.Time) { back = do(now) }}}
	if e.For > 0 {
		out = append(out, action{at + e.For, func(now time.Time) { back(now) }})
	}
	return out
}

type undo = func()

// set sets a field and gives what sets it back.
func set[T any](field *T, value T) undo {
	before := *field
	*field = value
	return func() { *field = before }
}

// inCampus makes changes with nobody looking.
func (s *Stage) inCampus(change func() []undo) func(time.Time) func(time.Time) {
	return func(now time.Time) func(time.Time) {
		var undoing []undo
		s.Campus.Do(now, func() { undoing = change() })
		if len(undoing) == 0 {
			panic(fmt.Sprintf("scenario: an event %v after the start does nothing to its run", now.Sub(s.begin)))
		}
		return func(now time.Time) {
			s.Campus.Do(now, func() {
				for _, back := range slices.Backward(undoing) {
					back()
				}
			})
		}
	}
}

func (e *Event) toCable(c *sim.Cable) (undoing []undo) {
	note := func(condition bool, change func() undo) {
		if condition {
			undoing = append(undoing, change())
		}
	}
	note(len(e.OpenPairs) > 0, func() undo { return set(&c.Open, e.OpenPairs) })
	note(e.BERToA > 0, func() undo { return set(&c.BERToA, e.BERToA) })
	note(e.BERToB > 0, func() undo { return set(&c.BERToB, e.BERToB) })
	note(e.Rattle != nil, func() undo { return set(&c.Rattle, &sim.Rattle{Mean: e.Rattle.Mean, BER: e.Rattle.BER}) })
	note(e.Shut, func() undo { return set(&c.A.Shut, true) })
	note(e.Offers != nil, func() undo { return set(&c.A.Advertised, e.Offers) })
	note(e.Leak != nil, func() undo { return set(&c.Leak, &sim.Leak{Mean: e.Leak.Mean, Overload: e.Leak.Overload}) })
	note(e.LossToA > 0, func() undo { return set(&c.LossToA, c.LossToA+e.LossToA) })
	note(e.LossToB > 0, func() undo { return set(&c.LossToB, c.LossToB+e.LossToB) })
	note(e.BrokenToA, func() undo { return set(&c.BrokenToA, true) })
	note(e.BrokenToB, func() undo { return set(&c.BrokenToB, true) })
	note(e.DimmedA != 0, func() undo { m := c.A.Module(); return set(&m.SentDBm, m.SentDBm-e.DimmedA) })
	note(e.Pulled, func() undo { return func() {} }) // see pull
	note(e.Reboot && c.Device != nil, func() undo { c.Reboot(); return func() {} })
	note(e.Unplugged && c.B != nil, func() undo { return set(&c.B, nil) })
	note(e.ForcedPort > 0, func() undo { return set(&c.A.Fixed, e.ForcedPort) })
	if d := c.Device; d != nil {
		note(e.Off, func() undo { return set(&d.Off, true) })
		note(e.Forced > 0, func() undo { return set(&d.Fixed, e.Forced) })
		note(e.Asleep > 0, func() undo { return set(&d.SleepSpeeds, []int{e.Asleep}) })
		note(e.Asleep > 0, func() undo { return set(&d.Asleep, sim.Schedule{Every: 1, For: 1}) }) // always
		note(e.Unplugged, func() undo { return set(&c.Device, nil) })
	}
	return undoing
}

// pull takes an optic out and gives what puts another in.
func pull(p *sim.Port, now time.Time) func(time.Time) {
	kind := p.Optic
	p.Pull(now)
	return func(now time.Time) { p.Insert(now, kind) }
}

func (e *Event) toSwitch(s *sim.Switch, now time.Time) func(time.Time) {
	back := func(time.Time) {}
	if e.Dead {
		s.Power(now, false)
		back = func(now time.Time) { s.Power(now, true) }
	}
	if e.Lost > 0 {
		s.LoseMember(now, e.Lost)
		back = func(now time.Time) { s.ReturnMember(now, e.Lost) }
	}
	if e.Restart {
		s.Restart(now)
	}
	if e.Cleared {
		s.ClearCounters(now)
	}
	if e.Renumber != 0 {
		s.Renumber(e.Renumber)
	}
	if e.Hide != nil {
		s.Hide(e.Hide...)
		back = func(time.Time) { s.Hide() }
	}
	return back
}

// chosen tells whether a name is among those of an event.
func (n names) chosen(name string) bool {
	return slices.ContainsFunc(n, func(pattern string) bool {
		stem, open := strings.CutSuffix(pattern, "*")
		return name == pattern || open && strings.HasPrefix(name, stem)
	})
}
