package metrics

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"syscall"
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

// BenchmarkScrape is one scrape of 48,000 ports, and the share of the CPU that
// the same series cost as constant metrics through a registry, as most
// exporters keep them.
func BenchmarkScrape(b *testing.B) {
	e := large().Exposition
	for _, encoding := range []string{"identity", "gzip"} {
		b.Run(encoding, func(b *testing.B) {
			request := httptest.NewRequest("GET", "/metrics", nil)
			request.Header.Set("Accept-Encoding", encoding)
			b.ReportAllocs()
			start := cpu(b)
			for b.Loop() {
				e.Handler().ServeHTTP(discard{}, request)
			}
			own := (cpu(b) - start) / time.Duration(b.N)
			b.ReportMetric(float64(own)/float64(constantScrape(b, e, request)), "own/const")
			b.ReportMetric(float64(own.Milliseconds()), "cpu-ms/op")
		})
	}
}

// constantScrape is the CPU of one scrape of constant metrics.
func constantScrape(b *testing.B, e *Exposition, request *http.Request) time.Duration {
	families, err := e.Gather()
	require.NoError(b, err)
	var ours constants
	for _, f := range families {
		if f.GetType() != dto.MetricType_HISTOGRAM && strings.HasPrefix(f.GetName(), "toneout_") {
			ours = append(ours, f)
		}
	}
	registry := prometheus.NewRegistry()
	registry.MustRegister(ours)
	handler := promhttp.HandlerFor(registry, promhttp.HandlerOpts{})
	const scrapes = 2
	start := cpu(b)
	for range scrapes {
		handler.ServeHTTP(discard{}, request)
	}
	b.ReportMetric(float64(seriesIn(ours)), "series")
	return (cpu(b) - start) / scrapes
}

// cpu is what this process has used of it, user and system.
func cpu(b *testing.B) time.Duration {
	var u syscall.Rusage
	require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
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
