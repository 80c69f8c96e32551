package snmp_test

import (
	"context"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"toneout/internal/sim"
	"toneout/internal/snmp"
	"toneout/internal/snmp/snmpdtest"

	"github.com/gosnmp/gosnmp"
	"github.com/stretchr/testify/require"
)

// forgery is an SNMPv3 answer that somebody else makes to a request. The zero
// value is as the switch would make it.
type forgery struct {
	engine, user, passphrase string
	level                    gosnmp.SnmpV3MsgFlags // less than authPriv, as 1 + flags
	id, message              uint32                // added to request-id and msgID
	report                   string                // the counter of a Report
}

const timeWindow = ".1.3.6.1.6.3.15.1.1.2.0" // usmStatsNotInTimeWindows, RFC 3414 5

const enginePrefix = "\x80\x00\x7e\xd9\x04q" // as of engineOf

func (f forgery) to(t *testing.T, e sim.Exchange) []byte {
	t.Helper()
	or := func(text, other string) string {
		if text == "" {
			return other
		}
		return text
	}
	usm := &gosnmp.UsmSecurityParameters{
		UserName: or(f.user, snmpdUser.User), AuthoritativeEngineID: or(f.engine, enginePrefix+"a"),
		AuthoritativeEngineBoots: 7, AuthoritativeEngineTime: 3600,
		AuthenticationProtocol: gosnmp.SHA256, AuthenticationPassphrase: or(f.passphrase, snmpdtest.AuthenticationPassphrase),
		PrivacyProtocol: gosnmp.AES, PrivacyPassphrase: snmpdtest.PrivacyPassphrase,
	}
	require.NoError(t, usm.InitSecurityKeys())
	header, _ := (&gosnmp.GoSNMP{Version: gosnmp.Version2c}).SnmpDecodePacket(e.Raw) // the header can be read without keys
	id := header.MsgID                                                               // and request-id, as toneout gives both
	packet := &gosnmp.SnmpPacket{
		Version: gosnmp.Version3, MsgFlags: gosnmp.AuthPriv, SecurityModel: gosnmp.UserSecurityModel, SecurityParameters: usm,
		ContextEngineID: usm.AuthoritativeEngineID, PDUType: gosnmp.GetResponse, RequestID: id + f.id, MsgID: id + f.message, MsgMaxSize: 65507,
	}
	for _, v := range e.Response.Varbinds {
		if asksFor(v, sysNameObject) {
			v.Value = sim.Octets("forged")
		}
		packet.Variables = append(packet.Variables, pduOf(v))
	}
	if f.report != "" {
		usm.AuthoritativeEngineBoots = 1 << 30
		packet.PDUType, packet.Variables = gosnmp.Report, []gosnmp.SnmpPDU{{Name: f.report, Type: gosnmp.Counter32, Value: uint32(1)}}
	}
	if f.level > 0 {
		packet.MsgFlags = f.level - 1
	}
	if packet.MsgFlags == gosnmp.AuthPriv {
		require.NoError(t, usm.InitPacket(packet))
	} else {
		usm.PrivacyProtocol = gosnmp.NoPriv
	}
	if packet.MsgFlags == gosnmp.NoAuthNoPriv {
		usm.AuthenticationProtocol = gosnmp.NoAuth
	}
	message, err := packet.MarshalMsg()
	require.NoError(t, err)
	return message
}

// pduOf gives gosnmp's form of a varbind.
func pduOf(v sim.Varbind) gosnmp.SnmpPDU {
	pdu := gosnmp.SnmpPDU{Name: "." + v.Name.String(), Type: gosnmp.Asn1BER(v.Value.Tag)}
	switch v.Value.Tag {
	case sim.TagInteger:
		pdu.Value = int(v.Value.Number)
	case sim.TagCounter32, sim.TagGauge32, sim.TagTimeTicks:
		pdu.Value = uint32(v.Value.Number)
	case sim.TagCounter64:
		pdu.Value = v.Value.Number
	case sim.TagOctetString:
		pdu.Value = v.Value.Text
	}
	return pdu
}

