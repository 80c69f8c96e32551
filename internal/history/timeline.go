package history

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"time"
)

// Timeline is what became of a run, port by port. It is made of the steps of
// a span: a Point is of the step that ends at its time, and a step of which
// nothing is known has none.
type Timeline struct {
	Span
	Ports []PortTimeline `json:"ports"` // that carried the run, by switch and name; none where nothing was recorded
}

// PortTimeline is what became of one port of it.
type PortTimeline struct {
	Switch      string         `json:"switch"`
	Port        string         `json:"port"`
	Polls       []Point        `json:"polls"`                    // how many polls told of it; 0 where all were in vain, and what was known before holds for a while
	Up          []Point        `json:"up"`                       // the share of what is recorded, 0 to 1, in which the link was up
	Slowest     []Point        `json:"slowest_bits_per_second"`  // bit/s of the link, the least of the step
	Fastest     []Point        `json:"fastest_bits_per_second"`  // likewise the most
	DesignSpeed []Point        `json:"design_bits_per_second"`   // bit/s that the run is meant to carry; told at its near end
	LinkChanges []Point        `json:"link_changes"`             // how often the link came or went, at least
	FrameErrors Bounds         `json:"frame_error_ratio"`        // damaged frames among all received, of the worst hour that ended within the step
	Received    []Point        `json:"received_bits_per_second"` // bit/s, the mean
	Sent        []Point        `json:"sent_bits_per_second"`
	Lanes       []LaneTimeline `json:"lanes"` // of its optic, by number
	Gaps        []Gap          `json:"gaps"`  // by time

	held []Point // how often it is recorded
}

// Bounds is an estimate with its 95 % interval.
type Bounds struct {
	Low      []Point `json:"low"`
	Estimate []Point `json:"estimate"`
	High     []Point `json:"high"`
}

// LaneTimeline is the light of one lane in dBm, the least and the most of each
// step. No light at all is -Inf.
type LaneTimeline struct {
	Lane          int     `json:"lane"`
	ReceivedLeast []Point `json:"received_least_dbm"`
	ReceivedMost  []Point `json:"received_most_dbm"`
	SentLeast     []Point `json:"sent_least_dbm"`
	SentMost      []Point `json:"sent_most_dbm"`
}

// Gap is some steps, From excluded, in which nothing was told of a port.
type Gap struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
	// Silent: the switch was asked then, and gave no answer or not this port.
	// Otherwise nothing was recorded of the switch either.
	Silent bool `json:"silent"`
}

// Place is what a timeline is of: a run, or a port where Run is "".
type Place struct{ Run, Switch, Port string }

func (p Place) selector() string {
	if p.Run != "" {
		return fmt.Sprintf("run=%q", p.Run)
	}
	return fmt.Sprintf("switch=%q,port=%q", p.Switch, p.Port)
}

// TimelineOf asks for the timeline of a run or a port.
func TimelineOf(ctx context.Context, q Querier, of Place, span Span) (*Timeline, error) {
	wide := span
	wide.From = wide.From.Add(-wide.Step) // what links counted before the first step
	told, err := q.Range(ctx, question(of, span.Step), wide)
	if err != nil {
		return nil, fmt.Errorf("timeline of %s: %w", of.selector(), err)
	}
	w := weaver{ports: map[[2]string]*PortTimeline{}, counted: map[string]*counted{}, from: span.From}
	for _, c := range told {
		w.add(c)
	}
	w.count()
	t := &Timeline{Span: span, Ports: []PortTimeline{}}
	for _, p := range w.ports {
		if len(p.held) > 0 {
			t.Ports = append(t.Ports, *p)
		}
	}
	slices.SortFunc(t.Ports, func(a, b PortTimeline) int {
		return cmp.Or(cmp.Compare(a.Switch, b.Switch), cmp.Compare(a.Port, b.Port))
	})
	return t, t.askSwitches(ctx, q)
}

