package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/metrics"
	"toneout/internal/notify"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// Each fault is one alert at a real Alertmanager, told once when it opens and
// once when it closes: by the notifier, by a real Prometheus with the rules,
// and by both at once.
func TestAlertsAtARealAlertmanager(t *testing.T) {
	for _, way := range []struct {
		name           string
		direct, scrape bool
	}{{"direct", true, false}, {"rules", false, true}, {"both", true, true}} {
		t.Run(way.name, func(t *testing.T) {
			t.Parallel()
			hook := newReceiver(t)
			am := startAlertmanager(t, hook.URL)
			w := newAlarmed()
			if way.direct {
				w.notifier(t, am)
			}
			silent := func() bool { return true } // whether Prometheus has no alert to tell
			if way.scrape {
				prometheus := startPrometheus(t, am, w.exposition)
				silent = func() bool { return len(rulesFiring(t, prometheus)) == 0 }
			}
			seen := observed{}
			w.show(w.broken())
			wait(t, func() bool {
				seen.look(t, am)
				return seen.bothWays(way.direct, way.scrape) && hook.ended("firing") >= len(w.expected())
			}, func() any { return seen.said })
			require.ElementsMatch(t, w.expected(), seen.labels())
			seen.agree(t)

			w.show(w.sound())
			wait(t, func() bool {
				return silent() && len(alertsAt(t, am)) == 0 && hook.ended("resolved") >= len(w.expected())
			}, func() any { return hook.said() })
			for labels, told := range hook.said() {
				require.Equal(t, []string{"firing", "resolved"}, told, labels)
			}
			require.Len(t, hook.said(), len(w.expected()))
		})
	}
}

// alarmed is a plant with all sorts of faults: a real tracker's, and one of
// each kind that it may find some day.
type alarmed struct {
	exposition *metrics.Exposition
	tracker    *fault.Tracker
	start      time.Time
	poll       int
	tell       func(*fault.Snapshot)
}

func newAlarmed() *alarmed {
	p := plant.Plant{
		Spaces: []*plant.Space{{ID: "N2-TR", Building: "North"}},
		Cables: []*plant.Cable{{ID: "horizontal-6a", Media: standards.Copper, Category: "6A"}},
		Runs: []*plant.Run{
			{ID: "N2-P1-17", Switch: "acc-n2-1", Port: "1/17", Cable: "horizontal-6a", Outlet: "214-A", DesignSpeed: standards.Gbps, Owner: "Estates"},
			{ID: "N2-P1-18", Switch: "acc-n2-1", Port: "1/18", Cable: "horizontal-6a", DesignSpeed: standards.Gbps, Importance: plant.High},
			{ID: "TRUNK-0", Switch: "dist-n", Port: "1/9", FarSwitch: "core-m", FarPort: "1/1"},
		},
	}
	s := fault.Settings{PollEvery: time.Minute, FalseAlarmsPerWeek: 1}
	for _, name := range []string{"acc-n2-1", "acc-n4-1", "core-m", "dist-n"} {
		s.Switches = append(s.Switches, fault.SwitchSettings{Name: name, Space: "N2-TR"})
	}
	for i := range 4 {
		name := fmt.Sprintf("acc-n3-%d", i+1)
		s.Switches = append(s.Switches, fault.SwitchSettings{Name: name, Space: "N2-TR"})
		p.Runs = append(p.Runs, &plant.Run{ID: "TRUNK-" + name, Switch: name, Port: "1/1", FarSwitch: "dist-n", FarPort: fmt.Sprintf("1/%d", i+1)})
	}
	return &alarmed{metrics.New(), fault.NewTracker(plant.New(p), s), time.Now().Add(-8 * time.Hour), 0, func(*fault.Snapshot) {}}
}

// polls has the switches polled, with a run at a speed, damaged frames on two
// ports while things are broken, and a distribution switch and those behind it
// silent.
func (w *alarmed) polls(n int, speed standards.Speed, silent bool) (s *fault.Snapshot) {
	for range n {
		w.poll++
		answers := map[string][]port.Reading{
			"acc-n2-1": {
				w.port(17, speed, 0), w.port(18, standards.Gbps, 3000), w.port(19, standards.Gbps, 0), w.port(20, standards.Gbps, 0),
				w.port(2, standards.Gbps, 3000), // on another circuit of the switch
			},
			"core-m": {w.port(1, standards.Gbps, 0)},
			"dist-n": {w.port(1, standards.Gbps, 0), w.port(2, standards.Gbps, 0), w.port(3, standards.Gbps, 0), w.port(4, standards.Gbps, 0), w.port(9, standards.Gbps, 0)},
		}
		for _, sw := range w.tracker.Snapshot().Switches {
			switch {
			case silent && sw.Name == "acc-n4-1":
				s = w.tracker.Failed(sw.Name, w.now(), "credentials", errors.New("refused"))
			case silent && (sw.Name == "dist-n" || strings.HasPrefix(sw.Name, "acc-n3")):
				s = w.tracker.Failed(sw.Name, w.now(), "no answer", errors.New("in vain"))
			default:
				ports, other := answers[sw.Name], []port.Reading{w.port(1, standards.Gbps, 0)}
				if ports == nil {
					ports = other
				}
				s = w.tracker.Answered(sw.Name, port.Poll{At: w.now(), Uptime: port.Some(uint32(6000 * w.poll)), Ports: ports})
			}
		}
	}
	return s
}