// Of an answer that isn't the switch's, nothing is taken (RFC 3414 3.2, RFC
// 3412 7.2.10). Each comes ahead of the right one.
func TestForgedAnswersAreNotBelieved(t *testing.T) {
	for name, row := range map[string]struct {
		forgery  forgery
		believed bool // that the forging itself is right
		class    snmp.Class
	}{
		"as the switch would make it":    {forgery{}, true, ""},
		"neither":                        {forgery{level: 1 + gosnmp.NoAuthNoPriv}, false, ""},
		"authenticated, not private":     {forgery{level: 1 + gosnmp.AuthNoPriv}, false, ""},
		"with another passphrase":        {forgery{passphrase: "harbour dark"}, false, ""},
		"of another engine":              {forgery{engine: enginePrefix + "b"}, false, ""},
		"for another user":               {forgery{user: "stranger"}, false, ""},
		"of an earlier msgID":            {forgery{message: 1<<32 - 1}, false, ""},
		"of another request-id":          {forgery{id: 5}, false, ""},
		"of an earlier request":          {forgery{id: 1<<32 - 1, message: 1<<32 - 1}, false, ""},
		"a time window, unauthenticated": {forgery{report: timeWindow, level: 1 + gosnmp.NoAuthNoPriv}, false, snmp.TimeWindow},
		"a time window, of another key":  {forgery{report: timeWindow, level: 1 + gosnmp.AuthNoPriv, passphrase: "harbour dark"}, false, ""},
		"a time window, of another":      {forgery{report: timeWindow, level: 1 + gosnmp.AuthNoPriv, engine: enginePrefix + "b"}, false, ""},
	} {
		t.Run(name, func(t *testing.T) {
			armed := atomic.Bool{}
			e := &engine{Static: ports(3)}
			e.set(func() sim.Engine { return engineOf('a', 7, time.Hour) })
			s := open(t, serveTo(t, e, everyUser, func(a *sim.Agent) {
				a.Mangle = func(e sim.Exchange) []sim.Datagram {
					if !asks(e, sysNameObject) || !armed.Swap(false) {
						return e.Send()
					}
					return append([]sim.Datagram{{Bytes: row.forgery.to(t, e)}}, e.Send()...)
				}
			}), snmpdUser)
			poll(t, s)
			poll(t, s)
			steady := s.Traffic().Requests
			armed.Store(true)
			p, err := s.Poll(context.Background())
			require.Equal(t, row.class, snmp.ClassOf(err), "%v", err)
			if row.class != "" {
				require.ErrorContains(t, err, "isn't authenticated")
			} else {
				require.Equal(t, row.believed, p.Name == "forged")
				require.Equal(t, steady, s.Traffic().Requests, "nothing is asked again")
			}
			require.Equal(t, "acc-1", poll(t, s).Name)
		})
	}
}

// A genuine answer that is sent once more is another request's.
func TestAReplayedAnswerIsNotBelieved(t *testing.T) {
	mib := &shifting{}
	old := ports(3)
	set(old, sysNameObject, "0", sim.Octets("old"))
	mib.set(old)
	var kept []byte
	s := open(t, serveTo(t, mib, everyUser, func(a *sim.Agent) {
		a.Mangle = func(e sim.Exchange) []sim.Datagram {
			answer := e.Send()
			if !asks(e, sysNameObject) {
				return answer
			}
			if kept == nil {
				kept = slices.Clone(answer[0].Bytes)
				return answer
			}
			return append([]sim.Datagram{{Bytes: kept}}, answer...)
		}
	}), snmpdUser)
	require.Equal(t, "old", poll(t, s).Name)
	mib.set(ports(3))
	require.Equal(t, "acc-1", poll(t, s).Name)
}

// Without security there are still user and engine to be compared.
func TestAnswersToAnotherUserAreNotTaken(t *testing.T) {
	for name, change := range map[string]func(string) string{
		"user":   func(m string) string { return strings.ReplaceAll(m, "reader", "stager") },
		"engine": func(m string) string { return strings.Replace(m, enginePrefix+"a", enginePrefix+"b", 1) },
	} {
		t.Run(name, func(t *testing.T) {
			e := &engine{Static: ports(2)}
			e.set(func() sim.Engine { return engineOf('a', 7, time.Hour) })
			s := open(t, serveTo(t, e, sim.Security{Users: []sim.User{{Name: "reader"}}}, func(a *sim.Agent) {
				a.Mangle = func(e sim.Exchange) []sim.Datagram {
					answer := e.Send()
					if e.Response.Type != sim.Report {
						answer[0].Bytes = []byte(change(string(answer[0].Bytes)))
					}
					return answer
				}
			}), snmp.Credentials{Version: 3, User: "reader"}, func(target *snmp.Target) { target.Timeout, target.Retries = 100*time.Millisecond, 0 })
			_, err := s.Poll(context.Background())
			require.Equal(t, snmp.Malformed, snmp.ClassOf(err), "%v", err)
		})
	}
}
