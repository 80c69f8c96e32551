package snmp_test

import (
	"context"
	"math/rand/v2"
	"strconv"
	"sync/atomic"
	"testing"
	"time"

	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"

	"github.com/stretchr/testify/require"
)

// lossy loses datagrams, of requests and answers alike.
func lossy(share float64, seed uint64) func(*sim.Agent) {
	chance := rand.New(rand.NewPCG(seed, seed))
	return func(a *sim.Agent) {
		a.Mangle = func(e sim.Exchange) []sim.Datagram {
			if there, back := chance.Float64(), chance.Float64(); there < share || back < share {
				return nil
			}
			return e.Send()
		}
	}
}

// growing is a switch that counts on: each value tells the port and the PDU.
type growing struct {
	still *sim.View
	pdus  atomic.Int64
}

func (g *growing) At(time.Time) *sim.View {
	n := uint64(g.pdus.Add(1))
	view := &sim.View{Columns: append([]sim.Column(nil), g.still.Columns...)}
	for i := range view.Columns {
		still := view.Columns[i].Value
		view.Columns[i].Value = func(moment any, row int) sim.Value {
			v := still(moment, row)
			if v.Tag == sim.TagCounter32 || v.Tag == sim.TagCounter64 {
				v.Number = portOf(v) + n*100
			}
			return v
		}
	}
	return view
}

// portOf gives the port that a count of ports() is of.
func portOf(v sim.Value) uint64 {
	if v.Tag == sim.TagCounter64 {
		return v.Number & 0xff
	}
	return v.Number % 1000
}

// With 30 % of the datagrams lost each way, an exchange fails 51 times in 100;
// polls go on, within the time that a default poll has: timeout 2 s, 2 retries,
// 54 s in all; here a tenth of it.
func TestPollsGoOnWhereDatagramsAreLost(t *testing.T) {
	t.Parallel()
	const timeout, polls, rows = 200 * time.Millisecond, 16, 24
	s := open(t, serve(t, &growing{still: ports(rows).At(noon)}, lossy(0.3, 7)), v2c, func(target *snmp.Target) {
		target.Timeout, target.Retries = timeout, 2
	})
	came, most := 0, 0
	var last []port.Reading
	for range polls {
		ctx, cancel := context.WithTimeout(context.Background(), 27*timeout)
		p, err := s.Poll(ctx)
		cancel()
		if err != nil {
			require.Contains(t, []snmp.Class{snmp.NoAnswer, snmp.Deadline}, snmp.ClassOf(err), "%v", err)
			continue
		}
		came++
		require.Len(t, p.Ports, rows)
		for i := range p.Ports {
			goesOn(t, last, &p.Ports[i], i)
		}
		last = p.Ports
		most = max(most, s.Traffic().Requests)
	}
	t.Logf("%d of %d polls, up to %d requests", came, polls, most)
	require.GreaterOrEqual(t, came, polls-2) // the first may fail, and one by bad luck
}

// goesOn checks that counts are of their port and never fall.
func goesOn(t *testing.T, before []port.Reading, r *port.Reading, i int) {
	t.Helper()
	require.Equal(t, "1/"+strconv.Itoa(i+1), r.Name)
	for k := range port.CounterCount {
		n, ok := r.Counters.Get(k)
		if !ok {
			continue
		}
		require.EqualValues(t, i+1, n%100, "%v of %s", k, r.Name)
		if before == nil {
			continue
		}
		if earlier, ok := before[i].Counters.Get(k); ok {
			require.Greater(t, n, earlier, "%v of %s", k, r.Name)
		}
	}
}

