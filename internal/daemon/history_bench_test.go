package daemon

import (
	"fmt"
	"log/slog"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/prometheus/prometheus/tsdb"
	"github.com/stretchr/testify/require"

	"toneout/internal/metrics"
	"toneout/internal/notify"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/snmp"
	"toneout/internal/standards"
)

// BenchmarkHistory is what a sample of a real exposition takes: a day of an
// access switch of 48 ports, of which a third have no link, with traffic that
// comes and goes. Told are the bytes of the compacted blocks, index included, at
// most 2.0 a sample. What an append takes is told by BenchmarkRecord in package
// metrics and BenchmarkAppend in package history.
func BenchmarkHistory(b *testing.B) {
	for b.Loop() {
		folder := b.TempDir()
		aDay(b, folder)
		db, err := tsdb.OpenDBReadOnly(folder, b.TempDir(), slog.New(slog.DiscardHandler))
		require.NoError(b, err)
		blocks, err := db.Blocks()
		require.NoError(b, err)
		bytes, kept := int64(0), uint64(0)
		for _, block := range blocks {
			m := block.Meta()
			kept += m.Stats.NumSamples
			require.NoError(b, filepath.Walk(filepath.Join(folder, m.ULID.String()), func(_ string, info os.FileInfo, err error) error {
				if err == nil && info.Mode().IsRegular() {
					bytes += info.Size()
				}
				return err
			}))
		}
		require.NoError(b, db.Close())
		require.NotZero(b, kept)
		each := float64(bytes) / float64(kept)
		require.LessOrEqual(b, each, 2.0, "bytes a sample")
		b.ReportMetric(each, "bytes/sample")
		b.ReportMetric(float64(len(blocks)), "blocks")
	}
}

// aDay records a day and a few hours, so that the day is in blocks.
func aDay(b *testing.B, folder string) {
	now := begin
	o := Options{
		Setup: Setup{Plant: plant.New(plant.Plant{}), PollEvery: time.Minute, FalseAlarmsPerWeek: 1,
			Switches: []Switch{{Target: snmp.Target{Name: "sw-1"}}}},
		History: HistoryOptions{Directory: folder, Keep: 400 * 24 * time.Hour},
		Log:     slog.New(slog.DiscardHandler), Clock: Clock{Now: func() time.Time { return now }, Until: systemClock.Until},
	}.withDefaults()
	exposition := metrics.New()
	kept, err := openHistory(o, exposition)
	require.NoError(b, err)
	nobody, err := notify.New(notify.Options{})
	require.NoError(b, err)
	store, w := kept.store, newOwner(o, exposition, nobody, kept, make(chan answer))
	ended, closed := make(chan struct{}), make(chan struct{})
	go func() { defer close(closed); store.Run(ended) }()
	defer func() { close(ended); <-closed }()
	sw := newOffice()
	for range 27 * 60 {
		now = now.Add(time.Minute)
		snap := w.tracker.Answered("sw-1", sw.poll(now))
		exposition.Polled("sw-1", metrics.Answered, 0.04)
		exposition.Update(snap, "sw-1")
		w.record(now, "sw-1")
		for !store.Idle() {
			time.Sleep(100 * time.Microsecond)
		}
	}
}

// office is a switch whose ports carry what people do.
type office struct {
	random *rand.Rand
	load   [48]float64 // frames a minute
	frames [48]uint64
}

func newOffice() *office { return &office{random: rand.New(rand.NewPCG(3, 3))} }

func (s *office) poll(now time.Time) port.Poll {
	uptime := port.Some(uint32(now.Sub(begin)/(10*time.Millisecond)) + 1_000_000)
	p := port.Poll{At: now, Uptime: uptime}
	for i := range s.frames {
		r := port.Reading{At: now, Uptime: uptime, Index: i + 1, Name: fmt.Sprint("1/", i+1), Type: 6, Connector: port.Yes,
			Admin: port.Up, Oper: port.Up, HighSpeed: port.Some(uint32(1000)), DuplexStatus: standards.FullDuplex}
		if i%3 == 2 {
			r.Oper = port.Down
		} else {
			if s.random.IntN(30) == 0 {
				s.load[i] = float64(s.random.IntN(3)) * 1000 * s.random.ExpFloat64()
			}
			s.frames[i] += uint64(60 + s.load[i]*(0.5+s.random.Float64()))
		}
		c := &r.Counters
		c.Set64(port.InUnicast, s.frames[i])
		c.Set64(port.InOctets, s.frames[i]*700+uint64(s.random.IntN(100)))
		c.Set64(port.OutOctets, s.frames[i]*400+uint64(s.random.IntN(100)))
		for _, k := range []port.Counter{port.FCS, port.Alignment, port.Symbol, port.TooLong, port.InternalReceive, port.Fragments, port.LateCollisions, port.ExcessiveCollisions} {
			c.Set32(k, 0)
		}
		p.Ports = append(p.Ports, r)
	}
	return p
}
