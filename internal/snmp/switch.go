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
// returns at once. An error is an *Error, and then the Poll is empty.
func (s *Switch) Poll(ctx context.Context) (port.Poll, error) {
	buffer := buffers.Get().(*[1<<16 - 1]byte)
	defer buffers.Put(buffer)
	s.traffic = Traffic{}
	if s.session == nil {
		return port.Poll{}, s.explain("answer", errors.New("the switch is closed"))
	}
	if s.session.usm != nil && !s.session.accepted {
		s.session.forget() // so that a failure tells again whether discovery works
	}
	c, err := converse(ctx, s.target, s.session, buffer[:])
	if err != nil {
		return port.Poll{}, s.explain("address", err)
	}
	defer func() { s.traffic = Traffic{c.pdus, c.bytes} }()
	defer c.conn.Close()
	defer context.AfterFunc(ctx, func() { c.conn.Close() })()

	name, first, asked, err := s.greet(c)
	if err != nil {
		return port.Poll{}, s.explain(asked, err)
	}
	s.know.refresh(first)
	const mostRounds = 32 // each halves the columns of a group, or adds some
	for range mostRounds {
		r := &round{conversation: c, know: s.know, last: first,
			ports: map[index]*row{}, maus: map[index]*row{}, counts: map[*column]int{}}
		again, err := r.pass()
		if err != nil {
			return port.Poll{}, s.explain(r.asked, err)
		}
		if first = r.last; again {
			continue
		}
		readings := r.readings()
		s.know.note(r, readings)
		return port.Poll{At: r.last.at, Uptime: r.last.uptime, Name: name, Ports: readings, Tables: s.know.tables()}, nil
	}
	return port.Poll{}, s.explain("tables", fail(Malformed, "the answers change in size and columns without end"))
}

// greet asks for what needs no table. It is the first contact of a poll.
func (s *Switch) greet(c *conversation) (name string, at moment, asked string, err error) {
	asked = "uptime and name"
	a, err := c.ask(request{kind: gosnmp.GetRequest, names: []string{sysUpTime0, sysName0}})
	if err != nil {
		return "", moment{}, asked, err
	}
	if len(a.Variables) != 2 || a.Variables[0].Name != sysUpTime0 || a.Variables[1].Name != sysName0 {
		return "", moment{}, asked, fail(Malformed, "other values came than were asked for")
	}
	if v, ok := decode(a.Variables[1], gosnmp.OctetString); ok {
		name = clean(v.text)
	}
	r := round{}
	err = r.heardAt(a.at, a.Variables[0])
	return name, r.last, asked, err
}

// pass walks all groups once; again where it must be done anew.
func (r *round) pass() (again bool, err error) {
	for _, g := range groups {
		if err := r.walk(g); errors.Is(err, errTooWide) {
			return true, nil
		} else if err != nil {
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

// Close forgets the keys. A closed switch can't be polled.
func (s *Switch) Close() error {
	s.session, s.know = nil, nil
	return nil
}
