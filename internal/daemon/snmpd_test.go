package daemon

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/snmp"
	"toneout/internal/snmp/snmpdtest"
	"toneout/internal/standards"
)

const fcsErrors = "1.3.6.1.2.1.10.7.2.1.3" // dot3StatsFCSErrors, RFC 3635

// The whole daemon against net-snmp's agent and its own tables, by v2c and v3:
// errors become a fault on the right run, and neither a link that goes and
// comes nor a restart with other ifIndexes raises anything.
func TestARealAgent(t *testing.T) {
	for _, version := range []int{2, 3} {
		t.Run(fmt.Sprintf("v%d", version), func(t *testing.T) {
			agent := snmpdtest.Start(t, 4)
			for i, port := range agent.Ports() {
				agent.Override(port, fcsErrors, "counter", fmt.Sprint(1000*i))
			}
			agent.Restart(false)
			var runs []*plant.Run
			for _, port := range agent.Ports() {
				runs = append(runs, &plant.Run{ID: "R-" + port, Switch: "quay", Port: port, Cable: "c", DesignSpeed: 10 * standards.Gbps})
			}
			r := start(t, Options{Setup: Setup{
				Plant:     plant.New(plant.Plant{Cables: []*plant.Cable{{ID: "c", Media: standards.Copper}}, Runs: runs}),
				Switches:  []Switch{{Target: realTarget(agent.Address, version)}},
				PollEvery: time.Second,
			}})
			r.polls("quay", "answered", 3)
			require.Empty(t, r.faults(), "high counts that stand still are no errors")

			for _, up := range []bool{false, true} { // the agent sees its links every few seconds
				agent.SetLink("port2", up)
				r.shows(`toneout_port_up{port="port2",run="R-port2",switch="quay"} %d`, up)
			}
			r.shows(`toneout_port_link_changes_total{port="port2",run="R-port2",switch="quay"} 2`)
			require.Empty(t, r.faults())

			index := agent.Index("port3")
			agent.Restart(true)
			require.NotEqual(t, index, agent.Index("port3"))
			r.polls("quay", "answered", 4)
			require.Empty(t, r.faults(), "a restart with other ifIndexes raises nothing")
			r.shows(`toneout_port_receive_errors_total{error="fcs",port="port3",run="R-port3",switch="quay"} 0`)

			for count := uint32(2000); len(r.faults()) == 0; count += 50 {
				require.Less(t, count, uint32(4000), "no fault")
				agent.Count("port3", fcsErrors, count)
				r.polls("quay", "answered", 1)
			}
			faults := r.faults()
			require.Len(t, faults, 1)
			require.Equal(t, fault.FrameErrors, faults[0].Kind)
			require.Equal(t, "R-port3", faults[0].Run)
			require.Equal(t, "port3", faults[0].Port)
		})
	}
}

// shows waits until the exposition has a line; %d stands for a yes or no.
func (r *running) shows(line string, yes ...bool) {
	r.t.Helper()
	for _, y := range yes {
		line = strings.Replace(line, "%d", map[bool]string{false: "0", true: "1"}[y], 1)
	}
	r.eventually(func() bool { _, body := r.get("/metrics"); return strings.Contains(body, line+"\n") }, line)
}

func realTarget(address string, version int) snmp.Target {
	c := snmp.Credentials{Version: 2, Community: snmpdtest.Community}
	if version == 3 {
		c = snmp.Credentials{Version: 3, User: snmpdtest.User,
			Authentication: snmp.Secret{Protocol: "SHA-256", Passphrase: snmpdtest.AuthenticationPassphrase},
			Privacy:        snmp.Secret{Protocol: "AES-128", Passphrase: snmpdtest.PrivacyPassphrase}}
	}
	return snmp.Target{Name: "quay", Address: address, Credentials: c, Timeout: 300 * time.Millisecond, Retries: 1}
}
