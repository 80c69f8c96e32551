package daemon

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// manual is a clock that stands still unless it is moved.
type manual struct {
	mutex   sync.Mutex
	time    time.Time
	waiting map[chan struct{}]time.Time
}

func newManual() *manual {
	return &manual{time: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC), waiting: map[chan struct{}]time.Time{}}
}

func (m *manual) now() time.Time {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	return m.time
}

// next moves the clock to the first moment that somebody waits for.
func (m *manual) next() {
	soonest := m.soonest()
	m.mutex.Lock()
	defer m.mutex.Unlock()
	if len(m.waiting) > 0 && soonest > 0 {
		m.time = m.time.Add(soonest)
	}
	for wake, moment := range m.waiting {
		if !moment.After(m.time) {
			delete(m.waiting, wake)
			close(wake)
		}
	}
}

func (m *manual) clock() Clock {
	return Clock{Now: m.now, Until: func(ctx context.Context, moment time.Time) error {
		m.mutex.Lock()
		wake := make(chan struct{})
		if moment.After(m.time) {
			m.waiting[wake] = moment
		} else {
			close(wake)
		}
		m.mutex.Unlock()
		select {
		case <-wake:
			return ctx.Err()
		case <-ctx.Done():
			m.mutex.Lock()
			defer m.mutex.Unlock()
			delete(m.waiting, wake)
			return ctx.Err()
		}
	}}
}

// soonest is how long it is to the first moment that somebody waits for; an
// hour where nobody waits.
func (m *manual) soonest() time.Duration {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	least := time.Hour
	for _, moment := range m.waiting {
		least = min(least, moment.Sub(m.time))
	}
	return least
}

// until moves the clock from wait to wait until an answer comes.
func (m *manual) until(t *testing.T, answers <-chan answer) (a answer) {
	t.Helper()
	came := false
	require.Eventually(t, func() bool {
		select {
		case a = <-answers:
			came = true
		default:
			m.next()
		}
		return came
	}, patience, time.Millisecond, "an answer")
	return a
}
