package soak

import (
	"net/netip"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

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
	begun       bool           // more was asked than what a poll begins with
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
	if e.Request != nil && e.Response != nil {
		l.take(e.From, e.Request.Varbinds, e.Response.Varbinds, time.Now().Round(0))
	}
	return e.Send()
}

func (l *logbook) take(from netip.AddrPort, asked, answered []sim.Varbind, now time.Time) {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	first := begins(asked)
	p := l.of(from, now, first)
	p.last, p.begun = now, p.begun || !first
	for _, answer := range answered {
		for c, object := range objects {
			if len(answer.Name) > len(object) && slices.Equal(answer.Name[:len(object)], object) {
				at := cell{column(c), answer.Name[len(object)]}
				p.values[at] = append(p.values[at], answer.Value.Number)
			}
		}
	}
}

// begins tells whether a request is a poll's first, which alone asks for the switch's
// name, or that request sent once more.
func begins(asked []sim.Varbind) bool {
	return slices.ContainsFunc(asked, func(v sim.Varbind) bool {
		return len(v.Name) >= len(sysName) && slices.Equal(v.Name[:len(sysName)], sysName)
	})
}

var sysName = sim.ParseOID("1.3.6.1.2.1.1.5") // RFC 3418

// of finds the poll that a request belongs to: one of the latest, since a request
// that was sent twice may be read late. One that begins a poll is no part of a poll
// that had gone on from there: sooner or later the system gives a socket the port of
// a late one.
func (l *logbook) of(from netip.AddrPort, now time.Time, first bool) *poll {
	const latest = 4
	for _, p := range slices.Backward(l.polls[max(0, len(l.polls)-latest):]) {
		if p.from == from && !(first && p.begun) {
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

// A port that the system gives to two sockets is of two polls, and a request that came
// twice of one.
func TestPollsAreToldApart(t *testing.T) {
	from := netip.MustParseAddrPort("127.0.0.1:50000")
	ask := func(l *logbook, names ...sim.OID) {
		var asked []sim.Varbind
		for _, name := range names {
			asked = append(asked, sim.Varbind{Name: name})
		}
		l.take(from, asked, nil, time.Now())
	}
	l := &logbook{}
	for range 2 {
		ask(l, append(slices.Clone(sysName), 0), objects[operStatus])
		ask(l, append(slices.Clone(sysName), 0), objects[operStatus])
		ask(l, objects[inOctets])
	}
	require.Len(t, l.polls, 2)
}
