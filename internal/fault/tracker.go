package fault

import (
	"fmt"
	"regexp"
	"slices"
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
	SlowEvery          time.Duration // how often details are asked; 5 minutes where 0
	FalseAlarmsPerWeek float64       // in the whole plant
	RepairProof        time.Duration // that a proof of a repair lasts at least; a day where 0
	Repaired           Repaired      // confirmed before there was this tracker; nil for none
}

// SwitchSettings names one switch to watch. Serials are those that a person
// accepted for its units, or its engine id where it tells no serials.
type SwitchSettings struct {
	Name, Address, Space string
	Serials              []string
}

// Tracker owns the state of every port. It is for one goroutine.
type Tracker struct {
	plant    *plant.Plant
	settings Settings
	switches map[string]*switchState
	order    []*switchState // as in the settings
	views    []*Switch      // likewise
	unshown  []*switchState // whose views are older than their ports' states
	index    map[string]int // by name, into both; never changed, but replaced
	untried  int            // switches not polled yet
	ports    int            // of all switches

	trunks   []*plant.Run           // runs between watched switches
	devices  map[string]bool        // devices that runs name, folded
	recorded map[plant.PortRef]bool // ports as the record names them

	names   names
	net     network
	reweigh bool // whether which switch hides which may have changed

	joined   *plant.Joined
	joinedAt time.Time
	joins    int  // how often was joined
	stale    bool // whether what the switches show changed since the join

	places places[port.ID] // where devices are heard
	labels places[string]  // where runs are named
	moves  []Move          // latest first

	proven    map[string]ConfirmedRepair // by this tracker, or by the journal; by id
	counted   Repaired                   // likewise, of which a checkpoint told no ids
	confirmed Repaired                   // both
	repaired  Repaired                   // with those of the settings
	repairs   map[string]repairNote      // that were taken, by id
	proofs    []RepairEnded              // since the last snapshot

	board   board // the open faults
	work    works
	shared  shared
	scratch []compared
	before  []port.Reading // what the ports of the switch that is judged said last
	at      time.Time
}

// NewTracker makes a tracker that has heard of no switch yet.
func NewTracker(p *plant.Plant, s Settings) *Tracker {
	t := &Tracker{
		board: newBoard(), proven: map[string]ConfirmedRepair{}, switches: map[string]*switchState{}, net: newNetwork(),
		repairs: map[string]repairNote{}, work: works{begun: map[string]workBefore{}},
		names:  names{map[port.ID][]string{}, map[string][]string{}},
		places: places[port.ID]{}, labels: places[string]{},
	}
	t.Replace(p, s, time.Time{})
	return t
}

// Answered takes what a switch answered in one poll. The answer of one that is
// no longer in the settings changes nothing.
func (t *Tracker) Answered(name string, poll port.Poll) *Snapshot {
	t.answered(name, &poll)
	return t.Snapshot()
}

// Take is Answered for who only wants to know what happened: it makes no view of
// the ports, which the next snapshot does. The events are then not told again.
func (t *Tracker) Take(name string, poll port.Poll) []Event {
	t.answered(name, &poll)
	return t.settle()
}

func (t *Tracker) answered(name string, poll *port.Poll) {
	s := t.switches[name]
	if s == nil {
		return
	}
	t.take(s, poll)
	view := *s.view
	if view.Silent >= silentPolls {
		t.reappeared(s, poll.At)
	}
	view.Silent, view.Problem, view.Class = 0, "", ""
	view.LastAnswer = poll.At
	view.SystemName, view.Uptime, view.Tables = poll.Name, poll.Uptime, poll.Tables
	view.Details, view.Engine = s.details, poll.Engine
	t.tried(s, &view, poll.At)

	t.judge(s, poll.At)
	t.toShow(s)
}

// take takes who a switch is, which ports it has and whom they hear.
func (t *Tracker) take(s *switchState, poll *port.Poll) {
	before := len(s.order) + len(s.kept)
	c := s.absorb(poll.Ports, &t.before)
	t.ports += len(s.order) - before
	for _, p := range c.gone {
		t.dismiss(p)
	}
	t.stale = t.stale || c.changed
	t.renumbered(s, c.renumbered, poll.At)
	if c.entered >= leastGroup {
		s.event.take(appeared, c.entered, poll.At, restartLasts)
	}
	if c.changed {
		for _, p := range s.order {
			t.relabel(p, poll.At)
		}
		s.markDoubted()
	}
	changed := t.identify(s, poll)
	changed = t.numberedAnew(s, &c, poll) || changed
	changed = t.hear(s, poll) || changed
	t.equip(s, poll.At)
	changed = t.confirm(s) || changed
	t.stale = t.stale || changed
	for _, p := range s.order {
		if !p.doubted && p.reading.Unit != "" {
			p.unit = p.reading.Unit
		}
	}
}

