package metrics

import (
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	dto "github.com/prometheus/client_model/go"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// Exposition is all that is told to Prometheus. It is safe for concurrent
// use.
type Exposition struct {
	registry      *prometheus.Registry // what describes the program itself
	notifications *prometheus.CounterVec

	mu       sync.RWMutex    // guards all below; a scrape holds it for reading, while it copies
	families []inPlace       // by name
	columns  [][]boundColumn // by the places of portGroups
	polls    *family
	seconds  *histograms

	switchUp, switchUnread, switchTables, switchPorts *family
	runs, runInfo                                     *family
	runFault, verdictInfo, causeProbability           *family
	sharedProbability, sharedInfo                     *family
	loaded, loadedAt, problems                        *family
	checkpointFailing, checkpointAt                   *family
	journalFailing, journalWaiting, journalLost       *family
	historyFailing, historyDropped                    *family

	gone           left
	process        map[string]any // what it keeps for those of the registry
	othersRecorded time.Time

	updates  uint64 // how many there were: marks what the latest one saw
	switches map[string]*switchSeries
	faults   map[faultKey]*faultSeries

	sharedTold []*fault.SharedCause // as told last

	plant   *plant.Plant  // that runInfo tells of
	joined  *plant.Joined // likewise
	counted time.Time     // when runs were counted
}

// inPlace is a metric that is kept and changed in place.
type inPlace interface {
	called() string
	copyTo(*moment)
	write(*moment, part, *sink)
	message(*moment, part) *dto.MetricFamily
}

// New makes an exposition without any switch. It registers nothing globally.
func New() *Exposition {
	e := &Exposition{
		registry: prometheus.NewRegistry(),
		notifications: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "toneout_notifications_total",
			Help: "Alerts told to an Alertmanager directly, by what became of them: sent, failed (and tried again) or dropped.",
		}, []string{"alertmanager", "outcome"}),
		switches: map[string]*switchSeries{},
		faults:   map[faultKey]*faultSeries{},
		process:  map[string]any{},
		gone:     left{},
	}
	e.registry.MustRegister(e.notifications, buildInfo(), collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	for _, group := range portGroups {
		var columns []boundColumn
		for _, f := range group.families {
			family := e.family(f.name, f.kind, f.help)
			family.ofSwitch = true
			for _, c := range f.columns {
				columns = append(columns, boundColumn{c, family})
			}
		}
		e.columns = append(e.columns, columns)
	}
	e.ownFamilies()
	slices.SortFunc(e.families, func(a, b inPlace) int { return strings.Compare(a.called(), b.called()) })
	return e
}

// ownFamilies are those that are not of ports.
func (e *Exposition) ownFamilies() {
	for _, f := range []struct {
		at   **family
		name string
		help string
	}{
		{&e.switchUp, "toneout_switch_up", "Whether the switch has answered one of its last 3 polls."},
		{&e.switchUnread, "toneout_switch_unread", "1 while the switch has been asked in vain for 3 polls, and it is known whether another one hides it: behind is the silent switch that does, class is of the last error."},
		{&e.switchTables, "toneout_switch_tables", "Tables that the switch was asked for, by state; hidden and broken ones hide faults. Absent while it is not read."},
		{&e.switchPorts, "toneout_switch_ports", "Physical ports, by whether a run of the inventory is joined to them and what their health is judged by. Absent while the switch is not read."},
		{&e.runs, "toneout_runs", "Runs of the inventory by state, counted every few seconds; they sum to all. What is not known is unknown, never healthy."},
		{&e.runInfo, "toneout_run_info", "What the inventory says of the run; no switch and port where it is not joined."},
		{&e.runFault, "toneout_run_fault", "1 while the fault is open; alarm is false where nobody is to be told."},
		{&e.verdictInfo, "toneout_run_verdict_info", "1 while the fault is open: both ends, and its verdict in short: title of its kind, the likeliest cause and in tenths how probable it is, what speaks for it, the first check and its gravest caution."},
		{&e.causeProbability, "toneout_run_cause_probability", "How probable each cause of an open fault is; they sum to 1."},
		{&e.sharedProbability, "toneout_shared_cause_probability", "How probable it is that what these runs have in common is behind their faults, its rivals considered. Absent where nothing is."},
		{&e.sharedInfo, "toneout_shared_cause_info", "1 while the shared cause stands: its name in words, how many of its members are at fault, which (12 at most), what the record says lies beside it, the first check and its gravest caution."},
		{&e.loaded, "toneout_inventory_loaded", "1 when the inventory's files as they are are in use, 0 when an older reading is kept since they cannot be used."},
		{&e.loadedAt, "toneout_inventory_loaded_timestamp_seconds", "When the inventory in use was read."},
		{&e.problems, "toneout_inventory_problems", "What of the inventory in use could not be used: rows, mostly."},
		{&e.checkpointFailing, "toneout_checkpoint_failing", "1 while what is known cannot be written down for a restart. Absent where it is not to be."},
		{&e.journalFailing, "toneout_journal_failing", "1 while events cannot be written to the journal, and wait in memory. Absent where there is none."},
		{&e.journalWaiting, "toneout_journal_waiting_events", "Events that wait to be written to the journal."},
		{&e.checkpointAt, "toneout_checkpoint_timestamp_seconds", "When it was last written down. Absent before the first time."},
		{&e.historyFailing, "toneout_history_failing", "1 while what polls tell is not recorded. Absent where no history is kept here."},
	} {
		*f.at = e.family(f.name, gauge, f.help)
	}
	e.journalLost = e.family("toneout_journal_lost_events_total", counter, "Events that were never written to the journal, since too many waited.")
	e.historyDropped = e.family("toneout_history_dropped_polls_total", counter, "Polls of which nothing or not all was recorded.")
	e.polls = e.family("toneout_switch_polls_total", counter, "Polls of the switch, by how they ended.")
	for _, f := range []*family{e.switchUp, e.switchUnread, e.switchTables, e.switchPorts, e.polls, e.runFault, e.verdictInfo, e.causeProbability} {
		f.ofSwitch = true
	}
	e.seconds = newHistograms("toneout_switch_poll_seconds", "How long a poll of the switch took.", e.gone)
	e.families = append(e.families, e.seconds)
}

