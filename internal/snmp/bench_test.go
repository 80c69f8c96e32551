package snmp_test

import (
	"context"
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
