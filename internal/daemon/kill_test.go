package daemon

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// victimFile names the checkpoint of a daemon that is to be killed, in the
// environment of this very program.
const victimFile = "TONEOUT_TEST_VICTIM"

func TestMain(m *testing.M) {
	if file := os.Getenv(victimFile); file != "" {
		victim(file)
	}
	os.Exit(m.Run())
}

// victim runs a daemon until it is killed, and prints the address that it
// listens on.
func victim(file string) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		panic(err)
	}
	fmt.Println(listener.Addr())
	o := watchingOne(file, hurried())
	o.Listener, o.Log = listener, slog.New(slog.NewTextHandler(os.Stderr, nil))
	panic(Run(context.Background(), o))
}

// hurried is a clock on which 1,000 minutes pass in one, in every process.
func hurried() Clock {
	const times = 1000
	now := func() time.Time { return begin.Add(times * time.Since(begin)).Truncate(0) }
	return Clock{Now: now, Until: func(ctx context.Context, moment time.Time) error {
		return systemClock.Until(ctx, time.Now().Add(moment.Sub(now())/times))
	}}
}

// killed is a daemon in a process of its own.
type killed struct {
	process *exec.Cmd
	address string
	log     *logBuffer
}

func startVictim(t *testing.T, file string) *killed {
	v := &killed{process: exec.Command(os.Args[0]), log: &logBuffer{}}
	v.process.Env = append(os.Environ(), victimFile+"="+file)
	v.process.Stderr = v.log
	out, err := v.process.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, v.process.Start())
	t.Cleanup(func() { _ = v.process.Process.Kill() })
	line, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	v.address = strings.TrimSpace(line)
	return v
}

var writtenAt = regexp.MustCompile(`(?m)^toneout_checkpoint_timestamp_seconds (\S+)`)

// written is when the daemon last told that it wrote a checkpoint; false where
// it has not yet, or its fault is not open.
func (v *killed) written(t *testing.T) (time.Time, bool) {
	response, err := http.Get("http://" + v.address + "/metrics")
	require.NoError(t, err)
	defer response.Body.Close()
	body, err := io.ReadAll(response.Body)
	require.NoError(t, err)
	m := writtenAt.FindStringSubmatch(string(body))
	if m == nil || !strings.Contains(string(body), "\ntoneout_run_fault{") {
		return time.Time{}, false
	}
	seconds, err := strconv.ParseFloat(m[1], 64)
	require.NoError(t, err)
	return time.UnixMilli(int64(seconds * 1000)), true
}

// Whenever a daemon is killed, its file is a whole checkpoint, no older than
// the last that it told of, and the next daemon goes on from there.
func TestKilledAtAnyMoment(t *testing.T) {
	file := filepath.Join(t.TempDir(), "toneout.checkpoint")
	random := rand.New(rand.NewPCG(9, 9))
	for round := range 10 {
		v := startVictim(t, file)
		var told time.Time
		deadline := time.Now().Add(patience)
		const enough = 3 // the first may have begun before the fault opened
		for seen, more := 0, random.IntN(40); seen < enough || more > 0; {
			at, wrote := v.written(t)
			if seen >= enough {
				more--
			}
			if wrote && at.After(told) {
				told = at
				seen++
			}
			require.True(t, time.Now().Before(deadline), "no checkpoint was written: %v", v.log)
		}
		require.NoError(t, v.process.Process.Kill())
		_ = v.process.Wait() // it was killed, which Wait calls an error
		c, err := readCheckpoint(file)
		require.NoError(t, err, "round %d", round)
		require.False(t, c.At.Before(told.Add(-time.Second)), "written %v, told %v", c.At, told)
		require.Equal(t, round > 0, strings.Contains(v.log.String(), "checkpoint read"), v.log)
		require.NotContains(t, v.log.String(), "level=ERROR")
		if round > 0 {
			require.NotContains(t, v.log.String(), "fault opened", "round %d", round)
			require.Contains(t, v.log.String(), "fault is still open", "round %d", round)
		}
	}
}
