package snmp

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"net"
	"os"
	"slices"
	"syscall"
	"time"

	"github.com/gosnmp/gosnmp"
)

// request is what is asked in one PDU.
type request struct {
	kind         gosnmp.PDUType
	names        [][]byte // octets, less tag and length
	nonRepeaters int
	repetitions  int
	discovery    bool // asks for the SNMPv3 engine, unprotected
}

// answer is a response that belongs to a request.
type answer struct {
	*message
	at          time.Time
	size        int // bytes of the datagram
	attempts    int // until it came
	repetitions int // asked for in the attempt that was answered
	asked       int // repetitions of the first attempt, the most that may come
}

// conversation is the traffic of one poll. It is over when its context is.
type conversation struct {
	ctx     context.Context
	target  Target
	session *session
	*patience
	conn   net.Conn
	buffer []byte
	id     uint32
	heard  bool // any answer came
	pdus   int
	bytes  int
}

// Bounds of one poll, so that an agent without end harms only itself.
const (
	mostRows   = 10_000
	mostPDUs   = 20_000
	mostBytes  = 64 << 20
	mostUnfits = 200 // datagrams to one request that are no answer to it
)

// converse opens the socket. Its source address is the switch's alone, since
// it is connected.
func converse(ctx context.Context, t Target, s *session, p *patience, buffer []byte) (*conversation, error) {
	conn, err := new(net.Dialer).DialContext(ctx, "udp", t.Address)
	if err != nil {
		return nil, err
	}
	p.begin()
	return &conversation{ctx: ctx, target: t, session: s, patience: p, conn: conn, buffer: buffer, id: rand.Uint32()}, nil
}

// traffic is what the poll cost.
func (c *conversation) traffic() Traffic {
	if !c.heard {
		c.lossy /= 4 // silence is no loss, but may be many
	}
	return Traffic{Requests: c.pdus, Bytes: c.bytes, RTT: c.smoothed, Busy: c.busy, Waited: c.waited}
}

// ask gives the answer to a request, and does what SNMPv3 needs before that:
// discovery, and once each a new clock and a new engine.
func (c *conversation) ask(r request) (answer, error) {
	tuned, discovered := false, false
	for {
		if c.session.needsEngine() {
			if err := c.discover(); err != nil {
				return answer{}, err
			}
		}
		a, err := c.exchange(r)
		if err != nil {
			return a, err
		}
		switch name := report(a.message); {
		case a.kind != gosnmp.Report:
			return a, c.accept(a)
		case name == notInTimeWindows && a.flags&gosnmp.AuthNoPriv == 0: // anyone can send that (RFC 3414 3.2 7a)
			return a, fail(TimeWindow, "not in the time window, says a report that isn't authenticated: its clock is asked for anew in the next poll")
		case name == notInTimeWindows && !tuned:
			c.session.tune(a.security, a.at, true)
			tuned = true
		case name == notInTimeWindows:
			return a, fail(TimeWindow, "not in the time window even after its clock was taken over: does another switch have the same engine id?")
		case name == unknownEngineIDs && !discovered:
			c.session.forget()
			discovered = true
		default:
			return a, c.session.refusal(a.message)
		}
	}
}

// accept notes an answer that isn't a Report, and turns an error status into
// an error.
func (c *conversation) accept(a answer) error {
	c.session.tune(a.security, a.at, false)
	c.session.accepted = true
	switch a.status {
	case gosnmp.NoError:
		return nil
	case gosnmp.TooBig:
		return errTooBig
	}
	return statusError{a.status, int(a.position)}
}

// errEarlier is no fault: the network may double or delay a datagram.
var errEarlier = errors.New("a late response to an earlier request of this poll")

var errTooBig = errors.New("the answer is too big even for one row of one column")

// statusError is an error status, with the position of the varbind that it
// belongs to, from 1; 0 where it belongs to none.
type statusError struct {
	status   gosnmp.SNMPError
	position int
}

func (e statusError) Error() string {
	if e.denies() {
		return fmt.Sprintf("the switch answers %v: its access rules don't allow these credentials to read this", e.status)
	}
	return fmt.Sprintf("the switch answers %v (varbind %d)", e.status, e.position)
}

