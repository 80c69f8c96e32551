package history

import (
	"bytes"
	"context"
	"log/slog"
	"maps"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// rig is a Store that runs until the test ends, on a clock that the test sets.
type rig struct {
	*Store
	t    *testing.T
	log  *logBuffer
	mu   sync.Mutex
	now  time.Time
	done func()
}

// run opens a Store in a folder, and starts it.
func run(t *testing.T, o Options) *rig {
	t.Helper()
	r := &rig{t: t, log: &logBuffer{}, now: noon}
	if o.Directory == "" {
		o.Directory = t.TempDir()
	}
	if o.Keep == 0 {
		o.Keep = 400 * 24 * time.Hour
	}
	o.Log = slog.New(slog.NewTextHandler(r.log, nil))
	o.Now = r.clock
	var err error
	r.Store, err = Open(o)
	require.NoError(t, err)
	ended, closed := make(chan struct{}), make(chan struct{})
	go func() { defer close(closed); r.Run(ended) }()
	r.done = sync.OnceFunc(func() { close(ended); <-closed })
	t.Cleanup(r.done)
	return r
}

func (r *rig) clock() time.Time {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.now
}

// tell offers values of one moment, and sets the clock to it.
func (r *rig) tell(at time.Time, values map[*Series]float64, gone ...*Series) {
	r.mu.Lock()
	r.now = at
	r.mu.Unlock()
	b := r.Batch(at)
	for s, v := range values {
		b.Sample(s, v)
	}
	for _, s := range gone {
		b.Gone(s)
	}
	r.Offer(b)
}

// settled waits until all that was offered is written.
func (r *rig) settled() {
	r.t.Helper()
	require.Eventually(r.t, func() bool { return r.waiting.Load() == 0 }, 20*time.Second, time.Millisecond)
}

// value is what a query of one number gives; false where nothing.
func (r *rig) value(query string, at time.Time) (float64, bool) {
	r.t.Helper()
	var found []Course
	require.Eventually(r.t, func() bool {
		var err error
		found, err = r.Instant(context.Background(), query, at)
		return err == nil
	}, 20*time.Second, time.Millisecond)
	if len(found) == 0 {
		return 0, false
	}
	require.Len(r.t, found, 1)
	return found[0].Points[0].Value, true
}

// named makes a series of name and label pairs.
func named(name string, pairs ...string) *Series {
	labels := map[string]string{}
	for i := 0; i < len(pairs); i += 2 {
		labels[pairs[i]] = pairs[i+1]
	}
	return NewSeries(name, maps.All(labels))
}

// logBuffer collects a log.
type logBuffer struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (l *logBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

func (l *logBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

// What was told is there after a restart, and what went away is gone at once.
func TestToldOverARestart(t *testing.T) {
	folder := t.TempDir()
	r := run(t, Options{Directory: folder})
	up, speed := named("toneout_port_up", "port", "1/1"), named("toneout_port_speed_bits_per_second", "port", "1/1", "run", "")
	r.tell(noon, map[*Series]float64{up: 1, speed: 1e9})
	r.tell(noon.Add(time.Minute), map[*Series]float64{up: 0}, speed)
	r.done()
	require.Empty(t, r.log.String())

	r = run(t, Options{Directory: folder})
	for _, row := range []struct {
		query   string
		after   time.Duration
		want    float64
		present bool
	}{
		{`toneout_port_up`, 0, 1, true},
		{`toneout_port_up`, 59 * time.Second, 1, true},
		{`toneout_port_up`, time.Minute, 0, true},
		{`toneout_port_up{port="1/1"}`, 5 * time.Minute, 0, true},
		{`toneout_port_up`, 6*time.Minute + time.Second, 0, false}, // without news for more than 5 minutes
		{`toneout_port_speed_bits_per_second`, 59 * time.Second, 1e9, true},
		{`toneout_port_speed_bits_per_second`, time.Minute, 0, false}, // absent, never 0
		{`toneout_port_up`, -time.Second, 0, false},
	} {
		got, present := r.value(row.query, noon.Add(row.after))
		require.Equal(t, row.present, present, "%s after %v", row.query, row.after)
		require.Equal(t, row.want, got, "%s after %v", row.query, row.after)
	}
	require.Empty(t, r.log.String())
}

// A folder is one process's.
func TestSecondOnTheFolderIsRefused(t *testing.T) {
	r := run(t, Options{})
	_, err := Open(Options{Directory: r.options.Directory})
	require.ErrorContains(t, err, "another process has this folder")
	r.done()
	second, err := Open(r.options)
	require.NoError(t, err)
	require.NoError(t, second.release())
}

// What is older than is to be kept goes away by whole blocks, and so does the
// oldest where more bytes are used than may be.
func TestOldNumbersGoAway(t *testing.T) {
	for name, o := range map[string]Options{"by age": {Keep: 8 * time.Hour}, "by size": {KeepBytes: 1}} {
		t.Run(name, func(t *testing.T) {
			r := run(t, o)
			up, end := named("toneout_port_up"), noon.Add(24*time.Hour)
			for at := noon; !at.After(end); at = at.Add(5 * time.Minute) {
				r.tell(at, map[*Series]float64{up: 1})
			}
			r.settled()
			require.NoError(t, r.db.Compact(t.Context()))
			require.NoError(t, r.db.CleanTombstones()) // reads the blocks that are left
			_, present := r.value("toneout_port_up", noon.Add(time.Hour))
			require.False(t, present)
			_, present = r.value("toneout_port_up", end)
			require.True(t, present)
			require.Empty(t, r.log.String())
		})
	}
}