func (w *alarmed) now() time.Time { return w.start.Add(time.Duration(w.poll) * time.Minute) }

// port is what a port reads at this poll, so many frames damaged at each while
// things go wrong.
func (w *alarmed) port(index int, speed standards.Speed, damaged int) port.Reading {
	r := port.Reading{
		At: w.now(), Uptime: port.Some(uint32(6000 * w.poll)), Index: index, Name: fmt.Sprintf("1/%d", index),
		Type: 6, Connector: port.Yes, Admin: port.Up, Oper: port.Up, Alias: "Print \"room\"",
		HighSpeed: port.Some(uint32(speed / standards.Mbps)), DuplexStatus: standards.FullDuplex,
	}
	r.Counters.Set64(port.InUnicast, uint64(1_000_000*w.poll))
	r.Counters.Set64(port.InOctets, uint64(1_000_000_000*w.poll))
	r.Counters.Set32(port.FCS, uint32(damaged*min(w.poll, brokenPolls)))
	return r
}

// brokenPolls is for how long things go wrong.
const brokenPolls = 10

// craftedKinds are told beside the tracker's own.
var craftedKinds = []fault.Kind{"below-design-speed", "frame-errors", "duplex-mismatch", "link-flapping", "no-link", "low-light", "high-light", "excess-loss", "power-fault"}

// broken is the plant while all is wrong.
func (w *alarmed) broken() *fault.Snapshot {
	w.polls(2, 100*standards.Mbps, false)
	s := *w.polls(brokenPolls-2, 100*standards.Mbps, true)
	s.Faults = append([]*fault.Fault(nil), s.Faults...)
	for _, kind := range craftedKinds {
		for _, about := range []fault.About{fault.AboutRun, fault.AboutPort} {
			s.Faults = append(s.Faults, crafted(kind, about, true))
		}
	}
	quiet := crafted("no-link", fault.AboutFarEnd, false)
	quiet.Quiet = true
	s.Faults = append(s.Faults, quiet)
	s.Shared = []*fault.SharedCause{{
		SharedName: fault.SharedName{Attribute: fault.ByPathway, Value: "tray <2>"}, Title: "pathway Tray \"2\" (tray <2>)", Severity: fault.Critical, Since: time.Now().Add(-time.Hour),
		Probability: 0.9962, Members: 12, Faulty: []string{"A", "B", "C"}, Checks: []string{`Walk "it".`}, Beside: []string{"lift motor", "50 % pump"}, Cautions: s.Faults[0].Cautions,
	}}
	return &s
}

// crafted is a fault with texts that are easy to get wrong.
func crafted(kind fault.Kind, about fault.About, alarm bool) *fault.Fault {
	return &fault.Fault{
		Run: craftedRun(about), Switch: "acc-n2-1", Port: "port <" + string(about) + "> é", Kind: kind, About: about,
		Severity: fault.Critical, Since: time.Now().Add(-time.Hour), Alarm: alarm,
		Causes: []fault.CauseProbability{{Cause: fault.FailingTransmitter, Probability: 1}}, NextChecks: []fault.NextCheck{{Code: fault.SwapSender}},
		Checks: []string{`Look at "A" & {{ B }} \ 50 %s.`}, Near: "near \xff <1>", Space: "N2-TR",
	}
}

// craftedRun is none for what lies in the run: a port without a run.
func craftedRun(about fault.About) string {
	if about == fault.AboutRun {
		return ""
	}
	return "Q-" + string(about)
}

// sound is the plant after all was repaired.
func (w *alarmed) sound() *fault.Snapshot {
	for {
		if s := w.polls(1, standards.Gbps, false); len(s.Faults) == 0 {
			return s
		}
	}
}

func (w *alarmed) show(s *fault.Snapshot) {
	for _, sw := range s.Switches {
		w.exposition.Update(s, sw.Name)
	}
	w.tell(s)
}

