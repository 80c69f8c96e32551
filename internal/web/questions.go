package web

import (
	"context"
	"net/http"
	"slices"
	"strings"
	"time"

	"toneout/internal/fault"
)

// Asked is what a question to the plant's memory is about.
type Asked struct {
	Run      string // where it is of a run
	From, To time.Time
	Zone     *time.Location // whose hours, days and months these are
	By       string         // what figures are grouped by; "" for the plant as a whole
}

// Questions are answered by what is kept over time; an answer is as JSON writes it.
// One is nil where what it needs is not kept.
type Questions struct {
	Hours   func(context.Context, Asked) (any, error) // of the week, in which a run's frames are damaged
	Load    func(context.Context, Asked) (any, error) // whether that follows what crosses it
	Figures func(context.Context, Asked) (any, error) // of faults, by month
	Changes func(context.Context, Asked) (any, error) // what happened
}

// question is how the address of one is read.
type question struct {
	keys  []string                                          // that it takes, beside from and to
	begin func(to time.Time, zone *time.Location) time.Time // where the address does not say
	most  time.Duration                                     // from begin to end
	needs string                                            // key of the configuration
}

const day = 24 * time.Hour

var (
	ofWeeks  = question{[]string{"zone"}, func(to time.Time, _ *time.Location) time.Time { return to.Add(-4 * 7 * day) }, 100 * day, "history"}
	ofLoad   = question{nil, ofWeeks.begin, ofWeeks.most, "history"}
	ofMonths = question{[]string{"zone", "by"}, func(to time.Time, zone *time.Location) time.Time {
		to = to.In(zone)
		return time.Date(to.Year(), to.Month()-2, 1, 0, 0, 0, 0, zone)
	}, 3700 * day, "journal"}
	ofLately = question{nil, func(to time.Time, _ *time.Location) time.Time { return to.Add(-day) }, 100 * day, "journal"}
)

// GroupedBy is what figures can be grouped by.
var GroupedBy = []string{"space", "pathway", "installer", "cable"}

// asks answers a question where somebody can.
func (s Source) asks(q question, answer func(context.Context, Asked) (any, error)) apiFunc {
	return func(r *http.Request, snapshot *fault.Snapshot) (any, error) {
		if answer == nil {
			return nil, refused(http.StatusNotFound, "no %s is kept: %s in the configuration says where it would be", q.needs, q.needs)
		}
		asked, err := q.read(r, s.Now())
		if err != nil {
			return nil, err
		}
		if asked.Run = r.PathValue("id"); asked.Run != "" && snapshot.Plant.Run(asked.Run) == nil {
			return nil, refused(http.StatusNotFound, "the inventory has no run %s", asked.Run)
		}
		out, err := answer(r.Context(), asked)
		if err != nil {
			return nil, refused(http.StatusServiceUnavailable, "%v", err)
		}
		return out, nil
	}
}

// read reads what is asked. A date is its midnight in the zone.
func (q question) read(r *http.Request, now time.Time) (a Asked, err error) {
	for key := range r.URL.Query() {
		if keys := append([]string{"from", "to"}, q.keys...); !slices.Contains(keys, key) {
			return a, refused(http.StatusBadRequest, "unknown query parameter %q: %s takes %s", key, r.URL.Path, strings.Join(keys, ", "))
		}
	}
	a.Zone, a.By = now.Location(), r.FormValue("by")
	if name := r.FormValue("zone"); name != "" {
		if a.Zone, err = time.LoadLocation(name); err != nil {
			return a, refused(http.StatusBadRequest, "zone=%q is no time zone such as Europe/Berlin", name)
		}
	}
	a.Zone = named(a.Zone, now, localFile)
	if a.By != "" && !slices.Contains(GroupedBy, a.By) {
		return a, refused(http.StatusBadRequest, "by=%q is not known; known are %s", a.By, strings.Join(GroupedBy, ", "))
	}
	if a.To, err = momentOf(r, "to", now, a.Zone); err != nil {
		return a, err
	}
	if a.From, err = momentOf(r, "from", q.begin(a.To, a.Zone), a.Zone); err != nil {
		return a, err
	}
	if !a.From.Before(a.To) {
		return a, refused(http.StatusBadRequest, "from is not before to")
	}
	if a.To.Sub(a.From) > q.most {
		return a, refused(http.StatusBadRequest, "from is more than %d days before to", q.most/day)
	}
	return a, nil
}

// momentOf reads a time or a date of the years in which there is something to ask.
func momentOf(r *http.Request, key string, otherwise time.Time, zone *time.Location) (time.Time, error) {
	text := r.FormValue(key)
	if text == "" {
		return otherwise, nil
	}
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		at, err = time.ParseInLocation(time.DateOnly, text, zone)
	}
	if err != nil || at.Year() < 1990 || at.Year() > 2200 {
		return at, refused(http.StatusBadRequest, "%s=%q is no time such as 2026-03-02T12:00:00Z, and no date such as 2026-03-02", key, text)
	}
	return at, nil
}
