package fault

import (
	"fmt"
	"strings"
	"time"

	"toneout/internal/port"
)

// groupEvent is what happened to many ports of a switch together, so that no
// single cable is to blame. The zero value is none.
type groupEvent struct {
	What  eventKind
	Began time.Time
	Last  time.Time // when it was last seen
	Until time.Time // it or its aftermath lasts so long
	Ports int       // that changed their links
}

type eventKind uint8

const (
	noEvent  eventKind = iota
	patching           // one after another, within minutes
	atOnce             // in one poll
	appeared           // ports that were not there before: a member of a stack started
	restart            // of the switch
)

// A group is a quarter of the ports that have a link, and 5 at least.
const (
	leastGroup = 5
	groupShare = 4
)

// How long an event or its aftermath lasts (common practice, no source): devices
// that are fed by a switch start after it.
const (
	restartLasts  = 10 * time.Minute
	atOnceLasts   = 5 * time.Minute
	patchingLasts = 15 * time.Minute
)

// heldAfterGroup is for how long a missing link that only its habit or its power
// speaks for is held back at least, where it went with many others: until somebody is likely to have
// looked.
const heldAfterGroup = 24 * time.Hour

func (e *groupEvent) on(at time.Time) bool { return at.Before(e.Until) }

// starting tells whether the switch or a part of it just started, and with it
// what it feeds.
func (e *groupEvent) starting(at time.Time) bool { return e.What >= appeared && e.on(at) }

// linksSettle is for how long links come up after a group event, and may pass a
// low speed (common practice, no source).
const linksSettle = 2 * time.Minute

func (e *groupEvent) settling(at time.Time) bool {
	return e.What >= atOnce && at.Sub(e.Last) < linksSettle
}

// take takes what a poll shows. A restart outlasts what it brings with it.
func (e *groupEvent) take(what eventKind, ports int, at time.Time, lasts time.Duration) {
	if !e.on(at) {
		*e = groupEvent{What: what, Began: at}
	}
	e.Last = at
	e.What, e.Ports = max(e.What, what), max(e.Ports, ports)
	if until := at.Add(lasts); until.After(e.Until) {
		e.Until = until
	}
}

func (e *groupEvent) String() string {
	switch e.What {
	case restart:
		return "the switch restarted"
	case appeared:
		return fmt.Sprintf("%d ports of the switch appeared at once, as with a member of a stack that starts", e.Ports)
	case atOnce:
		return fmt.Sprintf("%d ports of the switch changed their links at once", e.Ports)
	case patching, noEvent:
	}
	return fmt.Sprintf("%d ports here changed their links within minutes, as when somebody patches", e.Ports)
}

// holds tells what is held back while it lasts.
func (e *groupEvent) holds(at time.Time) string {
	what := "a missing link that only its habit speaks for"
	if e.What == atOnce {
		what = "a missing link that only its habit or its power speaks for"
	}
	if e.starting(at) {
		what = "a missing link"
	}
	text := e.String()
	return fmt.Sprintf("%s%s; for %s more %s is held back.", strings.ToUpper(text[:1]), text[1:], roughly(e.Until.Sub(at)), what)
}

// groupEvents looks for what happened to many ports of a switch, and tells
// whether it was in this very poll.
func (t *Tracker) groupEvents(s *switchState, polls []compared, at time.Time) (many bool) {
	linked, changed, restarted := 0, 0, false
	first := true // nothing was read of the switch before
	for i, p := range s.order {
		if !p.fresh {
			continue
		}
		restarted = restarted || polls[i].reason == port.Restarted
		first = first && polls[i].reason == port.FirstReading
		if p.reading.Oper == port.Up || p.previous != nil && p.previous.Oper == port.Up {
			linked++
		}
		if polls[i].inc.LinkChanges > 0 {
			changed++
		}
	}
	group := max(leastGroup, (linked+groupShare-1)/groupShare)
	up := uptime(s.view.Uptime)
	switch {
	case restarted:
		s.restarted = at
		s.event.take(restart, 0, at, restartLasts)
	case first && up > 0 && up < restartLasts:
		s.event.take(restart, 0, at, restartLasts-up)
	case changed >= group:
		s.event.take(atOnce, changed, at, atOnceLasts)
		return true
	case changed > 0:
		t.lookForPatching(s, polls, group, at)
	}
	return false
}

// uptime is for how long an agent says to run, 0 where it does not.
func uptime(v port.Value[uint32]) time.Duration {
	ticks, _ := v.Get()
	return time.Duration(ticks) * 10 * time.Millisecond
}

// lookForPatching counts the ports of a switch that changed their links within
// minutes; of those that always have one, five in a room are as many.
func (t *Tracker) lookForPatching(s *switchState, polls []compared, group int, at time.Time) {
	recent, steady := 0, 0
	for i, p := range s.order {
		if polls[i].inc.LinkChanges == 0 && p.hour.changedLately(at) == 0 {
			continue
		}
		recent++
		if p.Link.steady() {
			steady++
		}
	}
	s.patched, s.patchedAt = steady, at
	if recent >= group {
		s.event.take(patching, recent, at, patchingLasts)
	}
	room := t.room(s, at)
	sum := 0
	for _, o := range room {
		sum += o.patched
	}
	if sum < leastGroup {
		return
	}
	for _, o := range room {
		o.event.take(patching, sum, at, patchingLasts)
	}
}

// room is a switch with those of its space where ports changed lately.
func (t *Tracker) room(s *switchState, at time.Time) []*switchState {
	room := []*switchState{s}
	if s.view.Space == "" {
		return room
	}
	for _, o := range t.order {
		if o != s && o.view.Space == s.view.Space && at.Sub(o.patchedAt) < patchingLasts {
			room = append(room, o)
		}
	}
	return room
}
