package sim

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"os"
	"slices"
	"sync/atomic"
	"time"
)

// Agent answers SNMPv2c and SNMPv3 on one UDP socket. Its exported fields are
// set before Serve.
type Agent struct {
	// Now is the clock that the MIB is read by; time.Now unless set.
	Now func() time.Time
	// MaxMessage is the greatest response in octets; 484 is the least that
	// RFC 3417 section 3.2.1 allows, 65507 what UDP over IPv4 carries.
	MaxMessage int
	// MaxVarbinds cuts GETBULK answers shorter, as many agents do; 0 = no limit.
	MaxVarbinds int
	// Mangle, if set, sees every exchange before its answer is sent and gives
	// what is sent instead: nothing, other octets, or the same twice.
	Mangle func(Exchange) []Datagram
	// Mute silences the agent while it runs: requests are neither answered nor
	// counted.
	Mute atomic.Bool

	conn        *net.UDPConn
	mib         MIB
	communities []string
	usm         *usm
	started     time.Time
	sets        atomic.Uint64
	requests    atomic.Uint64
	asker       netip.AddrPort // of the datagram in hand
	late        []lateDatagram
}

// Security says who may ask.
type Security struct {
	Communities []string // SNMPv2c
	Users       []User   // SNMPv3
	EngineID    []byte   // where the MIB has no Engine of its own; optional
}

// Exchange is a request and the answer that the agent would give.
type Exchange struct {
	From     netip.AddrPort // who asks
	Raw      []byte         // the request's octets as they came
	Request  *Message       // nil where a Report is given before the PDU can be read
	Response *Message       // may be altered
	// Encode gives a message in the request's version, user and security level.
	Encode func(*Message) []byte

	rest []func(Exchange) []Datagram // of a composition, still to come
}

// Datagram is something to send, at once or after a time.
type Datagram struct {
	Bytes []byte
	After time.Duration
}

// Send is the answer as it stands: what an agent without Mangle sends, or in a
// composition what the others make of it.
func (e Exchange) Send() []Datagram {
	if len(e.rest) > 0 {
		next := e.rest[0]
		e.rest = e.rest[1:]
		return next(e)
	}
	return []Datagram{{Bytes: e.Encode(e.Response)}}
}

type lateDatagram struct {
	at    time.Time
	to    netip.AddrPort
	bytes []byte
}

// Listen opens the socket ("127.0.0.1:0" takes a free port). It fails where
// the address is taken or a user's protocols are unknown.
func Listen(address string, mib MIB, security Security) (*Agent, error) {
	local, err := net.ResolveUDPAddr("udp", address)
	if err != nil {
		return nil, fmt.Errorf("simulated agent's address %s: %w", address, err)
	}
	a := &Agent{Now: time.Now, MaxMessage: 65507, mib: mib, communities: security.Communities, started: time.Now()}
	if a.usm, err = newUSM(security.Users, a.engine(security.EngineID, a.started).ID); err != nil {
		return nil, err
	}
	if a.conn, err = net.ListenUDP("udp", local); err != nil {
		return nil, fmt.Errorf("simulated agent cannot listen: %w", err)
	}
	return a, nil
}

// Addr is the address that the socket has.
func (a *Agent) Addr() string { return a.conn.LocalAddr().String() }

// Sets counts the authentic SetRequests seen, all refused with notWritable.
func (a *Agent) Sets() uint64 { return a.sets.Load() }

// Requests counts the datagrams that were answered, Reports included.
func (a *Agent) Requests() uint64 { return a.requests.Load() }

// Close closes the socket of an agent that is not being served.
func (a *Agent) Close() error { return a.conn.Close() }

// Serve answers until ctx is done and closes the socket. It returns nil then,
// and leaves no goroutine behind.
func (a *Agent) Serve(ctx context.Context) error {
	closed := make(chan struct{})
	stop := context.AfterFunc(ctx, func() {
		defer close(closed)
		a.conn.Close()
	})
	defer func() {
		if !stop() {
			<-closed
		}
		a.conn.Close()
	}()
	buf := make([]byte, 65536)
	for {
		if err := a.conn.SetReadDeadline(a.sendLate()); err != nil {
			return stopped(ctx, err)
		}
		n, from, err := a.conn.ReadFromUDPAddrPort(buf)
		if errors.Is(err, os.ErrDeadlineExceeded) {
			continue
		}
		if err != nil {
			return stopped(ctx, err)
		}
		a.asker = from
		for _, d := range a.handle(buf[:n], a.Now()) {
			a.send(d, from)
		}
	}
}

func stopped(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return nil
	}
	return fmt.Errorf("simulated agent: %w", err)
}

// send is the network's best effort: what cannot be sent is lost, as on any wire.
func (a *Agent) send(d Datagram, to netip.AddrPort) {
	if a.silent() {
		return
	}
	if d.After > 0 {
		a.late = append(a.late, lateDatagram{time.Now().Add(d.After), to, d.Bytes})
		return
	}
	_, _ = a.conn.WriteToUDPAddrPort(d.Bytes, to)
}

