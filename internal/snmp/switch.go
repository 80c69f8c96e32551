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
	target   Target
	session  *session
	know     *knowledge
	patience *patience
	traffic  Traffic
}

// Traffic is what a poll cost.
type Traffic struct {
	Requests int // attempts, so retries count
	Bytes    int // received
	// RTT is the smoothed round trip of a request, over polls; 0 where none was answered.
	RTT time.Duration
	// Busy is the sum of the poll's round trips: as long the switch was busy for
	// it, at most. Over the time between polls it is the share of the agent's time.
	Busy time.Duration
	// Waited is how long the poll waited for answers, those that never came too.
	Waited time.Duration
}

// Open prepares to ask a switch. It sends nothing; its errors are of the
// target.
func Open(t Target) (*Switch, error) {
	if err := t.check(); err != nil {
		return nil, fmt.Errorf("switch %s: %w", t.Name, err)
	}
	return &Switch{
		target: t, session: newSession(t.Credentials), know: newKnowledge(t.SlowEvery),
		patience: &patience{timeout: t.Timeout, retries: t.Retries},
	}, nil
}

var workspaces = sync.Pool{New: func() any { return new(workspace) }}

// Poll asks for all that toneout reads of a switch, once. Where ctx ends it
// returns at once. An error is an *Error, and then the Poll is empty. Status and
// error counters are always there; a table beyond them that fails is absent and
// TableBroken.
func (s *Switch) Poll(ctx context.Context) (port.Poll, error) {
	s.traffic = Traffic{}
	if s.session == nil {
		return port.Poll{}, s.explain("answer", errors.New("the switch is closed"))
	}
	w := workspaces.Get().(*workspace)
	defer w.free()
	s.session.last.variables = w.variables
	defer func() { w.variables, s.session.last = s.session.last.variables, message{} }()
	if s.session.usm != nil && !s.session.accepted {
		s.session.forget() // so that a failure tells again whether discovery works
	}
	p, asked, err := s.poll(ctx, w)
	if err != nil {
		s.session.accepted = false // the engine may be another one, or its clock or keys changed
		return port.Poll{}, s.explain(asked, err)
	}
	return p, nil
}

func (s *Switch) poll(ctx context.Context, w *workspace) (p port.Poll, asked string, err error) {
	c, err := converse(ctx, s.target, s.session, s.patience, w.buffer[:])
	if err != nil {
		return p, "address", err
	}
	defer func() { s.traffic = c.traffic() }()
	defer c.conn.Close()
	defer context.AfterFunc(ctx, func() { c.conn.Close() })()
	return s.talk(c, w)
}

// talk is a poll over a socket that is open.
func (s *Switch) talk(c *conversation, w *workspace) (p port.Poll, asked string, err error) {
	const mostRounds = 32 // each halves the columns of a group, or adds some
	var name string
	var last moment
	apart, final := !s.know.steady(s.target.now()), false
	for range mostRounds {
		if apart {
			if name, last, err = s.greet(c); err != nil {
				return p, greeting, err
			}
			s.know.refresh(last)
			apart = false
		}
		r := newRound(c, s.know, last, w)
		r.final, r.greets = final, last == moment{}
		again, err := r.pass()
		switch {
		case errors.Is(err, errApart):
			apart = true
			continue
		case err != nil:
			s.know.failed(err)
			return p, r.asked, err
		}
		if r.name != "" {
			name = r.name
		}
		if last, final = r.last, r.final; again {
			continue
		}
		readings := r.readings()
		s.know.note(r, readings)
		return port.Poll{At: r.last.at, Uptime: r.last.uptime, Name: name, Ports: readings, Tables: s.know.tables(r), Engine: s.know.slow.engine, Details: s.know.slow.details}, "", nil
	}
	return p, "tables", fail(Malformed, "the answers change in size and columns without end")
}

const greeting = "uptime and name"

// greet asks for what needs no table. It is the first contact of a poll.
func (s *Switch) greet(c *conversation) (name string, at moment, err error) {
	a, err := c.ask(request{kind: gosnmp.GetRequest, names: [][]byte{sysUpTimeName, sysNameName}})
	if err != nil {
		return "", moment{}, err
	}
	if len(a.variables) != 2 || !a.variables[0].is(sysUpTimeName) || !a.variables[1].is(sysNameName) {
		return "", moment{}, fail(Malformed, "other values came than were asked for")
	}
	if v, ok := decode(a.variables[1], gosnmp.OctetString); ok {
		name = clean(v.text)
		s.know.framing = a.size - scalarBytes - len(v.text) - nameBytes + lengthBytes
	}
	r := round{}
	err = r.heardAt(a.at, a.variables[0])
	return name, r.last, err
}

const (
	nameBytes   = 14 // of sysName as a varbind, less the name
	lengthBytes = 10 // by which the lengths of a large answer are longer, at most
)

// pass asks for all once; again where it must be done anew.
func (r *round) pass() (again bool, err error) {
	r.discovered = r.know.discovering()
	for _, g := range groups {
		err := r.turn(g)
		switch {
		case errors.Is(err, errTooWide):
			return true, nil
		case errors.Is(err, errMoved) && !r.final:
			r.final = true
			return true, nil
		case err != nil && !r.spare(g, err):
			return false, err
		case err != nil && g.pace != always:
			r.restore(g)
		}
		if !g.moment {
			continue
		}
		if r.changedEngine() {
			r.know.slow.reset()
			r.know.again()
			return true, nil
		}
		r.compare()
	}
	if r.know.settle(r) {
		return true, nil
	}
	if err := r.beyond(); errors.Is(err, errMoved) && !r.final {
		r.final = true
		return true, nil
	} else if err != nil {
		return false, err
	}
	return false, nil
}

func (r *round) turn(g *group) error {
	switch g {
	case groups[0]:
		return r.walk(g)
	case typesAndTexts:
		return r.learnTypes()
	}
	return r.gather(g)
}

// beyond asks for what is beyond the groups.
func (r *round) beyond() error {
	if r.slowly {
		if err := r.inquire(); err != nil {
			return err
		}
		if r.discovered { // what lies over others doesn't count
			clear(r.know.narrow)
			r.know.narrows(r)
		}
	}
	if err := r.rmon(); err != nil {
		return err
	}
	return r.tell()
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
