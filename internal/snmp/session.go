package snmp

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/gosnmp/gosnmp"
)

// session encodes requests and decodes answers. For SNMPv3 it holds what lasts
// from poll to poll: the switch's engine, its clock and the localised keys.
type session struct {
	client   *gosnmp.GoSNMP                // as the credentials say; never connected
	bare     *gosnmp.GoSNMP                // without security, for what isn't authenticated
	usm      *gosnmp.UsmSecurityParameters // nil for SNMPv2c
	heard    time.Time                     // when the engine's clock was last read
	accepted bool                          // an authenticated answer has come from this engine
	last     message                       // the last one decoded
	sent     []byte                        // the last one encoded, SNMPv2c
	room     []byte                        // for its varbinds
}

func newSession(c Credentials) *session {
	s := &session{
		client: &gosnmp.GoSNMP{Version: gosnmp.Version2c, Community: c.Community, MaxOids: gosnmp.MaxOids},
		bare:   &gosnmp.GoSNMP{Version: gosnmp.Version2c},
	}
	if c.Version != 3 {
		return s
	}
	s.usm = &gosnmp.UsmSecurityParameters{
		UserName:                 c.User,
		AuthenticationProtocol:   gosnmp.NoAuth,
		AuthenticationPassphrase: c.Authentication.Passphrase,
		PrivacyProtocol:          gosnmp.NoPriv,
		PrivacyPassphrase:        c.Privacy.Passphrase,
	}
	flags := gosnmp.NoAuthNoPriv
	if c.Authentication != (Secret{}) {
		flags = gosnmp.AuthNoPriv
		s.usm.AuthenticationProtocol, _ = find("authentication", c.Authentication.Protocol, authentications)
	}
	if c.Privacy != (Secret{}) {
		flags = gosnmp.AuthPriv
		s.usm.PrivacyProtocol, _ = find("privacy", c.Privacy.Protocol, privacies)
	}
	s.client = &gosnmp.GoSNMP{
		Version: gosnmp.Version3, MsgFlags: flags | gosnmp.Reportable, ContextName: c.ContextName,
		SecurityModel: gosnmp.UserSecurityModel, SecurityParameters: s.usm,
	}
	_, _ = s.client.SnmpDecodePacket(nil) // fails, and has drawn a random salt for privacy before that
	return s
}

// needsEngine tells that the switch's engine has to be asked for first
// (RFC 3414 4).
func (s *session) needsEngine() bool { return s.usm != nil && s.usm.AuthoritativeEngineID == "" }

// forget makes the next request ask for the engine again.
func (s *session) forget() {
	s.usm.AuthoritativeEngineID, s.client.ContextEngineID = "", ""
	s.usm.SecretKey, s.usm.PrivacyKey = nil, nil
	s.accepted = false
}

// encode gives the message that asks r under an identifier, until the next one
// is encoded.
func (s *session) encode(r request, id uint32, now time.Time) ([]byte, error) {
	if s.usm == nil {
		s.sent, s.room = r.write(s.sent, s.room, s.client.Community, id)
		return s.sent, nil
	}
	variables := make([]gosnmp.SnmpPDU, len(r.names))
	for i, name := range r.names {
		variables[i] = gosnmp.SnmpPDU{Name: dotted(name), Type: gosnmp.Null}
	}
	if !r.discovery {
		s.usm.AuthoritativeEngineTime += s.elapsed(now)
	}
	packet := s.client.MkSnmpPacket(r.kind, variables, uint8(r.nonRepeaters), uint32(r.repetitions))
	packet.RequestID, packet.MsgID = id, id
	switch {
	case r.discovery:
		packet.MsgFlags = gosnmp.NoAuthNoPriv | gosnmp.Reportable
		packet.SecurityParameters = &gosnmp.UsmSecurityParameters{}
		packet.ContextEngineID = ""
	case s.usm.PrivacyProtocol > gosnmp.NoPriv:
		if err := s.usm.InitPacket(packet); err != nil {
			return nil, err
		}
	}
	return packet.MarshalMsg()
}

