package soak

import (
	"cmp"
	"fmt"
	"math"
	"net/url"
	"slices"
	"strconv"
	"time"

	"github.com/stretchr/testify/require"
)

// sample is a value at a moment, in Unix milliseconds.
type sample struct {
	at    int64
	value float64
}

// series are the raw samples of a metric of a switch, by one of its labels.
func (l *life) series(metric, switchName, more, by string) (map[string][]sample, error) {
	var answer struct {
		Data struct {
			Result []struct {
				Metric map[string]string
				Values [][2]any
			}
		}
	}
	query := url.Values{"query": {fmt.Sprintf("%s{switch=%q%s}[1d]", metric, switchName, more)}}
	if err := l.get("/api/v1/query?"+query.Encode(), &answer); err != nil {
		return nil, err
	}
	out := map[string][]sample{}
	for _, s := range answer.Data.Result {
		key := s.Metric[by]
		for _, v := range s.Values {
			value, err := strconv.ParseFloat(v[1].(string), 64)
			if err != nil {
				return nil, err
			}
			out[key] = append(out[key], sample{int64(math.Round(v[0].(float64) * 1000)), value})
		}
	}
	for key, samples := range out { // before it was joined to its run, a port has another series
		slices.SortFunc(samples, func(a, b sample) int { return cmp.Compare(a.at, b.at) })
		for i := 1; i < len(samples); i++ {
			if samples[i].at == samples[i-1].at {
				return nil, fmt.Errorf("%s of %s: %s %s has two samples at %v", metric, switchName, by, key, samples[i].at)
			}
		}
	}
	return out, nil
}

// batch is what was recorded at one moment of a switch: after a poll that was
// answered, or one that was not.
type batch struct {
	at       int64
	answered bool
	poll     *poll // nil where not answered
}

// span is a daemon's life as far as its record goes.
type span struct {
	life     *life
	end      time.Time // when it was killed, or the record was taken
	next     time.Time // when the next one began; far off where there is none
	recorded bool      // anything of it is in history
}

func (s *span) has(at time.Time) bool { return !at.Before(s.life.began) && at.Before(s.next) }

// spans are the lives until a moment.
func (p *play) spans(until time.Time) []*span {
	var out []*span
	for i, l := range p.lives {
		s := &span{life: l, end: l.killed, next: until.Add(time.Hour)}
		if l.killed.IsZero() {
			s.end = until
		}
		if i+1 < len(p.lives) {
			s.next = p.lives[i+1].began
		}
		out = append(out, s)
	}
	return out
}

// tally is what the check of history counted.
type tally struct {
	polls, samples  int
	failed          int           // polls that the daemon says it could not read
	inFlight, early int           // polls lost at a kill: in flight, and while history was being opened
	age             time.Duration // of the oldest in flight
	unread          int           // counters of answered polls that the daemon did not read
}

// checkHistory holds what is recorded against what the switches answered.
func (p *play) checkHistory(last *life) {
	until := time.Now().Round(0) // before the polls are taken, so that they are all there
	p.polls = map[*station][]*poll{}
	for _, st := range p.site.stations {
		p.polls[st] = st.book.until()
	}
	spans := p.spans(until)
	batches := map[*station][]*batch{}
	for _, st := range p.site.stations {
		batches[st] = p.batches(last, st, spans, until)
	}
	var sum tally
	for _, st := range p.site.stations {
		for _, s := range spans {
			p.pair(st, s, within(s, p.polls[st], func(q *poll) time.Time { return q.first }),
				within(s, batches[st], func(b *batch) time.Time { return time.UnixMilli(b.at) }), &sum)
		}
		p.checkPorts(last, st, spans, batches[st], &sum)
	}
	p.t.Logf("history: %+v", sum)
	require.Less(p.t, 2*sum.failed, sum.polls, "the machine was too busy for the soak to tell anything")
	require.Less(p.t, 50*sum.unread, sum.samples)
}

func within[T any](s *span, all []T, at func(T) time.Time) (out []T) {
	for _, a := range all {
		if s.has(at(a)) {
			out = append(out, a)
		}
	}
	return out
}

