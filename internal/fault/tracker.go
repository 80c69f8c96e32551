package fault

import (
	"fmt"
	"regexp"
	"strings"
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
	index    map[string]int // by name, into the settings' switches; never changed
	untried  int            // switches not polled yet
	ports    int            // of all switches

	joined   *plant.Joined
	joinedAt time.Time
	stale    bool // whether what the switches show changed since the join

	board board // the open faults
	at    time.Time
}

// NewTracker makes a tracker that has heard of no switch yet.
func NewTracker(p *plant.Plant, s Settings) *Tracker {
	t := &Tracker{
		plant: p, settings: s, untried: len(s.Switches), stale: true, board: newBoard(),
		switches: make(map[string]*switchState, len(s.Switches)),
		index:    make(map[string]int, len(s.Switches)),
	}
	for i, sw := range s.Switches {
		t.index[sw.Name] = i
		t.switches[sw.Name] = &switchState{
			view:  &Switch{Name: sw.Name, Address: sw.Address, Space: sw.Space},
			ports: make(map[string]*portState),
		}
	}
	t.join(time.Time{}, true)
	return t
}

// Answered takes what a switch of the settings answered in one poll.
func (t *Tracker) Answered(name string, poll port.Poll) *Snapshot {
	s := t.switches[name]
	before := len(s.order)
	changed, gone := s.absorb(name, poll.Ports)
	t.ports += len(s.order) - before
	t.stale = t.stale || changed
	for _, p := range gone {
		t.board.drop(p)
	}
	view := *s.view
	view.Silent, view.Problem, view.Class = 0, "", ""
	view.LastAnswer = poll.At
	view.SystemName, view.Uptime, view.Tables = poll.Name, poll.Uptime, poll.Tables
	t.tried(s, &view, poll.At)

	threshold := sequential.Threshold(t.ports, t.settings.PollEvery, t.settings.FalseAlarmsPerWeek)
	s.refresh.Observe(poll.At, s.movement())
	span, frozen := s.refresh.Span(), s.frozen()
	for _, p := range s.order {
		p.frozen = frozen
		if p.fresh {
			p.observe(span, threshold)
			t.board.note(p)
		}
	}
	t.show(s)
	return t.Snapshot()
}

// Failed takes that a switch did not answer a poll, or not usably, with the
// class of the error.
func (t *Tracker) Failed(name string, at time.Time, class string, err error) *Snapshot {
	s := t.switches[name]
	view := *s.view
	view.Silent++
	view.Problem, view.Class = err.Error(), class
	t.tried(s, &view, at)
	return t.Snapshot()
}

// tried notes that a poll of a switch ended, and joins where that is due.
func (t *Tracker) tried(s *switchState, view *Switch, at time.Time) {
	complete := false
	if !view.Tried {
		t.untried--
		complete = t.untried == 0
	}
	view.Tried, view.LastTry = true, at
	s.view = view
	t.at = at
	t.join(at, complete)
}

// join joins ports and runs anew where the ports changed: at once when every
// switch was tried, otherwise not more often than four times a polling
// interval, since a start brings as many changes as there are switches.
func (t *Tracker) join(at time.Time, atOnce bool) {
	soon := !t.joinedAt.IsZero() && at.Sub(t.joinedAt) < t.settings.PollEvery/4
	if !t.stale || soon && !atOnce {
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
		t.assign(s)
	}
}

// assign tells each port of a switch its run.
func (t *Tracker) assign(s *switchState) {
	for _, p := range s.order {
		join, _ := t.joined.At(p.ref)
		p.belong(join, t.mediumOf(join.Run), t.passes(join.Run))
		t.board.note(p)
	}
	if len(s.order) > 0 {
		t.show(s)
	}
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

// passes tells what lies beside the pathways of a run, in words.
func (t *Tracker) passes(run *plant.Run) (words []string) {
	if run == nil {
		return nil
	}
	ids := run.Pathways
	for _, segment := range run.Segments {
		ids = append(ids[:len(ids):len(ids)], segment.Pathways...)
	}
	for _, id := range ids {
		if way := t.plant.Pathway(id); way != nil && len(way.Near) > 0 {
			words = append(words, fmt.Sprintf("beside its pathway %s: %s", id, strings.Join(way.Near, ", ")))
		}
	}
	return words
}
