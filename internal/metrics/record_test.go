package metrics

import (
	"fmt"
	"iter"
	"maps"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	dto "github.com/prometheus/client_model/go"
	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/standards"
)

// kept is a Recorder that knows what stands now.
type kept struct {
	t     *testing.T
	value map[string]float64
	made  int // series, in all
}

func (k *kept) Series(name string, labels iter.Seq2[string, string]) any {
	k.made++
	return name + fmt.Sprint(maps.Collect(labels))
}

func (k *kept) Sample(series any, v float64) { k.value[series.(string)] = v }

func (k *kept) Gone(series any) {
	require.Contains(k.t, k.value, series, "only what was told goes away")
	delete(k.value, series.(string))
}

// exposed is what a scrape gives, sample by sample, as the recorder names it.
func exposed(t *testing.T, e *Exposition) map[string]float64 {
	out := map[string]float64{}
	families, err := e.Gather()
	require.NoError(t, err)
	for _, f := range families {
		for _, m := range f.Metric {
			labels := map[string]string{}
			for _, l := range m.Label {
				labels[l.GetName()] = l.GetValue()
			}
			add := func(name string, v float64, more ...string) {
				all := maps.Clone(labels)
				for i := 0; i < len(more); i += 2 {
					all[more[i]] = more[i+1]
				}
				out[name+fmt.Sprint(all)] = v
			}
			exposedMetric(f.GetName(), m, add)
		}
	}
	return out
}

func exposedMetric(name string, m *dto.Metric, add func(name string, v float64, more ...string)) {
	switch {
	case m.Histogram != nil:
		for _, b := range m.Histogram.Bucket {
			add(name+"_bucket", float64(b.GetCumulativeCount()), "le", strconv.FormatFloat(b.GetUpperBound(), 'g', -1, 64))
		}
		add(name+"_bucket", float64(m.Histogram.GetSampleCount()), "le", "+Inf")
		add(name+"_sum", m.Histogram.GetSampleSum())
		add(name+"_count", float64(m.Histogram.GetSampleCount()))
	case m.Summary != nil:
		for _, q := range m.Summary.Quantile {
			add(name, q.GetValue(), "quantile", strconv.FormatFloat(q.GetQuantile(), 'g', -1, 64))
		}
		add(name+"_sum", m.Summary.GetSampleSum())
		add(name+"_count", float64(m.Summary.GetSampleCount()))
	default:
		add(name, m.GetGauge().GetValue()+m.GetCounter().GetValue()+m.GetUntyped().GetValue())
	}
}

// What was recorded last of each series that stands is what a scrape gives, and
// the same series stand: whatever comes, changes and goes.
func TestRecordedIsWhatIsExposed(t *testing.T) {
	k := &kept{t: t, value: map[string]float64{}}
	r := newRig(college())
	polls, made := 0, 0
	same := func(what string) {
		polls++
		r.Record(k, noon.Add(time.Duration(polls)*time.Minute), "acc-n1-1", "acc-n2-1", "core-m")
		want := exposed(t, r.Exposition)
		require.Equal(t, strings.Join(slices.Sorted(maps.Keys(want)), "\n"), strings.Join(slices.Sorted(maps.Keys(k.value)), "\n"), what)
		for name, v := range want {
			if strings.HasPrefix(name, "toneout_") {
				require.Equal(t, v, k.value[name], "%s: %s", what, name)
			}
		}
	}
	same("nothing")
	r.answered("acc-n1-1", answer(0, portAt(0, 1, "1/1", standards.Gbps, traffic(0, 100, 0))))
	for poll := range 4 {
		r.answered("acc-n2-1", access(poll))
		r.answered("core-m", core(poll))
		same("a poll")
	}
	made = k.made
	r.answered("acc-n2-1", access(4))
	same("a poll without news")
	require.Equal(t, made, k.made, "no series is made anew")
	for poll := 1; poll <= 3; poll++ {
		r.failed("acc-n1-1", poll)
		same("silence")
	}
	r.judge(verdicts[:3]...)
	r.Update(r.latest, "core-m")
	same("faults")
	judged := *r.latest
	judged.Shared = []*fault.SharedCause{{SharedName: fault.SharedName{Attribute: fault.ByPathway, Value: "riser-n"}, Probability: 0.8, Members: 3, Checks: []string{"Walk."}}}
	r.Update(&judged, "core-m")
	same("a shared cause")
	r.judge(verdicts[1:2]...)
	r.Update(r.latest, "core-m")
	same("fewer faults")
	r.History(false, 3)
	r.Checkpoint(true, noon)
	r.Notified("http://127.0.0.1:9093", "sent", 7)
	r.Inventory(false, noon, 1)
	same("the daemon's own")
	smaller := settings()
	smaller.Switches = smaller.Switches[:1]
	r.Tracker = fault.NewTracker(plant.New(plant.Plant{}), smaller)
	r.Update(r.Tracker.Snapshot(), "acc-n2-1")
	same("a switch and all runs less")
}

// Without a Recorder nothing is kept for one.
func TestNobodyRecords(t *testing.T) {
	r := goldenRig()
	r.judge()
	r.Update(r.latest, "core-m")
	require.Empty(t, r.gone)
}

// Recording costs nothing new while nothing comes or goes.
func TestSteadyRecordingAllocatesNothing(t *testing.T) {
	r, to := goldenRig(), nowhere{}
	r.Record(to, noon, "acc-n2-1")
	require.Zero(t, testing.AllocsPerRun(100, func() { r.Record(to, noon, "acc-n2-1") }))
}

// nowhere is a Recorder that keeps nothing.
type nowhere struct{}

func (nowhere) Series(string, iter.Seq2[string, string]) any { return nowhere{} }
func (nowhere) Sample(any, float64)                          {}
func (nowhere) Gone(any)                                     {}

// BenchmarkRecord is what the owner spends on a switch of 48 ports.
func BenchmarkRecord(b *testing.B) {
	r, k := rigOf(1), &counting{}
	r.Record(k, noon, "acc-000") // makes the series
	k.samples = 0
	for b.Loop() {
		r.Record(k, noon, "acc-000")
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(k.samples), "ns/sample")
}

// counting is a Recorder that counts samples.
type counting struct {
	nowhere
	samples int
}

func (c *counting) Sample(any, float64) { c.samples++ }