func (c *conversation) discover() error {
	a, err := c.exchange(request{kind: gosnmp.GetRequest, discovery: true})
	if err != nil {
		return err
	}
	if a.kind != gosnmp.Report {
		return fail(Malformed, "the switch doesn't answer engine discovery with a report (RFC 3414 4)")
	}
	return c.session.learn(a.security, a.at)
}

// exchange sends a request until there is an answer to any of these attempts,
// or silence for long enough. A second retry and all after it ask for fewer rows,
// since large answers are those that get lost; where any get lost, only each third.
func (c *conversation) exchange(r request) (answer, error) {
	wait, first, began := waiting{}, r.repetitions, time.Now()
	defer func() { c.waited += time.Since(began) }()
	for attempt := 0; ; attempt++ {
		if c.pdus++; c.pdus > mostPDUs || c.bytes > mostBytes {
			return answer{}, fail(Malformed, "more than %d requests or %d MiB in one poll: the tables of this switch seem to have no end", mostPDUs, mostBytes>>20)
		}
		c.id = c.id%(1<<31-1) + 1 // never 0, which some agents answer with
		message, err := c.session.encode(r, c.id, c.target.now())
		if err != nil {
			return answer{}, fmt.Errorf("encode the request: %w", err)
		}
		wait.sent(c.id, r.repetitions)
		a, err := c.attempt(message, &wait, c.within(attempt, began))
		if err == nil {
			a.attempts, a.asked = attempt+1, first
			c.spare -= max(0, time.Since(began)-c.whole(true))
			return a, nil
		}
		if c.ctx.Err() != nil {
			return answer{}, c.ended()
		}
		if wait.last = err; !c.goesOn(&wait, attempt, began) {
			return answer{}, c.silence(&wait)
		}
		if c.lossy == 0 && attempt > 0 || attempt%3 == 2 {
			r.repetitions = (r.repetitions + 1) / 2
		}
	}
}

// left is how much longer a request may be met with silence.
func (c *conversation) left(began time.Time) time.Duration {
	left := c.whole(c.heard) - time.Since(began)
	if c.heard && c.retries > 0 {
		left += c.spare
	}
	return left
}

// within is how long an attempt is waited for. Those of the target have time for
// an answer also where this machine was too busy to send them in time.
func (c *conversation) within(attempt int, began time.Time) time.Duration {
	within := min(c.each(attempt), c.left(began))
	if attempt <= c.retries {
		within = max(within, min(c.each(attempt), c.timeout/2))
	}
	return within
}

// goesOn tells whether a request is to be sent again.
func (c *conversation) goesOn(wait *waiting, attempt int, began time.Time) bool {
	if errors.Is(wait.last, syscall.ECONNREFUSED) {
		wait.refused++
		return wait.refused <= c.retries
	}
	if !errors.Is(wait.last, os.ErrDeadlineExceeded) || c.retries == 0 {
		return false
	}
	if c.left(began) > c.timeout/8 || attempt < c.retries {
		return true
	}
	c.spare = 0
	return false
}

// waiting is what came of a request's attempts so far.
type waiting struct {
	ids         []uint32
	repetitions []int
	times       []time.Time
	unfit       error // why the last datagram that was no answer wasn't one, nor a late one
	count       int   // of datagrams that were no answer
	refused     int   // by ICMP, which may be limited in its rate
	unreachable error // likewise: it may pass (RFC 1122 3.2.2.1)
	last        error // of the last attempt
}

func (w *waiting) sent(id uint32, repetitions int) {
	w.ids = append(w.ids, id)
	w.repetitions = append(w.repetitions, repetitions)
	w.times = append(w.times, time.Now())
}

// attempt sends a message once and reads until its answer or for a time.
func (c *conversation) attempt(message []byte, wait *waiting, within time.Duration) (answer, error) {
	if err := c.conn.SetReadDeadline(time.Now().Add(within)); err != nil {
		return answer{}, err
	}
	if _, err := c.conn.Write(message); err != nil && !wait.passes(err) {
		return answer{}, err
	}
	for wait.count <= mostUnfits {
		n, err := c.conn.Read(c.buffer)
		switch {
		case err != nil && wait.passes(err):
			continue
		case err != nil:
			return answer{}, err
		}
		at := c.target.now()
		c.bytes += n
		m, err := c.session.decode(c.buffer[:n])
		if err == nil {
			err = wait.fits(m)
		}
		if err == nil {
			return c.heed(m, wait, at, n), nil
		}
		wait.count++
		if !errors.Is(err, errEarlier) || wait.count > mostUnfits {
			wait.unfit = err
		}
	}
	return answer{}, errors.New("too many datagrams that are no answer")
}

