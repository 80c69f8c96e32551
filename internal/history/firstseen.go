package history

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Stretch is some time of a run or a port.
type Stretch struct {
	Of       Place
	From, To time.Time
}

// stretchesAtOnce is how many one question is about, so that few take a round trip.
const stretchesAtOnce = 50

// FirstSeen gives since when each of some ports was watched within a stretch: its begin
// where the history has a poll of shortly before, else the first poll in it, and the
// zero time where it has none.
func FirstSeen(ctx context.Context, q Querier, all []Stretch, shortly time.Duration) ([]time.Time, error) {
	out := make([]time.Time, len(all))
	for i := 0; i < len(all); i += stretchesAtOnce {
		some := all[i:min(len(all), i+stretchesAtOnce)]
		found, err := q.Instant(ctx, watchedQuestion(some, shortly), some[0].To)
		if err != nil {
			return nil, fmt.Errorf("polls before some faults: %w", err)
		}
		for _, c := range found {
			if n, err := strconv.Atoi(c.Labels[strandLabel]); err == nil && n < len(some) {
				out[i+n] = some[n].From
			}
		}
	}
	for i := range all {
		var err error
		if out[i].IsZero() {
			if out[i], err = all[i].first(ctx, q); err != nil {
				return nil, fmt.Errorf("first poll of %s: %w", all[i].Of.selector(), err)
			}
		}
	}
	return out, nil
}

// watchedQuestion asks which stretches begin shortly after a poll, by their places.
func watchedQuestion(all []Stretch, shortly time.Duration) string {
	var parts []string
	for i, s := range all {
		at := appendSeconds(nil, s.From.UnixMilli())
		parts = append(parts, marked(strconv.Itoa(i), fmt.Sprintf("count(present_over_time(%s{%s}[%s] @ %s))", upSeries, s.Of.selector(), window(shortly), at)))
	}
	return strings.Join(parts, " or ")
}

// stepsToFirst is how finely a stretch is looked through before its polls are.
const stepsToFirst = 1000

// first is the first poll of a stretch, the zero time where there is none.
func (s Stretch) first(ctx context.Context, q Querier) (first time.Time, err error) {
	step := max(time.Hour, s.To.Sub(s.From)/stepsToFirst).Round(time.Millisecond)
	series := fmt.Sprintf("%s{%s}[%s]", upSeries, s.Of.selector(), window(step))
	steps, err := q.Range(ctx, fmt.Sprintf("count(present_over_time(%s))", series), Span{s.From.Add(step), s.To.Add(step), step})
	if err != nil || len(steps) == 0 || len(steps[0].Points) == 0 {
		return first, err
	}
	polls, err := q.Instant(ctx, series, steps[0].Points[0].At)
	for _, c := range polls {
		for _, p := range c.Points {
			if p.At.Before(s.From) || p.At.After(s.To) {
				continue
			}
			if first.IsZero() || p.At.Before(first) {
				first = p.At
			}
		}
	}
	return first, err
}
