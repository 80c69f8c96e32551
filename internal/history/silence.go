package history

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"time"
)

// Silence is some time in which a switch did not answer.
type Silence struct {
	Switch string `json:"switch"`
	// From is the poll by which it had been asked three times in vain; nil where that
	// was before the span. To is when it answered again; nil where it did not.
	From *time.Time `json:"from"`
	To   *time.Time `json:"to"`
}

// Silences are those of all switches that reach into a span, by their begin.
func Silences(ctx context.Context, q Querier, from, to time.Time) ([]Silence, error) {
	within := window(to.Sub(from))
	found, err := q.Instant(ctx, fmt.Sprintf("min by (switch) (min_over_time(toneout_switch_up[%s])) == 0", within), to)
	if err != nil {
		return nil, err
	}
	out := []Silence{}
	for _, c := range found { // one by one, since all polls of many switches are more than a query may hold
		name := c.Labels["switch"]
		told, err := q.Instant(ctx, fmt.Sprintf("toneout_switch_up{switch=%q}[%s]", name, within), to)
		if err != nil {
			return nil, err
		}
		up := map[time.Time]bool{} // whether it answered, to any daemon
		for _, c := range told {
			for _, p := range c.Points {
				up[p.At] = up[p.At] || p.Value > 0
			}
		}
		out = append(out, silencesOf(name, up)...)
	}
	slices.SortFunc(out, func(a, b Silence) int {
		return cmp.Or(timeOf(a.From).Compare(timeOf(b.From)), cmp.Compare(a.Switch, b.Switch))
	})
	return out, nil
}

func timeOf(t *time.Time) (at time.Time) {
	if t != nil {
		at = *t
	}
	return at
}

func silencesOf(name string, up map[time.Time]bool) (out []Silence) {
	var silent *Silence
	for i, at := range slices.SortedFunc(maps.Keys(up), time.Time.Compare) {
		switch {
		case up[at] && silent != nil:
			silent.To = &at
			out = append(out, *silent)
			silent = nil
		case !up[at] && silent == nil:
			silent = &Silence{Switch: name}
			if i > 0 {
				silent.From = &at
			}
		}
	}
	if silent != nil {
		out = append(out, *silent)
	}
	return out
}

// Watched are the hours of which the history has anything.
type Watched []time.Time // their ends, by time

// watchedSeries is recorded with every poll, whatever a switch answers.
const watchedSeries = "toneout_inventory_loaded"

// WatchedIn asks for those of a span: whole ones, and what is left of it at its end.
func WatchedIn(ctx context.Context, q Querier, from, to time.Time) (w Watched, err error) {
	const most = mostStepsOfRange / 2 * time.Hour
	for begin := from; begin.Before(to); begin = begin.Add(most) {
		end := begin.Add(most)
		if end.After(to) {
			end = to
		}
		found, err := q.Range(ctx, fmt.Sprintf("max(present_over_time(%s[1h]))", watchedSeries), Span{begin.Add(time.Hour), end.Add(time.Hour), time.Hour})
		if err != nil {
			return nil, fmt.Errorf("hours watched: %w", err)
		}
		for _, c := range found {
			for _, p := range c.Points {
				if n := len(w); n == 0 || p.At.After(w[n-1]) {
					w = append(w, p.At)
				}
			}
		}
	}
	return w, nil
}

// Between is how much of some time was watched.
func (w Watched) Between(from, to time.Time) (sum time.Duration) {
	for _, end := range w {
		begin := end.Add(-time.Hour)
		if begin.Before(from) {
			begin = from
		}
		if end.After(to) {
			end = to
		}
		if begin.Before(end) {
			sum += end.Sub(begin)
		}
	}
	return sum
}
