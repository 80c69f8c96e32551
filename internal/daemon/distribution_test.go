package daemon

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"
	"toneout/internal/web"
)

// A distribution switch loses its power, and with it whatever hangs below goes
// silent: that is one switch to be told of. Nothing is raised of the runs, which
// are unknown; and when it is back, all is as it was.
func TestADeadDistributionSwitchIsOneAlarm(t *testing.T) {
	t.Parallel() // most of its time is waiting
	const dead, back, over = time.Minute, 3 * time.Minute, 5 * time.Minute
	for _, row := range []struct {
		name            string
		length          time.Duration
		told, hidden    int
		unknown, silent bool
	}{
		{"while it is dead", back - 10*time.Second, 1, 4, true, true},
		{"when it is back", over, 0, 0, false, false},
	} {
		t.Run(row.name, func(t *testing.T) {
			r, clock := outage(t, sim.Quayside(1, begin), "dist-q2-1", "core-q1-1", row.length, dead, back)
			clock.wait(t, 2*time.Minute)
			for _, f := range r.faults() { // the link to the dead switch is listed, and nobody told
				require.True(t, row.silent && f.Quiet && !f.Alarm && f.Guards[0].Name == fault.ParentDown, "%+v", f)
			}
			told, hidden := 0, 0
			var switches []web.SwitchNow
			r.json("/api/switches", &switches)
			for _, sw := range switches {
				switch {
				case sw.Answering:
				case sw.Behind == "":
					told++
					require.Equal(t, "dist-q2-1", sw.Name)
				default:
					hidden++
					require.Equal(t, "dist-q2-1", sw.Behind, sw.Name)
				}
			}
			require.Equal(t, [2]int{row.told, row.hidden}, [2]int{told, hidden})
			var coverage web.Coverage
			r.json("/api/coverage", &coverage)
			require.Equal(t, row.unknown, coverage.Runs.States[fault.Unknown] > 50, "%v", coverage.Runs.States)
			require.Equal(t, row.silent, len(r.lines(`toneout_switch_unread{`)) > 0)
		})
	}
}

// outage runs a daemon beside a switch of a campus, where another has no power
// between two moments.
func outage(t *testing.T, campus *sim.Campus, dead, beside string, length, from, to time.Duration) (*running, *stepped) {
	clock := newStepped(begin, length, len(campus.Switches()))
	served := agents(t, campus, clock.now, sim.Security{Communities: []string{community}})
	o := ferrowQuay(t, campus, served)
	for i := range o.Switches {
		o.Switches[i].Timeout = 50 * time.Millisecond
	}
	var mutex sync.Mutex
	powered := func() {
		mutex.Lock()
		defer mutex.Unlock()
		now := clock.now()
		passed := now.Sub(begin)
		campus.Switch(dead).Power(now, passed < from || passed >= to)
		reached := campus.Reachable(now, campus.Switch(beside))
		for _, sw := range campus.Switches() {
			served[sw.Name].Mute.Store(!reached[sw])
		}
	}
	o.PollEvery, o.Clock = 10*time.Second, clock.clock()
	o.Open = func(target snmp.Target) (Poller, error) {
		sw, err := clock.open(target)
		return before{sw, powered}, err
	}
	return start(t, o), clock
}

// before is a switch that something happens to before each poll.
type before struct {
	Poller
	does func()
}

func (b before) Poll(ctx context.Context) (port.Poll, error) {
	b.does()
	return b.Poller.Poll(ctx)
}
