package daemon

import (
	"context"
	"time"

	"toneout/internal/history"
	"toneout/internal/report"
)

// date finds since when those lives could be seen that are dated by their switch, of
// those that count at from or later: by the polls that the history has of the port;
// where it has none, a switch of which the journal told before was watched.
func (w *owner) date(ctx context.Context, lives []report.Life, from time.Time) error {
	var of []*report.Life
	var stretches []history.Stretch
	for i := range lives {
		l := &lives[i]
		if end, over := l.End(); !l.OfTheSwitch() || !l.Counts() || over && end.Before(from) {
			continue
		}
		of = append(of, l)
		stretches = append(stretches, history.Stretch{Of: history.Place{Switch: l.Switch, Port: l.Port}, From: l.Since, To: l.Opened})
	}
	if len(of) == 0 {
		return nil
	}
	seen := make([]time.Time, len(of))
	if numbers := w.history.querier; numbers != nil {
		var err error
		if seen, err = history.FirstSeen(ctx, numbers, stretches, lookback(w.options.PollEvery)); err != nil {
			return err
		}
	}
	told, err := w.journal.firstTold(ctx)
	if err != nil {
		return err
	}
	for i, l := range of {
		if first, known := told[l.Switch]; seen[i].IsZero() && known && !first.After(l.Since) {
			seen[i] = l.Since
		}
		if !seen[i].IsZero() {
			l.Seen = &seen[i]
		}
	}
	return nil
}

// firstTold is when the first event of a fault of each switch was.
func (w *journalWriter) firstTold(ctx context.Context) (map[string]time.Time, error) {
	j := w.open.Load()
	if j == nil {
		return nil, errAway
	}
	return j.FirstTold(ctx)
}