// passes tells of an error whether it may be over before the answer's time is.
func (w *waiting) passes(err error) bool {
	if !errors.Is(err, syscall.EHOSTUNREACH) && !errors.Is(err, syscall.ENETUNREACH) {
		return false
	}
	w.count++
	w.unreachable = err
	return true
}

// heed notes what an answer tells about the round trips.
func (c *conversation) heed(m *message, wait *waiting, at time.Time, size int) answer {
	which := slices.Index(wait.ids, m.key())
	c.heard = true
	c.measure(time.Since(wait.times[which]))
	c.answered(which > 0 && wait.repetitions[which] == wait.repetitions[0], len(wait.ids))
	return answer{message: m, at: at, size: size, repetitions: wait.repetitions[which]}
}

// key is the identifier that a response has from its request. The request-id
// of a Report may be 0 (RFC 3412 7.1 3c).
func (m *message) key() uint32 {
	if m.kind == gosnmp.Report {
		return m.msgID
	}
	return m.requestID
}

// fits tells whether a message answers one of the attempts: the same
// question was asked in each, so a late answer is as good.
func (w *waiting) fits(m *message) error {
	id := m.key()
	switch {
	case m.kind != gosnmp.GetResponse && m.kind != gosnmp.Report || m.kind == gosnmp.Report && m.version != gosnmp.Version3:
		return fmt.Errorf("a %v, not a response", m.kind)
	case !slices.Contains(w.ids, id) || m.version == gosnmp.Version3 && !slices.Contains(w.ids, m.msgID):
		if back := w.ids[0] - id; back > 0 && back < mostPDUs {
			return errEarlier
		}
		return errors.New("a response to another request")
	}
	return nil
}

// ended says what the end of the context means.
func (c *conversation) ended() error {
	err := c.ctx.Err()
	if errors.Is(err, context.Canceled) {
		return fail(Canceled, "given up: %w", err)
	}
	if !c.heard || c.session.usm != nil && !c.session.accepted {
		return c.unanswered("no answer in the time given to the poll", err)
	}
	return fail(Deadline, "the switch answers, but the poll ran out of time after %d requests: give it a longer interval: %w", c.pdus, err)
}

// silence says what it means that no attempt had an answer.
func (c *conversation) silence(w *waiting) error {
	switch {
	case w.unfit != nil:
		return fail(Malformed, "%d datagrams came back and none is an answer to the request; the last: %w", w.count, w.unfit)
	case w.refused > 0:
		return fail(Refused, "nothing listens there: is SNMP switched on, and is the port right: %w", syscall.ECONNREFUSED)
	case !errors.Is(w.last, os.ErrDeadlineExceeded):
		return fail(Unspecified, "%w", w.last)
	}
	what := fmt.Sprintf("no answer to %d requests within %v each", len(w.ids), c.target.Timeout)
	if c.heard {
		what = fmt.Sprintf("no answer to %d requests within %v", len(w.ids), time.Since(w.times[0]).Round(time.Millisecond))
	}
	return c.unanswered(what, cmp.Or(w.unreachable, os.ErrDeadlineExceeded))
}

func (c *conversation) unanswered(what string, err error) error {
	switch {
	case c.session.usm == nil && !c.heard:
		return fail(NoAnswer, "%s: is the address right, is the community (a wrong one gets silence) allowed from here, is there a filter between: %w", what, err)
	case c.session.usm == nil || c.session.accepted:
		return fail(NoAnswer, "%s: %w", what, err)
	case !c.heard:
		return fail(NoAnswer, "%s to engine discovery: is the address right, is SNMPv3 switched on, is there a filter between: %w", what, err)
	}
	return fail(BadCredentials, "the switch answers engine discovery but not the request (%s): the privacy passphrase or protocol%s may be wrong: %w",
		c.session.who(), c.session.orContext(), err)
}
