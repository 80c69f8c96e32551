package notify

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

func newQueue() *queue {
	return &queue{repeat: time.Minute, linger: 30 * time.Second, chance: func() float64 { return 0.5 }, room: 3, held: map[identity]*held{}}
}

func opened(run string) *alert { return &alert{identity: identity{run: run}, since: noon} }

func closedAt(run string, at time.Time) *alert {
	return &alert{identity: identity{run: run}, since: noon, ended: at}
}

// due gives what a queue sends at a moment.
func due(q *queue, after time.Duration) (runs []string) {
	batch, _, _ := q.next(noon.Add(after))
	for _, s := range batch {
		runs = append(runs, s.alert.run)
		if !s.alert.ended.IsZero() {
			runs[len(runs)-1] += " closed"
		}
	}
	return runs
}

// deliver sends what is due.
func deliver(q *queue, after time.Duration) {
	batch, _, _ := q.next(noon.Add(after))
	q.arrived(batch, noon.Add(after))
}

func TestClosingLingersAndIsToldOnce(t *testing.T) {
	q := newQueue()
	q.put(opened("A"), noon)
	deliver(q, 0)
	require.Empty(t, due(q, 59*time.Second))
	require.Equal(t, []string{"A"}, due(q, time.Minute))
	q.put(closedAt("A", noon.Add(50*time.Second)), noon.Add(50*time.Second))
	require.Empty(t, due(q, 79*time.Second), "a lingering closing is not repeated as open either")
	require.Equal(t, []string{"A closed"}, due(q, 80*time.Second))
	deliver(q, 80*time.Second)
	require.Empty(t, q.held)
}

func TestReopenedWhileItLingers(t *testing.T) {
	q := newQueue()
	q.put(opened("A"), noon)
	deliver(q, 0)
	q.put(closedAt("A", noon.Add(time.Second)), noon.Add(time.Second))
	q.put(opened("A"), noon.Add(2*time.Second))
	require.Equal(t, []string{"A"}, due(q, 2*time.Second))
}

func TestClosedWhileItIsOnItsWay(t *testing.T) {
	q := newQueue()
	q.put(opened("A"), noon)
	batch, _, _ := q.next(noon)
	q.put(closedAt("A", noon.Add(time.Second)), noon.Add(time.Second))
	q.arrived(batch, noon.Add(2*time.Second))
	require.Equal(t, []string{"A closed"}, due(q, 31*time.Second))
}

func TestWhatWasNeverToldIsNotClosed(t *testing.T) {
	q := newQueue()
	q.put(opened("A"), noon)
	q.put(closedAt("A", noon), noon)
	q.put(closedAt("B", noon), noon)
	require.Empty(t, q.held)
}

func TestNewGoesBeforeRepeated(t *testing.T) {
	q := newQueue()
	q.room = 1000
	for i := range 100 {
		q.put(opened(fmt.Sprint(i)), noon)
	}
	for range 2 {
		deliver(q, 0)
	}
	q.put(opened("new"), noon.Add(time.Hour))
	now := due(q, time.Hour)
	require.Len(t, now, maxBatch)
	require.Equal(t, "new", now[0])
}

// The pause doubles from 1 s to 1 min, and half of it is left to chance.
func TestPauses(t *testing.T) {
	for _, c := range []struct {
		chance float64
		want   []float64 // s
	}{
		{0, []float64{1, 1, 2, 4, 8, 16, 30, 30}},
		{0.5, []float64{1, 1.5, 3, 6, 12, 24, 45, 45}},
	} {
		q := newQueue()
		q.chance = func() float64 { return c.chance }
		q.put(opened("A"), noon)
		for i, want := range c.want {
			q.failed(noon)
			batch, moment, _ := q.next(noon)
			require.Empty(t, batch)
			require.InDelta(t, want, moment.Sub(noon).Seconds(), 0.001, i)
		}
		deliver(q, time.Hour)
		q.failed(noon)
		_, moment, _ := q.next(noon)
		require.Equal(t, noon.Add(time.Second), moment, "a success starts anew")
	}
}

func TestBoundedAndFilledAgain(t *testing.T) {
	q := newQueue()
	for _, run := range []string{"A", "B", "C"} {
		require.True(t, q.put(opened(run), noon))
	}
	require.False(t, q.put(opened("D"), noon))
	require.True(t, q.put(opened("A"), noon), "what is held already needs no room")
	require.False(t, q.wants())
	deliver(q, 0)
	q.put(closedAt("A", noon), noon)
	deliver(q, 30*time.Second)
	require.True(t, q.wants())
	require.True(t, q.put(opened("D"), noon))
}

func TestOldClosingIsGivenUp(t *testing.T) {
	q := newQueue()
	q.put(opened("A"), noon)
	deliver(q, 0)
	q.put(closedAt("A", noon.Add(time.Minute)), noon.Add(time.Minute))
	_, _, givenUp := q.next(noon.Add(16 * time.Minute))
	require.Zero(t, givenUp)
	_, _, givenUp = q.next(noon.Add(16*time.Minute + 1))
	require.Equal(t, 1, givenUp)
	require.Empty(t, q.held)
}