func (e *Exposition) family(name string, kind dto.MetricType, help string) *family {
	f := &family{name: name, kind: kind, help: help, gone: e.gone}
	e.families = append(e.families, f)
	return f
}

// Notified counts alerts told to an Alertmanager directly: "sent", "failed" or
// "dropped". The name holds no password.
func (e *Exposition) Notified(alertmanager, outcome string, alerts int) {
	e.notifications.WithLabelValues(alertmanager, outcome).Add(float64(alerts))
}

// Inventory tells whether the inventory's files as they are are in use, when
// what is in use was read, and how much of it could not be used.
func (e *Exposition) Inventory(loaded bool, at time.Time, problems int) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.loaded.set(number(loaded))
	e.loadedAt.set(seconds(at))
	e.problems.set(float64(problems))
}

// Checkpoint tells whether what is known could be written down for a restart,
// and when that was.
func (e *Exposition) Checkpoint(written bool, at time.Time) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.checkpointFailing.set(number(!written))
	if written {
		e.checkpointAt.set(seconds(at))
	}
}

// Journal tells whether events can be written to the journal, how many wait, and
// how many were lost since the start.
func (e *Exposition) Journal(failing bool, waiting, lost int) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.journalFailing.set(number(failing))
	e.journalWaiting.set(float64(waiting))
	e.journalLost.set(float64(lost))
}

// History tells whether what polls tell is recorded, and of how many it was
// not, or not all of it.
func (e *Exposition) History(recorded bool, dropped uint64) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.historyFailing.set(number(!recorded))
	e.historyDropped.set(float64(dropped))
}

func seconds(at time.Time) float64 { return float64(at.UnixMilli()) / 1000 }

func buildInfo() prometheus.Collector {
	version, revision := "unknown", "unknown"
	if info, ok := debug.ReadBuildInfo(); ok {
		version = info.Main.Version
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" {
				revision = s.Value
			}
		}
	}
	g := prometheus.NewGauge(prometheus.GaugeOpts{
		Name: "toneout_build_info", Help: "1; the program's version.",
		ConstLabels: prometheus.Labels{"version": version, "revision": revision, "goversion": runtime.Version()},
	})
	g.Set(1)
	return g
}

// Update tells what a snapshot says of switches, and of all faults and silent
// switches. It is for after each poll of a switch, answered or not; where ports
// were joined anew, for every switch.
func (e *Exposition) Update(s *fault.Snapshot, switchNames ...string) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.updates++
	for _, name := range switchNames {
		if sw, ok := s.Switch(name); ok {
			own := e.ownedBy(name)
			e.updateSwitch(sw, own)
			e.updatePorts(s, sw, own)
		}
	}
	if len(e.switches) > len(s.Switches) {
		e.dropUnconfigured(s)
	}
	e.updateSilences(s)
	e.updateRuns(s)
	e.countRuns(s)
	e.updateFaults(s)
	e.updateShared(s)
}
