package fault

import (
	"bytes"
	"compress/gzip"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// FuzzCheckpoint gives the reader bytes that nobody wrote: in a file, and past
// its checksum. What it takes all the same, a tracker can live with.
func FuzzCheckpoint(f *testing.F) {
	s := newScene(nil, []*plant.Run{horizontal("R", "1/17")}, gigabitLink("1/17"))
	s.links[0].fellBack()
	s.polls(5)
	file := writtenDown(f, s.tracker, s.now)
	f.Add(file)
	f.Add(file[:len(file)/2])
	f.Add(unpacked(f, file))
	f.Fuzz(func(t *testing.T, data []byte) {
		if c, err := ReadCheckpoint(bytes.NewReader(data)); err == nil {
			livesWith(t, c)
		}
		if c, err := ReadCheckpoint(bytes.NewReader(packed(data))); err == nil {
			livesWith(t, c)
		}
	})
}

// livesWith restores a checkpoint and lets polls follow.
func livesWith(t *testing.T, c *Checkpoint) {
	s := newScene(t, []*plant.Run{horizontal("R", "1/17")}, gigabitLink("1/17"))
	_, _ = s.tracker.Restore(c, start)
	for _, u := range []string{"", "FQ1", "FQ2"} {
		s.links[0].edit = func(r *port.Reading) { r.Unit = u }
		s.polls(2)
		writtenDown(t, s.tracker, start)
	}
}

func unpacked(t testing.TB, file []byte) []byte {
	_, rest, _ := bytes.Cut(file, []byte("\n"))
	from, err := gzip.NewReader(bytes.NewReader(rest))
	require.NoError(t, err)
	var out bytes.Buffer
	_, err = out.ReadFrom(from)
	require.NoError(t, err)
	return out.Bytes()
}

// packed is a file whose checksum is right, whatever it holds.
func packed(data []byte) []byte {
	var file bytes.Buffer
	r, err := NewRecorder(&file, time.Time{})
	if err != nil {
		return nil
	}
	r.pending.Reset()
	r.pending.Write(data)
	_ = r.Flush()
	_ = r.to.Close()
	return file.Bytes()
}