// dismiss takes a port that left out of everything but its switch's memory.
func (t *Tracker) dismiss(p *portState) {
	t.board.drop(p)
	for _, id := range p.devices {
		t.places.leave(id, p.ref)
		t.places.forget(id, p.ref)
	}
	if p.label != "" {
		t.labels.leave(p.label, p.ref)
	}
}

// judge lets each port of a switch take its reading.
func (t *Tracker) judge(s *switchState, at time.Time) {
	threshold := sequential.Threshold(t.ports, t.settings.PollEvery, t.settings.FalseAlarmsPerWeek)
	s.refresh.Observe(at, s.movement())
	span, frozen := s.refresh.Span(), s.frozen()
	polls := t.compare(s, at)
	for i, p := range s.order {
		p.frozen = frozen
		if p.fresh {
			polls[i].far = t.duplexBeyond(p)
			if t.movedAway(p) {
				p.Link.forget()
			}
			p.observe(&polls[i], span, threshold)
			if p.anew || p.moved {
				t.shine(p, p.anew)
				p.anew, p.moved = false, false
			}
			p.Light.watchLink(p)
			t.conclude(p)
			t.board.note(p)
			t.doubtful(p, &s.event, threshold)
			t.hit(p, &polls[i])
		}
	}
	t.coincide(s, at)
	t.keepCompany(s, polls, at)
}

// compare gives what the poll shows of each port of a switch, valid until the
// next one.
func (t *Tracker) compare(s *switchState, at time.Time) []compared {
	t.scratch = slices.Grow(t.scratch[:0], len(s.order))[:len(s.order)]
	for i, p := range s.order {
		t.scratch[i] = compared{}
		if p.fresh {
			t.scratch[i].inc, t.scratch[i].reason = port.Between(p.previous, p.reading)
		}
	}
	many := t.groupEvents(s, t.scratch, at)
	for i := range t.scratch {
		t.scratch[i].many, t.scratch[i].event = many, &s.event
	}
	return t.scratch
}

// Failed takes that a switch did not answer a poll, or not usably, with the
// class of the error. It changes nothing of one that is no longer in the
// settings.
func (t *Tracker) Failed(name string, at time.Time, class string, err error) *Snapshot {
	s := t.switches[name]
	if s == nil {
		return t.Snapshot()
	}
	view := *s.view
	view.Silent++
	t.reweigh = t.reweigh || view.Silent == silentPolls || view.Silent > silentPolls && view.Class != class
	if view.Silent == silentPolls {
		s.unreadAt = at
	}
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
	t.see(s, view)
	t.at = at
	t.join(at, complete)
	t.hide(at)
}

// see gives a switch another view.
func (t *Tracker) see(s *switchState, view *Switch) {
	s.view = view
	t.views[s.place] = view
}

// join joins ports and runs anew where the ports changed: at once when every
// switch was tried, otherwise not more often than four times a polling
// interval, since a start brings as many changes as there are switches.
func (t *Tracker) join(at time.Time, atOnce bool) {
	soon := !t.joinedAt.IsZero() && at.Sub(t.joinedAt) < t.settings.PollEvery/4
	if !t.stale || soon && !atOnce {
		return
	}
	t.resolve()
	var seen []plant.SeenPort
	names := make([]string, len(t.order))
	for i, s := range t.order {
		names[i] = s.name
		for _, p := range s.order {
			if p.awaited() {
				continue
			}
			p.doubt = t.doubt(s, p)
			port := p.seen()
			if t.misnumbered(s, p) && p.doubt == "" {
				port.Index = 0 // the record's number is another port's
			}
			seen = append(seen, port)
		}
	}
	t.joined = t.plant.Join(seen, names, t.settings.Labels)
	t.joinedAt, t.stale = at, false
	t.joins++
	for _, s := range t.order {
		t.assign(s)
		t.stale = t.confirm(s) || t.stale
	}
	t.weave(at)
	if len(t.work.now) > 0 {
		t.planSwitches()
	}
	t.reweigh = true
}

// assign tells each port of a switch its run.
func (t *Tracker) assign(s *switchState) {
	for _, p := range s.order {
		if p.awaited() {
			continue
		}
		p.unplaced = false
		join, _ := t.joined.At(p.ref)
		if join != p.join {
			p.belong(t.plant, join, t.mediumOf(join.Run), t.passes(join.Run))
			s.renewed = true
		}
		t.board.note(p)
	}
	if s.renewed || s.suspended() != s.view.Suspended {
		t.toShow(s)
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
