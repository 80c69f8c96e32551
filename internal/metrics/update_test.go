package metrics

import (
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// seriesOf counts the series that carry a label.
func seriesOf(t *testing.T, e *Exposition, label, value string) (n int) {
	t.Helper()
	for name, family := range parsed(t, e) {
		for _, m := range family.Metric {
			for _, l := range m.Label {
				if l.GetName() == label && l.GetValue() == value && name != "toneout_run_info" {
					n++
				}
			}
		}
	}
	return n
}

func TestSilentSwitchIsWithdrawn(t *testing.T) {
	r := newRig(college())
	_, told := value(t, r.Exposition, "toneout_switch_up", "switch", "core-m")
	require.False(t, told, "before its first poll a switch is neither up nor down")
	r.answered("core-m", core(0))
	r.answered("core-m", core(1))
	for poll := 2; poll <= 3; poll++ {
		r.failed("core-m", poll)
		require.Positive(t, seriesOf(t, r.Exposition, "port", "2/1"), "one missed poll says nothing")
	}
	r.failed("core-m", 4)
	require.Zero(t, seriesOf(t, r.Exposition, "port", "2/1"))
	up, _ := value(t, r.Exposition, "toneout_switch_up", "switch", "core-m")
	require.Zero(t, up)
	failed, _ := value(t, r.Exposition, "toneout_switch_polls_total", "switch", "core-m", "outcome", "no answer")
	require.Equal(t, 3.0, failed)

	r.answered("core-m", core(5))
	require.Positive(t, seriesOf(t, r.Exposition, "port", "2/1"))
}

func TestPortThatGoesAwayTakesItsSeries(t *testing.T) {
	r := newRig(college())
	for poll := range 2 {
		r.answered("acc-n2-1", access(poll))
	}
	require.Positive(t, seriesOf(t, r.Exposition, "port", "1/3"))
	for poll := 2; poll < 5; poll++ {
		fewer := access(poll)
		fewer.Ports = append(fewer.Ports[:3:3], fewer.Ports[4:]...)
		r.answered("acc-n2-1", fewer)
	}
	require.Zero(t, seriesOf(t, r.Exposition, "port", "1/3"))
	require.Positive(t, seriesOf(t, r.Exposition, "port", "1/4"))
}

func TestValueThatGoesAwayIsAbsent(t *testing.T) {
	r := newRig(college())
	r.answered("acc-n2-1", access(0))
	down := access(1)
	down.Ports[0].Oper = port.Down
	r.answered("acc-n2-1", down)
	up, _ := value(t, r.Exposition, "toneout_port_up", "port", "1/17")
	require.Zero(t, up)
	for _, name := range []string{"toneout_port_speed_bits_per_second", "toneout_port_full_duplex"} {
		_, ok := value(t, r.Exposition, name, "port", "1/17")
		require.False(t, ok, name)
	}
	unknown := access(2)
	unknown.Ports[0].Oper = port.StatusUnknown // RFC 2863: cannot be determined
	r.answered("acc-n2-1", unknown)
	_, ok := value(t, r.Exposition, "toneout_port_up", "port", "1/17")
	require.False(t, ok)
}

// An inventory that moves a run to another port replaces the series of both.
func TestChangedJoinReplacesSeries(t *testing.T) {
	r := newRig(college())
	for poll := range 2 {
		r.answered("acc-n2-1", access(poll))
	}
	moved := college()
	moved.Runs[0].Port = "1/2"
	after := newRig(moved)
	after.Exposition = r.Exposition
	for poll := range 2 {
		after.answered("acc-n2-1", access(poll))
	}
	for _, name := range []string{"toneout_port_up", "toneout_run_info", "toneout_run_design_speed_bits_per_second"} {
		_, ok := value(t, r.Exposition, name, "run", "N2-P1-17", "port", "1/2")
		require.True(t, ok, name)
		_, ok = value(t, r.Exposition, name, "run", "N2-P1-17", "port", "1/17")
		require.False(t, ok, name)
	}
	_, ok := value(t, r.Exposition, "toneout_port_up", "run", "", "port", "1/17")
	require.True(t, ok)
}

func TestSwitchTakenOutOfTheConfiguration(t *testing.T) {
	r := newRig(college())
	r.answered("acc-n2-1", access(0))
	r.answered("core-m", core(0))
	r.answered("acc-n1-1", answer(0))
	fewer := settings()
	fewer.Switches = fewer.Switches[:1]
	r.Tracker = fault.NewTracker(college(), fewer)
	r.answered("acc-n2-1", access(1))
	require.Zero(t, seriesOf(t, r.Exposition, "switch", "core-m"))
	require.Positive(t, seriesOf(t, r.Exposition, "switch", "acc-n2-1"))
}

// pointers are to copies of faults, as each snapshot has its own.
func pointers(faults []fault.Fault) []*fault.Fault {
	out := make([]*fault.Fault, len(faults))
	for i, f := range faults {
		out[i] = &f
	}
	return out
}

// judge tells the rig's latest snapshot with these faults instead of its own.
func (r *rig) judge(faults ...fault.Fault) {
	judged := *r.latest
	judged.Faults = pointers(faults)
	r.Update(&judged, "acc-n2-1")
}

func TestVerdictThatChangesReplacesItself(t *testing.T) {
	r := newRig(college())
	r.answered("acc-n2-1", access(0))
	r.judge(verdicts[0], verdicts[1])

	changed := verdicts[0]
	changed.Severity, changed.Alarm = fault.Warning, false
	changed.Checks = []string{"Trace the slack."}
	changed.Causes = []fault.CauseProbability{{Cause: fault.BentFibre, Probability: 0.6}, {Cause: fault.LooseOptic, Probability: 0.4}}
	r.judge(changed)

	families := parsed(t, r.Exposition)
	require.Len(t, families["toneout_run_fault"].Metric, 1)
	require.Len(t, families["toneout_run_verdict_info"].Metric, 1)
	require.Len(t, families["toneout_run_cause_probability"].Metric, 2)
	_, ok := value(t, r.Exposition, "toneout_run_fault", "run", "N2-M-1", "severity", "warning", "alarm", "false")
	require.True(t, ok)
	_, ok = value(t, r.Exposition, "toneout_run_verdict_info", "cause", "bent-fibre", "first_check", "Trace the slack.")
	require.True(t, ok)
	probability, _ := value(t, r.Exposition, "toneout_run_cause_probability", "cause", "loose-optic")
	require.Equal(t, 0.4, probability)

	r.judge()
	require.NotContains(t, parsed(t, r.Exposition), "toneout_run_fault")
}

// Names come from switches: they must neither break the format nor, met
// twice, make Prometheus refuse the scrape.
func TestHostileNames(t *testing.T) {
	r := newRig(plant.New(plant.Plant{}))
	name := "a\"b\\c\nd\xffe"
	r.answered("core-m", answer(0, portAt(0, 1, name, standards.Gbps, nil)))
	doubled := *r.latest
	sw, _ := doubled.Switch("core-m")
	sw.Ports = append(sw.Ports, sw.Ports[0])
	r.Update(&doubled, "core-m")
	up, ok := value(t, r.Exposition, "toneout_port_up", "port", "a\"b\\c\nd\uFFFDe")
	require.True(t, ok)
	require.Equal(t, 1.0, up)
}

// stuckClient takes an answer's first byte and nothing further until it is
// let go.
type stuckClient struct {
	http.ResponseWriter
	reached, letGo chan struct{}
	once           sync.Once
}

func (c *stuckClient) Write(p []byte) (int, error) {
	c.once.Do(func() { close(c.reached) })
	<-c.letGo
	return c.ResponseWriter.Write(p)
}

func TestSlowClientHoldsNobodyUp(t *testing.T) {
	r := goldenRig()
	client := &stuckClient{ResponseWriter: httptest.NewRecorder(), reached: make(chan struct{}), letGo: make(chan struct{})}
	served, updated := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(served)
		r.Handler().ServeHTTP(client, httptest.NewRequest("GET", "/metrics", nil))
	}()
	<-client.reached
	go func() {
		defer close(updated)
		r.Update(r.latest, "core-m")
	}()
	select {
	case <-updated:
	case <-time.After(30 * time.Second):
		t.Error("an update waits for a client that does not read")
	}
	close(client.letGo)
	<-served
	<-updated
}