// elapsed moves the engine's clock on, in whole seconds (RFC 3414 2.3).
func (s *session) elapsed(now time.Time) uint32 {
	seconds := now.Sub(s.heard) / time.Second
	if s.heard.IsZero() || seconds < 1 {
		return 0
	}
	s.heard = s.heard.Add(seconds * time.Second)
	return uint32(seconds)
}

// decode gives the message in a datagram if it is one of this session: of its
// version and community or user, and as well protected as the credentials ask
// for. A Report may come unprotected (RFC 3414 3.2). The message's names and
// texts may share memory with the datagram, and it is the session's until the
// next one is decoded.
func (s *session) decode(datagram []byte) (*message, error) {
	if s.usm == nil && s.last.read(datagram, s.client.Community) {
		return &s.last, nil
	}
	packet, err := s.unpack(datagram)
	if err != nil {
		return nil, err
	}
	s.last.convert(packet)
	return &s.last, nil
}

func (s *session) unpack(datagram []byte) (packet *gosnmp.SnmpPacket, err error) {
	defer func() {
		if broken := recover(); broken != nil { // gosnmp trusts some lengths
			packet, err = nil, fmt.Errorf("can't be decoded: %v", broken)
		}
	}()
	packet, err = s.bare.SnmpDecodePacket(datagram)
	if s.usm == nil {
		switch {
		case err != nil:
			return nil, err
		case packet.Version != gosnmp.Version2c || packet.Community != s.client.Community:
			return nil, errors.New("another version or community than asked with")
		}
		return packet, nil
	}
	if packet.Version != gosnmp.Version3 {
		return nil, errors.New("another version than asked with")
	}
	wanted := s.client.MsgFlags & gosnmp.AuthPriv
	if err != nil && wanted != gosnmp.NoAuthNoPriv && packet.MsgFlags&gosnmp.AuthNoPriv != 0 {
		return s.decodeProtected(datagram, packet)
	}
	if err == nil && packet.PDUType != gosnmp.Report {
		err = s.fitsUnprotected(packet)
	}
	return packet, err
}

// fitsUnprotected tells what is wrong with an unprotected answer: it must be
// enough for the credentials, and for this user of this engine (RFC 3412 7.2.10).
func (s *session) fitsUnprotected(packet *gosnmp.SnmpPacket) error {
	usm, ok := packet.SecurityParameters.(*gosnmp.UsmSecurityParameters)
	switch {
	case s.client.MsgFlags&gosnmp.AuthPriv != gosnmp.NoAuthNoPriv:
		return errors.New("not authenticated")
	case !ok || usm.UserName != s.usm.UserName:
		return errors.New("to another user")
	case usm.AuthoritativeEngineID != s.usm.AuthoritativeEngineID:
		return errors.New("from another engine")
	}
	return nil
}

// decodeProtected does so for a message of which the header could be decoded.
// Its engine is compared first, as gosnmp would make keys for another one.
func (s *session) decodeProtected(datagram []byte, header *gosnmp.SnmpPacket) (*gosnmp.SnmpPacket, error) {
	usm, ok := header.SecurityParameters.(*gosnmp.UsmSecurityParameters)
	if s.needsEngine() || !ok || usm.AuthoritativeEngineID != s.usm.AuthoritativeEngineID {
		return nil, errors.New("from another engine")
	}
	packet, err := s.client.UnmarshalTrap(datagram, false)
	if err != nil {
		return nil, err
	}
	wanted := s.client.MsgFlags & gosnmp.AuthPriv
	if packet.PDUType != gosnmp.Report && packet.MsgFlags&wanted != wanted {
		return nil, errors.New("not as well protected as asked for")
	}
	return packet, nil
}

