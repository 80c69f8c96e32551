package history

import (
	"context"
	"fmt"
	"log/slog"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/prometheus/prometheus/tsdb"
	"github.com/prometheus/prometheus/tsdb/chunkenc"
	"github.com/stretchr/testify/require"
)

// benched is a plant of 2,000 ports of 25 series, 50,000 in all, in batches of
// 40 ports, of which a sixth of the values move, as counters do.
type benched struct {
	*Store
	done   func()
	series [][]*Series
	values []float64
	random *rand.Rand
	at     time.Time
}

func newBenched(b *testing.B, folder string) *benched {
	s := &benched{random: rand.New(rand.NewPCG(1, 1)), at: noon}
	for sw := range 50 {
		var batch []*Series
		for port := range 40 {
			for i := range 25 {
				batch = append(batch, named(fmt.Sprintf("toneout_port_metric_%02d", i), "switch", fmt.Sprint("sw-", sw), "port", fmt.Sprint("1/", port), "run", fmt.Sprintf("R-%d-%d", sw, port)))
				s.values = append(s.values, float64(i))
			}
		}
		s.series = append(s.series, batch)
	}
	s.open(b, folder)
	return s
}

func (s *benched) open(b *testing.B, folder string) {
	var err error
	s.Store, err = Open(Options{Directory: folder, Keep: 400 * 24 * time.Hour, Log: slog.New(slog.DiscardHandler), Now: time.Now})
	require.NoError(b, err)
	ended, closed := make(chan struct{}), make(chan struct{})
	go func() { defer close(closed); s.Run(ended) }()
	s.done = func() { close(ended); <-closed }
	s.idle()
}

// idle waits until the store is open and all is written.
func (s *benched) idle() {
	for s.waiting.Load() > 0 {
		time.Sleep(100 * time.Microsecond)
	}
	for {
		if _, done, err := s.read(); err == nil {
			done()
			return
		}
		time.Sleep(100 * time.Microsecond)
	}
}

// round records one poll of every switch.
func (s *benched) round() {
	s.at = s.at.Add(time.Minute)
	n := 0
	for _, series := range s.series {
		batch := s.Batch(s.at)
		for i, one := range series {
			if i%6 == 0 {
				s.values[n] += float64(s.random.IntN(100_000))
			}
			batch.Sample(one, s.values[n])
			n++
		}
		s.Offer(batch)
	}
	s.idle()
}