// expected is what is to be told of the broken plant, written out by hand
// from the interface's tables of faults and alerts.
func (w *alarmed) expected() []string {
	all := []string{
		`{"alertname":"RunBelowDesignSpeed","kind":"below-design-speed","port":"1/17","run":"N2-P1-17","severity":"warning","switch":"acc-n2-1"}`,
		`{"alertname":"RunFrameErrors","kind":"frame-errors","port":"1/18","run":"N2-P1-18","severity":"critical","switch":"acc-n2-1"}`,
		`{"alertname":"RunFrameErrors","kind":"frame-errors","port":"1/2","severity":"critical","switch":"acc-n2-1"}`,
		`{"alertname":"SharedCableCause","attribute":"pathway","severity":"critical","value":"tray \u003c2\u003e"}`,
		`{"alertname":"SwitchNotAnswering","severity":"warning","switch":"dist-n"}`,
		`{"alertname":"SwitchRefusesCredentials","severity":"warning","switch":"acc-n4-1"}`,
	}
	names := map[fault.Kind]string{"below-design-speed": "RunBelowDesignSpeed", "frame-errors": "RunFrameErrors", "duplex-mismatch": "PortSetting",
		"link-flapping": "RunLinkFlapping", "no-link": "RunNoLink", "low-light": "RunLight", "high-light": "RunLight", "excess-loss": "RunLight", "power-fault": "RunPowerFault"}
	for _, kind := range craftedKinds {
		all = append(all,
			fmt.Sprintf(`{"alertname":"%s","kind":"%s","port":"port \u003crun\u003e é","severity":"critical","switch":"acc-n2-1"}`, names[kind], kind),
			fmt.Sprintf(`{"alertname":"PortSetting","kind":"%s","port":"port \u003cport\u003e é","run":"Q-port","severity":"critical","switch":"acc-n2-1"}`, kind))
	}
	return all
}

// external is where generator links of the notifier lead to.
const external = "https://toneout.example"

// notifier starts telling an Alertmanager directly until the test ends.
func (w *alarmed) notifier(t *testing.T, am string) {
	n, err := notify.New(notify.Options{
		URLs: []string{am}, External: external, RepeatEvery: time.Second, Linger: 5 * time.Second, Report: w.exposition.Notified,
	})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	var loops sync.WaitGroup
	for _, a := range n.Alertmanagers {
		loops.Go(func() { a.Run(ctx) })
	}
	t.Cleanup(func() { cancel(); loops.Wait() })
	w.tell = n.Tell
}

// alertAt is an alert as Alertmanager shows it.
type alertAt struct {
	Labels       map[string]string
	Annotations  map[string]string
	GeneratorURL string
}

func alertsAt(t *testing.T, am string) (alerts []alertAt) {
	response, err := http.Get(am + "/api/v2/alerts")
	require.NoError(t, err)
	defer response.Body.Close()
	require.Equal(t, 200, response.StatusCode)
	require.NoError(t, json.NewDecoder(response.Body).Decode(&alerts))
	return alerts
}

// observed is what was seen of each alert by its labels: its annotations as
// told directly and as told by Prometheus.
type observed struct{ said map[string]*[2]string }

func (o *observed) look(t *testing.T, am string) {
	if o.said == nil {
		o.said = map[string]*[2]string{}
	}
	for _, a := range alertsAt(t, am) {
		id := text(t, a.Labels)
		if o.said[id] == nil {
			o.said[id] = &[2]string{}
		}
		by := 1
		if strings.HasPrefix(a.GeneratorURL, external) {
			by = 0
		}
		o.said[id][by] = text(t, a.Annotations)
	}
}

// bothWays tells whether each alert was seen as told in the ways wanted.
func (o *observed) bothWays(direct, scraped bool) bool {
	for _, by := range o.said {
		if direct && by[0] == "" || scraped && by[1] == "" {
			return false
		}
	}
	return len(o.said) > 0
}

func (o *observed) labels() (all []string) {
	for labels := range o.said {
		all = append(all, labels)
	}
	return all
}

// agree checks that the notifier says what the rules say.
func (o *observed) agree(t *testing.T) {
	for id, by := range o.said {
		if by[0] != "" && by[1] != "" {
			require.Equal(t, by[1], by[0], id)
		}
	}
}

func text(t *testing.T, v any) string {
	data, err := json.Marshal(v)
	require.NoError(t, err)
	return string(data)
}

// wait waits for a condition, within the time that all of this may take.
func wait(t *testing.T, condition func() bool, state func() any) {
	t.Helper()
	deadline := time.Now().Add(50 * time.Second)
	ticks := time.NewTicker(100 * time.Millisecond)
	defer ticks.Stop()
	for !condition() {
		if time.Now().After(deadline) {
			t.Fatalf("not in time: %v", text(t, state()))
		}
		<-ticks.C
	}
}
