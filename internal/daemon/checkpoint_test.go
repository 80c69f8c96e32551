package daemon

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"
	"toneout/internal/standards"
)

// fellBack is a switch whose port 1/1 runs at 100 Mbit/s though both ends
// offer 1 Gbit/s, and carries 1,000 frames a second.
type fellBack struct{ now func() time.Time }

func (f fellBack) Poll(context.Context) (port.Poll, error) {
	now := f.now()
	uptime := port.Some(uint32(now.Sub(begin)/(10*time.Millisecond)) + 1_000_000)
	gigabit := port.Some(standards.ParseAbilities([]byte{0x6C, 0x01})) // 10, 100 and 1000BASE-T (IANAifMauAutoNegCapBits)
	r := port.Reading{
		At: now, Uptime: uptime, Index: 1, Name: "1/1", Type: 6, Connector: port.Yes, Admin: port.Up, Oper: port.Up,
		HighSpeed: port.Some(uint32(100)), MAU: 16,
		AutoNeg: port.AutoNegotiation{Enabled: port.Yes, Capable: gigabit, Advertised: gigabit, Received: gigabit},
	}
	r.Counters.Set64(port.InUnicast, uint64(now.Sub(begin).Seconds()*1000))
	r.Counters.Set64(port.InOctets, uint64(now.Sub(begin).Seconds()*500_000))
	r.Counters.Set64(port.FCS, 0)
	return port.Poll{At: now, Uptime: uptime, Name: "sw-1", Engine: "80001f8804", Ports: []port.Reading{r}}, nil
}

func (f fellBack) Close() error { return nil }

// watchingOne is a daemon's options for that switch, by a clock.
func watchingOne(file string, clock Clock) Options {
	inventory := plant.New(plant.Plant{Runs: []*plant.Run{{ID: "R", Switch: "sw-1", Port: "1/1", DesignSpeed: standards.Gbps}}})
	return Options{
		Setup: Setup{
			Plant: inventory, PollEvery: time.Minute, FalseAlarmsPerWeek: 1,
			Switches: []Switch{{Target: snmp.Target{Name: "sw-1", Address: "192.0.2.1:161"}}},
		},
		Checkpoint: file, Clock: clock,
		Open: func(snmp.Target) (Poller, error) { return fellBack{clock.Now}, nil },
	}
}

// forAWhile lets a daemon run from a moment for so long, and gives its fault
// and its log.
func forAWhile(t *testing.T, file string, from time.Time, length time.Duration) (f fault.Fault, metrics, log string) {
	clock := newStepped(from, length, 2) // the switch's loop and the checkpoint's
	d := start(t, watchingOne(file, clock.clock()))
	clock.wait(t, patience)
	d.eventually(func() bool { return len(d.faults()) == 1 }, "the port's fault")
	f = d.faults()[0]
	_, metrics = d.get("/metrics")
	require.NoError(t, d.stop())
	return f, metrics, d.log.String()
}

func TestAFaultOutlastsARestart(t *testing.T) {
	file := filepath.Join(t.TempDir(), "data", "toneout.checkpoint")
	first, metrics, log := forAWhile(t, file, begin, 10*time.Minute)
	require.Equal(t, 1, strings.Count(log, "fault opened"), log)
	require.Contains(t, metrics, "toneout_checkpoint_failing 0")
	require.Contains(t, metrics, "toneout_checkpoint_timestamp_seconds 1.772")
	for path, mode := range map[string]os.FileMode{filepath.Dir(file): 0o700 | os.ModeDir, file: 0o600} {
		info, err := os.Stat(path)
		require.NoError(t, err)
		require.Equal(t, mode, info.Mode(), path)
	}
	c, err := readCheckpoint(file)
	require.NoError(t, err)
	require.Equal(t, 1, c.Ports())
	require.WithinDuration(t, begin.Add(10*time.Minute), c.At, time.Minute, "the last one is of the stop")

	again, _, log := forAWhile(t, file, begin.Add(time.Hour), time.Minute)
	require.Equal(t, first.Since, again.Since)
	require.NotContains(t, log, "fault opened")
	require.Equal(t, 1, strings.Count(log, "fault is still open"), log)
	entries, err := os.ReadDir(filepath.Dir(file))
	require.NoError(t, err)
	require.Len(t, entries, 1, "nothing is left beside it")
}

// A checkpoint that cannot be used costs what it held and no more.
func TestAnUnusableCheckpoint(t *testing.T) {
	whole := filepath.Join(t.TempDir(), "whole")
	forAWhile(t, whole, begin, 5*time.Minute)
	data, err := os.ReadFile(whole)
	require.NoError(t, err)
	flipped := append([]byte{}, data...)
	flipped[len(data)/2] ^= 0x10
	for name, row := range map[string]struct{ text, says string }{
		"newer":   {strings.Replace(string(data), "checkpoint 1\n", "checkpoint 2\n", 1), "it is of version 2, and this toneout reads version 1"},
		"torn":    {string(data[:len(data)-20]), "it is torn or damaged"},
		"damaged": {string(flipped), "it is torn or damaged"},
		"foreign": {"a letter to the landlord\n", "it is no checkpoint of toneout"},
		"empty":   {"", "it is no checkpoint of toneout"},
	} {
		t.Run(name, func(t *testing.T) {
			file := filepath.Join(t.TempDir(), "toneout.checkpoint")
			require.NoError(t, os.WriteFile(file, []byte(row.text), 0o600))
			_, _, log := forAWhile(t, file, begin, 5*time.Minute)
			require.Equal(t, 1, strings.Count(log, "checkpoint not usable"), log)
			require.Contains(t, log, row.says)
			require.Contains(t, log, "fault opened", "it watches as at first")
			aside, err := os.ReadFile(file + ".unusable")
			require.NoError(t, err)
			require.Equal(t, row.text, string(aside))
			_, err = readCheckpoint(file)
			require.NoError(t, err)
		})
	}
}

