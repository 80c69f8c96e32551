package history

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"time"
)

// Poll is what a port received between two of its polls.
type Poll struct {
	From, To time.Time
	Frames   uint64  // good and damaged
	Damaged  uint64  // FCS and alignment errors, of which a frame adds to one only (RFC 3635)
	Bits     float64 // received and sent, of good frames
	Counted  bool    // Bits holds both directions
}

// Seconds is how long it took.
func (p *Poll) Seconds() float64 { return p.To.Sub(p.From).Seconds() }

// Load is what crossed the link in both directions, in bit/s; false where the
// switch does not count both.
func (p *Poll) Load() (float64, bool) { return p.Bits / p.Seconds(), p.Counted }

// Sum is what was received in some polls together.
type Sum struct {
	Polls   int     `json:"polls"`
	Errored int     `json:"errored_polls"` // with damaged frames
	Frames  uint64  `json:"frames"`        // good and damaged
	Damaged uint64  `json:"damaged_frames"`
	Seconds float64 `json:"seconds"` // watched
}

func (s *Sum) add(p *Poll) {
	s.Polls++
	if p.Damaged > 0 {
		s.Errored++
	}
	s.Frames += p.Frames
	s.Damaged += p.Damaged
	s.Seconds += p.Seconds()
}

// PortPolls are a port's polls by time, those alone in which it received something
// and its switch counted damaged frames: without traffic there is no evidence.
type PortPolls struct {
	Switch, Port string
	Polls        []Poll
}

// The series of which polls are made. They are asked for as they were recorded,
// since whatever a rate makes of them is an extrapolation.
const (
	framesSeries   = "toneout_port_received_frames_total"
	errorsSeries   = "toneout_port_receive_errors_total"
	receivedSeries = "toneout_port_received_bytes_total"
	sentSeries     = "toneout_port_sent_bytes_total"
	upSeries       = "toneout_port_up"
)

// pollsAtOnce is how much of a span one question asks for, so that its answer
// stays small.
const pollsAtOnce = 7 * 24 * time.Hour

// before is how far before a span the poll is looked for that its first one
// follows.
const before = time.Hour

// PollsOf gives what the ports of a run, or a port, received poll by poll, in the
// polls that ended after from and not after to.
func PollsOf(ctx context.Context, q Querier, of Place, from, to time.Time) ([]PortPolls, error) {
	t := tally{sources: map[string]*source{}}
	for begin := from.Add(-before); begin.Before(to); begin = begin.Add(pollsAtOnce) {
		end := begin.Add(pollsAtOnce)
		if end.After(to) {
			end = to
		}
		question := fmt.Sprintf(`{__name__=~"%s|%s|%s|%s|%s",error=~"fcs|alignment|",%s}[%s]`,
			framesSeries, errorsSeries, receivedSeries, sentSeries, upSeries, of.selector(), window(end.Sub(begin)))
		told, err := q.Instant(ctx, question, end)
		if err != nil {
			return nil, fmt.Errorf("polls of %s: %w", of.selector(), err)
		}
		t.take(told)
	}
	return t.ports(from), nil
}

// tally makes polls of counters.
type tally struct{ sources map[string]*source }

// source is what one daemon counted of a port.
type source struct {
	port     PortPolls
	from     time.Time           // of the poll to come
	counters map[string]*counter // by metric, and error where it is one
}

// counter is a series on its way through the questions.
type counter struct {
	points []Point // of the question in hand
	last   Point   // before them; of no time where there is none
}

// rise is what is added from the point before to the one of a time; false where
// either is not there. What starts anew counts from 0.
func (c *counter) rise(at time.Time) (float64, bool) {
	if c == nil {
		return 0, false
	}
	for len(c.points) > 0 && c.points[0].At.Before(at) {
		c.last, c.points = c.points[0], c.points[1:]
	}
	if len(c.points) == 0 || !c.points[0].At.Equal(at) {
		return 0, false
	}
	was, now := c.last, c.points[0]
	c.last, c.points = now, c.points[1:]
	if now.Value < was.Value {
		was.Value = 0
	}
	return now.Value - was.Value, !was.At.IsZero()
}

