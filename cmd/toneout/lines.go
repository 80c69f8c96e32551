package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"strings"
	"sync"
)

// lines is a log for a person who watches the demo: the time of day, what
// happened, and where, without keys.
type lines struct {
	mutex *sync.Mutex
	out   io.Writer
}

func newLines(out io.Writer) *slog.Logger { return slog.New(lines{new(sync.Mutex), out}) }

func (l lines) Enabled(_ context.Context, level slog.Level) bool { return level >= slog.LevelInfo }

// WithAttrs and WithGroup change nothing: the daemon uses neither.
func (l lines) WithAttrs([]slog.Attr) slog.Handler { return l }
func (l lines) WithGroup(string) slog.Handler      { return l }

// said are the attributes that are left out, since others say as much.
var said = map[string]bool{"kind": true, "cause": true, "probability": true}

func (l lines) Handle(_ context.Context, r slog.Record) error {
	var words []string
	r.Attrs(func(a slog.Attr) bool {
		if text := a.Value.String(); text != "" && !said[a.Key] {
			words = append(words, text)
		}
		return true
	})
	l.mutex.Lock()
	defer l.mutex.Unlock()
	_, err := fmt.Fprintf(l.out, "%s  %s: %s\n", r.Time.Format("15:04:05"), r.Message, strings.Join(words, "  "))
	return err
}
