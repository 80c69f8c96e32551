package metrics

import (
	"slices"
	"strings"

	dto "github.com/prometheus/client_model/go"
)

// family is one metric with its series, in no order.
type family struct {
	name, help string
	kind       dto.MetricType
	rows       []row // one after another in memory, since a scrape reads them all
	gone       left  // the Exposition's
	ofSwitch   bool  // each series is recorded with the polls of its switch
}

// row is the value of one series under its labels.
type row struct {
	value  float64
	first  *label // a label that comes before the others by name; nil for none
	labels *labels
	series *series
}

// series knows where in its family its row is.
type series struct {
	place int
	kept  any // what a Recorder has for it; nil before it was told of
}

// label is one label, and as the text format writes it.
type label struct {
	pair *dto.LabelPair
	text string // with a comma after it
}

// labels are those of a series, or what several have in common: by name, and
// as the text format writes them.
type labels struct {
	pairs []*dto.LabelPair
	text  string
}

// add makes a series.
func (f *family) add(first *label, rest *labels, value float64) *series {
	s := &series{place: len(f.rows)}
	f.rows = append(f.rows, row{value, first, rest, s})
	return s
}

// drop takes a series out; the last one moves to its place.
func (f *family) drop(s *series) {
	if s.kept != nil {
		f.gone[f.key(&f.rows[s.place])] = []any{s.kept}
	}
	last := len(f.rows) - 1
	f.rows[s.place] = f.rows[last]
	f.rows[s.place].series.place = s.place
	f.rows[last] = row{}
	f.rows = f.rows[:last]
}

// keep brings a series that may be absent to a value that may be absent.
func (f *family) keep(at **series, value float64, present bool, labels func() (*label, *labels)) {
	switch {
	case present && *at == nil:
		first, rest := labels()
		*at = f.add(first, rest, value)
	case present:
		f.rows[(*at).place].value = value
	case *at != nil:
		f.drop(*at)
		*at = nil
	}
}

// replace puts a series of a value under new labels.
func (f *family) replace(at **series, labels *labels, value float64) {
	if *at != nil {
		f.drop(*at)
	}
	*at = f.add(nil, labels, value)
}

// remove takes out a series that may be absent.
func (f *family) remove(at **series) { f.keep(at, 0, false, nil) }

// set gives a metric of one series without labels its value.
func (f *family) set(value float64) {
	if len(f.rows) == 0 {
		f.add(nil, &labels{}, value)
	}
	f.rows[0].value = value
}

// become makes the family's series those given. One whose labels are there
// already is still the same series.
func (f *family) become(next []row) {
	before := make(map[string]*series, len(f.rows))
	for i := range f.rows {
		before[f.rows[i].labels.text] = f.rows[i].series
	}
	for i := range next {
		s := before[next[i].labels.text]
		if s == nil {
			s = new(series)
		}
		delete(before, next[i].labels.text)
		next[i].series = s
	}
	for _, s := range before {
		f.drop(s)
	}
	for i := range next {
		next[i].series.place = i
	}
	f.rows = next
}

func (f *family) called() string { return f.name }

func (f *family) copyTo(m *moment) {
	m.parts = append(m.parts, part{f, len(m.rows), len(m.rows) + len(f.rows)})
	m.rows = append(m.rows, f.rows...)
}

func (f *family) write(m *moment, p part, s *sink) { s.family(f, m.rows[p.from:p.to]) }

// message gives rows as the client library has them, in few pieces of memory.
func (f *family) message(m *moment, p part) *dto.MetricFamily {
	rows := m.rows[p.from:p.to]
	metrics, gauges, counters := make([]dto.Metric, len(rows)), []dto.Gauge(nil), []dto.Counter(nil)
	if f.kind == counter {
		counters = make([]dto.Counter, len(rows))
	} else {
		gauges = make([]dto.Gauge, len(rows))
	}
	out := &dto.MetricFamily{Name: &f.name, Help: &f.help, Type: &f.kind, Metric: make([]*dto.Metric, len(rows))}
	for i := range rows {
		r, one := &rows[i], &metrics[i]
		one.Label = r.labels.pairs
		if r.first != nil {
			one.Label = append([]*dto.LabelPair{r.first.pair}, r.labels.pairs...)
		}
		if f.kind == counter {
			counters[i].Value, one.Counter = &r.value, &counters[i]
		} else {
			gauges[i].Value, one.Gauge = &r.value, &gauges[i]
		}
		out.Metric[i] = one
	}
	return out
}

// pair is one label. One byte of a switch's or a record's text that is not
// UTF-8 would make Prometheus refuse the whole scrape.
func pair(name, value string) *dto.LabelPair {
	value = strings.ToValidUTF8(value, "\uFFFD")
	return &dto.LabelPair{Name: &name, Value: &value}
}

// before is a label that comes before the others.
func before(name, value string) *label {
	p := pair(name, value)
	return &label{p, string(append(appendPair(nil, p), ','))}
}

// labelled puts labels together, by name.
func labelled(pairs ...*dto.LabelPair) *labels {
	slices.SortFunc(pairs, func(a, b *dto.LabelPair) int { return strings.Compare(a.GetName(), b.GetName()) })
	var text []byte
	for i, p := range pairs {
		if i > 0 {
			text = append(text, ',')
		}
		text = appendPair(text, p)
	}
	return &labels{pairs, string(text)}
}

// with gives the labels and some more.
func (l *labels) with(more ...*dto.LabelPair) *labels {
	return labelled(slices.Concat(l.pairs, more)...)
}
