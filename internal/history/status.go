package history

import (
	"context"
	"log/slog"
	"strings"
	"sync"
	"time"
)

// status is how the recording goes, and says when that changes.
type status struct {
	store   *Store
	mu      sync.Mutex
	now     Status
	lagging bool   // the queue was full, and not empty since
	before  uint64 // dropped when it began to fail or to lag
}

// Status is how the recording goes now.
func (s *Store) Status() Status {
	s.status.mu.Lock()
	defer s.status.mu.Unlock()
	return s.status.now
}

// overflowed counts a poll that found no place in the queue.
func (s *status) overflowed() {
	s.change(func() {
		if !s.lagging && s.now.Failing == "" {
			s.before = s.now.Dropped
			s.store.options.Log.Error("history cannot keep up: polls are not recorded", "folder", s.store.options.Directory)
		}
		s.lagging = true
		s.now.Dropped++
	})
}

// opened notes how opening the storage went.
func (s *status) opened(err error) { s.change(func() { s.judge(err) }) }

// took notes what became of a batch.
func (s *status) took(err error, whole, empty bool) {
	s.change(func() {
		s.judge(err)
		if err != nil || !whole {
			s.now.Dropped++
		}
		if s.lagging && empty {
			s.lagging = false
			s.over()
		}
	})
}

// judge tells when recording begins to fail, or does so otherwise, and when it
// is over.
func (s *status) judge(err error) {
	switch {
	case err != nil && s.now.Failing != err.Error():
		if s.now.Failing == "" && !s.lagging {
			s.before = s.now.Dropped
		}
		s.now.Failing = err.Error()
		s.store.options.Log.Error("history not recorded; watching goes on", "folder", s.store.options.Directory, "error", oneLine(s.now.Failing))
	case err == nil && s.now.Failing != "":
		s.now.Failing = ""
		s.over()
	}
}

// over tells that polls are recorded again.
func (s *status) over() {
	if s.now.Failing == "" && !s.lagging {
		s.store.options.Log.Info("history recorded again", "folder", s.store.options.Directory, "polls_lost", s.now.Dropped-s.before)
	}
}

func (s *status) change(do func()) {
	s.mu.Lock()
	before := s.now
	do()
	now := s.now
	s.mu.Unlock()
	if now != before {
		s.store.options.Report(now)
	}
}

func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }

// storageLog passes on what the storage complains of: all that it met while it
// was opened as one line, and later each complaint once an hour.
type storageLog struct {
	to      *slog.Logger
	mu      sync.Mutex
	opening bool
	met     []string
	told    map[string]time.Time
}

func (l *storageLog) Enabled(_ context.Context, level slog.Level) bool {
	return level >= slog.LevelWarn
}

func (l *storageLog) Handle(_ context.Context, r slog.Record) error {
	text := r.Message
	r.Attrs(func(a slog.Attr) bool { text += " " + a.String(); return true })
	l.mu.Lock()
	defer l.mu.Unlock()
	switch last, told := l.told[r.Message]; {
	case l.opening:
		l.met = append(l.met, text)
	case !told || r.Time.Sub(last).Abs() >= time.Hour:
		l.told[r.Message] = r.Time
		l.to.Warn("history's storage complains", "of", oneLine(text))
	}
	return nil
}

// opened ends the time of opening. Where that failed, its error says enough.
func (l *storageLog) opened(well bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.opening = false; well && len(l.met) > 0 {
		l.to.Warn("history was not ended properly: what cannot be read is left out", "of", oneLine(strings.Join(l.met, "; ")))
	}
	l.told = map[string]time.Time{}
}

func (l *storageLog) WithAttrs([]slog.Attr) slog.Handler { return l }
func (l *storageLog) WithGroup(string) slog.Handler      { return l }
