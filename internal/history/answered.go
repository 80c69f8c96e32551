package history

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

// switchSteps is what is known of a switch in the steps of a span, by milliseconds.
type switchSteps struct {
	asked    map[int64]bool
	answered map[int64]float64 // polls that it answered; no step of which that is not known
}

// counts are what one daemon told of the polls that a switch answered, as a count since
// its start: of each step the last value, the least, and how often it changed.
type counts struct{ last, least, changes map[int64]float64 }

// switchQuestion asks for all that in one.
func switchQuestion(name string, step time.Duration) string {
	answered := fmt.Sprintf("toneout_switch_polls_total{switch=%q,outcome=\"answered\"}", name)
	parts := []string{marked("asked", fmt.Sprintf("max by (switch) (max_over_time(toneout_switch_up{switch=%q}[%s]))", name, window(step)))}
	for strand, function := range map[string]string{"last": "last_over_time", "least": "min_over_time", "changes": "changes"} {
		parts = append(parts, marked(strand, fmt.Sprintf("%s(%s[%s])", function, answered, window(step))))
	}
	return strings.Join(parts, " or ")
}

// stepsOf asks what is known of a switch.
func stepsOf(ctx context.Context, q Querier, name string, span Span) (*switchSteps, error) {
	wide := span
	wide.From = wide.From.Add(-wide.Step) // what was counted before the first step
	found, err := q.Range(ctx, switchQuestion(name, span.Step), wide)
	if err != nil {
		return nil, fmt.Errorf("timeline of switch %s: %w", name, err)
	}
	out := &switchSteps{asked: map[int64]bool{}, answered: map[int64]float64{}}
	daemons := map[string]*counts{}
	for _, c := range found {
		strand := c.Labels[strandLabel]
		if strand == "asked" {
			out.asked = steps([]Course{c})
			continue
		}
		key := others(c.Labels)
		if daemons[key] == nil {
			daemons[key] = &counts{map[int64]float64{}, map[int64]float64{}, map[int64]float64{}}
		}
		daemons[key].put(strand, c.Points)
	}
	for _, n := range daemons {
		for at, polls := range n.polls(span.Step) {
			out.answered[at] = max(polls, out.answered[at]) // of several daemons the one that saw the most
		}
	}
	return out, nil
}

// others tells daemons apart, by what a server adds to the labels.
func others(labels map[string]string) (key string) {
	for _, name := range slices.Sorted(maps.Keys(labels)) {
		if name != strandLabel && name != "__name__" {
			key += fmt.Sprintf("%q", labels[name])
		}
	}
	return key
}

func (n *counts) put(strand string, points []Point) {
	into := map[string]map[int64]float64{"last": n.last, "least": n.least, "changes": n.changes}[strand]
	for _, p := range points {
		into[p.At.UnixMilli()] = p.Value
	}
}

// polls are those answered: the samples of which each differs from the one before. Its
// first has that in the step before; where nothing is known of it, it counts.
func (n *counts) polls(step time.Duration) map[int64]float64 {
	out := map[int64]float64{}
	for at, changes := range n.changes {
		before, known := n.last[at-step.Milliseconds()]
		if !known || before != n.least[at] {
			changes++
		}
		out[at] = changes
	}
	return out
}

// count tells how many polls told of a port: of those in which it is recorded, as many
// as the switch answered. A poll in vain has the values of before recorded again.
func (s *switchSteps) count(held []Point) (polls []Point) {
	for _, p := range held {
		if answered, known := s.answered[p.At.UnixMilli()]; known {
			polls = append(polls, Point{p.At, min(p.Value, answered)})
		}
	}
	return polls
}
