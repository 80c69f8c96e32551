package web

import (
	"context"
	"net/http"
	"time"

	"toneout/internal/fault"
)

// Timelines gives what became of a run between two times, as JSON writes it: numbers in
// whole steps, of which the first ends at from, and what happened until the very end.
type Timelines func(ctx context.Context, run string, from, to time.Time, step time.Duration) (any, error)

// What a timeline is of where the address does not say: the last day, in as
// many steps as a screen shows, and none shorter than the usual poll.
const (
	timelineSpan  = 24 * time.Hour
	timelineSteps = 240
	timelineLeast = time.Minute
)

// timeline answers what became of a run (?from= &to= &step=).
func (s Source) timeline(r *http.Request, snapshot *fault.Snapshot) (any, error) {
	if s.Timelines == nil {
		return nil, refused(http.StatusNotFound, "no history is kept: history in the configuration says where it would be")
	}
	run := r.PathValue("id")
	if snapshot.Plant.Run(run) == nil {
		return nil, refused(http.StatusNotFound, "the inventory has no run %s", run)
	}
	from, to, step, err := timelineOf(r, s.Now())
	if err != nil {
		return nil, err
	}
	out, err := s.Timelines(r.Context(), run, from, to, step)
	if err != nil {
		return nil, refused(http.StatusServiceUnavailable, "%v", err)
	}
	return out, nil
}

// timelineOf reads the span; its steps end at whole ones, so that the same
// polls are together each time.
func timelineOf(r *http.Request, now time.Time) (from, to time.Time, step time.Duration, err error) {
	moment := func(key string, otherwise time.Time) time.Time {
		text := r.FormValue(key)
		if text == "" || err != nil {
			return otherwise
		}
		at, wrong := time.Parse(time.RFC3339, text)
		if wrong != nil {
			err = refused(http.StatusBadRequest, "%s=%q is no time such as 2026-03-02T12:00:00Z", key, text)
		}
		return at
	}
	to = moment("to", now)
	from = moment("from", to.Add(-timelineSpan))
	if err == nil && !from.Before(to) {
		err = refused(http.StatusBadRequest, "from is not before to")
	}
	step = max(timelineLeast, to.Sub(from)/timelineSteps)
	if text := r.FormValue("step"); text != "" && err == nil {
		var wrong error
		if step, wrong = time.ParseDuration(text); wrong != nil || step < time.Second {
			err = refused(http.StatusBadRequest, "step=%q is no duration of a second or more, such as 5m", text)
		}
	}
	if err == nil && to.Sub(from)/step > 10*timelineSteps {
		err = refused(http.StatusBadRequest, "%v are more than %d steps of %v: make the step longer", to.Sub(from), 10*timelineSteps, step)
	}
	step = step.Round(time.Second)
	return from.Truncate(step).Add(step), to, step, err
}
