package fault

import (
	"bytes"
	"math/rand/v2"
	"testing"
	"time"
	"unsafe"

	"github.com/stretchr/testify/require"

	"toneout/internal/sequential"
)

// lived is a campus whose ports have hours and tests of their own, since the
// same numbers at each would be packed too well.
func lived() *campus {
	c := newCampus(benchSwitches, 10)
	c.run(10 * benchSwitches)
	random := rand.New(rand.NewPCG(4, 8))
	for _, s := range c.tracker.order {
		for _, p := range s.order {
			for i := range 8 * 24 * 6 {
				frames := random.IntN(600_000)
				at := start.Add(time.Duration(i) * windowPart)
				sample := sequential.Sample{At: at, Bits: float64(1+frames) * 4000, Seconds: windowPart.Seconds()}
				if random.IntN(500) == 0 {
					sample.Errored = 1
				}
				if i >= 8*24*6-6 {
					p.hour.add(at, part{Hour: Hour{windowPart.Seconds(), uint64(frames), sample.Bits, sample.Errored, Judged{windowPart.Seconds(), uint64(frames), sample.Bits}}})
				}
				p.errors.detector.Update(sample, 1e-10, 1e12)
			}
		}
	}
	return c
}

// BenchmarkCheckpoint writes 48,000 ports down: owner-µs is what the tracker's
// owner gives to one switch, of which there are 1,000, one after another.
func BenchmarkCheckpoint(b *testing.B) {
	c := lived()
	const ports = benchSwitches * benchPorts
	var file bytes.Buffer
	var owner time.Duration
	began := processorTime()
	for b.Loop() {
		file.Reset()
		r, err := NewRecorder(&file, start)
		require.NoError(b, err)
		from := processorTime()
		names, err := r.Begin(c.tracker)
		require.NoError(b, err)
		for _, name := range names {
			require.NoError(b, r.Switch(c.tracker, name))
		}
		owner += processorTime() - from
		require.NoError(b, r.Close())
	}
	n := float64(b.N)
	b.ReportMetric(float64((processorTime()-began).Microseconds())/n/1000, "cpu-ms")
	b.ReportMetric(float64(owner.Microseconds())/n/benchSwitches, "owner-µs/switch")
	b.ReportMetric(float64(file.Len())/1e6, "file-MB")
	b.ReportMetric(float64(file.Len())/ports, "file-B/port")
	b.ReportMetric(float64(unsafe.Sizeof(portState{})), "portState-B")
}

// BenchmarkRestore reads them back.
func BenchmarkRestore(b *testing.B) {
	file := writtenDown(b, lived().tracker, start)
	settings, p := newCampus(benchSwitches, 10).tracker.settings, newCampus(benchSwitches, 10).tracker.plant
	began := processorTime()
	for b.Loop() {
		checkpoint, err := ReadCheckpoint(bytes.NewReader(file))
		require.NoError(b, err)
		_, err = NewTracker(p, settings).Restore(checkpoint, start)
		require.NoError(b, err)
	}
	b.ReportMetric(float64((processorTime()-began).Microseconds())/float64(b.N)/1000, "cpu-ms")
}