// sendLate sends what is due and gives the moment of the next, zero if none.
func (a *Agent) sendLate() time.Time {
	var next time.Time
	now := time.Now()
	a.late = slices.DeleteFunc(a.late, func(l lateDatagram) bool {
		if !l.at.After(now) {
			a.send(Datagram{Bytes: l.bytes}, l.to)
			return true
		}
		if next.IsZero() || l.at.Before(next) {
			next = l.at
		}
		return false
	})
	return next
}

// handle answers one datagram. What is not SNMP, or from a stranger, gets silence.
func (a *Agent) handle(raw []byte, now time.Time) []Datagram {
	if a.silent() {
		return nil
	}
	session, err := a.open(raw, now)
	if err != nil {
		return nil
	}
	response := session.report
	if response == nil {
		response = a.respond(session, now)
	}
	if response == nil {
		return nil
	}
	a.requests.Add(1)
	exchange := Exchange{From: a.asker, Raw: slices.Clone(raw), Request: session.request, Response: response, Encode: session.seal}
	if a.Mangle != nil {
		return a.Mangle(exchange)
	}
	return exchange.Send()
}

// silent says that there is nobody to answer: the agent is mute, or what it
// speaks for has no power.
func (a *Agent) silent() bool {
	owner, ok := a.mib.(interface{ Answering() bool })
	return a.Mute.Load() || ok && !owner.Answering()
}

// session is an opened request: who asks is known, or a report says why not.
type session struct {
	request *Message
	report  *Message
	denied  bool // authentic, but below the user's security level
	limit   int  // of the response, in octets
	seal    func(*Message) []byte
}

func (a *Agent) open(raw []byte, now time.Time) (*session, error) {
	content, rest, err := want(raw, TagSequence)
	if err != nil || len(rest) > 0 {
		return nil, errBER
	}
	version, content, err := wantInt(content)
	switch {
	case err != nil:
		return nil, err
	case version == 1:
		return a.openCommunity(content)
	case version == 3:
		return a.usm.open(raw, content, a.engine(a.usm.engineID, now), a.MaxMessage)
	}
	return nil, fmt.Errorf("SNMP version %d is not spoken here", version)
}

func (a *Agent) openCommunity(content []byte) (*session, error) {
	community, content, err := want(content, TagOctetString)
	if err != nil {
		return nil, err
	}
	if !slices.Contains(a.communities, string(community)) {
		return nil, errors.New("unknown community")
	}
	community = slices.Clone(community)
	request, err := readPDU(content)
	seal := func(m *Message) []byte {
		out := appendInt(nil, TagInteger, 1)
		out = appendTLV(out, TagOctetString, community)
		return appendTLV(nil, TagSequence, m.append(out))
	}
	return &session{request: request, limit: a.MaxMessage, seal: seal}, err
}

// respond gives the response, or nil where the PDU is no request.
func (a *Agent) respond(s *session, now time.Time) *Message {
	switch {
	case s.request.Type == SetRequest:
		a.sets.Add(1)
		return s.request.failed(NotWritable, min(1, int64(len(s.request.Varbinds))))
	case s.request.Type != GetRequest && s.request.Type != GetNextRequest && s.request.Type != GetBulkRequest:
		return nil
	case s.denied:
		return s.request.failed(AuthorizationError, 0)
	}
	// What goes round the bindings: the empty response, five lengths that may
	// grow by three octets, and the padding of a cipher.
	around := len(s.seal(&Message{Type: Response, RequestID: s.request.RequestID})) + 5*3 + 8
	asked := s.request.Type == GetBulkRequest && len(s.request.Varbinds) > 0 &&
		(s.request.ErrorStatus > 0 || s.request.ErrorIndex > 0)
	response := s.request.respond(a.mib.At(now), s.limit-around, a.MaxVarbinds)
	if asked && len(response.Varbinds) == 0 || len(s.seal(response)) > s.limit {
		return s.request.failed(TooBig, 0)
	}
	return response
}

// engine is the MIB's where it has one, else one that booted with the agent.
func (a *Agent) engine(id []byte, now time.Time) Engine {
	if owner, ok := a.mib.(interface{ Engine(time.Time) Engine }); ok {
		return owner.Engine(now)
	}
	if len(id) == 0 {
		id = engineID("agent")
	}
	return Engine{ID: id, Boots: 1, Up: max(now.Sub(a.started), 0)}
}

// engineID makes an identifier by RFC 3411 section 5: the enterprise number
// 32473, which RFC 5612 keeps for examples, format 4 (text), and the name.
func engineID(name string) []byte {
	id := append([]byte{0x80, 0x00, 0x7e, 0xd9, 4}, name...)
	return id[:min(len(id), 32)]
}
