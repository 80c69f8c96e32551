package snmp_test

import (
	"context"
	"sync/atomic"
	"testing"
	"time"

	"toneout/internal/sim"
	"toneout/internal/snmp"

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

// A switch is replaced: another engine answers at the address.
func TestAnotherEngineAtTheAddress(t *testing.T) {
	serveEngine := func(ctx context.Context, address string, last byte) (string, func()) {
		e := &engine{Static: ports(3)}
		e.set(func() sim.Engine { return engineOf(last, 1, time.Hour) })
		agent, err := sim.Listen(address, e, everyUser)
		require.NoError(t, err)
		ctx, stop := context.WithCancel(ctx)
		done := make(chan error, 1)
		go func() { done <- agent.Serve(ctx) }()
		return agent.Addr(), func() { stop(); require.NoError(t, <-done) }
	}
	address, stop := serveEngine(context.Background(), "127.0.0.1:0", 'a')
	s := open(t, address, snmpdUser)
	require.Len(t, poll(t, s).Ports, 3)
	stop()
	_, stop = serveEngine(context.Background(), address, 'b')
	defer stop()
	require.Len(t, poll(t, s).Ports, 3)
}
