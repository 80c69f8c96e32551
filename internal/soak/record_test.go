package soak

import (
	"net/netip"
	"slices"
	"sync"
	"time"

	"toneout/internal/sim"
)

// column is an object whose answers are kept.
type column int

const (
	operStatus column = iota
	highSpeed
	inOctets
	outOctets
	fcs
	mediaExits
	columnCount
)

// objects are theirs, from RFC 2863, RFC 3635 and RFC 4836.
var objects = [columnCount]sim.OID{
	operStatus: sim.ParseOID("1.3.6.1.2.1.2.2.1.8"),
	highSpeed:  sim.ParseOID("1.3.6.1.2.1.31.1.1.1.15"),
	inOctets:   sim.ParseOID("1.3.6.1.2.1.31.1.1.1.6"),
	outOctets:  sim.ParseOID("1.3.6.1.2.1.31.1.1.1.10"),
	fcs:        sim.ParseOID("1.3.6.1.2.1.10.7.11.1.2"),
	mediaExits: sim.ParseOID("1.3.6.1.2.1.26.2.1.1.6"),
}

// cell is an object's instance of one interface.
type cell struct {
	column  column
	ifIndex uint32
}

// poll is what a switch was asked and answered in one poll. A request that came
// twice was answered twice, with other counts maybe.
type poll struct {
	from        netip.AddrPort // a daemon takes a socket of its own for each poll
	first, last time.Time      // of its answers
	values      map[cell][]uint64
	read        bool // by history, the daemon read it,
	told        bool // or only the batch after it tells of it
}

// whole tells whether all was answered that a poll needs of a port.
func (p *poll) whole(ifIndex uint32) bool {
	for c := range columnCount {
		if len(p.values[cell{c, ifIndex}]) == 0 {
			return false
		}
	}
	return true
}

// is tells whether an answer, to whichever of the requests, was this value.
func (p *poll) is(c column, ifIndex uint32, value uint64) bool {
	return slices.Contains(p.values[cell{c, ifIndex}], value)
}

// logbook is the record of one switch, kept by its agent.
type logbook struct {
	mutex sync.Mutex
	polls []*poll
}

// note is a play for sim.Agent's Mangle, which alters nothing.
func (l *logbook) note(e sim.Exchange) []sim.Datagram {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	now := time.Now().Round(0)
	p := l.of(e.From, now)
	p.last = now
	for _, answer := range e.Response.Varbinds {
		for c, object := range objects {
			if len(answer.Name) > len(object) && slices.Equal(answer.Name[:len(object)], object) {
				at := cell{column(c), answer.Name[len(object)]}
				p.values[at] = append(p.values[at], answer.Value.Number)
			}
		}
	}
	return e.Send()
}

// of finds the poll that a request belongs to: one of the latest, since a request
// that was sent twice may be read late.
func (l *logbook) of(from netip.AddrPort, now time.Time) *poll {
	const latest = 4
	for _, p := range slices.Backward(l.polls[max(0, len(l.polls)-latest):]) {
		if p.from == from {
			return p
		}
	}
	p := &poll{from: from, first: now, values: map[cell][]uint64{}}
	l.polls = append(l.polls, p)
	return p
}

// until gives what was answered so far.
func (l *logbook) until() []*poll {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	out := make([]*poll, len(l.polls))
	for i, p := range l.polls {
		copied := *p
		copied.values = make(map[cell][]uint64, len(p.values))
		for at, values := range p.values {
			copied.values[at] = slices.Clone(values)
		}
		out[i] = &copied
	}
	return out
}
