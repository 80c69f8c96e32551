package fault

import (
	"regexp"
	"strconv"
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/sequential"
	"toneout/internal/standards"
)

// Settings are what a Tracker needs of the configuration.
type Settings struct {
	Switches           []SwitchSettings
	Labels             *regexp.Regexp // finds a run's id in a description, group "run"; nil for none
	PollEvery          time.Duration
	FalseAlarmsPerWeek float64 // in the whole plant
}

// SwitchSettings names one switch to watch.
type SwitchSettings struct{ Name, Address, Space string }

// Tracker owns the state of every port. It is for one goroutine.
type Tracker struct {
	plant    *plant.Plant
	settings Settings
	switches map[string]*switchState
	joined   *plant.Joined
	joinedAt time.Time
	stale    bool                // whether what the switches show changed since the join
	open     map[*portState]bool // ports with an open condition
	at       time.Time
}

// switchState is one switch, the view last given of it and its ports' states.
type switchState struct {
	view  *Switch
	order []*portState // as the switch lists them
	ports map[string]*portState
}

// NewTracker makes a tracker that has heard of no switch yet.
func NewTracker(p *plant.Plant, s Settings) *Tracker {
	t := &Tracker{plant: p, settings: s, switches: make(map[string]*switchState, len(s.Switches)), open: map[*portState]bool{}, stale: true}
	for _, sw := range s.Switches {
		t.switches[sw.Name] = &switchState{
			view:  &Switch{Name: sw.Name, Address: sw.Address, Space: sw.Space},
			ports: make(map[string]*portState),
		}
	}
	t.join(time.Time{})
	return t
}

// Answered takes what a switch of the settings answered in one poll.
func (t *Tracker) Answered(name string, poll port.Poll) *Snapshot {
	t.at = poll.At
	s := t.switches[name]
	changed, gone := s.absorb(name, poll.Ports)
	t.stale = t.stale || changed
	for _, p := range gone {
		delete(t.open, p)
	}
	view := *s.view
	view.Tried, view.Silent, view.Problem, view.Class = true, 0, "", ""
	view.LastTry, view.LastAnswer = poll.At, poll.At
	view.SystemName, view.Uptime, view.Tables = poll.Name, poll.Uptime, poll.Tables
	s.view = &view
	t.join(poll.At)

	threshold := sequential.Threshold(t.portCount(), t.settings.PollEvery, t.settings.FalseAlarmsPerWeek)
	for _, p := range s.order {
		if p.fresh != nil {
			run := t.runOf(p)
			p.observe(p.fresh, run, t.mediumOf(run), threshold)
			p.fresh = nil
			t.note(p)
		}
	}
	t.show(s)
	return t.snapshot()
}

// note keeps the ports with an open condition at hand, since they are few.
func (t *Tracker) note(p *portState) {
	if p.slow.open || p.errors.detector.Open() {
		t.open[p] = true
	} else {
		delete(t.open, p)
	}
}

// Failed takes that a switch did not answer a poll, or not usably, with the
// class of the error.
func (t *Tracker) Failed(name string, at time.Time, class string, err error) *Snapshot {
	t.at = at
	s := t.switches[name]
	view := *s.view
	view.Tried, view.LastTry = true, at
	view.Silent++
	view.Problem, view.Class = err.Error(), class
	s.view = &view
	t.join(at)
	return t.snapshot()
}

// Snapshot gives the state as of the last poll.
func (t *Tracker) Snapshot() *Snapshot { return t.snapshot() }

// absorb hands each physical port its reading, and drops the ports that the
// switch has not shown for 3 polls. It tells whether the ports or what is
// written on them changed, and which are gone.
func (s *switchState) absorb(name string, readings []port.Reading) (changed bool, gone []*portState) {
	var order []*portState
	for i := range readings {
		r := &readings[i]
		if !r.Physical() {
			continue
		}
		id := identity(r)
		p := s.ports[id]
		if p == nil {
			p = &portState{ref: plant.PortRef{Switch: name, Port: id}}
			s.ports[id] = p
			changed = true
		}
		if p.fresh != nil {
			continue // two rows of one name: the first holds
		}
		changed = changed || p.last == nil || relabelled(p.last, r)
		p.fresh, p.missed = r, 0
		order = append(order, p)
	}
	for _, p := range s.order {
		if p.fresh != nil {
			continue
		}
		if p.missed++; p.missed < silentPolls {
			order = append(order, p)
			continue
		}
		delete(s.ports, p.ref.Port)
		gone = append(gone, p)
	}
	s.order = order
	return changed || len(gone) > 0, gone
}

// identity is the name a port is known by: its ifName, which survives a
// renumbering, else the best the switch gives.
func identity(r *port.Reading) string {
	switch {
	case r.Name != "":
		return r.Name
	case r.Description != "":
		return r.Description
	}
	return strconv.Itoa(r.Index)
}

func relabelled(before, now *port.Reading) bool {
	return before.Index != now.Index || before.Alias != now.Alias || before.Description != now.Description
}

// join joins ports and runs anew where the ports changed: at once when every
// switch was tried, and until then not more often than four times a polling
// interval, since a start brings as many changes as there are switches.
func (t *Tracker) join(at time.Time) {
	if !t.stale || !t.joinedAt.IsZero() && !t.allTried() && at.Sub(t.joinedAt) < t.settings.PollEvery/4 {
		return
	}
	var seen []plant.SeenPort
	names := make([]string, len(t.settings.Switches))
	for i, sw := range t.settings.Switches {
		names[i] = sw.Name
		for _, p := range t.switches[sw.Name].order {
			seen = append(seen, p.seen())
		}
	}
	t.joined = t.plant.Join(seen, names, t.settings.Labels)
	t.joinedAt, t.stale = at, false
	for _, s := range t.switches {
		if len(s.order) > 0 {
			t.show(s)
		}
	}
}

func (t *Tracker) allTried() bool {
	for _, s := range t.switches {
		if !s.view.Tried {
			return false
		}
	}
	return true
}

func (t *Tracker) portCount() int {
	n := 0
	for _, s := range t.switches {
		n += len(s.order)
	}
	return n
}

// runOf is the run a port belongs to, nil where it has none.
func (t *Tracker) runOf(p *portState) *plant.Run {
	run, _, _ := t.joined.RunAt(p.ref)
	return run
}

// mediumOf is the medium of a run's cable by the record, "" where it does not
// say. The parts of a run in several segments share their medium.
func (t *Tracker) mediumOf(run *plant.Run) standards.Medium {
	if run == nil {
		return ""
	}
	id := run.Cable
	if len(run.Segments) > 0 {
		id = run.Segments[0].Cable
	}
	if cable := t.plant.Cable(id); cable != nil {
		return cable.Media
	}
	return ""
}
