package snmp_test

import (
	"context"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"

	"github.com/stretchr/testify/require"
)

const community = "quay"

var v2c = snmp.Credentials{Version: 2, Community: community}

// fixed is a MIB that was made once, which takes longer than to answer from it.
type fixed struct{ *sim.View }

func (s fixed) At(time.Time) *sim.View { return s.View }

// serve runs a simulated agent until the test ends.
func serve(t testing.TB, mib sim.MIB, options ...func(*sim.Agent)) string {
	t.Helper()
	return serveTo(t, mib, sim.Security{Communities: []string{community}}, options...)
}

func serveTo(t testing.TB, mib sim.MIB, security sim.Security, options ...func(*sim.Agent)) string {
	t.Helper()
	if static, ok := mib.(sim.Static); ok {
		mib = fixed{static.At(noon)}
	}
	agent, err := sim.Listen("127.0.0.1:0", mib, security)
	require.NoError(t, err)
	for _, option := range options {
		option(agent)
	}
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- agent.Serve(ctx) }()
	t.Cleanup(func() {
		stop()
		require.NoError(t, <-done)
		require.Zero(t, agent.Sets(), "toneout never sends a Set")
	})
	return agent.Addr()
}

// open gives a switch that is patient with a busy machine.
func open(t testing.TB, address string, c snmp.Credentials, options ...func(*snmp.Target)) *snmp.Switch {
	t.Helper()
	target := snmp.Target{Name: "acc-1", Address: address, Credentials: c, Timeout: 5 * time.Second, Retries: 1}
	for _, option := range options {
		option(&target)
	}
	s, err := snmp.Open(target)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

func poll(t testing.TB, s *snmp.Switch) port.Poll {
	t.Helper()
	p, err := s.Poll(context.Background())
	require.NoError(t, err)
	return p
}

// named gives the reading of the port with a name; there must be one.
func named(t testing.TB, p port.Poll, name string) port.Reading {
	t.Helper()
	var found []port.Reading
	for _, r := range p.Ports {
		if r.Name == name {
			found = append(found, r)
		}
	}
	require.Len(t, found, 1, "ports named %s", name)
	return found[0]
}

// need skips a test for want of a tool, or fails it where the tools must be there.
func need(t testing.TB, tool string) {
	t.Helper()
	if _, err := exec.LookPath(tool); err == nil {
		return
	}
	if os.Getenv("TONEOUT_SYSTEM_TESTS") == "1" {
		t.Fatalf("the test needs %s", tool)
	}
	t.Skipf("the test needs %s", tool)
}

// walked is what net-snmp's snmpbulkwalk reads below an object: value by name,
// both as it prints them.
func walked(t testing.TB, address string, arguments []string, object string) map[string]string {
	t.Helper()
	all := append([]string{"-m", "", "-On", "-Oe", "-Oq", "-Ot", "-t", "10", "-r", "3"}, arguments...)
	command := exec.Command("snmpbulkwalk", append(all, address, object)...)
	command.Env = []string{"SNMPCONFPATH=/nonexistent", "SNMP_PERSISTENT_DIR=" + t.TempDir()}
	out, err := command.CombinedOutput()
	require.NoError(t, err, "%s", out)
	values := map[string]string{}
	for line := range strings.Lines(string(out)) {
		name, value, _ := strings.Cut(strings.TrimSpace(line), " ")
		values[name] = strings.Trim(value, `"`)
	}
	return values
}
