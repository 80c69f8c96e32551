package history

import (
	"iter"
	"strings"
	"time"

	"github.com/prometheus/prometheus/model/labels"
	"github.com/prometheus/prometheus/storage"
)

// Series is where samples go to. Whoever told of it holds it for as long as it
// lives, so that each further sample costs no look at its labels.
type Series struct {
	labels labels.Labels

	// Of the Store's own goroutine alone:
	ref        storage.SeriesRef
	generation uint  // of the storage that ref is of
	last       int64 // milliseconds of the latest sample; 0 before the first
}

// NewSeries makes a series of a metric's name and labels. An empty label is
// none. It must not be used with two Stores.
func NewSeries(name string, pairs iter.Seq2[string, string]) *Series {
	b := labels.NewScratchBuilder(8)
	b.Add(labels.MetricName, name)
	for label, value := range pairs {
		if value != "" {
			b.Add(strings.Clone(label), value)
		}
	}
	b.Sort()
	return &Series{labels: b.Labels()}
}

// Batch is what one poll told: samples of one moment, and the series that
// went away with it. It is for one goroutine until it is offered.
type Batch struct {
	at      int64 // milliseconds
	samples []sample
	gone    []*Series
}

type sample struct {
	series *Series
	value  float64
}

// Sample adds the value of a series.
func (b *Batch) Sample(s *Series, value float64) { b.samples = append(b.samples, sample{s, value}) }

// Gone tells that a series is no more.
func (b *Batch) Gone(s *Series) { b.gone = append(b.gone, s) }

// begin empties a batch for another moment.
func (b *Batch) begin(at time.Time) {
	b.at, b.samples, b.gone = at.UnixMilli(), b.samples[:0], b.gone[:0]
}

// size is what it takes of the queue.
func (b *Batch) size() int64 { return int64(len(b.samples) + len(b.gone) + 1) }