// learn takes the engine from an answer to discovery.
func (s *session) learn(usm *gosnmp.UsmSecurityParameters, at time.Time) error {
	if usm == nil || len(usm.AuthoritativeEngineID) < 5 || len(usm.AuthoritativeEngineID) > 32 {
		return fail(Malformed, "the switch gives no valid engine id (RFC 3411 5), without which SNMPv3 can't start")
	}
	s.usm.AuthoritativeEngineID = usm.AuthoritativeEngineID
	s.client.ContextEngineID = usm.AuthoritativeEngineID
	s.usm.AuthoritativeEngineBoots, s.usm.AuthoritativeEngineTime, s.heard = usm.AuthoritativeEngineBoots, usm.AuthoritativeEngineTime, at
	s.usm.SecretKey, s.usm.PrivacyKey = nil, nil
	return s.usm.InitSecurityKeys()
}

// tune sets the clock by an authenticated message; forward only (RFC 3414
// 3.2 7b), except where the engine says that ours doesn't fit.
func (s *session) tune(usm *gosnmp.UsmSecurityParameters, at time.Time, backward bool) {
	if s.usm == nil || usm == nil {
		return
	}
	boots, seconds := usm.AuthoritativeEngineBoots, usm.AuthoritativeEngineTime
	later := boots > s.usm.AuthoritativeEngineBoots ||
		boots == s.usm.AuthoritativeEngineBoots && seconds > s.usm.AuthoritativeEngineTime
	if later || backward {
		s.usm.AuthoritativeEngineBoots, s.usm.AuthoritativeEngineTime, s.heard = boots, seconds, at
	}
}

// report gives the name of the counter that a Report shows; "" for none.
func report(m *message) string {
	if m.kind != gosnmp.Report || len(m.variables) == 0 {
		return ""
	}
	return dotted(m.variables[0].name)
}

// The counters of Reports (RFC 3414 5, RFC 3412 5, RFC 3413).
const (
	notInTimeWindows = ".1.3.6.1.6.3.15.1.1.2.0"
	unknownEngineIDs = ".1.3.6.1.6.3.15.1.1.4.0"
)

var refusals = map[string]string{
	".1.3.6.1.6.3.15.1.1.1.0": "the switch doesn't allow this user the security level: give it authentication and privacy as on the switch",
	".1.3.6.1.6.3.15.1.1.3.0": "the switch doesn't know the user",
	".1.3.6.1.6.3.15.1.1.5.0": "wrong digest: the authentication passphrase or protocol isn't the switch's",
	".1.3.6.1.6.3.15.1.1.6.0": "the switch can't decrypt the request: the privacy passphrase or protocol isn't the switch's",
	".1.3.6.1.6.3.12.1.4.0":   "the switch says that the context isn't available",
	".1.3.6.1.6.3.12.1.5.0":   "the switch doesn't know the context",
}

// refusal turns a Report into an error.
func (s *session) refusal(m *message) error {
	name := report(m)
	if why, ok := refusals[name]; ok {
		return fail(BadCredentials, "%s (%s)", why, s.who())
	}
	return fail(AgentError, "the switch answers with a report of %q", name)
}

// who says which user asked and how, without a secret.
func (s *session) who() string {
	auth := slices.IndexFunc(authentications, func(p protocol[gosnmp.SnmpV3AuthProtocol]) bool { return p.number == s.usm.AuthenticationProtocol })
	priv := slices.IndexFunc(privacies, func(p protocol[gosnmp.SnmpV3PrivProtocol]) bool { return p.number == s.usm.PrivacyProtocol })
	text := fmt.Sprintf("user %q, authentication ", s.usm.UserName)
	if auth < 0 {
		return text + "none"
	}
	if priv < 0 {
		return text + authentications[auth].name + ", privacy none"
	}
	return text + authentications[auth].name + ", privacy " + privacies[priv].name
}

func (s *session) orContext() string {
	if s.client.ContextName == "" {
		return ""
	}
	return fmt.Sprintf(" or the context %q", s.client.ContextName)
}