// Large answers that get lost are asked for in smaller ones from then on; those
// lost by chance are as large again soon.
func TestAnswersRegainTheirSizeAfterALoss(t *testing.T) {
	t.Parallel()
	for name, row := range map[string]struct {
		lost func(poll, nth, size int) bool
		most int // requests of a poll some time later; 28 are enough
	}{
		"by chance":        {func(poll, nth, _ int) bool { return poll == 4 && nth%3 == 0 }, 29},
		"two in a row":     {func(poll, nth, _ int) bool { return poll == 4 && nth%9 < 2 }, 29},
		"all large ones":   {func(poll, _, size int) bool { return poll >= 4 && size > 900 }, 60},
		"none after a fix": {func(poll, _, size int) bool { return poll == 4 && size > 900 }, 29},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			number, nth := atomic.Int64{}, 0
			s := open(t, serve(t, ports(48), func(a *sim.Agent) {
				a.Mangle = func(e sim.Exchange) []sim.Datagram {
					answer := e.Send()
					if nth++; row.lost(int(number.Load()), nth, len(answer[0].Bytes)) {
						return nil
					}
					return answer
				}
			}), v2c, func(target *snmp.Target) { target.Timeout, target.Retries = 200*time.Millisecond, 2 })
			var requests []int
			for n := range int64(30) {
				number.Store(n)
				require.Len(t, poll(t, s).Ports, 48)
				requests = append(requests, s.Traffic().Requests)
			}
			require.LessOrEqual(t, requests[29], row.most, "%v", requests)
		})
	}
}

// A slow agent is asked once where it is known how slow it is (RFC 6298).
func TestASlowAgentIsAskedOnce(t *testing.T) {
	t.Parallel()
	const timeout = 200 * time.Millisecond
	slow := atomic.Bool{}
	s := open(t, serve(t, ports(2), func(a *sim.Agent) {
		a.Mangle = func(e sim.Exchange) []sim.Datagram {
			if slow.Load() {
				return delayed(timeout * 3 / 2)(e)
			}
			return e.Send()
		}
	}), v2c, func(target *snmp.Target) { target.Timeout, target.Retries = timeout, 2 })
	poll(t, s)
	poll(t, s)
	quick := s.Traffic()
	require.Less(t, quick.RTT, timeout)
	slow.Store(true)
	for range 5 { // is found out to be slow
		poll(t, s)
	}
	now := s.Traffic()
	require.LessOrEqual(t, now.Requests, quick.Requests)
	require.Greater(t, now.RTT, timeout/2)
	require.Greater(t, now.Busy, timeout*3/2*time.Duration(now.Requests-1))
	require.GreaterOrEqual(t, now.Waited, now.Busy)
}

// A silent switch is given up after the time that its target gives, whatever was
// known about it.
func TestASilentSwitchIsGivenUpInTime(t *testing.T) {
	t.Parallel()
	const timeout = 100 * time.Millisecond
	for name, before := range map[string]func(*sim.Agent){
		"at once":       func(*sim.Agent) {},
		"after losses":  lossy(0.3, 3),
		"after a delay": func(a *sim.Agent) { a.Mangle = delayed(timeout * 5 / 4) },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			silent := atomic.Bool{}
			s := open(t, serve(t, ports(2), before, func(a *sim.Agent) {
				mangle := a.Mangle
				a.Mangle = func(e sim.Exchange) []sim.Datagram {
					switch {
					case silent.Load():
						return nil
					case mangle != nil:
						return mangle(e)
					}
					return e.Send()
				}
			}), v2c, func(target *snmp.Target) { target.Timeout, target.Retries = timeout, 2 })
			for range 3 {
				_, _ = s.Poll(context.Background()) // as it may
			}
			silent.Store(true)
			for range 5 {
				began := time.Now()
				_, err := s.Poll(context.Background())
				took := time.Since(began)
				require.Equal(t, snmp.NoAnswer, snmp.ClassOf(err), "%v", err)
				require.GreaterOrEqual(t, took, 3*timeout-timeout/8)
				require.Less(t, took, 15*timeout) // 3, and a busy machine; after losses the poll could have 23
				require.LessOrEqual(t, s.Traffic().Requests, 12, "no storm")
				require.Zero(t, s.Traffic().Busy)
			}
			require.LessOrEqual(t, s.Traffic().Requests, 3)
		})
	}
}

func delayed(by time.Duration) func(sim.Exchange) []sim.Datagram {
	return func(e sim.Exchange) []sim.Datagram {
		answer := e.Send()
		answer[0].After = by
		return answer
	}
}
