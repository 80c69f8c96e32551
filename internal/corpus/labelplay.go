package corpus

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"time"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/standards"
)

// Told is what was told of one port and kind in a play: the fault as last told.
type Told struct {
	fault.Fault
	First, Last time.Duration // looks that found it open
	Alarmed     bool          // at any time, on its own or folded under a shared cause
	States      []State       // all that it was weighed by, in time, each once
	Now         int           // of these
}

// State is what a fault was weighed by at some time, and whether it alarmed then.
type State struct {
	*fault.Weighed
	From    time.Duration
	Cause   fault.Cause
	Alarmed bool
}

// enter takes what a fault is weighed by now.
func (t *Told) enter(f *fault.Fault, at time.Duration) {
	now := State{f.Weighed(), at, f.Cause(), f.Alarm || f.SharedCause != ""}
	if len(t.States) > 0 && t.States[t.Now].Weighed == now.Weighed && t.States[t.Now].Alarmed == now.Alarmed {
		return // not judged anew
	}
	for i := len(t.States) - 1; i >= 0; i-- {
		s := &t.States[i]
		if s.Cause == now.Cause && s.Alarmed == now.Alarmed && alike(s.Weighed, now.Weighed) {
			t.Now = i
			return
		}
	}
	t.Now = len(t.States)
	t.States = append(t.States, now)
}

// alike tells whether two were weighed by the same.
func alike(a, b *fault.Weighed) bool {
	return a == b || a.Of == b.Of && a.Before == b.Before && a.Named == b.Named && a.Blamed == b.Blamed &&
		slices.Equal(a.Seen, b.Seen) && slices.Equal(a.Record, b.Record) && maps.Equal(a.Repaired, b.Repaired)
}

// Asker asks a switch. What it answers is as of now.
type Asker func(now time.Time) (port.Poll, error)

// Lacks are what a play can go without, to see what each is worth.
var Lacks = []string{"record", "far end", "light"}

// Without takes one of Lacks out of the play: all of the record but which run is
// where and what it is for, the switch at the far ends, or what optics tell of light
// to Readings.
func (l *Labelled) Without(what string) {
	if l.lacks == nil {
		l.lacks = map[string]bool{}
	}
	l.lacks[what] = true
	if what != "record" {
		return
	}
	for _, s := range l.site.spots {
		s.recorded = false // and no tests
	}
	for _, row := range l.records {
		maps.DeleteFunc(row, func(key, _ string) bool { return !slices.Contains(bareRecord, key) })
	}
}

var bareRecord = []string{"id", "switch", "port", "far_switch", "far_port", "cable", "design_speed", "always_on"}

// Play plays a labelled plant through a tracker, which asks its switches by what open
// gives, and gives all that was told.
func (l *Labelled) Play(inventory *plant.Plant, open func(*sim.Switch) Asker) []*Told {
	settings := fault.Settings{PollEvery: l.ClosePoll, SlowEvery: slowClose, FalseAlarmsPerWeek: 1, Labels: regexp.MustCompile(`^(?P<run>[A-Z0-9-]+)`)}
	var switches []*sim.Switch
	var askers []Asker
	for _, sw := range l.Stage.Campus.Switches() {
		if sw.Name != unpolled && (sw.Name != farSwitch || !l.lacks["far end"]) {
			switches, askers = append(switches, sw), append(askers, open(sw))
			settings.Switches = append(settings.Switches, fault.SwitchSettings{Name: sw.Name, Space: sw.Space})
		}
	}
	tracker := fault.NewTracker(inventory, settings)
	witness := newWitness(l)
	told := map[string]*Told{}
	var all []*Told
	l.Stage.Pass(l.Stage.begin) // what was there before anybody looked has settled when somebody does
	for at := settleTime; at <= playEnds; at += l.pace(at) {
		for i, sw := range switches {
			now := l.Stage.begin.Add(at + time.Duration(i)*l.ClosePoll/time.Duration(len(switches)))
			l.Stage.Pass(now)
			poll, err := askers[i](now)
			if err != nil {
				tracker.Failed(sw.Name, now, "no answer", err)
				continue
			}
			witness.see(sw.Name, &poll)
			snap := tracker.Answered(sw.Name, poll)
			if i == len(switches)-1 {
				all = append(all, see(told, snap, at)...)
			}
		}
	}
	for _, label := range l.Labels {
		if !label.LookAlike {
			label.Unseen = witness.unseen(label)
		}
	}
	return all
}

