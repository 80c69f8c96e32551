package daemon

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"toneout/internal/history"
	"toneout/internal/journal"
	"toneout/internal/report"
	"toneout/internal/web"
)

// changes is what happened between two times. Lists are by time and never null.
type changes struct {
	From      time.Time         `json:"from"`
	To        time.Time         `json:"to"`
	Opened    []report.Life     `json:"opened"`  // those that were nobody's fault are in neither
	Closed    []report.Life     `json:"closed"`  // by their proof too
	Repairs   []web.Repair      `json:"repairs"` // made, proven or failed then
	Work      []web.PlannedWork `json:"work"`    // announced then, or in force
	Inventory []inventoryNews   `json:"inventory"`
	Silent    []history.Silence `json:"silent"` // switches; null where no history is kept
	Notes     []web.Note        `json:"notes"`
}

// inventoryNews is another inventory that was taken up.
type inventoryNews struct {
	At time.Time `json:"at"`
	inventoryChange
}

func (w *owner) changesOf(ctx context.Context, a web.Asked) (*changes, error) {
	j := w.journal
	c := &changes{From: a.From, To: a.To, Opened: []report.Life{}, Closed: []report.Life{}, Repairs: []web.Repair{}, Work: []web.PlannedWork{}, Inventory: []inventoryNews{}}
	in := func(t *time.Time) bool { return t != nil && !t.Before(a.From) && t.Before(a.To) }
	lives, err := j.lives(ctx, a.From, "")
	if err != nil {
		return nil, err
	}
	for _, l := range lives {
		if in(&l.Opened) && l.Counts() {
			c.Opened = append(c.Opened, l)
		}
		if in(l.Closed) && l.Counts() {
			c.Closed = append(c.Closed, l)
		}
	}
	slices.SortStableFunc(c.Closed, func(a, b report.Life) int { return a.Closed.Compare(*b.Closed) })
	if c.Repairs, err = j.repairsIn(ctx, "", a.From, a.To); err != nil {
		return nil, err
	}
	if err := c.tell(ctx, j, in); err != nil {
		return nil, err
	}
	if numbers := w.history.querier; numbers != nil {
		if c.Silent, err = history.Silences(ctx, numbers, a.From, a.To); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// tell adds what people told and did.
func (c *changes) tell(ctx context.Context, j *journalWriter, in func(*time.Time) bool) error {
	works, err := j.toldWorks(ctx)
	if err != nil {
		return err
	}
	for _, p := range works {
		if in(&p.At) || p.From.Before(c.To) && p.To.After(c.From) {
			c.Work = append(c.Work, p)
		}
	}
	events, err := j.events(ctx, journal.Query{Kinds: []journal.Kind{journal.InventoryChanged}, From: c.From, To: c.To})
	if err != nil {
		return err
	}
	for _, e := range events {
		if change, ok := dataOf[inventoryChange](j, &e); ok {
			c.Inventory = append(c.Inventory, inventoryNews{e.At, change})
		}
	}
	c.Notes, err = toldIn[web.Note](ctx, j, journal.Query{Kinds: []journal.Kind{journal.NoteMade}, From: c.From, To: c.To})
	return err
}

// toldIn is what people told, all of it: who asks says of which span.
func toldIn[T any](ctx context.Context, w *journalWriter, q journal.Query) ([]T, error) {
	out := []T{}
	err := w.each(ctx, q, func(e *journal.Event) {
		if t, ok := dataOf[T](w, e); ok {
			out = append(out, t)
		}
	})
	return out, err
}

// repairsIn are those of a run, or all, that were made in a span, proven in it or
// failed, by the time when they were made.
func (w *journalWriter) repairsIn(ctx context.Context, run string, from, to time.Time) ([]web.Repair, error) {
	ends := map[string]journal.Event{} // by the repair
	err := w.each(ctx, journal.Query{Kinds: repairEnds, Run: run, From: from}, func(e *journal.Event) {
		if o, ok := dataOf[repairOutcome](w, e); ok {
			ends[o.Repair] = journal.Event{Kind: e.Kind, At: e.At, Run: e.Run}
		}
	})
	if err != nil {
		return nil, err
	}
	out := []web.Repair{}
	take := func(e *journal.Event) {
		r, ok := dataOf[web.Repair](w, e)
		end, over := ends[e.ID]
		delete(ends, e.ID)
		if over {
			come(&r, &end)
		}
		if ok && (!e.At.Before(from) || over && end.At.Before(to)) {
			out = append(out, r)
		}
	}
	made := journal.Query{Kinds: []journal.Kind{journal.RepairMade}, Run: run, From: from, To: to}
	if err := w.each(ctx, made, take); err != nil {
		return nil, err
	}
	made.From, made.To = time.Time{}, from
	for _, end := range slices.Collect(maps.Values(ends)) { // what ended in the span and was made before it
		if made.Run = end.Run; !end.At.Before(to) {
			continue
		}
		if err := w.each(ctx, made, take); err != nil {
			return nil, err
		}
	}
	slices.SortStableFunc(out, func(a, b web.Repair) int { return a.At.Compare(b.At) })
	return out, nil
}

// runStory is what became of a run: numbers, and what happened.
type runStory struct {
	*history.Timeline
	*happened
}

// happened is null where no journal is kept, and its keys are left out.
type happened struct {
	Faults  []report.Life     `json:"faults"` // that were open within the span, by their opening
	Repairs []web.Repair      `json:"repairs"`
	Work    []web.PlannedWork `json:"work"` // planned within the span, where the run is by today's inventory
	Notes   []web.Note        `json:"notes"`
	Taken   []web.Taken       `json:"taken"`
}

// happenedTo is what happened to a run.
func (w *owner) happenedTo(ctx context.Context, run string, from, to time.Time) (*happened, error) {
	j := w.journal
	h := &happened{Faults: []report.Life{}, Repairs: []web.Repair{}, Work: []web.PlannedWork{}}
	lives, err := j.lives(ctx, from, run)
	if err != nil {
		return nil, err
	}
	for _, l := range lives {
		if !l.Since.After(to) {
			h.Faults = append(h.Faults, l)
		}
	}
	repairs, err := j.repairsIn(ctx, run, from, to)
	if err != nil {
		return nil, err
	}
	for _, r := range repairs {
		if !r.At.Before(from) {
			h.Repairs = append(h.Repairs, r)
		}
	}
	works, err := j.toldWorks(ctx)
	if err != nil {
		return nil, err
	}
	s := w.current.Load()
	for _, p := range works {
		if work := p.Fault(); !p.From.After(to) && p.To.After(from) && s.Concerns(&work, run) {
			h.Work = append(h.Work, p)
		}
	}
	if h.Notes, err = toldIn[web.Note](ctx, j, journal.Query{Kinds: []journal.Kind{journal.NoteMade}, Run: run, From: from, To: to}); err != nil {
		return nil, err
	}
	h.Taken, err = toldIn[web.Taken](ctx, j, journal.Query{Kinds: []journal.Kind{journal.FaultTaken}, Run: run, From: from, To: to})
	return h, err
}

// timelines answers for the pages what became of runs; nil where nobody knows.
func (w *owner) timelines() web.Timelines {
	if w.history.querier == nil {
		return nil
	}
	return func(ctx context.Context, run string, from, to time.Time, step time.Duration) (any, error) {
		last := to.Truncate(step)
		if last.Before(from) {
			last = from
		}
		numbers, err := history.TimelineOf(ctx, w.history.querier, history.Place{Run: run}, history.Span{From: from, To: last, Step: step})
		if err != nil {
			return nil, err
		}
		if w.journal == nil {
			return runStory{numbers, nil}, nil
		}
		told, err := inTurn(ctx, w.journal, func(ctx context.Context) (*happened, error) { return w.happenedTo(ctx, run, from.Add(-step), to) })
		if err != nil {
			return nil, fmt.Errorf("timeline of run %s: %w", run, err)
		}
		return runStory{numbers, told}, nil
	}
}
