package fault

import (
	"slices"
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// board holds the open faults. Conditions are put together site by site, and
// only where one of a site's ports was heard of.
type board struct {
	sites   map[place]*site
	dirty   map[*site]bool
	renewed map[*site]bool // composed since the last snapshot
	faults  []*Fault       // worst first; replaced, never changed
}

func newBoard() board {
	return board{sites: map[place]*site{}, dirty: map[*site]bool{}, renewed: map[*site]bool{}, faults: []*Fault{}}
}

// place is where faults are put: a run, or a port that has none.
type place struct {
	run  string
	port plant.PortRef // where run is ""
}

func (p *portState) place() place {
	if p.join.Run != nil {
		return place{run: p.join.Run.ID}
	}
	return place{port: p.ref}
}

// site is a place with its ports of which a condition is open.
type site struct {
	at     place
	ports  []*portState
	faults []*Fault
	told   []*Fault // as in the last snapshot
	under  string   // the shared cause that they were folded under, "" for none
	judged judged   // what its findings came to
}

// note takes that a port was heard of, or moved to another place.
func (b *board) note(p *portState) {
	if p.unplaced {
		return
	}
	open := p.open()
	if p.site == nil && !open {
		return
	}
	at := p.place()
	if p.site != nil && (p.site.at != at || !open) {
		b.drop(p)
	}
	if !open || p.site != nil && p.calm() {
		return
	}
	if p.site == nil {
		if b.sites[at] == nil {
			b.sites[at] = &site{at: at}
		}
		p.site = b.sites[at]
		p.site.ports = append(p.site.ports, p)
	}
	b.dirty[p.site] = true
}

// calmFor is for how long what is said of a calm port holds (common practice, no
// source): its numbers are of an hour.
const calmFor = time.Hour / 2

// stance is what decides whether anybody is told of a port that is slow and nothing
// else, for a reason that is nobody's fault.
type stance struct {
	guard       guard
	speed       standards.Speed
	admin, oper port.Status
	join        plant.Join
	unjudged    string
}

// calm tells whether nothing but time has passed since a port was last put together
// whose only trouble is nobody's fault: devices that sleep or are able to no more are
// many, and each poll would find the same of them.
func (p *portState) calm() bool {
	why := p.slow.guard()
	if !p.slow.Open || !why.Quiet || p.proof != nil || p.errors.detector.Open() || p.conditionSet.open() {
		p.saidAt = time.Time{}
		return false
	}
	r := p.reading
	now := stance{why, p.slow.Speed, r.Admin, r.Oper, p.join, p.unjudged()}
	if now == p.said && r.At.Sub(p.saidAt).Abs() < calmFor {
		return true
	}
	p.said, p.saidAt = now, r.At
	return false
}

// drop takes a port's conditions off the board.
func (b *board) drop(p *portState) {
	if p.site == nil {
		return
	}
	p.site.ports = slices.DeleteFunc(p.site.ports, func(o *portState) bool { return o == p })
	b.dirty[p.site] = true
	p.site = nil
}

// recompose composes the faults of the sites that changed. It tells whether
// that changed which runs are at fault.
func (b *board) recompose(compose func(*site) []*Fault) (changed bool) {
	for s := range b.dirty {
		was := blamed(s.faults)
		s.faults = compose(s)
		changed = changed || was != blamed(s.faults)
		b.renewed[s] = true
	}
	clear(b.dirty)
	return changed
}

// renew takes what was composed into the list, and gives what that changed.
func (b *board) renew() []Event {
	if len(b.renewed) == 0 {
		return nil
	}
	var events []Event
	var fresh []*Fault
	old := make(map[*Fault]bool)
	for s := range b.renewed {
		events = append(events, changes(s.told, s.faults)...)
		for _, f := range s.told {
			old[f] = true
		}
		fresh = append(fresh, s.faults...)
		s.told = s.faults
		if len(s.ports) == 0 {
			delete(b.sites, s.at)
		}
	}
	clear(b.renewed)
	slices.SortFunc(fresh, worstFirst)
	slices.SortFunc(events, func(a, b Event) int { return worstFirst(a.Fault, b.Fault) })
	b.faults = merged(b.faults, old, fresh)
	return events
}

// merged is the sorted list without the old ones and with the fresh ones.
func merged(faults []*Fault, old map[*Fault]bool, fresh []*Fault) []*Fault {
	out := make([]*Fault, 0, len(faults)-len(old)+len(fresh))
	for _, f := range faults {
		if old[f] {
			continue
		}
		for len(fresh) > 0 && worstFirst(fresh[0], f) < 0 {
			out, fresh = append(out, fresh[0]), fresh[1:]
		}
		out = append(out, f)
	}
	return append(out, fresh...)
}

// EventKind is what happened to a fault.
type EventKind string

// The kinds of events.
const (
	Opened  EventKind = "opened"
	Resumed EventKind = "resumed" // it was open before a restart and still is
	Closed  EventKind = "closed"
	Alarmed EventKind = "alarmed" // it was open and nobody was told; now somebody is
	Hushed  EventKind = "hushed"  // it stays open, and nobody is told any longer
)

// Event is a fault that opened, was found open again, closed or began or ceased
// to alarm.
type Event struct {
	What  EventKind
	Fault *Fault
}

func changes(before, now []*Fault) (events []Event) {
	for _, f := range now {
		was := kindAmong(before, f.Kind)
		switch {
		case was == nil && f.resumed:
			events = append(events, Event{Resumed, f})
		case was == nil:
			events = append(events, Event{Opened, f})
		case f.Alarm && !was.Alarm:
			events = append(events, Event{Alarmed, f})
		case was.Alarm && !f.Alarm:
			events = append(events, Event{Hushed, f})
		}
	}
	for _, f := range before {
		if kindAmong(now, f.Kind) == nil {
			events = append(events, Event{Closed, f})
		}
	}
	return events
}

func kindAmong(faults []*Fault, kind Kind) *Fault {
	for _, f := range faults {
		if f.Kind == kind {
			return f
		}
	}
	return nil
}