// A disk that takes nothing is told once when it begins and once when it is
// over, and the file of before stays.
func TestADiskThatIsFullOrReadOnly(t *testing.T) {
	disk := smallDisk(t, "64k")
	var log logBuffer
	var written []bool
	c := &checkpointer{
		path: filepath.Join(disk, "toneout.checkpoint"), owner: ownerOf(t, &log), clock: systemClock, log: slog.New(slog.NewTextHandler(&log, nil)),
		report: func(ok bool, _ time.Time) { written = append(written, ok) },
	}
	saves := func(n int) {
		for range n {
			c.save(func(do func(*fault.Tracker)) bool { do(c.owner.tracker); return true })
		}
	}
	trouble := []struct {
		name       string
		begin, end func()
	}{
		{"no space left on device",
			func() { require.ErrorIs(t, os.WriteFile(disk+"/filler", make([]byte, 1<<20), 0o600), syscall.ENOSPC) },
			func() { require.NoError(t, os.Remove(disk+"/filler")) }},
		{"read-only file system",
			func() { require.NoError(t, syscall.Mount("", disk, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, "")) },
			func() { require.NoError(t, syscall.Mount("", disk, "", syscall.MS_REMOUNT, "")) }},
	}
	saves(1)
	for _, row := range trouble {
		log.buffer.Reset()
		before, err := os.ReadFile(c.path)
		require.NoError(t, err)
		row.begin()
		saves(3)
		after, err := os.ReadFile(c.path)
		require.NoError(t, err)
		require.Equal(t, before, after)
		row.end()
		saves(2)
		require.Equal(t, 1, strings.Count(log.String(), "checkpoint not written"), log.String())
		require.Equal(t, 1, strings.Count(log.String(), "checkpoint written again"), log.String())
		require.Contains(t, log.String(), row.name)
	}
	require.Equal(t, []bool{true, false, false, false, true, true, false, false, false, true, true}, written)
	_, err := readCheckpoint(c.path)
	require.NoError(t, err)
}

// smallDisk is a file system of so many bytes in memory.
func smallDisk(t *testing.T, size string) string {
	disk := t.TempDir()
	if err := syscall.Mount("tmpfs", disk, "tmpfs", 0, "size="+size); err != nil {
		if os.Getenv("TONEOUT_SYSTEM_TESTS") == "1" {
			t.Fatalf("mount a small disk: %v, and TONEOUT_SYSTEM_TESTS=1 wants it", err)
		}
		t.Skipf("mount a small disk: %v", err)
	}
	t.Cleanup(func() { require.NoError(t, syscall.Unmount(disk, 0)) })
	return disk
}

func TestWatchingGoesOnWithoutCheckpoints(t *testing.T) {
	file := filepath.Join(t.TempDir(), "a file, and no folder")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	_, metrics, log := forAWhile(t, filepath.Join(file, "toneout.checkpoint"), begin, 10*time.Minute)
	require.Equal(t, 1, strings.Count(log, "checkpoint not written"), log)
	require.Contains(t, log, "fault opened")
	require.Contains(t, metrics, "toneout_checkpoint_failing 1")
	require.NotContains(t, metrics, "\ntoneout_checkpoint_timestamp_seconds")
}

// The demo's campus, asked by SNMP: each fault of before a restart is the same
// one after it, and none is told as new.
func TestTheCampusOutlastsARestart(t *testing.T) {
	t.Parallel()
	campus := sim.FerrowQuay(1, begin)
	loops := len(campus.Switches()) + 1 // the checkpoint's
	var clock atomic.Pointer[stepped]
	clock.Store(newStepped(begin, 100*time.Second, loops))
	served := agents(t, campus, func() time.Time { return clock.Load().now() }, sim.Security{Communities: []string{community}})
	o := ferrowQuay(t, campus, served)
	o.Checkpoint = filepath.Join(t.TempDir(), "toneout.checkpoint")
	watch := func() (map[string]fault.Fault, string) {
		o.PollEvery, o.SlowEvery, o.Clock, o.Open = 2*time.Second, 10*time.Second, clock.Load().clock(), clock.Load().open
		for i := range o.Switches {
			o.Switches[i].SlowEvery = o.SlowEvery
		}
		d := start(t, o)
		clock.Load().wait(t, 4*time.Minute)
		open := map[string]fault.Fault{}
		for _, f := range d.faults() {
			open[fmt.Sprint(f.Kind, f.Run, f.Switch, f.Port)] = f
		}
		require.NoError(t, d.stop())
		return open, d.log.String()
	}
	before, _ := watch()
	require.Greater(t, len(before), 10)
	clock.Store(newStepped(begin.Add(3*time.Minute), 12*time.Second, loops))
	after, log := watch()
	for what, was := range before {
		is, still := after[what]
		require.True(t, still, "%+v", was)
		require.Equal(t, was.Since, is.Since, what)
		require.Equal(t, was.Alarm, is.Alarm, what)
	}
	require.Len(t, after, len(before))
	require.NotContains(t, log, "fault opened")
	require.Contains(t, log, "fault is still open")
}
