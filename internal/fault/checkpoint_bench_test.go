package fault

import (
	"bytes"
	"testing"
	"time"
	"unsafe"

	"github.com/stretchr/testify/require"
)

// BenchmarkCheckpoint writes 48,000 ports down after an hour and reads them
// back: owner-ms is what the tracker's owner gives to it in all, in as many
// parts as there are switches; longest-µs is the longest of these.
func BenchmarkCheckpoint(b *testing.B) {
	c := newCampus(benchSwitches, 10)
	c.run(60 * benchSwitches)
	const ports = benchSwitches * benchPorts
	var file bytes.Buffer
	var owner, longest time.Duration
	began := processorTime()
	for b.Loop() {
		file.Reset()
		r, err := NewRecorder(&file, start)
		require.NoError(b, err)
		names, err := r.Begin(c.tracker)
		require.NoError(b, err)
		for _, name := range names {
			from := time.Now()
			require.NoError(b, r.Switch(c.tracker, name))
			spent := time.Since(from)
			owner, longest = owner+spent, max(longest, spent)
			require.NoError(b, r.Flush())
		}
		require.NoError(b, r.Close())
	}
	n := float64(b.N)
	b.ReportMetric(float64((processorTime()-began).Microseconds())/n/1000, "cpu-ms")
	b.ReportMetric(float64(owner.Microseconds())/n/1000, "owner-ms")
	b.ReportMetric(float64(longest.Microseconds()), "longest-µs")
	b.ReportMetric(float64(file.Len())/ports, "file-B/port")
	b.ReportMetric(float64(unsafe.Sizeof(portState{})), "portState-B")
}

// BenchmarkRestore reads 48,000 ports.
func BenchmarkRestore(b *testing.B) {
	c := newCampus(benchSwitches, 10)
	c.run(10 * benchSwitches)
	file := writtenDown(b, c.tracker, start)
	for b.Loop() {
		checkpoint, err := ReadCheckpoint(bytes.NewReader(file))
		require.NoError(b, err)
		fresh := newCampus(benchSwitches, 10).tracker
		b.StopTimer()
		b.StartTimer()
		_, err = fresh.Restore(checkpoint, start)
		require.NoError(b, err)
	}
}
