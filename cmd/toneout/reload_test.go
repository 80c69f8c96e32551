package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// asCommand has the test's binary be the command itself.
const asCommand = "TONEOUT_TEST_AS_COMMAND"

func TestMain(m *testing.M) {
	if os.Getenv(asCommand) != "" {
		main()
	}
	os.Exit(m.Run())
}

// A hangup has a real process read its files anew, and does not end it.
func TestHangup(t *testing.T) {
	directory := folder(t, map[string]string{"toneout.yml": goodConfig, "plant.yml": "site: x\n"})
	said := &stream{}
	command := exec.Command(os.Args[0], "serve", "-config", filepath.Join(directory, "toneout.yml"))
	command.Env, command.Stderr = append(os.Environ(), asCommand+"=1"), said
	require.NoError(t, command.Start())
	ended := make(chan error, 1)
	go func() { ended <- command.Wait() }()
	t.Cleanup(func() { _ = command.Process.Kill() })
	says := func(text string) {
		t.Helper()
		require.Eventually(t, func() bool { return strings.Contains(said.String(), text) }, 20*time.Second, 10*time.Millisecond, "%s in %s", text, said)
	}
	says("msg=serving")
	write := func(name, text string) {
		require.NoError(t, os.WriteFile(filepath.Join(directory, name), []byte(text), 0o600))
		require.NoError(t, command.Process.Signal(syscall.SIGHUP))
	}
	write("plant.yml", "runs: [{id: A, switch: sw-1, port: \"1/1\"}]\n")
	says("runs=1")
	write("toneout.yml", strings.Replace(goodConfig, "listen", "lisen", 1))
	says(`toneout.yml:2: unknown key \"lisen\"; did you mean \"listen\"?`)
	write("toneout.yml", strings.Replace(goodConfig, "127.0.0.1:0", "127.0.0.1:1", 1))
	says("a changed key has its effect after a restart\" key=listen")
	require.NoError(t, os.WriteFile(filepath.Join(directory, "toneout.yml"), []byte(goodConfig+"checkpoint: elsewhere\n"), 0o600))
	require.NoError(t, command.Process.Signal(syscall.SIGHUP))
	says("a changed key has its effect after a restart\" key=checkpoint")
	require.NoError(t, command.Process.Signal(os.Interrupt))
	select {
	case err := <-ended:
		require.NoError(t, err, said)
		require.FileExists(t, filepath.Join(directory, "../data/toneout.checkpoint"))
	case <-time.After(patience):
		require.Fail(t, "it does not end", "%s", said)
	}
}
