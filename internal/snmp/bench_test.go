package snmp_test

import (
	"context"
	"sync"
	"testing"
	"time"

	"toneout/internal/sim"
	"toneout/internal/snmp"

	"github.com/stretchr/testify/require"
)

// BenchmarkPoll polls a simulated switch with 48 copper ports, 2 optics and 3
// virtual interfaces, which stands still; the agent's work is included.
func BenchmarkPoll(b *testing.B) {
	for name, credentials := range map[string]snmp.Credentials{"v2c": v2c, "v3 SHA-256 AES-128": snmpdUser} {
		b.Run(name, func(b *testing.B) {
			campus := sim.FerrowQuay(1, noon)
			address := serveTo(b, campus.Switch("acc-n1-1"), everyUser, func(a *sim.Agent) {
				a.Now = func() time.Time { return noon.Add(time.Minute) }
			})
			s := open(b, address, credentials)
			poll(b, s)
			b.ReportAllocs()
			for b.Loop() {
				_, err := s.Poll(context.Background())
				require.NoError(b, err)
			}
			b.ReportMetric(float64(s.Traffic().Requests), "PDUs/poll")
			b.ReportMetric(float64(s.Traffic().Bytes), "B-in/poll")
		})
	}
}

// Answers fill an Ethernet frame and don't exceed it: 1,500 octets less IPv4 and
// UDP leave 1,472 (RFC 894, RFC 791, RFC 768), and tunnels take some of these
// (common practice, no source). A switch answers a poll in few PDUs.
func TestAnswersFillAFrame(t *testing.T) {
	for name, row := range map[string]struct {
		credentials snmp.Credentials
		pdus        int // of a poll in the steady state
	}{"v2c": {v2c, 41}, "v3": {snmpdUser, 42}} {
		t.Run(name, func(t *testing.T) {
			var mu sync.Mutex
			var sizes []int
			campus := sim.FerrowQuay(1, noon)
			address := serveTo(t, campus.Switch("acc-n1-1"), everyUser, func(a *sim.Agent) {
				a.Now = func() time.Time { return noon.Add(time.Minute) }
				a.Mangle = func(e sim.Exchange) []sim.Datagram {
					answer := e.Send()
					mu.Lock()
					defer mu.Unlock()
					sizes = append(sizes, len(answer[0].Bytes))
					return answer
				}
			})
			s := open(t, address, row.credentials)
			for range 3 {
				poll(t, s)
			}
			mu.Lock()
			sizes = nil
			mu.Unlock()
			require.Len(t, poll(t, s).Ports, 53)
			mu.Lock()
			defer mu.Unlock()
			require.Len(t, sizes, s.Traffic().Requests)
			require.LessOrEqual(t, len(sizes), row.pdus)
			full := 0
			for _, size := range sizes {
				require.LessOrEqual(t, size, 1400)
				if size >= 1150 {
					full++
				}
			}
			require.Greater(t, full, len(sizes)*4/5, "%v", sizes)
		})
	}
}
