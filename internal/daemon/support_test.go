package daemon

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net"
	"net/http"
	"regexp"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/sim"
	"toneout/internal/snmp"
)

// running is a daemon under test.
type running struct {
	t    *testing.T
	url  string
	log  *logBuffer
	stop func() error // ends it, and gives what Run returned
}

// start runs a daemon, which is stopped when the test ends.
func start(t *testing.T, o Options) *running {
	t.Helper()
	r := &running{t: t, log: &logBuffer{}}
	var err error
	o.Listener, err = net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	r.url = "http://" + o.Listener.Addr().String()
	o.Log = slog.New(slog.NewTextHandler(r.log, nil))
	if o.PollEvery == 0 {
		o.PollEvery = 100 * time.Millisecond
	}
	if o.FalseAlarmsPerWeek == 0 {
		o.FalseAlarmsPerWeek = 1
	}
	if o.Labels == nil {
		o.Labels = regexp.MustCompile(`^(?P<run>[A-Z0-9-]+)`)
	}
	if o.Open == nil {
		o.Open = unhurried
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- Run(ctx, o) }()
	var once sync.Once
	r.stop = func() (err error) {
		once.Do(func() { cancel(); err = <-ended })
		return err
	}
	t.Cleanup(func() { require.NoError(t, r.stop()) })
	return r
}

// unhurried opens a switch that does not tell how busy it is: tests ask more
// often than a real one is ever asked.
func unhurried(t snmp.Target) (Poller, error) {
	sw, err := snmp.Open(t)
	return struct{ Poller }{sw}, err
}

// logBuffer collects the log.
type logBuffer struct {
	mutex  sync.Mutex
	buffer bytes.Buffer
}

func (l *logBuffer) Write(p []byte) (int, error) {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	return l.buffer.Write(p)
}

func (l *logBuffer) String() string {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	return l.buffer.String()
}

// get reads a path of the daemon.
func (r *running) get(path string) (status int, body string) {
	response, err := http.Get(r.url + path)
	require.NoError(r.t, err)
	defer response.Body.Close()
	data, err := io.ReadAll(response.Body)
	require.NoError(r.t, err)
	return response.StatusCode, string(data)
}

func (r *running) faults() []fault.Fault {
	status, body := r.get("/api/faults")
	require.Equal(r.t, http.StatusOK, status, body)
	var faults []fault.Fault
	require.NoError(r.t, json.Unmarshal([]byte(body), &faults))
	return faults
}

// patience bounds every wait of a test.
const patience = 30 * time.Second

// eventually waits until a condition holds.
func (r *running) eventually(condition func() bool, what string) {
	r.t.Helper()
	require.Eventually(r.t, condition, patience, 20*time.Millisecond, what)
}

// polls waits for so many polls of a switch with an outcome.
func (r *running) polls(name, outcome string, atLeast int) {
	r.t.Helper()
	line := regexp.MustCompile(`(?m)^toneout_switch_polls_total\{outcome="` + outcome + `",switch="` + name + `"\} (\d+)`)
	from := -1
	r.eventually(func() bool {
		_, body := r.get("/metrics")
		n := 0
		if m := line.FindStringSubmatch(body); m != nil {
			require.NoError(r.t, json.Unmarshal([]byte(m[1]), &n))
		}
		if from < 0 {
			from = n
		}
		return n-from >= atLeast
	}, "polls of "+name+" with outcome "+outcome)
}

// agents serves the switches of a campus until the test ends, each seeing the
// time given.
func agents(t *testing.T, campus *sim.Campus, now func() time.Time, security sim.Security) map[string]*sim.Agent {
	served := map[string]*sim.Agent{}
	ctx, cancel := context.WithCancel(context.Background())
	var group sync.WaitGroup
	for _, sw := range campus.Switches() {
		agent, err := sim.Listen("127.0.0.1:0", sw, security)
		require.NoError(t, err)
		agent.Now = now
		served[sw.Name] = agent
		group.Go(func() { _ = agent.Serve(ctx) })
	}
	t.Cleanup(func() {
		cancel()
		group.Wait()
		for name, agent := range served {
			require.Zero(t, agent.Sets(), "%s was sent a Set", name)
		}
	})
	return served
}

const community = "quay"

func target(name, address string) snmp.Target {
	return snmp.Target{
		Name: name, Address: address, Timeout: 500 * time.Millisecond, Retries: 2,
		Credentials: snmp.Credentials{Version: 2, Community: community},
	}
}

// ferrowQuay is the demo's campus as a daemon's plant and switches.
func ferrowQuay(t *testing.T, campus *sim.Campus, served map[string]*sim.Agent) Options {
	directory := t.TempDir()
	require.NoError(t, campus.WriteInventory(directory))
	inventory, problems, err := plant.Load(directory + "/plant.yml")
	require.NoError(t, err)
	require.Empty(t, problems)
	o := Options{Setup: Setup{Plant: inventory, Problems: problems, Files: inventory.Files}}
	for _, sw := range campus.Switches() {
		o.Switches = append(o.Switches, Switch{Target: target(sw.Name, served[sw.Name].Addr()), Space: sw.Space})
	}
	return o
}
