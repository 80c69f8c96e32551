package daemon

import (
	"encoding/json"
	"fmt"
	"time"

	"toneout/internal/fault"
	"toneout/internal/journal"
)

// happening is what became of a fault, with its record as of then.
type happening struct {
	what   fault.EventKind
	at     time.Time
	id     string
	record journal.FaultRecord
}

// happeningsOf are those of a snapshot that the journal is told. A fault that is
// nobody's, as of a device that sleeps, comes each evening and is not told; one
// that was told and then proved to be nobody's is.
func happeningsOf(s *fault.Snapshot) (out []happening) {
	for _, e := range s.Events {
		if e.Fault.Quiet && (e.What == fault.Opened || e.What == fault.Resumed) {
			continue
		}
		out = append(out, happening{
			what: e.What, at: s.At, id: journal.FaultID(e.Fault), record: journal.RecordOf(e.Fault, s),
		})
	}
	return out
}

// ledger is which faults are open by the journal. It turns what happened into
// events, each once: after a restart, and after events were lost, look finds what
// is missing.
type ledger struct {
	by      string // this daemon
	alone   bool   // no other daemon writes into the journal
	entries map[entryKey]*entry
}

// entryKey is where there is one fault at most.
type entryKey struct{ run, switchName, port, kind string }

func keyOf(r *journal.FaultRecord) entryKey {
	if r.Run != "" {
		return entryKey{run: r.Run, kind: r.Kind}
	}
	return entryKey{switchName: r.Switch, port: r.Port, kind: r.Kind}
}

// entry is a fault as last written.
type entry struct {
	id      string // as it was opened
	since   time.Time
	told    standing
	cause   string
	causeAt time.Time // when the cause was last written
	touched time.Time
	closed  bool
	last    journal.Event
	beside  int // so many events before the last one are of the same moment
}

// standing is what is worth an event when it changes.
type standing struct {
	severity, about, shared string
	alarm, planned, quiet   bool
}

func toldOf(r *journal.FaultRecord) standing {
	return standing{r.Severity, r.About, r.Shared, r.Alarm, r.Planned, r.Quiet}
}

func leading(r *journal.FaultRecord) string {
	if len(r.Causes) == 0 {
		return ""
	}
	return r.Causes[0].Cause
}

func newLedger(by string, alone bool) *ledger {
	return &ledger{by: by, alone: alone, entries: map[entryKey]*entry{}}
}

// closedKept is how long a closing is remembered, for the fault that opens again as the
// same one, as after a checkpoint from before its closing.
const closedKept = 24 * time.Hour

// load takes which faults closed of late and which are open by the journal, whose clock
// may have been ahead.
func (l *ledger) load(closings, open []journal.Event, now time.Time) {
	for _, e := range append(closings, open...) {
		var r journal.FaultRecord
		if json.Unmarshal(e.Data, &r) != nil { // by another hand: what the columns say holds
			r = journal.FaultRecord{Run: e.Run, Switch: e.Switch, Port: e.Port, Kind: string(e.FaultKind)}
		}
		if was := l.entries[keyOf(&r)]; was != nil && !was.closed && was.last.By == l.by && e.By != l.by {
			continue // another daemon tells of the same run, and closes what it opened
		}
		at := e.At
		if at.After(now) {
			at = now
		}
		l.entries[keyOf(&r)] = &entry{id: e.Fault, since: e.Since, told: toldOf(&r), cause: leading(&r), causeAt: at, touched: at, closed: e.Kind == journal.FaultClosed, last: e}
	}
}

// take gives the events of what became of a fault.
func (l *ledger) take(h happening) (events []journal.Event) {
	key := keyOf(&h.record)
	was, opening := l.entries[key], "opened "+h.id
	if was != nil && was.closed {
		if was.id == h.id { // another opening than the one that is written
			opening += " after " + stamp(micro(was.touched))
		}
		was = nil
	}
	if was != nil && h.what == fault.Opened && h.id != was.id {
		events = append(events, l.gone(was, h.at)) // it closed while nobody watched
		was = nil
	}
	switch {
	case was == nil && (h.what == fault.Closed || h.record.Quiet):
	case was == nil:
		e := &entry{id: h.id, since: micro(h.record.Since)}
		l.entries[key] = e
		events = append(events, l.write(e, journal.FaultOpened, opening, h.at, &h.record))
	case h.what == fault.Closed:
		was.closed = true
		events = append(events, l.write(was, journal.FaultClosed, fmt.Sprintf("closed %s %s", was.id, stamp(h.at)), h.at, &h.record))
	default:
		events = append(events, l.change(was, h.at, &h.record)...)
	}
	return events
}

