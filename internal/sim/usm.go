package sim

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
)

// Message flags (RFC 3412 section 6.4).
const (
	flagAuth       byte = 1
	flagPriv       byte = 2
	flagReportable byte = 4
)

// The report counters: RFC 3414 section 5 (usmStats), RFC 3412 section 5
// (snmpUnknownPDUHandlers), RFC 3413 (snmpUnknownContexts).
var (
	unsupportedSecLevels = ParseOID("1.3.6.1.6.3.15.1.1.1.0")
	notInTimeWindows     = ParseOID("1.3.6.1.6.3.15.1.1.2.0")
	unknownUserNames     = ParseOID("1.3.6.1.6.3.15.1.1.3.0")
	unknownEngineIDs     = ParseOID("1.3.6.1.6.3.15.1.1.4.0")
	wrongDigests         = ParseOID("1.3.6.1.6.3.15.1.1.5.0")
	decryptionErrors     = ParseOID("1.3.6.1.6.3.15.1.1.6.0")
	unknownPDUHandlers   = ParseOID("1.3.6.1.6.3.11.2.1.3.0")
	unknownContexts      = ParseOID("1.3.6.1.6.3.12.1.5.0")
)

const timeWindow = 150 // seconds, RFC 3414 section 2.2.3

// usm holds the users with their keys localised to one engine. It belongs to
// the goroutine that serves.
type usm struct {
	engineID []byte
	plain    []User
	users    map[string]*localUser
	stats    map[string]uint64
	salt     uint64
}

func newUSM(users []User, engineID []byte) (*usm, error) {
	u := &usm{plain: users, users: map[string]*localUser{}, stats: map[string]uint64{}}
	return u, u.localise(engineID)
}

// localise makes the users' keys for an engine, as again after it is replaced.
func (u *usm) localise(engineID []byte) error {
	u.engineID = engineID
	for _, user := range u.plain {
		local, err := localise(user, engineID)
		if err != nil {
			return fmt.Errorf("simulated agent's user %q: %w", user.Name, err)
		}
		u.users[user.Name] = local
	}
	return nil
}

// usmMessage is an SNMPv3 message taken apart (RFC 3412 section 6, RFC 3414
// section 2.4). Its slices lie in the datagram.
type usmMessage struct {
	id, maxSize        int64
	flags              byte
	engineID           []byte
	boots, time        int64
	user, digest, salt []byte
	data               []byte // the scoped PDU, or its encryption
}

func readUSM(content []byte) (m usmMessage, err error) {
	header, content, err := want(content, TagSequence)
	if err != nil {
		return m, err
	}
	if m.id, header, err = wantInt(header); err != nil {
		return m, err
	}
	if m.maxSize, header, err = wantInt(header); err != nil {
		return m, err
	}
	flags, header, err := want(header, TagOctetString)
	if err != nil || len(flags) != 1 {
		return m, errBER
	}
	m.flags = flags[0]
	model, _, err := wantInt(header)
	if err != nil || model != 3 || m.flags&flagPriv != 0 && m.flags&flagAuth == 0 || m.maxSize < 484 {
		return m, errors.New("security model, flags or size that RFC 3412 section 7.2 discards")
	}
	wrapped, data, err := want(content, TagOctetString)
	if err != nil {
		return m, err
	}
	m.data = data
	return m, m.readParameters(wrapped)
}

func (m *usmMessage) readParameters(wrapped []byte) error {
	parameters, rest, err := want(wrapped, TagSequence)
	if err != nil || len(rest) > 0 {
		return errBER
	}
	if m.engineID, parameters, err = want(parameters, TagOctetString); err != nil {
		return err
	}
	if m.boots, parameters, err = wantInt(parameters); err != nil {
		return err
	}
	if m.time, parameters, err = wantInt(parameters); err != nil {
		return err
	}
	if m.user, parameters, err = want(parameters, TagOctetString); err != nil {
		return err
	}
	if m.digest, parameters, err = want(parameters, TagOctetString); err != nil {
		return err
	}
	m.salt, rest, err = want(parameters, TagOctetString)
	if len(rest) > 0 {
		return errBER
	}
	return err
}

// open follows RFC 3414 section 3.2 step by step.
func (u *usm) open(raw, content []byte, engine Engine, most int) (*session, error) {
	m, err := readUSM(content)
	if err != nil {
		return nil, err
	}
	if !bytes.Equal(u.engineID, engine.ID) {
		if err := u.localise(engine.ID); err != nil {
			return nil, err
		}
	}
	user := u.users[string(m.user)]
	switch {
	case !bytes.Equal(m.engineID, engine.ID): // step 3
		return u.report(m, engine, nil, unknownEngineIDs, most)
	case user == nil: // step 4
		return u.report(m, engine, nil, unknownUserNames, most)
	case m.flags&^user.level&(flagAuth|flagPriv) != 0: // step 5
		return u.report(m, engine, nil, unsupportedSecLevels, most)
	}
	if m.flags&flagAuth != 0 {
		if !user.authentic(raw, m.digest) { // step 6
			return u.report(m, engine, nil, wrongDigests, most)
		}
		if !inTime(m, engine) { // step 7
			return u.report(m, engine, user, notInTimeWindows, most)
		}
	}
	if m.flags&flagPriv != 0 { // step 8
		if m.data, err = user.decrypt(m); err != nil {
			return u.report(m, engine, nil, decryptionErrors, most)
		}
	}
	return u.dispatch(m, engine, user, most)
}