// batches are what was recorded of a switch. Polls are counted anew in each life.
func (p *play) batches(last *life, st *station, spans []*span, until time.Time) (out []*batch) {
	counts, err := last.series("toneout_switch_polls_total", st.name, "", "outcome")
	require.NoError(p.t, err)
	rises := map[int64]bool{}
	for outcome, samples := range counts {
		for i, s := range samples {
			if s.at > until.UnixMilli() {
				break
			}
			at := slices.IndexFunc(spans, func(l *span) bool { return l.has(time.UnixMilli(s.at)) })
			require.GreaterOrEqual(p.t, at, 0, "%s: something was recorded before the first daemon began", st.name)
			spans[at].recorded = true
			before := 0.0
			if i > 0 && spans[at].has(time.UnixMilli(samples[i-1].at)) {
				before = samples[i-1].value
			}
			rises[s.at] = rises[s.at] || outcome == "answered" && s.value > before
		}
	}
	for at, answered := range rises {
		out = append(out, &batch{at: at, answered: answered})
	}
	slices.SortFunc(out, func(a, b *batch) int { return cmp.Compare(a.at, b.at) })
	return out
}

// Polls that a kill may cost: the last of each switch, since the poll after it
// begins only once the daemon has taken it over, and what was answered as
// shortly before as a busy machine may need to write it. While history is being
// opened at the start, polls wait in memory.
const (
	flightTime  = 2 * pollEvery
	openingTime = 5 * time.Second
)

// pair finds the poll that each batch of a life tells of, and what is missing.
func (p *play) pair(st *station, s *span, polls []*poll, batches []*batch, sum *tally) {
	last := len(polls) - 1
	for last >= 0 && !p.whole(st, polls[last]) {
		last--
	}
	for i, q := range polls {
		next := s.next
		if i+1 < len(polls) {
			next = polls[i+1].first
		}
		failed := false
		var found *batch
		for _, b := range batches {
			switch at := time.UnixMilli(b.at); {
			case at.Before(q.first.Truncate(time.Millisecond)) || at.After(next) || b.poll != nil:
			case !b.answered:
				failed = true
			case found == nil:
				found = b
			}
		}
		if !p.whole(st, q) || found == nil && q.last.After(s.end) {
			continue
		}
		sum.polls++
		switch age := s.end.Sub(q.last); {
		case found != nil:
			found.poll, q.read = q, true
		case failed:
			sum.failed++
		case i == last, age < flightTime:
			sum.inFlight++
			sum.age = max(sum.age, age)
		case !s.recorded && s.end.Sub(s.life.began) < openingTime:
			sum.early++
		default:
			require.Fail(p.t, "a poll is missing", "%s answered it at %v; life %d from %v was killed %v later, at %v", st.name, q.last, s.life.number, s.life.began, age, s.end)
		}
	}
	for _, b := range batches {
		if b.answered && b.poll == nil && p.toldLate(st, polls, b) {
			continue
		}
		require.True(p.t, !b.answered || b.poll != nil, "%s: what was recorded at %v as an answered poll was none; there were %s", st.name, time.UnixMilli(b.at), p.around(st, polls, b))
	}
}

// toldLate tells whether a batch has the count of a poll of before that was answered and
// is missing, for which there is an excuse: with the count that a poll raised comes the
// next batch too, whatever became of its own poll.
func (p *play) toldLate(st *station, polls []*poll, b *batch) bool {
	for _, q := range polls {
		if p.whole(st, q) && !q.read && !q.told && q.last.Before(time.UnixMilli(b.at)) {
			q.told = true
			return true
		}
	}
	return false
}

// around tells of the polls about a batch.
func (p *play) around(st *station, polls []*poll, b *batch) (out []string) {
	for _, q := range polls {
		if q.first.Sub(time.UnixMilli(b.at)).Abs() < 3*pollEvery {
			out = append(out, fmt.Sprintf("%v to %v, whole %t, found %t", q.first, q.last, p.whole(st, q), q.read))
		}
	}
	return out
}

func (p *play) whole(st *station, q *poll) bool {
	return !slices.ContainsFunc(st.ports, func(port port) bool { return !q.whole(port.ifIndex) })
}

