package metrics

import (
	"slices"
	"strings"

	dto "github.com/prometheus/client_model/go"
)

// family is one metric with its series, in no order.
type family struct {
	exposed *dto.MetricFamily
	series  []*series // by the same places as exposed.Metric
}

// series is one value under its labels, and knows its place in its family.
type series struct {
	metric dto.Metric
	value  float64 // what metric's gauge or counter points to
	place  int
}

func newFamily(name string, kind dto.MetricType, help string) *family {
	return &family{exposed: &dto.MetricFamily{Name: &name, Type: &kind, Help: &help}}
}

// add makes a series. The labels may be shared with others.
func (f *family) add(labels []*dto.LabelPair, value float64) *series {
	s := &series{value: value, place: len(f.series)}
	s.metric.Label = labels
	if f.exposed.GetType() == dto.MetricType_COUNTER {
		s.metric.Counter = &dto.Counter{Value: &s.value}
	} else {
		s.metric.Gauge = &dto.Gauge{Value: &s.value}
	}
	f.series = append(f.series, s)
	f.exposed.Metric = append(f.exposed.Metric, &s.metric)
	return s
}

// drop takes a series out; the last one moves to its place.
func (f *family) drop(s *series) {
	last := len(f.series) - 1
	moved := f.series[last]
	moved.place = s.place
	f.series[s.place], f.exposed.Metric[s.place] = moved, &moved.metric
	f.series[last], f.exposed.Metric[last] = nil, nil
	f.series, f.exposed.Metric = f.series[:last], f.exposed.Metric[:last]
}

// keep brings a series that may be absent to a value that may be absent.
func (f *family) keep(at **series, value float64, present bool, labels func() []*dto.LabelPair) {
	switch {
	case present && *at == nil:
		*at = f.add(labels(), value)
	case present:
		(*at).value = value
	case *at != nil:
		f.drop(*at)
		*at = nil
	}
}

// replace puts a series of value 1 under new labels.
func (f *family) replace(at **series, labels []*dto.LabelPair) {
	if *at != nil {
		f.drop(*at)
	}
	*at = f.add(labels, 1)
}

func (f *family) clear() {
	clear(f.series)
	clear(f.exposed.Metric)
	f.series, f.exposed.Metric = f.series[:0], f.exposed.Metric[:0]
}

// pair is one label. One byte of a switch's or a record's text that is not
// UTF-8 would make Prometheus refuse the whole scrape.
func pair(name, value string) *dto.LabelPair {
	value = strings.ToValidUTF8(value, "\uFFFD")
	return &dto.LabelPair{Name: &name, Value: &value}
}

// with gives the labels and some more, by name.
func with(labels []*dto.LabelPair, more ...*dto.LabelPair) []*dto.LabelPair {
	all := slices.Concat(labels, more)
	slices.SortFunc(all, func(a, b *dto.LabelPair) int { return strings.Compare(a.GetName(), b.GetName()) })
	return all
}
