package metrics

import (
	"iter"
	"slices"
	"strconv"
	"time"

	dto "github.com/prometheus/client_model/go"
)

// Recorder keeps what the series say over time.
type Recorder interface {
	// Series makes a series of a name and its labels, and gives what stands
	// for it from then on.
	Series(name string, labels iter.Seq2[string, string]) any
	Sample(series any, value float64)
	Gone(series any)
}

// left is what a Recorder has for series that went away since it was told, by
// their name and labels. One that came back meanwhile never left.
type left map[string][]any

// back takes out what came back; nil where that was never there.
func (l left) back(key string) []any {
	if len(l) == 0 {
		return nil
	}
	series := l[key]
	delete(l, key)
	return series
}

// othersEvery is how often that is recorded which is of no switch: counts of
// runs, the inventory, and the process, which takes a millisecond to tell of
// itself.
const othersEvery = 30 * time.Second

// Record tells a recorder what is exposed of switches that were polled at a
// time, and what went away since the last call. What is of no switch it tells
// with them, every half minute.
func (e *Exposition) Record(to Recorder, at time.Time, switchNames ...string) {
	others := at.Sub(e.othersRecorded) >= othersEvery
	var process []*dto.MetricFamily
	if others {
		e.othersRecorded = at
		process, _ = e.registry.Gather() // what fails of it is left out
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	for _, name := range switchNames {
		if own := e.switches[name]; own != nil {
			e.recordSwitch(to, own)
		}
	}
	for key, slot := range e.faults {
		if slices.Contains(switchNames, key.place) {
			e.recordFault(to, slot)
		}
	}
	if others {
		e.recordOthers(to)
		e.recordProcess(to, process)
	}
	for _, series := range e.gone {
		for _, s := range series {
			to.Gone(s)
		}
	}
	clear(e.gone)
}

func (e *Exposition) recordSwitch(to Recorder, own *switchSeries) {
	for _, slot := range own.ports {
		for g, columns := range slot.columns {
			for i, s := range columns {
				e.columns[g][i].family.record(to, s)
			}
		}
	}
	e.switchUp.record(to, own.up)
	e.switchUnread.record(to, own.unread)
	for _, s := range own.tables {
		e.switchTables.record(to, s)
	}
	for _, s := range own.coverage {
		e.switchPorts.record(to, s)
	}
	for _, s := range own.polls {
		e.polls.record(to, s)
	}
	if own.seconds != nil {
		e.seconds.record(to, own.seconds)
	}
}

func (e *Exposition) recordFault(to Recorder, slot *faultSeries) {
	e.runFault.record(to, slot.open)
	e.verdictInfo.record(to, slot.info)
	for _, s := range slot.causes {
		e.causeProbability.record(to, s)
	}
}

// recordOthers tells what is of no switch.
func (e *Exposition) recordOthers(to Recorder) {
	for _, each := range e.families {
		f, plain := each.(*family)
		if !plain || f.ofSwitch {
			continue
		}
		for i := range f.rows {
			f.record(to, f.rows[i].series)
		}
	}
}

// record tells the value of a series that may be absent.
func (f *family) record(to Recorder, s *series) {
	if s == nil {
		return
	}
	r := &f.rows[s.place]
	if s.kept == nil {
		if back := f.gone.back(f.key(r)); back != nil {
			s.kept = back[0]
		} else {
			s.kept = to.Series(f.name, r.pairs)
		}
	}
	to.Sample(s.kept, r.value)
}

// key is a row's name and labels.
func (f *family) key(r *row) string {
	if r.first != nil {
		return f.name + "{" + r.first.text + r.labels.text
	}
	return f.name + "{" + r.labels.text
}

// pairs gives a row's labels.
func (r *row) pairs(yield func(name, value string) bool) {
	if r.first != nil && !yield(r.first.pair.GetName(), r.first.pair.GetValue()) {
		return
	}
	for _, p := range r.labels.pairs {
		if !yield(p.GetName(), p.GetValue()) {
			return
		}
	}
}

// record tells the series of a histogram: its buckets, its sum, its count.
func (h *histograms) record(to Recorder, m *histogram) {
	if m.kept == nil {
		if m.kept = h.gone.back(h.name + "{" + m.labels.text); m.kept == nil {
			m.kept = h.keep(to, m)
		}
	}
	sum := uint64(0)
	for i, n := range m.counts {
		sum += n
		to.Sample(m.kept[i], float64(sum))
	}
	to.Sample(m.kept[len(m.counts)], m.sum)
	to.Sample(m.kept[len(m.counts)+1], float64(sum))
}

func (h *histograms) keep(to Recorder, m *histogram) []any {
	var kept []any
	for _, bound := range h.texts {
		kept = append(kept, to.Series(h.name+"_bucket", pairsOf(append(slices.Clone(m.labels.pairs), pair("le", bound)))))
	}
	return append(kept, to.Series(h.name+"_sum", pairsOf(m.labels.pairs)), to.Series(h.name+"_count", pairsOf(m.labels.pairs)))
}

func pairsOf(pairs []*dto.LabelPair) iter.Seq2[string, string] {
	return (&row{labels: &labels{pairs: pairs}}).pairs
}

// recordProcess tells what describes the program itself. Its series stay.
func (e *Exposition) recordProcess(to Recorder, families []*dto.MetricFamily) {
	for _, f := range families {
		for _, m := range f.Metric {
			e.recordMetric(to, f.GetName(), m)
		}
	}
}

func (e *Exposition) recordMetric(to Recorder, name string, m *dto.Metric) {
	tell := func(name string, value float64, more ...*dto.LabelPair) {
		l := labelled(slices.Concat(m.Label, more)...)
		key := name + "{" + l.text
		if e.process[key] == nil {
			e.process[key] = to.Series(name, pairsOf(l.pairs))
		}
		to.Sample(e.process[key], value)
	}
	switch {
	case m.Gauge != nil:
		tell(name, m.Gauge.GetValue())
	case m.Counter != nil:
		tell(name, m.Counter.GetValue())
	case m.Untyped != nil:
		tell(name, m.Untyped.GetValue())
	case m.Summary != nil:
		for _, q := range m.Summary.Quantile {
			tell(name, q.GetValue(), pair("quantile", strconv.FormatFloat(q.GetQuantile(), 'g', -1, 64)))
		}
		tell(name+"_sum", m.Summary.GetSampleSum())
		tell(name+"_count", float64(m.Summary.GetSampleCount()))
	}
}
