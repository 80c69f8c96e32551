package history

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// What the environment of this very program asks it to be.
const (
	victimFolder = "TONEOUT_TEST_HISTORY_VICTIM" // a process that records in a folder until it is killed
	inNamespace  = "TONEOUT_TEST_HISTORY_INSIDE" // a test with file systems of its own
)

func TestMain(m *testing.M) {
	if folder := os.Getenv(victimFolder); folder != "" {
		victim(folder)
	}
	os.Exit(m.Run())
}

// alone runs a test again in a process with file systems of its own, and tells
// whether this is that process.
func alone(t *testing.T) bool {
	t.Helper()
	if os.Getenv(inNamespace) != "" {
		require.NoError(t, syscall.Mount("", "/", "", syscall.MS_REC|syscall.MS_PRIVATE, ""))
		return true
	}
	again := exec.Command(os.Args[0], "-test.run=^"+t.Name()+"$", "-test.v")
	again.Env = append(os.Environ(), inNamespace+"=1")
	again.SysProcAttr = &syscall.SysProcAttr{Cloneflags: syscall.CLONE_NEWNS}
	out, err := again.CombinedOutput()
	if errors.Is(err, syscall.EPERM) {
		if os.Getenv("TONEOUT_SYSTEM_TESTS") == "1" {
			t.Fatal("mounting needs root, and TONEOUT_SYSTEM_TESTS=1 wants it")
		}
		t.Skip("mounting a small disk needs root")
	}
	require.NoError(t, err, "%s", out)
	require.Contains(t, string(out), "--- PASS: "+t.Name())
	return false
}

// disk mounts an empty one of so many megabytes.
func disk(t *testing.T, megabytes int) string {
	folder := t.TempDir()
	require.NoError(t, syscall.Mount("none", folder, "tmpfs", 0, fmt.Sprintf("size=%dm", megabytes)))
	t.Cleanup(func() { require.NoError(t, syscall.Unmount(folder, syscall.MNT_DETACH)) })
	return folder
}

// fill takes what is free of a disk, but for some of it.
func fill(t *testing.T, folder string, left int64) (free func()) {
	var s syscall.Statfs_t
	require.NoError(t, syscall.Statfs(folder, &s))
	ballast := filepath.Join(folder, "ballast")
	require.NoError(t, os.WriteFile(ballast, make([]byte, int64(s.Bavail)*s.Bsize-left), 0o600))
	return func() { require.NoError(t, os.Remove(ballast)) }
}

// third makes a value of a minute that no zeros end: a storage reads a log's
// missing end as zeros.
func third(n int) float64 { return float64(n) + 1.0/3 }

// minute tells some values at a minute after noon.
func (r *rig) minute(n int, values map[*Series]float64) {
	for s := range values {
		values[s] = third(n)
	}
	r.tell(noon.Add(time.Duration(n)*time.Minute), values)
	r.settled()
}

func several(n int) map[*Series]float64 {
	values := map[*Series]float64{}
	for i := range n {
		values[named("toneout_port_up", "port", fmt.Sprint("1/", i))] = 0
	}
	return values
}

// has requires the value of a minute, or that there is none.
func (r *rig) has(n int, recorded bool) {
	r.t.Helper()
	got, present := r.value(`last_over_time(toneout_port_up{port="1/0"}[30s])`, noon.Add(time.Duration(n)*time.Minute))
	require.Equal(r.t, recorded, present, "minute %d", n)
	if recorded {
		require.Equal(r.t, third(n), got)
	}
}

// lines are the log's, of a level.
func (r *rig) lines(level string) (found []string) {
	for line := range strings.Lines(r.log.String()) {
		if strings.Contains(line, "level="+level) {
			found = append(found, line)
		}
	}
	return found
}

// A disk that is all but full is left to others: nothing is recorded, the
// past can be asked, and recording goes on when there is room.
func TestFullDiskIsLeftToOthers(t *testing.T) {
	if !alone(t) {
		return
	}
	folder := disk(t, 24)
	r := run(t, Options{Directory: folder, room: 8 << 20})
	values := several(100)
	r.minute(1, values)
	free := fill(t, folder, 6<<20)
	r.minute(2, values)
	r.minute(3, values)
	require.Contains(t, r.Status().Failing, "the disk is full")
	require.EqualValues(t, 2, r.Status().Dropped)
	r.has(1, true)
	r.has(2, false)
	free()
	r.minute(4, values)
	require.Empty(t, r.Status().Failing)
	r.has(4, true)
	require.Len(t, r.lines("ERROR"), 1, r.log)
	require.Len(t, r.lines("INFO"), 1, r.log)
	require.Contains(t, r.lines("INFO")[0], "polls_lost=2")
}

