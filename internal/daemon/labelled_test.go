package daemon

import (
	"context"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/corpus"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"
)

// A plant with labelled faults is told the same of when its switches are asked over
// SNMP as when their values become readings without a network: what the many plants
// of package corpus show holds for the wire too.
func TestLabelledPlantOverSNMP(t *testing.T) {
	t.Parallel()
	const seed, labels = 3001, 35
	over := playLabelled(t, seed, labels, func(l *corpus.Labelled) func(*sim.Switch) corpus.Asker { return overSNMP(t, l.Stage.Campus) })
	beside := playLabelled(t, seed, labels, func(l *corpus.Labelled) func(*sim.Switch) corpus.Asker { return l.Readings })
	require.Len(t, over, len(beside))
	same := 0
	for i, v := range over {
		if told(v) == told(beside[i]) {
			same++
		} else {
			t.Logf("%v on %s: over SNMP %s, by readings %s", v.Causes, v.Run, told(v), told(beside[i]))
		}
	}
	require.GreaterOrEqual(t, same, len(over)-4)
}

func told(v *corpus.Verdict) string {
	if v.Told == nil {
		return "nothing"
	}
	return string(v.Told.Kind) + " of " + v.Told.Run + " by " + v.Cause
}

// playLabelled plays a labelled plant at coarse polls.
func playLabelled(t *testing.T, seed uint64, labels int, open func(*corpus.Labelled) func(*sim.Switch) corpus.Asker) []*corpus.Verdict {
	l := corpus.NewLabelled(seed, labels)
	l.QuietPoll, l.ClosePoll = time.Hour, 5*time.Minute
	path, err := l.WriteInventory(t.TempDir())
	require.NoError(t, err)
	inventory, problems, err := plant.Load(path)
	require.NoError(t, err)
	require.Empty(t, problems)
	verdicts, _ := l.Judge(l.Play(inventory, open(l)))
	return verdicts
}

// overSNMP opens switches by their agents, which see the time of the poll.
func overSNMP(t *testing.T, campus *sim.Campus) func(*sim.Switch) corpus.Asker {
	var now atomic.Pointer[time.Time]
	clock := func() time.Time { return *now.Load() }
	served := agents(t, campus, clock, sim.Security{Communities: []string{community}})
	return func(sw *sim.Switch) corpus.Asker {
		target := target(sw.Name, served[sw.Name].Addr())
		target.Now, target.SlowEvery = clock, 6*time.Minute
		asked, err := snmp.Open(target)
		require.NoError(t, err)
		t.Cleanup(func() { asked.Close() })
		return func(at time.Time) (port.Poll, error) {
			now.Store(&at)
			return asked.Poll(context.Background())
		}
	}
}
