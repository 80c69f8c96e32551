package daemon

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/sim"
	"toneout/internal/snmp"
)

// stepped is a clock that stands still while anybody is at work, and jumps to
// the next moment that anybody waits for once all loops wait. Hours pass in
// seconds, the same way each time.
type stepped struct {
	mutex sync.Mutex
	time  time.Time
	end   time.Time // no jump goes past it
	loops int       // how many wait when nobody is at work
	waits map[chan struct{}]time.Time
	done  chan struct{} // closed at the end
}

func newStepped(start time.Time, length time.Duration, loops int) *stepped {
	return &stepped{
		time: start, end: start.Add(length), loops: loops,
		waits: map[chan struct{}]time.Time{}, done: make(chan struct{}),
	}
}

func (s *stepped) now() time.Time {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	return s.time
}

func (s *stepped) clock() Clock { return Clock{Now: s.now, Until: s.until} }

func (s *stepped) until(ctx context.Context, moment time.Time) error {
	woken := make(chan struct{})
	s.mutex.Lock()
	s.waits[woken] = moment
	if len(s.waits) == s.loops {
		s.jump()
	}
	s.mutex.Unlock()
	select {
	case <-woken:
		return nil
	case <-ctx.Done():
		s.mutex.Lock()
		delete(s.waits, woken) // at work now
		s.mutex.Unlock()
		return ctx.Err()
	}
}

// jump wakes the one who waits for the earliest moment.
func (s *stepped) jump() {
	var first chan struct{}
	for woken, moment := range s.waits {
		if first == nil || moment.Before(s.waits[first]) {
			first = woken
		}
	}
	moment := s.waits[first]
	if moment.After(s.end) {
		close(s.done)
		s.loops = -1 // never again
		return
	}
	if moment.After(s.time) {
		s.time = moment
	}
	delete(s.waits, first)
	close(first)
}

// open opens a real switch whose answers are timed by this clock.
func (s *stepped) open(t snmp.Target) (Poller, error) {
	t.Now = s.now
	return snmp.Open(t)
}

// wait waits for the end, so many seconds of real time at most.
func (s *stepped) wait(t *testing.T, most time.Duration) {
	select {
	case <-s.done:
	case <-time.After(most):
		require.Fail(t, "the campus's time did not pass", "it is %v, the end is %v", s.now(), s.end)
	}
}

// begin is when the campuses on a stepped clock start.
var begin = time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)

// campusOn runs a daemon over a campus for so long, on a stepped clock.
func campusOn(t *testing.T, campus *sim.Campus, length time.Duration) (*running, *stepped) {
	clock := newStepped(begin, length, len(campus.Switches()))
	served := agents(t, campus, clock.now, sim.Security{Communities: []string{community}})
	o := ferrowQuay(t, campus, served)
	o.PollEvery, o.SlowEvery, o.Clock, o.Open = 2*time.Second, 10*time.Second, clock.clock(), clock.open
	for i := range o.Switches {
		o.Switches[i].SlowEvery = o.SlowEvery
	}
	return start(t, o), clock
}
