package snmp

import (
	"context"
	"errors"
	"fmt"
	"net"
	"strconv"
	"sync"
	"time"

	"toneout/internal/port"

	"github.com/gosnmp/gosnmp"
)

// Target is a switch to ask.
type Target struct {
	Name        string
	Address     string // host:port
	Credentials Credentials
	Timeout     time.Duration // for one attempt of one request
	Retries     int           // attempts after the first
	SlowEvery   time.Duration // how often what changes seldom is asked for; 5 minutes where 0
	// Now is the clock that answers are timed by; time.Now where nil. How long
	// an answer is waited for is real time all the same.
	Now func() time.Time `json:"-"`
}

func (t *Target) now() time.Time {
	if t.Now == nil {
		return time.Now()
	}
	return t.Now()
}

const mostRetries = 10

func (t Target) check() error {
	host, number, err := net.SplitHostPort(t.Address)
	if err != nil {
		return fmt.Errorf("address %q is not host:port, e.g. 192.0.2.10:161: %w", t.Address, err)
	}
	if n, err := strconv.ParseUint(number, 10, 16); err != nil || n == 0 || host == "" {
		return fmt.Errorf("address %q is not host:port with a port from 1 to 65535, e.g. 192.0.2.10:161", t.Address)
	}
	if t.Timeout <= 0 {
		return fmt.Errorf("timeout %v is not above 0", t.Timeout)
	}
	if t.Retries < 0 || t.Retries > mostRetries {
		return fmt.Errorf("%d retries are not between 0 and %d", t.Retries, mostRetries)
	}
	return t.Credentials.Check()
}

// Switch asks one switch again and again. It is not for concurrent use.
type Switch struct {
	target  Target
	session *session
	know    *knowledge
	traffic Traffic
}

// Traffic is what a poll cost.
type Traffic struct {
	Requests int // attempts, so retries count
	Bytes    int // received
}

// Open prepares to ask a switch. It sends nothing; its errors are of the
// target.
func Open(t Target) (*Switch, error) {
	if err := t.check(); err != nil {
		return nil, fmt.Errorf("switch %s: %w", t.Name, err)
	}
	return &Switch{target: t, session: newSession(t.Credentials), know: newKnowledge()}, nil
}

// buffers hold the largest datagram; polls share them.
var buffers = sync.Pool{New: func() any { return new([1<<16 - 1]byte) }}

// Poll asks for all that toneout reads of a switch, once. Where ctx ends it
// returns at once. An error is an *Error, and then the Poll is empty. Status and
// error counters are always there; a table beyond them that fails is absent,
// and not given.
func (s *Switch) Poll(ctx context.Context) (port.Poll, error) {
	s.traffic = Traffic{}
	if s.session == nil {
		return port.Poll{}, s.explain("answer", errors.New("the switch is closed"))
	}
	buffer := buffers.Get().(*[1<<16 - 1]byte)
	defer buffers.Put(buffer)
	if s.session.usm != nil && !s.session.accepted {
		s.session.forget() // so that a failure tells again whether discovery works
	}
	p, asked, err := s.poll(ctx, buffer[:])
	if err != nil {
		s.session.accepted = false // the engine may be another one, or its clock or keys changed
		return port.Poll{}, s.explain(asked, err)
	}
	return p, nil
}

func (s *Switch) poll(ctx context.Context, buffer []byte) (p port.Poll, asked string, err error) {
	c, err := converse(ctx, s.target, s.session, buffer)
	if err != nil {
		return p, "address", err
	}
	defer func() { s.traffic = Traffic{c.pdus, c.bytes} }()
	defer c.conn.Close()
	defer context.AfterFunc(ctx, func() { c.conn.Close() })()

	name, first, err := s.greet(c)
	if err != nil {
		return p, "uptime and name", err
	}
	s.know.refresh(first)
	const mostRounds = 32 // each halves the columns of a group, or adds some
	final := false
	for range mostRounds {
		r := newRound(c, s.know, first)
		r.final = final
		again, err := r.pass()
		if err != nil {
			return p, r.asked, err
		}
		if first, final = r.last, r.final; again {
			continue
		}
		readings := r.readings()
		s.know.note(r, readings)
		return port.Poll{At: r.last.at, Uptime: r.last.uptime, Name: name, Ports: readings, Tables: s.know.tables(r)}, "", nil
	}
	return p, "tables", fail(Malformed, "the answers change in size and columns without end")
}

// greet asks for what needs no table. It is the first contact of a poll.
func (s *Switch) greet(c *conversation) (name string, at moment, err error) {
	a, err := c.ask(request{kind: gosnmp.GetRequest, names: []string{sysUpTime0, sysName0}})
	if err != nil {
		return "", moment{}, err
	}
	if len(a.Variables) != 2 || a.Variables[0].Name != sysUpTime0 || a.Variables[1].Name != sysName0 {
		return "", moment{}, fail(Malformed, "other values came than were asked for")
	}
	if v, ok := decode(a.Variables[1], gosnmp.OctetString); ok {
		name = clean(v.text)
		s.know.framing = a.size - scalarBytes - len(v.text) - nameBytes + lengthBytes
	}
	r := round{}
	err = r.heardAt(a.at, a.Variables[0])
	return name, r.last, err
}

const (
	nameBytes   = 14 // of sysName as a varbind, less the name
	lengthBytes = 10 // by which the lengths of a large answer are longer, at most
)

// pass walks all groups once; again where it must be done anew.
func (r *round) pass() (again bool, err error) {
	for _, g := range groups {
		err := r.walk(g)
		switch {
		case errors.Is(err, errTooWide):
			return true, nil
		case errors.Is(err, errMoved) && !r.final:
			r.final = true
			return true, nil
		case err != nil && !r.spare(g, err):
			return false, err
		}
	}
	return r.know.settle(r), nil
}

func (s *Switch) explain(asked string, err error) error {
	return &Error{Switch: s.target.Name, Address: s.target.Address, Asked: asked, Class: classed(err), Err: err}
}

// Traffic gives what the last poll cost.
func (s *Switch) Traffic() Traffic { return s.traffic }

// Close lets go of the session with its keys. A closed switch can't be polled.
func (s *Switch) Close() error {
	s.session, s.know = nil, nil
	return nil
}