// A disk that fills up under the storage's own writes tears at most the poll
// that was under way, and costs none that was written before or after.
func TestNoSpaceLeft(t *testing.T) {
	if !alone(t) {
		return
	}
	folder := disk(t, 24)
	r := run(t, Options{Directory: folder, room: -1})
	values := several(2000)
	r.minute(1, values)
	free := fill(t, folder, 40<<10) // room for a part of what comes
	n := 2
	for ; r.Status().Failing == ""; n++ {
		r.minute(n, values)
		require.Less(t, n, 100)
	}
	require.Contains(t, r.Status().Failing, "no space left on device")
	r.has(n-2, true)
	r.minute(n, values)
	r.has(n, false)
	free()
	r.minute(n+1, values)
	require.Empty(t, r.Status().Failing, r.log)
	require.Len(t, r.lines("ERROR"), 1, r.log)
	r.done()
	r = run(t, Options{Directory: folder, room: -1})
	for recorded := range n - 1 {
		r.has(recorded, recorded > 0)
	}
	r.has(n+1, true)
	require.Empty(t, r.lines("ERROR"), r.log)
}

// A folder that cannot be written stops nobody, and is told once.
func TestReadOnlyFolder(t *testing.T) {
	if !alone(t) {
		return
	}
	folder := disk(t, 24)
	remount := func(flags uintptr) {
		require.NoError(t, syscall.Mount("none", folder, "tmpfs", syscall.MS_REMOUNT|flags, ""))
	}
	remount(syscall.MS_RDONLY)
	r := run(t, Options{Directory: filepath.Join(folder, "history"), room: 1})
	values := several(10)
	r.minute(1, values)
	r.minute(2, values)
	require.Contains(t, r.Status().Failing, "read-only file system")
	require.Len(t, r.lines("ERROR"), 1, r.log)
	_, err := r.Instant(t.Context(), "toneout_port_up", noon)
	require.ErrorContains(t, err, "history cannot be read now: ")
	require.ErrorContains(t, err, "read-only file system")
	remount(0)
	r.minute(3, values)
	require.Empty(t, r.Status().Failing)
	r.has(3, true)
	require.Contains(t, r.lines("INFO")[0], "polls_lost=2")
}

// What a sudden end tore is left out, and the rest is there.
func TestTornLog(t *testing.T) {
	r := run(t, Options{})
	values := several(50)
	for n := range 20 {
		r.minute(n, values)
	}
	for _, torn := range []int64{1, 7, 100, 300} {
		folder := t.TempDir()
		require.NoError(t, os.CopyFS(folder, os.DirFS(r.options.Directory))) // as a crash leaves it
		segments, err := filepath.Glob(filepath.Join(folder, "wal", "0*"))
		require.NoError(t, err)
		last := slices.Max(segments)
		info, err := os.Stat(last)
		require.NoError(t, err)
		require.NoError(t, os.Truncate(last, info.Size()-torn))
		again := run(t, Options{Directory: folder})
		again.has(15, true)
		again.has(19, false)
		require.Len(t, again.lines("WARN"), 1, again.log)
		require.Contains(t, again.lines("WARN")[0], "what cannot be read is left out")
		require.Empty(t, again.lines("ERROR"))
		again.minute(25, values)
		again.has(25, true)
		again.done()
	}
}

// A block that cannot be read is told once, and stops nobody.
func TestDamagedBlock(t *testing.T) {
	folder := t.TempDir()
	block := filepath.Join(folder, "01JQ0000000000000000000000")
	require.NoError(t, os.MkdirAll(block, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(block, "meta.json"), []byte(`{"version":1,"ulid":"01JQ0000000000000000000000","minTime":0,"maxTime":1,"compaction":{"level":1,"sources":["01JQ0000000000000000000000"]}}`), 0o600))
	r := run(t, Options{Directory: folder})
	values := several(1)
	r.minute(1, values)
	r.minute(2, values)
	require.Contains(t, r.Status().Failing, "01JQ0000000000000000000000")
	require.Len(t, r.lines("ERROR"), 1, r.log)
}

