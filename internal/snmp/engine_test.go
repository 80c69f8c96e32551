package snmp_test

import (
	"bytes"
	"context"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"toneout/internal/sim"
	"toneout/internal/snmp"

	"github.com/gosnmp/gosnmp"
	"github.com/stretchr/testify/require"
)

// engine is a MIB with an SNMP engine that can be changed under the client.
type engine struct {
	sim.Static
	show atomic.Pointer[func() sim.Engine]
}

func (e *engine) Engine(time.Time) sim.Engine { return (*e.show.Load())() }

func (e *engine) set(show func() sim.Engine) { e.show.Store(&show) }

func engineOf(last byte, boots uint32, up time.Duration) sim.Engine {
	return sim.Engine{ID: []byte{0x80, 0, 0x7e, 0xd9, 4, 'q', last}, Boots: boots, Up: up}
}

func TestTheEngineOfASwitch(t *testing.T) {
	start := func(t *testing.T) (*engine, *snmp.Switch) {
		e := &engine{Static: ports(3)}
		e.set(func() sim.Engine { return engineOf('a', 7, time.Hour) })
		s := open(t, serveTo(t, e, everyUser), snmpdUser)
		require.Len(t, poll(t, s).Ports, 3)
		return e, s
	}
	t.Run("reboots", func(t *testing.T) { // RFC 3414 2.3: one Report, then right
		e, s := start(t)
		steady := s.Traffic().Requests
		poll(t, s)
		require.Less(t, s.Traffic().Requests, steady, "no discovery again")
		steady = s.Traffic().Requests
		e.set(func() sim.Engine { return engineOf('a', 8, time.Second) })
		poll(t, s)
		require.Equal(t, steady+1, s.Traffic().Requests)
		poll(t, s)
		require.Equal(t, steady, s.Traffic().Requests)
	})
	t.Run("forgets its boots", func(t *testing.T) {
		e, s := start(t)
		e.set(func() sim.Engine { return engineOf('a', 1, time.Second) })
		require.Len(t, poll(t, s).Ports, 3)
	})
	t.Run("has a clock that jumps", func(t *testing.T) {
		e, s := start(t)
		jumps := atomic.Int64{}
		e.set(func() sim.Engine { return engineOf('a', 7, time.Hour*time.Duration(jumps.Add(1)%7*3)) })
		_, err := s.Poll(context.Background())
		require.Equal(t, snmp.TimeWindow, snmp.ClassOf(err), "%v", err)
		e.set(func() sim.Engine { return engineOf('a', 7, time.Hour) })
		require.Len(t, poll(t, s).Ports, 3)
	})
}

// serveAt runs an agent at an address until it is stopped.
func serveAt(t *testing.T, address string, mib sim.MIB, security sim.Security, options ...func(*sim.Agent)) (string, func()) {
	t.Helper()
	agent, err := sim.Listen(address, mib, security)
	require.NoError(t, err)
	for _, option := range options {
		option(agent)
	}
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- agent.Serve(ctx) }()
	return agent.Addr(), func() { stop(); require.NoError(t, <-done) }
}

func engineAt(last byte, boots uint32, up time.Duration) *engine {
	e := &engine{Static: ports(3)}
	e.set(func() sim.Engine { return engineOf(last, boots, up) })
	return e
}

// Whatever happened to a switch's engine, polls come back by themselves.
func TestAnotherAgentAtTheAddress(t *testing.T) {
	otherKey := everyUser
	otherKey.Users = slices.Clone(everyUser.Users)
	otherKey.Users[0].PrivacyPassphrase = "other water"
	for name, row := range map[string]struct {
		engine   *engine
		security sim.Security
		mangle   func(sim.Exchange) []sim.Datagram
		polls    int // until it answers again; 0: it never does
		class    snmp.Class
	}{
		"replaced": {engineAt('b', 1, time.Hour), everyUser, nil, 1, ""},
		"replaced, silent to other engines": {engineAt('b', 1, time.Hour), everyUser, func(e sim.Exchange) []sim.Datagram {
			if e.Response.Type == sim.Report && bytes.Contains(e.Raw, []byte(snmpdUser.User)) {
				return nil
			}
			return e.Send()
		}, 2, ""},
		"rebooted, says so unauthenticated": {engineAt('a', 8, time.Second), everyUser, func(e sim.Exchange) []sim.Datagram {
			answer := e.Send()
			if e.Response.Type == sim.Report && len(e.Raw) > 100 { // not discovery's
				answer[0].Bytes = forgery{report: timeWindow, level: 1 + gosnmp.NoAuthNoPriv}.to(t, e)
			}
			return answer
		}, 2, ""},
		"with another privacy passphrase": {engineAt('a', 7, time.Hour), otherKey, nil, 0, snmp.BadCredentials},
	} {
		t.Run(name, func(t *testing.T) {
			address, stop := serveAt(t, "127.0.0.1:0", engineAt('a', 7, time.Hour), everyUser)
			s := open(t, address, snmpdUser, func(target *snmp.Target) { target.Timeout, target.Retries = 200*time.Millisecond, 0 })
			poll(t, s)
			stop()
			_, stop = serveAt(t, address, row.engine, row.security, func(a *sim.Agent) { a.Mangle = row.mangle })
			defer stop()
			polls, err := 0, error(nil)
			for polls = 1; polls <= 3; polls++ {
				if _, err = s.Poll(context.Background()); err == nil {
					break
				}
			}
			require.Equal(t, row.class, snmp.ClassOf(err), "%v", err)
			if row.polls > 0 {
				require.Equal(t, row.polls, polls)
			}
		})
	}
}

// Two switches with one engine id, as copied configurations give them, have
// clocks of their own (RFC 3414 2.3 keeps them by engine, which is not enough).
func TestOneEngineIDAtTwoAddresses(t *testing.T) {
	older := open(t, serveTo(t, engineAt('a', 9, 40*time.Hour), everyUser), snmpdUser)
	younger := open(t, serveTo(t, engineAt('a', 2, time.Minute), everyUser), snmpdUser)
	p, q := poll(t, older), poll(t, younger)
	require.Equal(t, p.Engine, q.Engine, "so that it can be said")
	for range 3 {
		poll(t, older)
		steady := older.Traffic().Requests
		poll(t, younger)
		require.Equal(t, steady, younger.Traffic().Requests, "no clock had to be set again")
	}
}
