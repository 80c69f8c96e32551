package metrics

import (
	"math"
	"slices"

	dto "github.com/prometheus/client_model/go"
)

// Answered is the outcome of a poll that ended well; others are named after
// the class of their error.
const Answered = "answered"

// pollBounds are the upper bounds of the poll times' buckets, in seconds.
var pollBounds = [...]float64{.01, .025, .05, .1, .25, .5, 1, 2.5, 5, 10, 30, 60}

// Polled counts a poll of a switch: Answered or the class of its error, and
// how long it took.
func (e *Exposition) Polled(switchName, outcome string, seconds float64) {
	e.mu.Lock()
	defer e.mu.Unlock()
	own := e.ownedBy(switchName)
	if own.polls[outcome] == nil {
		own.polls[outcome] = e.polls.add(before("outcome", outcome), own.labels, 0)
	}
	e.polls.rows[own.polls[outcome].place].value++
	if own.seconds == nil {
		own.seconds = e.seconds.add(own.labels)
	}
	own.seconds.observe(seconds)
}

// histograms is one metric whose series are histograms of the same bounds.
type histograms struct {
	name, help string
	texts      []string // of the bounds and of +Inf
	all        []*histogram
	gone       left // the Exposition's
}

// histogram is one of them.
type histogram struct {
	labels *labels
	counts [len(pollBounds) + 1]uint64 // by bucket, not summed up; the last one is +Inf's
	sum    float64
	kept   []any // what a Recorder has for its series; nil before it was told of
}

func newHistograms(name, help string, gone left) *histograms {
	h := &histograms{name: name, help: help, gone: gone}
	for _, bound := range append(pollBounds[:len(pollBounds):len(pollBounds)], math.Inf(1)) {
		h.texts = append(h.texts, string(appendValue(nil, bound)))
	}
	return h
}

func (h *histograms) add(l *labels) *histogram {
	m := &histogram{labels: l}
	h.all = append(h.all, m)
	return m
}

func (m *histogram) observe(v float64) {
	i, _ := slices.BinarySearch(pollBounds[:], v)
	m.counts[i]++
	m.sum += v
}

func (h *histograms) drop(m *histogram) {
	if m.kept != nil {
		h.gone[h.name+"{"+m.labels.text] = m.kept
	}
	h.all = slices.DeleteFunc(h.all, func(o *histogram) bool { return o == m })
}

func (h *histograms) called() string { return h.name }

func (h *histograms) copyTo(m *moment) {
	m.parts = append(m.parts, part{of: h, from: len(m.histograms)})
	for _, one := range h.all {
		m.histograms = append(m.histograms, *one)
	}
	m.parts[len(m.parts)-1].to = len(m.histograms)
}

func (h *histograms) write(m *moment, p part, s *sink) { s.histograms(h, m.histograms[p.from:p.to]) }

// message gives histograms as the client library has them.
func (h *histograms) message(m *moment, p part) *dto.MetricFamily {
	kind := dto.MetricType_HISTOGRAM
	out := &dto.MetricFamily{Name: &h.name, Help: &h.help, Type: &kind}
	for _, own := range m.histograms[p.from:p.to] {
		one := &dto.Histogram{SampleSum: new(own.sum)}
		sum := uint64(0)
		for i, n := range own.counts {
			sum += n
			if i < len(pollBounds) {
				one.Bucket = append(one.Bucket, &dto.Bucket{UpperBound: new(pollBounds[i]), CumulativeCount: new(sum)})
			}
		}
		one.SampleCount = &sum
		out.Metric = append(out.Metric, &dto.Metric{Label: own.labels.pairs, Histogram: one})
	}
	return out
}
