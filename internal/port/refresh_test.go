package port

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// polled feeds a learner with polls every so many seconds of so many busy
// ports, of which moved tells how many moved in the poll of a number.
func polled(f *Refresh, polls int, every time.Duration, busy int, moved func(poll int) int) {
	at := noon
	for poll := range polls {
		at = at.Add(every)
		n := moved(poll)
		f.Observe(at, Movement{Busy: busy, Moved: n, Any: n > 0, Links: busy, Seconds: every.Seconds()})
	}
}

// Agents that serve counters from a cache of 5 to 30 s are common practice, no
// source.
func TestRefreshIsLearnt(t *testing.T) {
	cached := func(ports int, every, cache time.Duration) func(int) int {
		last := 0 // the first poll has nothing to compare with
		return func(poll int) int {
			now := int(time.Duration(poll+1) * every / cache)
			defer func() { last = now }()
			if now != last {
				return ports
			}
			return 0
		}
	}
	rows := []struct {
		name         string
		every, cache time.Duration
		ports        int
		atLeast      time.Duration // of the span, two refreshes
		atMost       time.Duration
	}{
		{"30 s polled each 10 s", 10 * time.Second, 30 * time.Second, 12, time.Minute, time.Minute},
		{"30 s polled each 20 s", 20 * time.Second, 30 * time.Second, 12, time.Minute, 80 * time.Second},
		{"5 s polled each second", time.Second, 5 * time.Second, 2, 10 * time.Second, 10 * time.Second},
		{"90 s polled each minute", time.Minute, 90 * time.Second, 12, 3 * time.Minute, 4 * time.Minute},
		{"30 s polled each minute needs no care", time.Minute, 30 * time.Second, 12, 0, 0},
		{"one busy port tells nothing", 10 * time.Second, 30 * time.Second, 1, 0, 0},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			var f Refresh
			polled(&f, 30, row.every, row.ports, cached(row.ports, row.every, row.cache))
			require.GreaterOrEqual(t, f.Span(), row.atLeast)
			require.LessOrEqual(t, f.Span(), row.atMost)
		})
	}
}

func TestPausesOfTrafficAreNoCache(t *testing.T) {
	rows := map[string]func(int) int{
		"always moving":       func(int) int { return 6 },
		"each port by itself": func(poll int) int { return []int{0, 2, 5, 1, 0, 3}[poll%6] },
		"one common pause":    func(poll int) int { return map[bool]int{true: 0, false: 6}[poll == 20] },
	}
	for name, moved := range rows {
		t.Run(name, func(t *testing.T) {
			var f Refresh
			polled(&f, 200, 10*time.Second, 6, moved)
			require.Zero(t, f.Span())
		})
	}
}

func TestACacheThatIsGoneIsForgotten(t *testing.T) {
	var f Refresh
	polled(&f, 30, 10*time.Second, 6, func(poll int) int { return 6 * (poll % 2) })
	require.Equal(t, 40*time.Second, f.Span())
	polled(&f, 20, 10*time.Second, 0, func(int) int { return 0 })
	require.Equal(t, 40*time.Second, f.Span(), "a night without traffic teaches nothing")
	polled(&f, 2*cachePatience, 10*time.Second, 6, func(int) int { return 6 })
	require.Zero(t, f.Span())
}

func TestFrozenCounts(t *testing.T) {
	var f Refresh
	polled(&f, 12, time.Minute, 0, func(int) int { return 0 })
	require.Zero(t, f.Frozen(), "no link, nothing to move")
	polled(&f, 12, time.Minute, 3, func(int) int { return 0 })
	require.Equal(t, 12*time.Minute, f.Frozen())
	polled(&f, 1, time.Minute, 3, func(int) int { return 1 })
	require.Zero(t, f.Frozen())
}

func TestMoved(t *testing.T) {
	sent := func(n uint64) func(*Counters) {
		return func(c *Counters) { c.Set64(InOctets, 5); c.Set64(OutOctets, n) }
	}
	down := reading(60, octets64(9))
	down.Oper = Down
	rows := []struct {
		name                string
		before, after       *Reading
		received, any, told bool
	}{
		{"received", reading(0, octets64(5)), reading(60, octets64(6)), true, true, true},
		{"sent only", reading(0, sent(1)), reading(60, sent(2)), false, true, true},
		{"still", reading(0, octets64(5)), reading(60, octets64(5)), false, false, true},
		{"no link", reading(0, octets64(5)), down, false, false, false},
		{"not told", reading(0, nil), reading(60, octets64(5)), false, false, false},
		{"first", nil, reading(60, octets64(5)), false, false, false},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			received, any, told := Moved(row.before, row.after)
			require.Equal(t, []bool{row.received, row.any, row.told}, []bool{received, any, told})
		})
	}
}