// The clock may go back: nothing is recorded until it has caught up, and that
// is told.
func TestClockSetBack(t *testing.T) {
	r := run(t, Options{})
	values := several(3)
	r.minute(10, values)
	r.minute(5, values)
	require.Contains(t, r.Status().Failing, "the clock was set back")
	r.minute(10, several(3)) // the same moment, told by somebody who does not know of it
	r.minute(11, values)
	require.Empty(t, r.Status().Failing)
	r.has(11, true)
}

// Who offers never waits: what finds no place is dropped and counted, and a
// series that went away meanwhile still gets its end.
func TestQueueIsBounded(t *testing.T) {
	log := &logBuffer{}
	s, err := Open(Options{Directory: t.TempDir(), Keep: time.Hour, Log: slog.New(slog.NewTextHandler(log, nil)), Now: time.Now})
	require.NoError(t, err)
	one, two := named("toneout_port_up", "port", "1"), named("toneout_port_up", "port", "2")
	for n := range mostBatches + 10 { // nobody takes them
		b := s.Batch(noon.Add(time.Duration(n) * time.Second))
		b.Sample(one, float64(n))
		if n < mostBatches+5 {
			b.Sample(two, float64(n))
		} else if n == mostBatches+5 {
			b.Gone(two)
		}
		s.Offer(b)
	}
	require.EqualValues(t, 10, s.Status().Dropped)
	require.Equal(t, 1, strings.Count(log.String(), "history cannot keep up"), log)
	ended, closed := make(chan struct{}), make(chan struct{})
	go func() { defer close(closed); s.Run(ended) }()
	require.Eventually(t, func() bool { return s.waiting.Load() == 0 }, 20*time.Second, time.Millisecond)
	b := s.Batch(noon.Add((mostBatches + 10) * time.Second))
	b.Sample(one, 1)
	s.Offer(b)
	require.Eventually(t, func() bool { return s.waiting.Load() == 0 }, 20*time.Second, time.Millisecond)
	found, err := s.Instant(t.Context(), "toneout_port_up", noon.Add((mostBatches+10)*time.Second))
	require.NoError(t, err)
	require.Len(t, found, 1)
	require.Equal(t, 1, strings.Count(log.String(), "history recorded again"), log)
	close(ended)
	<-closed
}

// victim records without an end, and prints which minute is written.
func victim(folder string) {
	s, err := Open(Options{Directory: folder, Keep: 400 * 24 * time.Hour, Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Now: time.Now})
	if err != nil {
		panic(err)
	}
	go s.Run(nil)
	from := 0
	if text, err := os.ReadFile(folder + ".from"); err == nil {
		fmt.Sscan(string(text), &from)
	}
	values := several(500)
	for n := from; ; n++ {
		b := s.Batch(noon.Add(time.Duration(n) * time.Minute))
		for series := range values {
			b.Sample(series, third(n))
		}
		s.Offer(b)
		for s.waiting.Load() > 0 {
			time.Sleep(10 * time.Microsecond)
		}
		fmt.Println(n)
	}
}

// Whenever a daemon is killed, all that it had written is there.
func TestKilledAtAnyMoment(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "history")
	random := rand.New(rand.NewPCG(4, 4))
	last := -1
	for range 5 {
		require.NoError(t, os.WriteFile(folder+".from", fmt.Append(nil, last+2), 0o600))
		v := exec.Command(os.Args[0])
		v.Env = append(os.Environ(), victimFolder+"="+folder)
		out, err := v.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, v.Start())
		lines, more := bufio.NewScanner(out), random.IntN(100)
		killed := false
		for lines.Scan() {
			_, err := fmt.Sscan(lines.Text(), &last)
			require.NoError(t, err)
			if more--; more < 0 && !killed {
				killed = true
				require.NoError(t, v.Process.Kill())
			}
		}
		_ = v.Wait() // it was killed, which Wait calls an error
		r := run(t, Options{Directory: folder})
		r.has(last, true)
		count, _ := r.value(`count(count_over_time(toneout_port_up[30s]))`, noon.Add(time.Duration(last)*time.Minute))
		require.EqualValues(t, 500, count)
		require.Empty(t, r.lines("ERROR"))
		r.done()
	}
}
