package sim

import (
	"context"
	"os"
	"os/exec"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// tool finds a program of the system, or skips the test, or fails it where
// the system's parts are required.
func tool(t *testing.T, name string) string {
	path, err := exec.LookPath(name)
	if err != nil && os.Getenv("TONEOUT_SYSTEM_TESTS") == "1" {
		t.Fatalf("%s is required and missing: %v", name, err)
	}
	if err != nil {
		t.Skipf("%s is not installed", name)
	}
	return path
}

// serve starts an agent on a free port of loopback and stops it with the test.
func serve(t *testing.T, mib MIB, security Security, options ...func(*Agent)) *Agent {
	t.Helper()
	agent, err := Listen("127.0.0.1:0", mib, security)
	require.NoError(t, err)
	for _, option := range options {
		option(agent)
	}
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- agent.Serve(ctx) }()
	t.Cleanup(func() {
		stop()
		select {
		case err := <-done:
			require.NoError(t, err)
		case <-time.After(30 * time.Second):
			t.Error("the agent did not stop")
		}
	})
	return agent
}

var noon = time.Date(2031, 3, 4, 12, 0, 0, 0, time.UTC)

// at stops an agent's clock.
func at(now time.Time) func(*Agent) {
	return func(a *Agent) { a.Now = func() time.Time { return now } }
}