// take takes the answer to one question.
func (t *tally) take(told []Course) {
	for _, c := range told {
		s := t.source(c.Labels)
		key := c.Labels["__name__"] + c.Labels["error"]
		if s.counters[key] == nil {
			s.counters[key] = &counter{}
		}
		s.counters[key].points = c.Points
	}
	for _, s := range t.sources {
		s.add()
	}
}

// source finds who counted: what a server adds to the labels tells daemons apart.
func (t *tally) source(labels map[string]string) *source {
	var key string
	for _, name := range slices.Sorted(maps.Keys(labels)) {
		if name != "__name__" && name != "error" {
			key += fmt.Sprintf("%q", labels[name])
		}
	}
	if t.sources[key] == nil {
		t.sources[key] = &source{port: PortPolls{Switch: labels["switch"], Port: labels["port"]}, counters: map[string]*counter{}}
	}
	return t.sources[key]
}

// add makes polls of what was asked for. Where nothing at all moved on a link that
// is up, the switch was asked in vain, and what was known before was recorded again.
func (s *source) add() {
	good := s.counters[framesSeries]
	if good == nil {
		return
	}
	for len(good.points) > 0 {
		p := Poll{From: s.from, To: good.points[0].At}
		if good.points[0].Value < good.last.Value { // counted from the first poll of a daemon that started
			p.From = s.counters[upSeries].before(p.To, p.From)
		}
		frames, known := good.rise(p.To)
		fcs, counted := s.counters[errorsSeries+"fcs"].rise(p.To)
		alignment, _ := s.counters[errorsSeries+"alignment"].rise(p.To)
		in, told := s.counters[receivedSeries].rise(p.To)
		out, both := s.counters[sentSeries].rise(p.To)
		if known && frames+fcs+alignment+in+out == 0 && s.counters[upSeries].is(p.To, 1) {
			continue
		}
		s.from = p.To
		p.Damaged = uint64(fcs + alignment)
		p.Frames, p.Bits, p.Counted = uint64(frames)+p.Damaged, 8*(in+out), told && both
		if known && counted && p.Frames > 0 {
			s.port.Polls = append(s.port.Polls, p)
		}
	}
	for _, c := range s.counters { // what came last belongs to the next question
		if n := len(c.points); n > 0 {
			c.last = c.points[n-1]
		}
		c.points = nil
	}
}

// before is when the last point before a time is of, and otherwise where there is none.
func (c *counter) before(at, otherwise time.Time) time.Time {
	_, _ = c.rise(at.Add(-time.Millisecond))
	if c == nil || c.last.At.Before(otherwise) {
		return otherwise
	}
	return c.last.At
}

// is tells whether a value is that of a time.
func (c *counter) is(at time.Time, value float64) bool {
	_, _ = c.rise(at)
	return c != nil && c.last.At.Equal(at) && c.last.Value == value
}

// ports puts together what several daemons told of a port: of the same time one
// counts alone.
func (t *tally) ports(from time.Time) (all []PortPolls) {
	byPort := map[[2]string][]Poll{}
	for _, s := range t.sources {
		key := [2]string{s.port.Switch, s.port.Port}
		byPort[key] = append(byPort[key], s.port.Polls...)
	}
	for key, polls := range byPort {
		slices.SortFunc(polls, func(a, b Poll) int { return cmp.Or(a.From.Compare(b.From), a.To.Compare(b.To)) })
		p := PortPolls{Switch: key[0], Port: key[1]}
		end := from
		for _, poll := range polls {
			if n := len(p.Polls); poll.To.After(from) && (n == 0 || !poll.From.Before(end)) {
				p.Polls = append(p.Polls, poll)
				end = poll.To
			}
		}
		if len(p.Polls) > 0 {
			all = append(all, p)
		}
	}
	slices.SortFunc(all, func(a, b PortPolls) int {
		return cmp.Or(cmp.Compare(a.Switch, b.Switch), cmp.Compare(a.Port, b.Port))
	})
	return all
}
