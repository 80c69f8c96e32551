package daemon

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/corpus"
	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/sim"
	"toneout/internal/snmp"
)

// The scenarios that package corpus plays through the tracker, through the whole
// daemon: its switches answer over SNMP, and what its API lists, what its
// metrics hold and what an Alertmanager is told are each as expected.
func TestScenariosThroughTheDaemon(t *testing.T) {
	t.Parallel()
	files, err := corpus.Files()
	require.NoError(t, err)
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".yml"), func(t *testing.T) {
			t.Parallel()
			scenario, err := corpus.Load(file)
			require.NoError(t, err)
			play := stage(t, scenario)
			play.clock.wait(t, 5*time.Minute)
			for place, log := range map[string]*corpus.Log{"API": &play.listed, "metrics": &play.measured, "Alertmanager": &play.alarmed} {
				require.Empty(t, scenario.Judge(log), "%s: %s\ntold:\n%v", place, scenario.Says, log)
			}
		})
	}
}

// play is a scenario on its way through a daemon, and what was seen of it.
type play struct {
	t        *testing.T
	scenario *corpus.Scenario
	stage    *corpus.Stage
	clock    *stepped
	daemon   *running
	looks    int
	manager  manager

	mutex                     sync.Mutex
	listed, measured, alarmed corpus.Log
}

// stage runs a daemon over a scenario's site, on a clock that ends with it.
func stage(t *testing.T, s *corpus.Scenario) *play {
	set, err := s.Stage(begin)
	require.NoError(t, err)
	campus := set.Campus
	p := &play{t: t, scenario: s, stage: set, clock: newStepped(begin, s.Length, len(campus.Switches())+1)}
	p.listed.Causes, p.listed.FaultsOnly, p.alarmed.AlarmsOnly = true, true, true
	p.manager.clock, p.manager.open = p.clock, map[string]corpus.Sight{}
	told := httptest.NewServer(&p.manager)
	t.Cleanup(told.Close)
	served := agents(t, campus, p.clock.now, sim.Security{Communities: []string{community}})
	path, err := s.WriteInventory(t.TempDir())
	require.NoError(t, err)
	inventory, problems, err := plant.Load(path)
	require.NoError(t, err)
	require.Empty(t, problems)
	o := Options{Clock: p.clock.clock(), Open: p.open, Setup: Setup{
		Plant: inventory, PollEvery: s.Every, SlowEvery: s.SlowEvery, Alertmanagers: []string{told.URL},
	}}
	for _, sw := range campus.Switches() {
		one := target(sw.Name, served[sw.Name].Addr())
		one.SlowEvery = s.SlowEvery
		o.Switches = append(o.Switches, Switch{Target: one, Space: sw.Space})
	}
	p.mutex.Lock() // the first poll waits until the daemon's address is known
	defer p.mutex.Unlock()
	p.daemon = start(t, o)
	return p
}

// open opens a switch that is asked on the scenario's site.
func (p *play) open(target snmp.Target) (Poller, error) {
	sw, err := p.clock.open(target)
	return staged{sw, target.Name, p}, err
}

// staged is a switch before each poll of which the scenario goes on.
type staged struct {
	Poller
	name string
	play *play
}

// Poll asks the switch. One that is out of reach is not waited for.
func (s staged) Poll(ctx context.Context) (port.Poll, error) {
	if !s.play.pass(s.name) {
		return port.Poll{}, &snmp.Error{Switch: s.name, Asked: "uptime and name", Class: snmp.NoAnswer, Err: errors.New("no answer")}
	}
	return s.Poller.Poll(ctx)
}

// pass lets happen what is due, takes a look where the first switch's turn has
// come, and tells whether a switch is within reach.
func (p *play) pass(name string) bool {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	now := p.clock.now()
	p.stage.Pass(now)
	if name == p.scenario.Switches[0].Name {
		p.look(now.Sub(begin))
	}
	return p.stage.Reached(now)[p.stage.Campus.Switch(name)]
}

// metricsEvery is in how many looks the metrics are read, which takes longest.
const metricsEvery = 3

func (p *play) look(at time.Duration) {
	var faults []*fault.Fault
	p.daemon.json("/api/faults", &faults)
	var sights []corpus.Sight
	for _, f := range faults {
		sights = append(sights, corpus.SightOf(f))
	}
	var shared []*fault.SharedCause
	p.daemon.json("/api/shared-causes", &shared)
	for _, c := range shared {
		sights = append(sights, corpus.Sight{Subject: c.SharedName.String(), Kind: corpus.SharedCause, Alarm: true})
	}
	p.listed.See(at, sights)
	p.alarmed.See(at, p.manager.sights())
	if p.looks++; p.looks%metricsEvery == 0 {
		lines := p.daemon.lines("toneout_")
		measured := sightsIn(lines, "toneout_run_fault{")
		for _, other := range []string{"toneout_switch_unread{", "toneout_shared_cause_info{"} {
			measured = append(measured, sightsIn(lines, other)...)
		}
		p.measured.See(at, measured)
	}
}

var label = regexp.MustCompile(`(\w+)="((?:[^"\\]|\\.)*)"`)

// hidden is a silent switch that another one hides.
var hidden = regexp.MustCompile(`behind="[^"]`)

// sightsIn reads the sights out of a metric's lines.
func sightsIn(lines []string, metric string) (sights []corpus.Sight) {
	for _, line := range lines {
		if strings.HasPrefix(line, metric) && !hidden.MatchString(line) {
			labels := map[string]string{}
			for _, l := range label.FindAllStringSubmatch(line, -1) {
				labels[l[1]] = l[2]
			}
			sights = append(sights, sightOf(labels))
		}
	}
	return sights
}

// sightOf is what labels tell of.
func sightOf(labels map[string]string) corpus.Sight {
	if labels["attribute"] != "" {
		name := fault.SharedName{Attribute: fault.Attribute(labels["attribute"]), Value: labels["value"]}
		return corpus.Sight{Subject: name.String(), Kind: corpus.SharedCause, Alarm: true}
	}
	if labels["kind"] == "" {
		return corpus.Sight{Subject: labels["switch"], Kind: corpus.NotAnswering, Alarm: true}
	}
	subject := cmp.Or(labels["run"], labels["switch"]+" "+labels["port"])
	return corpus.Sight{Subject: subject, Kind: labels["kind"], Alarm: labels["alarm"] != "false"}
}

// manager takes the place of an Alertmanager.
type manager struct {
	clock *stepped
	mutex sync.Mutex
	open  map[string]corpus.Sight // by labels
}

func (m *manager) ServeHTTP(_ http.ResponseWriter, request *http.Request) {
	var alerts []struct {
		Labels map[string]string
		EndsAt time.Time
	}
	if json.NewDecoder(request.Body).Decode(&alerts) != nil {
		return
	}
	m.mutex.Lock()
	defer m.mutex.Unlock()
	for _, a := range alerts {
		key, _ := json.Marshal(a.Labels)
		if a.EndsAt.After(m.clock.now()) {
			m.open[string(key)] = sightOf(a.Labels)
		} else {
			delete(m.open, string(key))
		}
	}
}

func (m *manager) sights() (sights []corpus.Sight) {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	for _, s := range m.open {
		sights = append(sights, s)
	}
	return sights
}