func cpu(b *testing.B) time.Duration {
	var u syscall.Rusage
	require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// BenchmarkAppend is a round of polls of 50,000 series, and the CPU that a
// sample takes from the batch to the log on the disk; at most 0.5 µs.
func BenchmarkAppend(b *testing.B) {
	s := newBenched(b, b.TempDir())
	defer func() { s.done() }()
	s.round() // makes the series
	begun, n := cpu(b), 0
	for b.Loop() {
		s.round()
		n += len(s.values)
	}
	b.ReportMetric(float64((cpu(b)-begun).Nanoseconds())/1000/float64(n), "cpu-us/sample")
	require.Zero(b, s.Status())
}

// BenchmarkRestart is the CPU of a start over 50,000 series and 110 minutes of
// polls after a proper end, as a share of one after a kill; at most 0.4.
func BenchmarkRestart(b *testing.B) {
	folder, killed := b.TempDir(), b.TempDir()
	s := newBenched(b, folder)
	for range 110 {
		s.round()
	}
	require.NoError(b, os.CopyFS(killed, os.DirFS(folder))) // as a kill leaves it
	s.done()
	opened := func(folder string) time.Duration {
		begun := cpu(b)
		s.open(b, folder)
		return cpu(b) - begun
	}
	var proper, replay time.Duration
	for b.Loop() {
		again := filepath.Join(b.TempDir(), "killed")
		require.NoError(b, os.CopyFS(again, os.DirFS(killed)))
		proper += opened(folder)
		s.done()
		replay += opened(again)
		s.done()
	}
	share := proper.Seconds() / replay.Seconds()
	require.LessOrEqual(b, share, 0.4, "CPU of a start after a proper end, of one after a kill")
	b.ReportMetric(share, "proper/killed")
	b.ReportMetric(float64(replay.Milliseconds())/float64(b.N), "killed-cpu-ms")
}

// BenchmarkTimeline is 30 days of one run, polled every minute, in a plant of
// 2,000 ports whose other series have a sample a day; at most 50 ms. The blocks
// are those that a month ends with, of 20, 7 and 3 days.
func BenchmarkTimeline(b *testing.B) {
	s, end := monthOfARun(b)
	defer s.done()
	begun := cpu(b)
	for b.Loop() {
		t, err := TimelineOf(context.Background(), s, Place{Run: "R"}, Span{noon.Add(3 * time.Hour), end, 3 * time.Hour})
		require.NoError(b, err)
		require.Len(b, t.Ports, 1)
		require.Len(b, t.Ports[0].Received, 240)
		require.Empty(b, t.Ports[0].Gaps)
	}
	b.ReportMetric(float64((cpu(b)-begun).Microseconds())/1000/float64(b.N), "cpu-ms/op")
}

// monthOfARun gives it in a store that is open, and its end.
func monthOfARun(b *testing.B) (*benched, time.Time) {
	folder := b.TempDir()
	s := newBenched(b, filepath.Join(folder, "other"))
	s.done()
	end := noon.AddDate(0, 0, 30)
	s.block(b, folder, noon, noon.AddDate(0, 0, 20))
	s.block(b, folder, noon.AddDate(0, 0, 20), noon.AddDate(0, 0, 27))
	s.block(b, folder, noon.AddDate(0, 0, 27), end)
	s.open(b, folder)
	require.Len(b, s.db.Blocks(), 3)
	return s, end
}

// BenchmarkWeek is the hours of the week of a run over four weeks, polled every
// minute, as a page asks for them. What errors follow is made of the same polls.
func BenchmarkWeek(b *testing.B) {
	s, end := monthOfARun(b)
	defer s.done()
	begun := cpu(b)
	for b.Loop() {
		w, err := WeekOf(context.Background(), s, Place{Run: "R"}, end.AddDate(0, 0, -28), end, time.UTC)
		require.NoError(b, err)
		require.Len(b, w.Ports, 1)
		require.Equal(b, 4*60, w.Ports[0].Hours[0].Polls)
	}
	b.ReportMetric(float64((cpu(b)-begun).Microseconds())/1000/float64(b.N), "cpu-ms/op")
}

// told is what the run tells: counters rise, the interval's upper bound and
// the light move, and nothing else happens.
func (s *benched) told(i int, since float64) float64 {
	switch i {
	case 0, 1:
		return math.Floor(since*float64(i+1)*1e6 + 1e5*s.random.Float64())
	case 9:
		return s.random.Float64()
	case 10, 11:
		return -3 + math.Round(100*math.Sin(math.Floor(since/300)))/1000
	}
	if i == 12 || i == 13 {
		return math.Floor(since * 800 / math.Pow(1e5, float64(i-12)))
	}
	return float64(i % 3)
}

// block writes a block of the run and the plant, in the encoding that a Store
// uses.
func (s *benched) block(b *testing.B, folder string, from, to time.Time) {
	ctx, log := context.Background(), slog.New(slog.DiscardHandler)
	o := tsdb.DefaultHeadOptions()
	o.ChunkRange, o.ChunkDirRoot = to.Sub(from).Milliseconds(), b.TempDir()
	o.FloatChunkEncoding.Store(uint32(chunkenc.EncXOR2))
	head, err := tsdb.NewHead(nil, log, nil, nil, o, nil)
	require.NoError(b, err)
	require.NoError(b, head.Init(0))
	defer head.Close()
	of := func(name string, more ...string) *Series {
		return named(name, append(more, "switch", "sw-x", "port", "1/1", "run", "R")...)
	}
	run := []*Series{of("toneout_port_received_bytes_total"), of("toneout_port_sent_bytes_total"), of("toneout_port_link_changes_total"),
		named("toneout_switch_up", "switch", "sw-x"), of("toneout_port_up"), of("toneout_port_speed_bits_per_second"), of("toneout_run_design_speed_bits_per_second"),
		of("toneout_run_frame_error_ratio", "bound", "low"), of("toneout_run_frame_error_ratio", "bound", "estimate"), of("toneout_run_frame_error_ratio", "bound", "high"),
		of("toneout_port_received_light_dbm", "lane", "1"), of("toneout_port_sent_light_dbm", "lane", "1"),
		of("toneout_port_received_frames_total"), of("toneout_port_receive_errors_total", "error", "fcs")}
	for at := from; at.Before(to); at = at.Add(time.Minute) {
		a := appending{to: head.Appender(ctx)}
		since := at.Sub(noon).Seconds()
		for i, one := range run {
			a.add(one, at.UnixMilli(), s.told(i, since))
		}
		if at.Sub(from)%(24*time.Hour) == 0 {
			for _, series := range s.series {
				for _, one := range series {
					a.add(one, at.UnixMilli(), since)
				}
			}
		}
		require.NoError(b, a.refused)
		require.NoError(b, a.to.Commit())
	}
	for _, series := range s.series {
		for _, one := range series {
			one.ref = 0 // the next head has others
		}
	}
	c, err := tsdb.NewLeveledCompactorWithOptions(ctx, nil, log, []int64{o.ChunkRange}, chunkenc.NewPool(),
		tsdb.LeveledCompactorOptions{FloatChunkEncoding: func() chunkenc.Encoding { return chunkenc.EncXOR2 }})
	require.NoError(b, err)
	_, err = c.Write(folder, head, head.MinTime(), head.MaxTime()+1, nil)
	require.NoError(b, err)
}
