package snmp_test

import (
	"bytes"
	"context"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"

	"github.com/stretchr/testify/require"
)

var everyUser = sim.Security{
	Communities: []string{community},
	Users: []sim.User{{
		Name: snmpdUser.User, Authentication: "SHA-256", Passphrase: snmpdUser.Authentication.Passphrase,
		Privacy: "AES-128", PrivacyPassphrase: snmpdUser.Privacy.Passphrase,
	}},
}

// mangle changes what the simulated agent answers; nth counts the answers
// to GET and GETBULK from 1.
type mangle func(nth int, e sim.Exchange) []sim.Datagram

// bulk alters every response to a GETBULK.
func bulk(change func(m *sim.Message)) mangle {
	return func(_ int, e sim.Exchange) []sim.Datagram {
		if e.Request.Type == sim.GetBulkRequest {
			change(e.Response)
		}
		return e.Send()
	}
}

// each alters every response.
func each(change func(m *sim.Message)) mangle {
	return func(_ int, e sim.Exchange) []sim.Datagram { change(e.Response); return e.Send() }
}

// only alters one response.
func only(n int, change func(m *sim.Message)) mangle {
	return func(nth int, e sim.Exchange) []sim.Datagram {
		if nth == n {
			change(e.Response)
		}
		return e.Send()
	}
}

// from alters the nth response and all after it.
func from(n int, change func(m *sim.Message)) mangle {
	return func(nth int, e sim.Exchange) []sim.Datagram {
		if nth >= n {
			change(e.Response)
		}
		return e.Send()
	}
}

// before sends an altered copy ahead of every response.
func before(change func(m *sim.Message)) mangle {
	return func(_ int, e sim.Exchange) []sim.Datagram {
		altered := *e.Response
		altered.Varbinds = slices.Clone(altered.Varbinds)
		change(&altered)
		return append([]sim.Datagram{{Bytes: e.Encode(&altered)}}, e.Send()...)
	}
}

func garbage(n int) []byte {
	b := make([]byte, n)
	for i := range b {
		b[i] = byte(rand.Uint32())
	}
	return b
}

const survives snmp.Class = ""

