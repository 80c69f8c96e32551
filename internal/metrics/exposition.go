package metrics

import (
	"net/http"
	"runtime"
	"runtime/debug"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	dto "github.com/prometheus/client_model/go"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// Exposition is all that is told to Prometheus. It is safe for concurrent
// use.
type Exposition struct {
	registry *prometheus.Registry
	polls    *prometheus.CounterVec
	seconds  *prometheus.HistogramVec
	all      prometheus.TransactionalGatherer

	mu       sync.RWMutex // guards all below; a scrape holds it for reading
	families []*family
	columns  []boundColumn

	switchUp, runInfo, runFault, verdictInfo, causeProbability *family

	updates  uint64 // how many there were: marks what the latest one saw
	switches map[string]*switchSeries
	faults   map[faultKey]*faultSeries
	plant    *plant.Plant  // that runInfo tells of
	joined   *plant.Joined // likewise
}

// switchSeries is all series of one switch.
type switchSeries struct {
	label *dto.LabelPair
	up    *series
	ports map[string]*portSeries // by ifName
}

// Answered is the outcome of a poll that ended well; others are named after
// the class of their error.
const Answered = "answered"

// New makes an exposition without any switch. It registers nothing globally.
func New() *Exposition {
	e := &Exposition{
		registry: prometheus.NewRegistry(),
		polls: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "toneout_switch_polls_total", Help: "Polls of the switch, by how they ended.",
		}, []string{"switch", "outcome"}),
		seconds: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "toneout_switch_poll_seconds", Help: "How long a poll of the switch took.",
			Buckets: []float64{.01, .025, .05, .1, .25, .5, 1, 2.5, 5, 10, 30, 60},
		}, []string{"switch"}),
		switches: map[string]*switchSeries{},
		faults:   map[faultKey]*faultSeries{},
	}
	e.registry.MustRegister(e.polls, e.seconds, buildInfo(), collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	for _, f := range portFamilies {
		family := e.family(f.name, f.kind, f.help)
		for _, c := range f.columns {
			e.columns = append(e.columns, boundColumn{c, family})
		}
	}
	e.switchUp = e.family("toneout_switch_up", gauge, "Whether the switch has answered one of its last 3 polls.")
	e.runInfo = e.family("toneout_run_info", gauge, "What the inventory says of the run; no switch and port where it is not joined.")
	e.runFault = e.family("toneout_run_fault", gauge, "1 while the fault is open; alarm is false where nobody is to be told.")
	e.verdictInfo = e.family("toneout_run_verdict_info", gauge, "1 while the fault is open: both ends, the likeliest cause, the first check.")
	e.causeProbability = e.family("toneout_run_cause_probability", gauge, "How probable each cause of an open fault is; they sum to 1.")
	// The lock is taken last, so that it is not held while the registry collects.
	e.all = prometheus.NewMultiTRegistry(prometheus.ToTransactionalGatherer(e.registry), (*live)(e))
	return e
}

func (e *Exposition) family(name string, kind dto.MetricType, help string) *family {
	f := newFamily(name, kind, help)
	e.families = append(e.families, f)
	return f
}

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

// Polled counts a poll of a switch: Answered or the class of its error, and
// how long it took.
func (e *Exposition) Polled(switchName, outcome string, seconds float64) {
	e.polls.WithLabelValues(switchName, outcome).Inc()
	e.seconds.WithLabelValues(switchName).Observe(seconds)
}

// Update tells what a snapshot says of one switch and of all faults. It is
// for after each poll of that switch, answered or not; after a change of the
// inventory, for each switch.
func (e *Exposition) Update(s *fault.Snapshot, switchName string) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.updates++
	if sw, ok := s.Switch(switchName); ok {
		own := e.ownedBy(switchName)
		e.updateSwitch(sw, own)
		e.updatePorts(s, sw, own)
	}
	if len(e.switches) > len(s.Switches) {
		e.dropUnconfigured(s)
	}
	e.updateRuns(s)
	e.updateFaults(s)
}

func (e *Exposition) ownedBy(switchName string) *switchSeries {
	own := e.switches[switchName]
	if own == nil {
		own = &switchSeries{label: pair("switch", switchName), ports: map[string]*portSeries{}}
		e.switches[switchName] = own
	}
	return own
}

func (e *Exposition) updateSwitch(sw *fault.Switch, own *switchSeries) {
	e.switchUp.keep(&own.up, number(sw.Answering()), sw.Tried, func() []*dto.LabelPair {
		return []*dto.LabelPair{own.label}
	})
}

// dropUnconfigured forgets the switches that are no longer watched.
func (e *Exposition) dropUnconfigured(s *fault.Snapshot) {
	for name, own := range e.switches {
		if _, ok := s.Switch(name); ok {
			continue
		}
		for _, slot := range own.ports {
			e.dropPort(slot)
		}
		e.switchUp.keep(&own.up, 0, false, nil)
		delete(e.switches, name)
		e.polls.DeletePartialMatch(prometheus.Labels{"switch": name})
		e.seconds.DeleteLabelValues(name)
	}
}

// Gather gives every family there is. They stay as they are until done is
// called, and every Update waits for that: call it soon, and once.
func (e *Exposition) Gather() (families []*dto.MetricFamily, done func(), err error) {
	return e.all.Gather()
}

// live is the families kept in place, as a gatherer.
type live Exposition

func (l *live) Gather() ([]*dto.MetricFamily, func(), error) {
	l.mu.RLock()
	families := make([]*dto.MetricFamily, 0, len(l.families))
	for _, f := range l.families {
		if len(f.series) > 0 {
			families = append(families, f.exposed)
		}
	}
	return families, l.mu.RUnlock, nil
}

// Limits of scraping: Prometheus gives up after 10 s unless told otherwise,
// and two servers and two people at once are plenty.
const (
	scrapeTimeout  = 10 * time.Second
	scrapesAtATime = 4
)

// Handler serves the exposition.
//
// The lock is held while the answer is made (for 48,000 ports about 0.5 s of
// text, 1 s with gzip) and no longer, however slow the client: with a Timeout,
// promhttp goes through http.TimeoutHandler, which takes the whole answer into
// memory before it sends any of it. The price is that memory for each scrape
// under way. Scrapes share the lock, and since a waiting Update holds back
// those that come after it, it waits for one round of them at most.
func (e *Exposition) Handler() http.Handler {
	return promhttp.HandlerForTransactional(e, promhttp.HandlerOpts{
		Registry:            e.registry,
		ErrorHandling:       promhttp.ContinueOnError, // a process metric that fails must not hide a fault
		MaxRequestsInFlight: scrapesAtATime,
		Timeout:             scrapeTimeout,
	})
}