// knows tells whether the journal has what happened then, or something later of
// the same place and kind.
func (l *ledger) knows(h *happening) bool {
	was := l.entries[keyOf(&h.record)]
	return was != nil && !micro(h.at).After(micro(was.touched))
}

// causeHolds is how long at least until another leading cause alone is written:
// near a tie it wavers.
const causeHolds = 15 * time.Minute

// change gives an event where the fault differs from what was last written.
func (l *ledger) change(e *entry, at time.Time, r *journal.FaultRecord) []journal.Event {
	if toldOf(r) == e.told && (leading(r) == e.cause || at.Sub(e.causeAt) < causeHolds) {
		e.touched = at
		return nil
	}
	return []journal.Event{l.write(e, journal.FaultChanged, fmt.Sprintf("changed %s %s", e.id, stamp(at)), at, r)}
}

// write makes an event of a fault. Between two polls of the plant a moment may see
// several.
func (l *ledger) write(e *entry, kind journal.Kind, id string, at time.Time, r *journal.FaultRecord) journal.Event {
	e.told, e.touched = toldOf(r), at
	if cause := leading(r); cause != e.cause {
		e.cause, e.causeAt = cause, at
	}
	if e.beside++; !micro(at).Equal(micro(e.last.At)) {
		e.beside = 0
	} else {
		id = fmt.Sprintf("%s (%d)", id, e.beside+1)
	}
	data, _ := json.Marshal(r) // of texts and finite numbers
	e.last = journal.Event{
		ID: id, Kind: kind, At: at, By: l.by, Run: r.Run, Switch: r.Switch, Port: r.Port,
		Fault: e.id, FaultKind: fault.Kind(r.Kind), Since: e.since, Data: data,
	}
	return e.last
}

// gone closes a fault of which nothing more is known than what was written.
func (l *ledger) gone(e *entry, at time.Time) journal.Event {
	event := e.last
	event.Kind, event.At, event.By, event.ID = journal.FaultClosed, at, l.by, fmt.Sprintf("closed %s %s", e.id, stamp(at))
	e.closed, e.touched = true, at
	return event
}

// look holds what is written against a snapshot: what opened or closed while
// nobody watched, or is missing since events were lost, and what changed.
func (l *ledger) look(s *fault.Snapshot) (events []journal.Event) {
	open := map[entryKey]bool{}
	for _, f := range s.Faults {
		key := entryKey{switchName: f.Switch, port: f.Port, kind: string(f.Kind)}
		if f.Run != "" {
			key = entryKey{run: f.Run, kind: string(f.Kind)}
		}
		open[key] = true
		e := l.entries[key]
		if e == nil && f.Quiet || e != nil && !e.touched.Before(s.At) || e != nil && !e.closed && e.alike(f) {
			continue
		}
		events = append(events, l.take(happening{what: fault.Resumed, at: s.At, id: journal.FaultID(f), record: journal.RecordOf(f, s)})...)
	}
	for key, e := range l.entries {
		switch {
		case e.closed && s.At.Sub(e.touched) > closedKept:
			delete(l.entries, key)
		case !e.closed && !open[key] && e.touched.Before(s.At) && l.known(s, e):
			events = append(events, l.gone(e, s.At))
		}
	}
	return events
}

// alike tells whether nothing of the fault is worth an event.
func (e *entry) alike(f *fault.Fault) bool {
	return e.cause == string(f.Cause()) && e.told == standing{string(f.Severity), string(f.About), f.SharedCause, f.Alarm, f.Planned, f.Quiet}
}

// known tells whether a fault that is not open any longer is known to be so:
// both its ends were read, and joined to it. Of a switch that this daemon does not watch another
// one may know.
func (l *ledger) known(s *fault.Snapshot, e *entry) bool {
	run, _ := s.Run(e.last.Run)
	ends := []string{e.last.Switch}
	for _, p := range []*fault.Port{run.Near, run.Far} {
		if p != nil {
			ends = append(ends, p.Switch)
		}
	}
	for _, name := range ends {
		sw, watched := s.Switch(name)
		if !watched && !l.alone || watched && (!sw.Answering() || sw.Unplaced) {
			return false
		}
	}
	return s.Tried()
}

// stamp is a moment in an event's id.
func stamp(t time.Time) string { return t.UTC().Format(time.RFC3339Nano) }

// micro is a moment as the journal keeps it.
func micro(t time.Time) time.Time { return t.Round(0).Truncate(time.Microsecond) }
