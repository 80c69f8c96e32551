package metrics

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	dto "github.com/prometheus/client_model/go"
	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// rigOf is so many switches of 48 ports, each of them polled twice.
func rigOf(switches int) *rig {
	s := fault.Settings{PollEvery: time.Minute, FalseAlarmsPerWeek: 1}
	for i := range switches {
		s.Switches = append(s.Switches, fault.SwitchSettings{Name: fmt.Sprintf("acc-%03d", i)})
	}
	r := &rig{fault.NewTracker(plant.New(plant.Plant{}), s), New(), nil}
	for poll := range 2 {
		ports := make([]port.Reading, 48)
		for i := range ports {
			ports[i] = portAt(poll, i+1, fmt.Sprintf("1/%d", i+1), standards.Gbps, traffic(poll, 100_000+i, i%3))
		}
		for _, sw := range s.Switches {
			r.answered(sw.Name, answer(poll, ports...))
		}
	}
	return r
}

var large = sync.OnceValue(func() *rig { return rigOf(1000) })

// BenchmarkScrape is one scrape of 48,000 ports, and in the ratio of time
// what the same series cost as constant metrics through a registry.
func BenchmarkScrape(b *testing.B) {
	e := large().Exposition
	for _, encoding := range []string{"identity", "gzip"} {
		b.Run(encoding, func(b *testing.B) {
			request := httptest.NewRequest("GET", "/metrics", nil)
			request.Header.Set("Accept-Encoding", encoding)
			b.ReportAllocs()
			for b.Loop() {
				e.Handler().ServeHTTP(discard{}, request)
			}
			own := b.Elapsed() / time.Duration(b.N)

			families, done, err := (*live)(e).Gather()
			require.NoError(b, err)
			defer done()
			registry := prometheus.NewRegistry()
			registry.MustRegister(constants(families))
			start := time.Now()
			promhttp.HandlerFor(registry, promhttp.HandlerOpts{}).ServeHTTP(discard{}, request)
			b.ReportMetric(float64(time.Since(start))/float64(own), "const/own")
			b.ReportMetric(float64(seriesIn(families)), "series")
		})
	}
}

// BenchmarkUpdate is one switch of 48 ports, alone and among 1,000.
func BenchmarkUpdate(b *testing.B) {
	for _, switches := range []int{1, 1000} {
		b.Run(fmt.Sprintf("switches=%d", switches), func(b *testing.B) {
			r := rigOf(switches)
			b.ReportAllocs()
			for b.Loop() {
				r.Update(r.latest, "acc-000")
			}
		})
	}
}

// constants collects series as constant metrics, as an exporter does that
// keeps none.
type constants []*dto.MetricFamily

func (c constants) Describe(chan<- *prometheus.Desc) {}

func (c constants) Collect(out chan<- prometheus.Metric) {
	for _, family := range c {
		var names []string
		for _, l := range family.Metric[0].Label {
			names = append(names, l.GetName())
		}
		kind := prometheus.GaugeValue
		if family.GetType() == dto.MetricType_COUNTER {
			kind = prometheus.CounterValue
		}
		desc := prometheus.NewDesc(family.GetName(), family.GetHelp(), names, nil)
		for _, m := range family.Metric {
			values := make([]string, len(m.Label))
			for i, l := range m.Label {
				values[i] = l.GetValue()
			}
			out <- prometheus.MustNewConstMetric(desc, kind, m.GetGauge().GetValue()+m.GetCounter().GetValue(), values...)
		}
	}
}

func seriesIn(families []*dto.MetricFamily) (n int) {
	for _, f := range families {
		n += len(f.Metric)
	}
	return n
}

// discard is a client that takes everything at once.
type discard struct{}

func (discard) Header() http.Header         { return http.Header{} }
func (discard) Write(p []byte) (int, error) { return len(p), nil }
func (discard) WriteHeader(int)             {}
