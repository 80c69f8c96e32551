package daemon

import (
	"context"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/sim"
)

// A switch that doesn't give a table is asked a second time, so that a part of a port
// is drafted as a port only where nothing else is known, and then it is told.
func TestATableThatIsLostIsAskedForTwice(t *testing.T) {
	for name, row := range map[string]struct {
		silent int64 // times
		lost   []string
	}{"once": {1, nil}, "always": {1000, []string{"ifStackTable"}}} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			now := time.Now()
			sw := sim.FerrowQuay(1, now.Add(-time.Minute)).Switch("acc-n3-1")
			sw.At(now)
			agent, err := sim.Listen("127.0.0.1:0", sw, sim.Security{Communities: []string{community}})
			require.NoError(t, err)
			asked := atomic.Int64{}
			agent.Mangle = func(e sim.Exchange) []sim.Datagram {
				stack := sim.ParseOID("1.3.6.1.2.1.31.1.2") // RFC 2863
				asks := func(v sim.Varbind) bool { return len(v.Name) >= len(stack) && slices.Equal(v.Name[:len(stack)], stack) }
				if e.Request != nil && slices.ContainsFunc(e.Request.Varbinds, asks) && asked.Add(1) <= row.silent {
					return nil
				}
				return e.Send()
			}
			ctx, cancel := context.WithCancel(t.Context())
			var group sync.WaitGroup
			group.Go(func() { _ = agent.Serve(ctx) })
			defer group.Wait()
			defer cancel()
			patient := target("acc-n3-1", agent.Addr())
			patient.Timeout, patient.Retries = 2*time.Second, 0
			found, err := Ask(t.Context(), Setup{PollEvery: time.Minute, SlowEvery: 5 * time.Minute, Switches: []Switch{{Target: patient}}}, nil)
			require.NoError(t, err)
			require.Empty(t, found.Failed)
			var lost, parts []string
			for _, l := range found.Lost {
				lost = append(lost, l.Table)
				require.Contains(t, l.Why, "no answer")
			}
			for _, p := range found.Ports {
				if strings.Contains(p.Name, ".") {
					parts = append(parts, p.Name)
				}
			}
			require.Equal(t, row.lost, lost)
			require.Equal(t, row.lost != nil, len(parts) == 1, "%v", parts)
		})
	}
}