// pace gives the time to the next poll, and sets the model's step.
func (l *Labelled) pace(at time.Duration) time.Duration {
	if at < firstHour-settleTime {
		return l.QuietPoll
	}
	l.Stage.Campus.Step = closeStep
	return l.ClosePoll
}

// forgets is after how long of not being told a thing is another one.
const forgets = 20 * time.Minute

// see takes one look, and gives what was not told before.
func see(told map[string]*Told, snap *fault.Snapshot, at time.Duration) (anew []*Told) {
	for _, f := range snap.Faults {
		key := fmt.Sprint(f.Switch, " ", f.Port, " ", f.Run, " ", f.Kind)
		one := told[key]
		if one == nil || at-one.Last > forgets {
			one = &Told{First: at}
			told[key] = one
			anew = append(anew, one)
		}
		one.Fault, one.Last, one.Alarmed = *f, at, one.Alarmed || f.Alarm || f.SharedCause != ""
		one.enter(f, at)
	}
	return anew
}

// Readings opens switches without a network.
func (l *Labelled) Readings(sw *sim.Switch) Asker {
	r := &reader{stage: l.Stage, sw: sw, slowEvery: slowQuiet}
	v := veil{hidden: l.site.hides[sw.Name]}
	if l.lacks["light"] {
		v.hidden = append(v.hidden[:len(v.hidden):len(v.hidden)], "sensors")
	}
	return func(now time.Time) (port.Poll, error) {
		if now.Sub(l.Stage.begin) > firstHour {
			r.slowEvery = slowClose
		}
		poll := r.poll(now)
		v.over(&poll)
		return poll, nil
	}
}

// veil takes out of a switch's polls what it does not show.
type veil struct {
	hidden       []string
	told, veiled *port.Details
}

func (v *veil) hides(table string) bool { return slices.Contains(v.hidden, table) }

func (v *veil) over(poll *port.Poll) {
	if len(v.hidden) == 0 {
		return
	}
	for i := range poll.Ports {
		r := &poll.Ports[i]
		if v.hides("mau") {
			r.MAU = 0
		}
		if v.hides("mau") || v.hides("autoneg") {
			r.AutoNeg = port.AutoNegotiation{}
		}
		if v.hides("dot3") {
			r.DuplexStatus = standards.DuplexUnknown
			r.Counters = withoutDot3(&r.Counters)
		}
	}
	if poll.Details != v.told {
		v.told, v.veiled = poll.Details, v.details(poll.Details)
	}
	poll.Details = v.veiled
}

func (v *veil) details(d *port.Details) *port.Details {
	out := *d
	if v.hides("lldp") {
		out.Neighbours = nil
	}
	if v.hides("poe") {
		out.Power = nil
	}
	if v.hides("sensors") {
		out.Optics = nil
	}
	return &out
}

// withoutDot3 keeps what IF-MIB counts.
func withoutDot3(c *port.Counters) (out port.Counters) {
	for _, k := range []port.Counter{
		port.InOctets, port.InUnicast, port.InMulticast, port.InBroadcast, port.OutOctets, port.OutUnicast, port.OutMulticast, port.OutBroadcast,
	} {
		if v, ok := c.Get(k); ok {
			out.Set64(k, v)
		}
	}
	for _, k := range []port.Counter{port.InErrors, port.OutErrors, port.MediaExits} {
		if v, ok := c.Get(k); ok {
			out.Set32(k, uint32(v))
		}
	}
	return out
}

// ports are the ends of a run.
func (l *Label) ports() []string {
	return slices.DeleteFunc([]string{l.Near, l.Far}, func(s string) bool { return s == "" || strings.HasPrefix(s, unpolled) })
}
