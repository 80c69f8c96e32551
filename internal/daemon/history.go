package daemon

import (
	"iter"
	"time"

	"toneout/internal/history"
	"toneout/internal/metrics"
	"toneout/internal/web"
)

// HistoryOptions say where numbers are kept over time: in a folder, or by a
// server that scrapes the metrics; nowhere where both are "".
type HistoryOptions struct {
	Directory string
	Keep      time.Duration
	KeepBytes int64 // 0 for no limit
	URL       string
}

// memory is where numbers are kept; the zero value for nowhere.
type memory struct {
	store   *history.Store // that polls are recorded in; nil where none is kept here
	querier history.Querier
}

// openHistory opens it. It fails where another process has the folder.
func openHistory(o Options, e *metrics.Exposition) (m memory, err error) {
	if o.History.URL != "" {
		m.querier, err = history.NewRemote(o.History.URL)
		return m, err
	}
	if o.History.Directory == "" {
		return m, nil
	}
	// A chunk of the storage holds 120 samples: a block of fewer polls is mostly overhead.
	m.store, err = history.Open(history.Options{
		Directory: o.History.Directory, Keep: o.History.Keep, KeepBytes: o.History.KeepBytes,
		Lookback: lookback(o.PollEvery), Block: 120 * o.PollEvery, Log: o.Log, Now: o.Clock.Now,
		Report: func(s history.Status) { e.History(s.Failing == "", s.Dropped) },
	})
	if err == nil {
		m.querier = m.store
		e.History(true, 0)
	}
	return m, err
}

// recording tells the pages how it goes; nil where no history is kept here.
func (m memory) recording() func() web.Recording {
	if m.store == nil {
		return nil
	}
	return func() web.Recording {
		s := m.store.Status()
		return web.Recording{Failing: s.Failing, Lost: s.Dropped}
	}
}

// lookback is for how long a value holds without a new one: a lost poll is no
// gap, however seldom switches are asked.
func lookback(every time.Duration) time.Duration { return max(5*time.Minute, 5*every/2) }

// record offers what is exposed of a switch after a poll of it. It never waits.
func (w *owner) record(at time.Time, switchName string) {
	if w.history.store == nil {
		return
	}
	b := w.history.store.Batch(at)
	w.exposition.Record(recording{b}, at, switchName)
	w.history.store.Offer(b)
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