// askSwitches finds how many polls told of each port, and the steps in which none did.
func (t *Timeline) askSwitches(ctx context.Context, q Querier) (err error) {
	switches := map[string]*switchSteps{}
	for i := range t.Ports {
		p := &t.Ports[i]
		s := switches[p.Switch]
		if s == nil {
			if s, err = stepsOf(ctx, q, p.Switch, t.Span); err != nil {
				return err
			}
			switches[p.Switch] = s
		}
		p.Polls = s.count(p.held)
		p.Gaps = t.gaps(steps([]Course{{Points: p.held}}), s.asked)
	}
	return nil
}

// steps are those that have a point, by milliseconds.
func steps(all []Course) map[int64]bool {
	out := map[int64]bool{}
	for _, c := range all {
		for _, p := range c.Points {
			out[p.At.UnixMilli()] = true
		}
	}
	return out
}

// gaps puts steps without news together, those of one kind.
func (t *Timeline) gaps(told, asked map[int64]bool) (all []Gap) {
	for at := t.From; !at.After(t.To); at = at.Add(t.Step) {
		if told[at.UnixMilli()] {
			continue
		}
		g := Gap{at.Add(-t.Step), at, asked[at.UnixMilli()]}
		if n := len(all) - 1; n >= 0 && all[n].To.Equal(g.From) && all[n].Silent == g.Silent {
			all[n].To = g.To
			continue
		}
		all = append(all, g)
	}
	return all
}

// weaver puts the strands of an answer together, port by port.
type weaver struct {
	ports   map[[2]string]*PortTimeline
	counted map[string]*counted
	from    time.Time
}

// counted is what one daemon counted of the changes of a port's link.
type counted struct {
	port *PortTimeline
	last []Point // of each step
}

func (w *weaver) add(c Course) {
	key := [2]string{c.Labels["switch"], c.Labels["port"]}
	p := w.ports[key]
	if p == nil {
		p = &PortTimeline{Switch: key[0], Port: key[1]}
		w.ports[key] = p
	}
	name := c.Labels[strandLabel]
	if s, known := strands[name]; known {
		s.put(p, c.Labels, since(c.Points, w.from))
	} else if name == linkCount {
		w.countOf(p, c.Labels).last = c.Points
	}
}

// countOf finds the counts of one daemon and port.
func (w *weaver) countOf(p *PortTimeline, labels map[string]string) *counted {
	key := others(labels)
	if w.counted[key] == nil {
		w.counted[key] = &counted{port: p}
	}
	return w.counted[key]
}

// since leaves out what is before a time.
func since(points []Point, from time.Time) []Point {
	i := slices.IndexFunc(points, func(p Point) bool { return !p.At.Before(from) })
	if i < 0 {
		return nil
	}
	return points[i:]
}

// count makes steps' changes of links from the counts. Of several daemons, the
// one that saw the most counts.
func (w *weaver) count() {
	for _, n := range w.counted {
		most := map[int64]float64{}
		for _, p := range n.port.LinkChanges {
			most[p.At.UnixMilli()] = p.Value
		}
		for _, p := range since(n.added(), w.from) {
			most[p.At.UnixMilli()] = max(p.Value, most[p.At.UnixMilli()])
		}
		n.port.LinkChanges = nil
		for _, at := range slices.Sorted(maps.Keys(most)) {
			n.port.LinkChanges = append(n.port.LinkChanges, Point{time.UnixMilli(at), most[at]})
		}
	}
}

// added is by how much the count rose in each step after the first, of which that
// is not known. A daemon that starts counts from 0; what came in the same step
// before that is not told.
func (n *counted) added() (out []Point) {
	for i := 1; i < len(n.last); i++ {
		p, before := n.last[i], 0.0
		if last := n.last[i-1]; last.Value <= p.Value {
			before = last.Value
		}
		out = append(out, Point{p.At, p.Value - before})
	}
	return out
}
