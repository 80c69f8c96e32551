package daemon

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/sim"
)

// From the copper to the Alertmanager: a pair opens and is mended, and somebody
// is told of it twice.
func TestTheDaemonTellsARealAlertmanager(t *testing.T) {
	t.Parallel()
	hook := newReceiver(t)
	am := startAlertmanager(t, hook.URL)
	campus, sw := oneSwitch(t)
	served := agents(t, campus, time.Now, sim.Security{Communities: []string{community}})
	r := start(t, Options{RepeatAlerts: 2 * time.Second, Setup: Setup{
		Plant:     runsOf(sw),
		Switches:  []Switch{{Target: target(sw.Name, served[sw.Name].Addr())}},
		PollEvery: 200 * time.Millisecond, Alertmanagers: []string{am}, External: "https://quay.example/plant",
	}})
	r.polls(sw.Name, "answered", 5)
	open := func(pairs ...sim.Pair) {
		cable := campus.Cable(sw.Port("1/2"))
		campus.Do(time.Now(), func() { cable.Open = pairs })
	}

	open(sim.Pair45)
	wait(t, func() bool { return hook.ended("firing") == 1 }, func() any { return hook.said() })
	alerts := alertsAt(t, am)
	require.Len(t, alerts, 1)
	require.Equal(t, map[string]string{
		"alertname": "RunBelowDesignSpeed", "switch": "sw-1", "port": "1/2", "run": "R-1/2", "kind": "below-design-speed", "severity": "warning",
	}, alerts[0].Labels)
	require.Equal(t, "https://quay.example/plant/runs/R-1%2F2", alerts[0].GeneratorURL)

	open()
	wait(t, func() bool { return hook.ended("resolved") == 1 }, func() any { return hook.said() })
	for labels, told := range hook.said() {
		require.Equal(t, []string{"firing", "resolved"}, told, labels)
	}
	outcomes := `toneout_notifications_total{alertmanager="` + am + `",outcome="`
	require.NotEmpty(t, r.lines(outcomes+"sent"))
	require.Empty(t, r.lines(outcomes+"failed"))
}
