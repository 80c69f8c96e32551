package snmp_test

import (
	"context"
	"runtime"
	"strings"
	"testing"
	"time"

	"toneout/internal/sim"
	"toneout/internal/snmp"

	"github.com/stretchr/testify/require"
)

// hostile is a switch of so many rows, of which each has all columns.
func hostile(rows int, alias string) *endless {
	mib := &endless{}
	names := make([]sim.OID, rows)
	for i := range names {
		names[i] = sim.OID{uint32(i + 1)}
	}
	for column := uint32(1); column < 20; column++ {
		value := sim.Counter64(1)
		switch column {
		case 1:
			value = sim.Octets("port")
		case 18:
			value = sim.Octets(alias)
		}
		mib.view.Columns = append(mib.view.Columns, sim.Column{
			Object: sim.OID{1, 3, 6, 1, 2, 1, 31, 1, 1, 1, column}, Rows: names,
			Value: func(any, int) sim.Value { return value },
		})
	}
	return mib
}

// A hostile switch harms its own poll only: what it can make a poll take is
// bounded. Rows: TestAnEndlessTable; datagrams that are no answer: "a flood of
// garbage"; time: TestThePollEndsWithItsContext.
func TestBoundsOfAPoll(t *testing.T) {
	for name, row := range map[string]struct {
		rows  int
		alias string
		most  int // varbinds of an answer
		class snmp.Class
		reach func(snmp.Traffic) bool
	}{
		"requests": {9000, "N2", 3, snmp.Malformed, func(c snmp.Traffic) bool { return c.Requests >= 20_000 }},
		"octets":   {2000, strings.Repeat("x", 60_000), 0, "", func(c snmp.Traffic) bool { return c.Bytes > 63<<20 }}, // descriptions are spared
	} {
		t.Run(name, func(t *testing.T) {
			if testing.Short() {
				t.Skip("takes seconds")
			}
			s := open(t, serve(t, hostile(row.rows, row.alias), func(a *sim.Agent) { a.MaxVarbinds = row.most }), v2c)
			_, err := s.Poll(context.Background())
			require.Equal(t, row.class, snmp.ClassOf(err), "%v", err)
			require.True(t, row.reach(s.Traffic()), "%+v: %v", s.Traffic(), err)
			require.LessOrEqual(t, s.Traffic().Requests, 20_001)
			require.LessOrEqual(t, s.Traffic().Bytes, 64<<20+1<<16)
		})
	}
}

// What a switch is remembered by stays small, whatever it answered.
func TestTheMemoryOfAPollIsBounded(t *testing.T) {
	const rows = 300
	s := open(t, serve(t, hostile(rows, strings.Repeat("x", 60_000))), v2c) // 18 MB of texts
	heap := func() int64 {
		var m runtime.MemStats
		runtime.GC()
		runtime.GC()
		runtime.ReadMemStats(&m)
		return int64(m.HeapAlloc)
	}
	before := heap()
	p := poll(t, s)
	require.Len(t, p.Ports, rows)
	require.Less(t, heap()-before, int64(4<<20))
	runtime.KeepAlive(p)
}

// An agent that answers ever more slowly ends with the time given to the poll.
func TestADrippingAgent(t *testing.T) {
	t.Parallel()
	s := open(t, serve(t, ports(48), func(a *sim.Agent) { a.Mangle = delayed(60 * time.Millisecond) }), v2c, func(target *snmp.Target) {
		target.Timeout = 100 * time.Millisecond
	})
	ctx, cancel := context.WithTimeout(context.Background(), 600*time.Millisecond)
	defer cancel()
	began := time.Now()
	_, err := s.Poll(ctx)
	require.Equal(t, snmp.Deadline, snmp.ClassOf(err), "%v", err)
	require.Less(t, time.Since(began), 10*time.Second)
	require.LessOrEqual(t, s.Traffic().Requests, 15)
}