// Answers as they should not be. RFC 3416 4.2.3 says what a response holds, 3 what
// its fields are; RFC 3412 7.2.10 that it must match a request outstanding.
var answers = map[string]struct {
	mangle mangle
	class  snmp.Class
	hint   string
}{
	"as they should be":         {each(func(*sim.Message) {}), survives, ""},
	"request-id 0":              {each(func(m *sim.Message) { m.RequestID = 0 }), snmp.Malformed, "another request"},
	"request-id 0, then right":  {before(func(m *sim.Message) { m.RequestID = 0; m.Varbinds[0].Value = sim.Ticks(0) }), survives, ""},
	"stale request-id":          {before(func(m *sim.Message) { m.RequestID--; m.Varbinds = m.Varbinds[:1] }), survives, ""},
	"another kind of PDU":       {each(func(m *sim.Message) { m.Type = sim.SetRequest }), snmp.Malformed, "not a response"},
	"another kind, then right":  {before(func(m *sim.Message) { m.Type = sim.GetBulkRequest }), survives, ""},
	"one varbind less":          {bulk(func(m *sim.Message) { m.Varbinds = m.Varbinds[:len(m.Varbinds)-1] }), survives, ""},
	"half the varbinds":         {bulk(func(m *sim.Message) { m.Varbinds = m.Varbinds[:1+len(m.Varbinds)/2] }), survives, ""},
	"sysUpTime only":            {bulk(func(m *sim.Message) { m.Varbinds = m.Varbinds[:1] }), snmp.AgentError, "too big"},
	"at most one value":         {bulk(func(m *sim.Message) { m.Varbinds = m.Varbinds[:min(2, len(m.Varbinds))] }), survives, ""},
	"no varbinds":               {bulk(func(m *sim.Message) { m.Varbinds = nil }), snmp.AgentError, "too big"},
	"one varbind more":          {each(func(m *sim.Message) { m.Varbinds = append(m.Varbinds, m.Varbinds[len(m.Varbinds)-1]) }), snmp.Malformed, ""},
	"others than asked for":     {each(func(m *sim.Message) { m.Varbinds[0].Name = sim.ParseOID("1.3.6.1.4.1.32473.1.0") }), snmp.Malformed, "other values"},
	"shifted by one":            {bulk(func(m *sim.Message) { m.Varbinds = m.Varbinds[1:] }), snmp.Malformed, "sysUpTime was asked for"},
	"columns in another order":  {only(3, func(m *sim.Message) { slices.Reverse(m.Varbinds[1:]) }), snmp.Malformed, "no rising order"},
	"the same row twice":        {only(3, func(m *sim.Message) { copy(m.Varbinds[22:43], m.Varbinds[1:22]) }), snmp.Malformed, "no rising order"},
	"genErr of a column once":   {only(3, func(m *sim.Message) { m.ErrorStatus, m.ErrorIndex = sim.GenErr, 8 }), survives, ""},
	"genErr of a column":        {from(3, func(m *sim.Message) { m.ErrorStatus, m.ErrorIndex = sim.GenErr, 8 }), snmp.AgentError, "varbind 8"},
	"genErr of nothing":         {only(3, func(m *sim.Message) { m.ErrorStatus = sim.GenErr }), snmp.AgentError, "GenErr"},
	"genErr from the start":     {each(func(m *sim.Message) { m.ErrorStatus = sim.GenErr }), snmp.AgentError, "uptime and name"},
	"authorizationError":        {only(3, func(m *sim.Message) { m.ErrorStatus = sim.AuthorizationError }), snmp.BadCredentials, "access rules"},
	"tooBig once":               {only(3, func(m *sim.Message) { m.ErrorStatus, m.Varbinds = sim.TooBig, nil }), survives, ""},
	"tooBig always":             {bulk(func(m *sim.Message) { m.ErrorStatus, m.Varbinds = sim.TooBig, nil }), snmp.AgentError, "too big"},
	"restarted between":         {only(7, func(m *sim.Message) { m.Varbinds[0].Value = sim.Ticks(time.Second) }), snmp.Restarted, "restarted"},
	"sysUpTime is no TimeTicks": {each(func(m *sim.Message) { m.Varbinds[0].Value = sim.Octets("yesterday") }), survives, "no uptime"},
	"everything twice": {func(_ int, e sim.Exchange) []sim.Datagram {
		return append(e.Send(), e.Send()...)
	}, survives, ""},
	"garbage before": {func(_ int, e sim.Exchange) []sim.Datagram {
		return append([]sim.Datagram{{Bytes: garbage(60)}, {Bytes: e.Raw}, {Bytes: nil}}, e.Send()...)
	}, survives, ""},
	"garbage only": {func(int, sim.Exchange) []sim.Datagram {
		return []sim.Datagram{{Bytes: garbage(60)}}
	}, snmp.Malformed, "none is an answer"},
	"a flood of garbage": {func(_ int, e sim.Exchange) []sim.Datagram {
		return slices.Repeat([]sim.Datagram{{Bytes: garbage(8)}}, 300)
	}, snmp.Malformed, "datagrams"},
	"a truncated answer, then right": {func(_ int, e sim.Exchange) []sim.Datagram {
		whole := e.Send()
		return append([]sim.Datagram{{Bytes: whole[0].Bytes[:len(whole[0].Bytes)-5]}}, whole...)
	}, survives, ""},
	"another community or user": {func(_ int, e sim.Exchange) []sim.Datagram {
		other := bytes.ReplaceAll(e.Encode(e.Response), []byte(community), []byte("quax"))
		return []sim.Datagram{{Bytes: bytes.ReplaceAll(other, []byte("toneout"), []byte("toneoux"))}}
	}, snmp.Malformed, ""},
	"every fourth is lost": {func(nth int, e sim.Exchange) []sim.Datagram {
		if nth%4 == 0 {
			return nil
		}
		return e.Send()
	}, survives, ""},
	"every fourth is late": {func(nth int, e sim.Exchange) []sim.Datagram {
		answer := e.Send()
		if nth%4 == 0 {
			answer[0].After = shortTimeout * 3 / 2
		}
		return answer
	}, survives, ""},
}

func TestAnswersThatAreNone(t *testing.T) {
	t.Parallel()
	for name, row := range answers {
		for version, credentials := range map[string]snmp.Credentials{"v2c": v2c, "v3": snmpdUser} {
			t.Run(name+"/"+version, func(t *testing.T) { answered(t, credentials, row.mangle, row.class, row.hint) })
		}
	}
}

const shortTimeout = 250 * time.Millisecond

func answered(t *testing.T, c snmp.Credentials, mangle mangle, class snmp.Class, hint string) {
	t.Parallel() // most of the time is spent waiting
	plain := open(t, serve(t, ports(12)), v2c)
	want := poll(t, plain)
	nth := 0
	address := serveTo(t, ports(12), everyUser, func(a *sim.Agent) {
		a.Mangle = func(e sim.Exchange) []sim.Datagram {
			if e.Response.Type == sim.Report {
				return e.Send()
			}
			nth++
			return mangle(nth, e)
		}
	})
	s := open(t, address, c, func(target *snmp.Target) { target.Timeout, target.Retries = shortTimeout, 2 })
	got, err := s.Poll(context.Background())
	if class != "" {
		require.Error(t, err)
		require.Equal(t, class, snmp.ClassOf(err), "%v", err)
		require.Contains(t, err.Error(), hint)
		require.Empty(t, got)
		return
	}
	require.NoError(t, err)
	require.Len(t, got.Ports, 12)
	for i := range got.Ports {
		forget(&want.Ports[i], hint)
		forget(&got.Ports[i], hint)
		require.Equal(t, want.Ports[i], got.Ports[i])
	}
}

// forget takes out what may differ.
func forget(r *port.Reading, hint string) {
	r.At = time.Time{}
	if strings.Contains(hint, "uptime") {
		r.Uptime = port.Value[uint32]{}
	}
}