// metrics are those that are checked, and the objects that they come from.
var metrics = []struct {
	name, more string
	column     column
	value      func(q *poll, ifIndex uint32, v float64) bool // nil of a counter
}{
	{"toneout_port_up", "", operStatus, func(q *poll, ifIndex uint32, v float64) bool {
		return v == 1 && q.is(operStatus, ifIndex, 1) || v == 0 && q.is(operStatus, ifIndex, 2)
	}},
	{"toneout_port_speed_bits_per_second", "", highSpeed, func(q *poll, ifIndex uint32, v float64) bool {
		return q.is(highSpeed, ifIndex, uint64(v/1e6)) && q.is(operStatus, ifIndex, 1)
	}},
	{"toneout_port_received_bytes_total", "", inOctets, nil},
	{"toneout_port_sent_bytes_total", "", outOctets, nil},
	{"toneout_port_receive_errors_total", `, error="fcs"`, fcs, nil},
}

// checkPorts holds each sample of a switch's ports against the answer that it
// was made of.
func (p *play) checkPorts(last *life, st *station, spans []*span, batches []*batch, sum *tally) {
	for _, m := range metrics {
		all, err := last.series(m.name, st.name, m.more, "port")
		require.NoError(p.t, err)
		for _, port := range st.ports {
			c := &course{play: p, what: fmt.Sprintf("%s of %s %s", m.name, st.name, port.name), ifIndex: port.ifIndex, column: m.column, value: m.value, sum: sum}
			samples := map[int64]float64{}
			for _, s := range all[port.name] {
				samples[s.at] = s.value
			}
			for _, s := range spans {
				c.begin()
				for _, b := range within(s, batches, func(b *batch) time.Time { return time.UnixMilli(b.at) }) {
					value, there := samples[b.at]
					delete(samples, b.at)
					c.take(b, value, there)
				}
			}
			for at := range samples {
				require.Greater(p.t, at, batches[len(batches)-1].at, "%s: a sample of no poll, %v", c.what, samples[at])
			}
		}
	}
}

// course follows one series through the lives of daemons.
type course struct {
	*play
	what    string
	ifIndex uint32
	column  column
	value   func(q *poll, ifIndex uint32, v float64) bool
	sum     *tally

	read  bool     // an answer was, in this life
	bases []uint64 // what the counter may have stood at when it began to count
	last  float64  // sample
	kept  bool     // there is one
	gap   bool     // the latest answer was not read
}

func (c *course) begin() { c.read, c.bases, c.kept, c.gap = false, nil, false, false }

// take takes a batch with its sample, if there is one.
func (c *course) take(b *batch, value float64, there bool) {
	switch {
	case !b.answered: // says again what it said last, or nothing after some silence
		require.True(c.t, !there || c.kept && value == c.last, "%s at %v: %v without an answer", c.what, b.at, value)
		return
	case c.value != nil:
		c.gauge(b, value, there)
	default:
		c.counter(b, value, there)
	}
	c.read = true
	if there {
		c.sum.samples++
		c.last, c.kept = value, true
	}
}

func (c *course) gauge(b *batch, value float64, there bool) {
	if !there {
		require.True(c.t, c.column == highSpeed && b.poll.is(operStatus, c.ifIndex, 2), "%s at %v: no sample", c.what, b.at)
		c.kept = false
		return
	}
	require.True(c.t, c.value(b.poll, c.ifIndex, value), "%s at %v: %v, and the switch said %v", c.what, b.at, value, b.poll.values[cell{c.column, c.ifIndex}])
}

// counter counts from the first answer of a life on: exactly what the switch's
// own counter rose by since.
func (c *course) counter(b *batch, value float64, there bool) {
	said := b.poll.values[cell{c.column, c.ifIndex}]
	switch {
	case !c.read:
		require.False(c.t, there, "%s at %v: %v after the first answer of a life", c.what, b.at, value)
		c.bases, c.last = said, 0
	case !there:
		c.gap = true
		c.sum.unread++
	case c.gap: // it counts on from this answer
		require.Equal(c.t, c.last, value, "%s at %v", c.what, b.at)
		c.gap, c.bases = false, less(said, []uint64{uint64(value)})
	default:
		var fits []uint64
		for _, base := range c.bases {
			if slices.Contains(said, base+uint64(value)) {
				fits = append(fits, base)
			}
		}
		require.NotEmpty(c.t, fits, "%s at %v: %v, counted from %v, and the switch said %v", c.what, b.at, value, c.bases, said)
		c.bases = fits
	}
}

// less gives all differences.
func less(from, of []uint64) (out []uint64) {
	for _, a := range from {
		for _, b := range of {
			out = append(out, a-b)
		}
	}
	return out
}