// Each scrape is of one moment, whatever goes on meanwhile: a fault comes with
// its verdict, and causes sum to 1.
func TestScrapesWhileUpdating(t *testing.T) {
	r := newRig(college())
	r.answered("acc-n2-1", access(0))
	stop := make(chan struct{})
	var scrapers sync.WaitGroup
	for range 2 {
		scrapers.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
					checkMoment(t, r.Exposition)
				}
			}
		})
	}
	for poll := 1; poll < 200; poll++ {
		r.answered("acc-n2-1", access(poll))
		r.judge(verdicts[:poll%(len(verdicts)+1)]...)
		if poll%7 < 3 {
			r.failed("core-m", poll)
		} else {
			r.answered("core-m", core(poll))
		}
	}
	close(stop)
	scrapers.Wait()
}

func checkMoment(t *testing.T, e *Exposition) {
	families, err := e.Gather()
	if err != nil {
		t.Errorf("gather: %v", err)
	}
	count, probability := map[string]int{}, 0.0
	for _, family := range families {
		count[family.GetName()] = len(family.Metric)
		for _, m := range family.Metric {
			if family.GetName() == "toneout_run_cause_probability" {
				probability += m.GetGauge().GetValue()
			}
		}
	}
	faults := count["toneout_run_fault"]
	if faults != count["toneout_run_verdict_info"] || probability < float64(faults)-1e-9 || probability > float64(faults)+1e-9 {
		t.Errorf("torn scrape: %v, causes sum to %v", count, probability)
	}
}

// While nothing comes or goes, an update makes nothing new but what it takes
// to work out the interval of a port that counted errors.
func TestSteadyUpdateAllocatesNextToNothing(t *testing.T) {
	r := goldenRig()
	perUpdate := testing.AllocsPerRun(100, func() { r.Update(r.latest, "acc-n2-1") })
	require.LessOrEqual(t, perUpdate, 4.0)
}