// dispatch reads the scoped PDU (RFC 3412 section 7.2 steps 10 to 13).
func (u *usm) dispatch(m usmMessage, engine Engine, user *localUser, most int) (*session, error) {
	context, name, pdu, err := readScope(m.data)
	if err != nil {
		return nil, err
	}
	request, err := readPDU(pdu)
	if err != nil {
		return nil, err
	}
	switch {
	case !bytes.Equal(context, engine.ID):
		return u.report(m, engine, user, unknownPDUHandlers, most)
	case len(name) > 0:
		return u.report(m, engine, user, unknownContexts, most)
	}
	level := m.flags & (flagAuth | flagPriv)
	return &session{
		request: request, denied: level != user.level, limit: int(min(m.maxSize, int64(most))),
		seal: func(r *Message) []byte { return u.seal(m.id, r, engine, []byte(user.name), user, level) },
	}, nil
}

func readScope(data []byte) (engineID, name, pdu []byte, err error) {
	scoped, _, err := want(data, TagSequence) // what follows is a cipher's padding
	if err != nil {
		return nil, nil, nil, err
	}
	if engineID, scoped, err = want(scoped, TagOctetString); err != nil {
		return nil, nil, nil, err
	}
	name, pdu, err = want(scoped, TagOctetString)
	return engineID, name, pdu, err
}

// report counts and gives a Report, if the request asks for one: without
// security, or authenticated where RFC 3414 section 3.2 step 7 wants it.
func (u *usm) report(m usmMessage, engine Engine, user *localUser, counter OID, most int) (*session, error) {
	u.stats[counter.String()]++
	if m.flags&flagReportable == 0 {
		return nil, errors.New("message refused and not reportable")
	}
	report := &Message{Type: Report, Varbinds: []Varbind{{counter, Counter32(u.stats[counter.String()])}}}
	if _, _, pdu, err := readScope(m.data); err == nil { // RFC 3412 section 7.1 step 3
		if request, err := readPDU(pdu); err == nil {
			report.RequestID = request.RequestID
		}
	}
	level := byte(0)
	if user != nil {
		level = m.flags & flagAuth
	}
	asking := slices.Clone(m.user)
	return &session{report: report, limit: most, seal: func(r *Message) []byte {
		return u.seal(m.id, r, engine, asking, user, level)
	}}, nil
}

// inTime is RFC 3414 section 3.2 step 7a, for an authoritative engine.
func inTime(m usmMessage, engine Engine) bool {
	drift := m.time - int64(engine.Up.Seconds())
	return engine.Boots < 0x7fffffff && m.boots == int64(engine.Boots) && drift >= -timeWindow && drift <= timeWindow
}

// seal encodes a message to a user at a security level (RFC 3414 section 3.1).
func (u *usm) seal(id int64, r *Message, engine Engine, name []byte, user *localUser, level byte) []byte {
	scoped := appendTLV(nil, TagOctetString, engine.ID)
	scoped = appendTLV(scoped, TagOctetString, nil)
	data := appendTLV(nil, TagSequence, r.append(scoped))
	var digest, salt []byte
	if level&flagAuth != 0 {
		digest = make([]byte, user.digest.octets)
	}
	if level&flagPriv != 0 {
		u.salt++
		salt = binary.BigEndian.AppendUint64(nil, uint64(engine.Boots)<<32|u.salt&0xffffffff)
		sealed, err := user.encrypt(data, engine, salt)
		if err != nil {
			panic(err) // a key of the wrong length: localise made it
		}
		data = appendTLV(nil, TagOctetString, sealed)
	}
	parameters := appendTLV(nil, TagOctetString, engine.ID)
	parameters = appendInt(parameters, TagInteger, int64(engine.Boots))
	parameters = appendInt(parameters, TagInteger, int64(engine.Up.Seconds()))
	parameters = appendTLV(parameters, TagOctetString, name)
	parameters = appendTLV(parameters, TagOctetString, digest)
	parameters = appendTLV(parameters, TagOctetString, salt)
	message := appendInt(nil, TagInteger, 3)
	message = appendTLV(message, TagSequence, usmHeader(id, level))
	message = appendTLV(message, TagOctetString, appendTLV(nil, TagSequence, parameters))
	message = appendTLV(nil, TagSequence, append(message, data...))
	if len(digest) > 0 {
		at := len(message) - len(data) - 2 - len(salt) - len(digest)
		copy(message[at:], user.sign(message))
	}
	return message
}

func usmHeader(id int64, level byte) []byte {
	header := appendInt(nil, TagInteger, id)
	header = appendInt(header, TagInteger, 65507)
	header = appendTLV(header, TagOctetString, []byte{level})
	return appendInt(header, TagInteger, 3)
}
