package fault

import (
	"cmp"
	"fmt"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// Guard is why something that looks like a fault is held back, or shown and
// not alarmed.
type Guard struct {
	Name   GuardName `json:"name"`
	Says   string    `json:"says"`             // a sentence
	Switch string    `json:"switch,omitempty"` // of parent-down: which is gone
}

// GuardName tells guards apart. They are asked in this order.
type GuardName string

// The guards.
const (
	DataNotValid GuardName = "data-not-valid"  // readings don't compare, or don't tell
	AtWork       GuardName = "planned"         // somebody is at work on it
	ShutByAdmin  GuardName = "admin"           // the port is shut on purpose
	Asleep       GuardName = "asleep"          // the device sleeps
	FarLimit     GuardName = "far-end-limit"   // the far end is able to no more
	PassedOn     GuardName = "upstream-errors" // another port got the damaged frames first
	GroupEvent   GuardName = "group-event"     // many ports at once: a restart, a power cut, an evening of patching
	ParentDown   GuardName = "parent-down"     // the switch at the other end, or one on the way, is gone
	Restarting   GuardName = "restarting"      // what is fed may be starting anew
	AwaitsProof  GuardName = "awaits-proof"    // it was repaired, and is not proven yet
	SameTrouble  GuardName = "same-trouble"    // another fault of the run tells it
)

// hush keeps a finding listed, and nobody is told of it.
func (f *finding) hush(g Guard) {
	f.quiet = true
	f.guards = append(f.guards, g)
}

// blame gives a finding a leading cause that other ports tell.
func (f *finding) blame(cause Cause) {
	f.weighed.Blamed = cause
	f.causes = f.port.site.judged.causesOf(&f.weighed)
}

// guard asks what other ports and switches say of a finding.
func (t *Tracker) guard(f *finding) {
	if why := f.port.unjudged(); why != "" {
		f.guards = append(f.guards, Guard{Name: DataNotValid, Says: "It stands as last judged, for " + why + "."})
	}
	if r := f.port.reading; r.Admin == port.Down && r.Oper != port.Up && f.kind != NoLink && !f.quiet {
		f.hush(Guard{Name: ShutByAdmin, Says: fmt.Sprintf("%v is shut on its switch.", f.port.ref)})
		return
	}
	switch up := f.port.reading.Oper == port.Up; {
	case f.kind == NoLink, f.kind == LowLight && !up && !f.quiet:
		t.guardNoLink(f)
	case f.kind == FrameErrors:
		t.guardErrors(f)
	case f.kind == LinkFlapping:
		t.guardFlaps(f)
	}
}

// shutPort is shared, since most ports that have a guard have this one.
var shutPort = []Guard{{Name: ShutByAdmin, Says: "The port is shut on its switch: that it has no link is no fault."}}

// guards are what holds back a judgement of a port now; nil for nothing.
func (p *portState) guards(unjudged string, event *groupEvent) (guards []Guard) {
	if p.reading.Admin == port.Down && p.reading.Oper != port.Up {
		return shutPort
	}
	if unjudged != "" {
		guards = append(guards, Guard{Name: DataNotValid, Says: "It can't be judged: " + unjudged + "."})
	}
	if k := p.Light.Known; k != nil && k.Doubted && p.reading.Oper == port.Up {
		guards = append(guards, Guard{Name: DataNotValid, Says: "Its optic tells no light though the link is up: that reading is not believed."})
	}
	if event.on(p.reading.At) {
		guards = append(guards, Guard{Name: GroupEvent, Says: event.holds(p.reading.At)})
	}
	if p.slow.Open {
		guards = append(guards, p.slow.guard().named(p.ref)...)
	}
	return guards
}

// guardNoLink: a link, and the light with it, is missing for a reason where its
// other end is shut, or its switch is gone or starting.
func (t *Tracker) guardNoLink(f *finding) {
	p := f.port
	own := t.switches[p.ref.Switch]
	if own.view.Unread() {
		f.hush(Guard{Name: ParentDown, Switch: own.name, Says: fmt.Sprintf("%s itself does not answer any longer, which is told of by itself.", own.name)})
		return
	}
	if own.event.starting(p.reading.At) {
		f.hush(Guard{Name: GroupEvent, Says: fmt.Sprintf("%s or a part of it started; what it feeds may still be starting.", own.name)})
		return
	}
	if f.kind == NoLink && !f.quiet && t.guardTogether(f, own) {
		return
	}
	ref := t.beyond(p)
	far := t.switches[ref.Switch]
	if far == nil || far == own {
		return
	}
	switch other := far.ports[ref.Port]; {
	case far.view.Unread() || !far.view.LastAnswer.After(f.since.Add(stampSlack)):
		f.hush(Guard{Name: ParentDown, Switch: far.name, Says: fmt.Sprintf("%s at the other end does not answer, which is told of by itself.", far.name)})
		f.blame(FarEndFaulty)
	case far.event.starting(p.reading.At):
		f.hush(Guard{Name: GroupEvent, Says: fmt.Sprintf("%s at the other end, or a part of it, started.", far.name)})
	case other != nil && other.reading.Admin == port.Down:
		f.hush(Guard{Name: ShutByAdmin, Says: fmt.Sprintf("%v at the other end is shut.", other.ref)})
		f.blame(PortShut)
	}
}

// guardTogether: of links that went together, somebody is likely to know. Those
// that are left when the others came back were forgotten; where most stay away,
// as over a holiday, that is meant.
func (t *Tracker) guardTogether(f *finding, own *switchState) bool {
	m, at := f.port.Link.Missing, f.port.reading.At
	if m.Held.IsZero() {
		return false
	}
	if at.Before(m.Held) {
		f.hush(Guard{Name: GroupEvent, Says: fmt.Sprintf("It went when %s: held back for %s more.", m.With, roughly(m.Held.Sub(at)))})
		return true
	}
	away := 0
	for _, s := range t.order {
		if s != own && (s.view.Space == "" || s.view.Space != own.view.Space) {
			continue
		}
		for _, p := range s.order {
			if missing := p.Link.Missing; missing != nil && !missing.Held.IsZero() {
				away++
			}
		}
	}
	if away < leastGroup {
		return false
	}
	f.hush(Guard{Name: GroupEvent, Says: fmt.Sprintf("It went when %s, and %d of these are still away, as where they were switched off or taken away on purpose.", m.With, away)})
	return true
}

// guardFlaps: a switch that restarts, of itself or by somebody's hand, may lose
// its links several times.
func (t *Tracker) guardFlaps(f *finding) {
	losses := f.port.Flaps.Seen.Losses
	first, last := losses[0], losses[len(losses)-1]
	for _, name := range []string{f.port.ref.Switch, t.beyond(f.port).Switch} {
		s := t.switches[name]
		if s != nil && !s.restarted.IsZero() && s.restarted.After(first) && last.Before(s.restarted.Add(restartLasts)) {
			f.hush(Guard{Name: GroupEvent, Says: fmt.Sprintf("%s restarted meanwhile, and it has not been lost since then.", name)})
			return
		}
	}
}

// beyond is the port of a watched switch at the other end of a port's cable:
// by what was heard or else by the record. Only its switch is known where the
// port was last heard from there. It is zero where nothing tells.
func (t *Tracker) beyond(p *portState) plant.PortRef {
	for _, l := range t.net.links {
		switch p.ref {
		case l.A:
			return l.B
		case l.B:
			return l.A
		}
	}
	if run := p.join.Run; run != nil {
		near, far := t.joined.PortsOf(run.ID)
		if p.join.End == plant.FarEnd {
			return cmp.Or(near, run.Near())
		}
		if far := cmp.Or(far, run.Far()); far != (plant.PortRef{}) {
			return far
		}
	}
	return plant.PortRef{Switch: p.Link.Beyond}
}
