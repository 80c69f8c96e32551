package daemon

import (
	"iter"
	"time"

	"toneout/internal/history"
	"toneout/internal/metrics"
)

// HistoryOptions say where numbers are kept over time: in a folder, or by a
// server that scrapes the metrics; nowhere where both are "".
type HistoryOptions struct {
	Directory string
	Keep      time.Duration
	KeepBytes int64 // 0 for no limit
	URL       string
}

// openHistory opens the store that polls are recorded in; nil for none. It
// fails where another process has the folder.
func openHistory(o Options, e *metrics.Exposition) (*history.Store, error) {
	if o.History.Directory == "" {
		return nil, nil
	}
	return history.Open(history.Options{
		Directory: o.History.Directory, Keep: o.History.Keep, KeepBytes: o.History.KeepBytes,
		Lookback: lookback(o.PollEvery), Log: o.Log, Now: o.Clock.Now,
		Report: func(s history.Status) { e.History(s.Failing == "", s.Dropped) },
	})
}

// lookback is for how long a value holds without a new one: a lost poll is no
// gap, however seldom switches are asked.
func lookback(every time.Duration) time.Duration { return max(5*time.Minute, 5*every/2) }

// record offers what is exposed of a switch after a poll of it. It never waits.
func (w *owner) record(at time.Time, switchName string) {
	if w.history == nil {
		return
	}
	b := w.history.Batch(at)
	w.exposition.Record(recording{b}, at, switchName)
	w.history.Offer(b)
}

// recording takes what the metrics tell into a batch of history.
type recording struct{ batch *history.Batch }

func (r recording) Series(name string, labels iter.Seq2[string, string]) any {
	return history.NewSeries(name, labels)
}

func (r recording) Sample(series any, value float64) {
	r.batch.Sample(series.(*history.Series), value)
}

func (r recording) Gone(series any) { r.batch.Gone(series.(*history.Series)) }
