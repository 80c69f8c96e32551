package daemon

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/port"
	"toneout/internal/snmp"
)

// An agent is kept busy for a fifth of the time at most (common practice, no
// source), and never more than one poll is under way.
func TestTheDutyLimit(t *testing.T) {
	const every = 60 * time.Second
	for _, row := range []struct {
		name           string
		took, busy     time.Duration
		next, deadline time.Duration // of the poll after, and the most that it may take
	}{
		{"light", 2 * time.Second, time.Second, 60 * time.Second, 54 * time.Second},
		{"at the limit", 12 * time.Second, 12 * time.Second, 60 * time.Second, 54 * time.Second},
		{"over it", 20 * time.Second, 13 * time.Second, 65 * time.Second, 58500 * time.Millisecond},
		{"to the deadline", 54 * time.Second, 54 * time.Second, 270 * time.Second, 120 * time.Second},
		{"silent: waiting is no work", 54 * time.Second, 0, 60 * time.Second, 54 * time.Second},
		{"a poll longer than the interval", 110 * time.Second, 110 * time.Second, 550 * time.Second, 120 * time.Second},
		{"as seldom as can be", 120 * time.Second, 120 * time.Second, 600 * time.Second, 120 * time.Second},
		{"nonsense", 120 * time.Second, time.Hour, 600 * time.Second, 120 * time.Second},
	} {
		t.Run(row.name, func(t *testing.T) {
			began := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
			p := pace{every: every, interval: every, next: began, began: began}
			p.polled(began, began.Add(row.took), row.busy)
			require.Equal(t, row.next, p.next.Sub(began))
			require.Equal(t, row.deadline, p.deadline())
			require.GreaterOrEqual(t, p.next.Sub(began), 5*min(row.busy, 2*every))
			before := p.next
			p.polled(before, before.Add(time.Second), time.Second)
			require.Equal(t, every, p.next.Sub(before), "back to normal")
			require.Equal(t, every, p.interval)
		})
	}
}

// A moment that a timer misses by a little does not move those after it.
func TestLateTimersAddUpToNothing(t *testing.T) {
	began := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	p := pace{every: time.Minute, interval: time.Minute, next: began, began: began}
	for range 100 {
		late := p.next.Add(50 * time.Millisecond)
		p.polled(late, late.Add(time.Second), time.Second)
	}
	require.Equal(t, 100*time.Minute, p.next.Sub(began))
}

// busyPoller is an agent that works for so long on each poll.
type busyPoller struct {
	pollFunc
	works *time.Duration
}

func (p busyPoller) Traffic() snmp.Traffic { return snmp.Traffic{Busy: *p.works} }

func TestABusyAgentIsToldOnceAndAgainWhenItIsNot(t *testing.T) {
	var log logBuffer
	w := ownerOf(t, &log, Switch{Target: snmp.Target{Name: "sw-1"}})
	clock := newManual()
	var works time.Duration
	ctx, cancel := context.WithCancel(context.Background())
	answers := make(chan answer)
	poll := pollFunc(func(context.Context) (port.Poll, error) { return port.Poll{At: clock.now()}, nil })
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		newLoop("sw-1", busyPoller{poll, &works}, time.Minute, clock.clock(), answers).run(ctx)
	}()
	polls := func(n int, busy, apart time.Duration) {
		for range n {
			works = busy
			a := clock.until(t, answers)
			w.take(a)
			require.Equal(t, apart, max(a.next, time.Minute))
		}
	}
	polls(3, 0, time.Minute)
	polls(20, 20*time.Second, 100*time.Second)
	require.Equal(t, 1, strings.Count(log.String(), "asked less often"), log.String())
	require.Contains(t, log.String(), "next=1m40s")
	polls(settled-1, 0, time.Minute)
	require.NotContains(t, log.String(), "again")
	polls(5, 20*time.Second, 100*time.Second)
	polls(settled, 0, time.Minute)
	require.Equal(t, 1, strings.Count(log.String(), "asked less often"), log.String())
	require.Equal(t, 1, strings.Count(log.String(), "as often as configured again"), log.String())
	polls(1, 12040*time.Millisecond, 60200*time.Millisecond)
	require.Contains(t, log.String(), "next=1m0.2s", "not as if it were the interval")
	cancel()
	<-ended
}

// A new interval counts at once, and not from the end of a rest under way.
func TestANewIntervalEndsTheRest(t *testing.T) {
	clock := newManual()
	answers := make(chan answer)
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan struct{})
	poll := pollFunc(func(context.Context) (port.Poll, error) { return port.Poll{}, nil })
	l := newLoop("sw-1", poll, 50*time.Minute, clock.clock(), answers)
	go func() { defer close(ended); l.run(ctx) }()
	first := clock.until(t, answers).at
	l.changeTo(10 * time.Second)
	require.Eventually(t, func() bool { return clock.soonest() <= 10*time.Second }, patience, time.Millisecond)
	second := clock.until(t, answers).at
	require.Equal(t, 10*time.Second, second.Sub(first))
	require.Equal(t, 10*time.Second, clock.until(t, answers).at.Sub(second))
	cancel()
	<-ended
}
