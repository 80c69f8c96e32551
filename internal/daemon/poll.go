package daemon

import (
	"context"
	"hash/fnv"
	"sync/atomic"
	"time"

	"toneout/internal/port"
	"toneout/internal/snmp"
)

// answer is what one poll of one switch came to.
type answer struct {
	name    string
	at      time.Time // when it ended
	seconds float64   // how long it took
	poll    port.Poll
	err     error
	next    time.Duration // at least until the next poll begins, where that is more than the interval; else 0
}

// loop asks one switch at its own moments.
type loop struct {
	name    string
	poller  Poller
	clock   Clock
	answers chan<- answer
	every   atomic.Int64                       // the interval, a time.Duration
	wake    atomic.Pointer[context.CancelFunc] // ends the present rest
}

func newLoop(name string, p Poller, every time.Duration, clock Clock, answers chan<- answer) *loop {
	l := &loop{name: name, poller: p, clock: clock, answers: answers}
	l.every.Store(int64(every))
	l.wake.Store(new(context.CancelFunc(func() {})))
	return l
}

// changeTo changes the interval at once, a rest under way included.
func (l *loop) changeTo(every time.Duration) {
	if l.every.Swap(int64(every)) != int64(every) {
		(*l.wake.Load())()
	}
}

// run asks until ctx is done.
func (l *loop) run(ctx context.Context) {
	defer l.poller.Close()
	var p pace
	for l.rest(ctx, &p) {
		a := l.ask(ctx, &p)
		if ctx.Err() != nil {
			return
		}
		select {
		case l.answers <- a:
		case <-ctx.Done():
			return
		}
	}
}

// rest waits for the moment of the next poll; false where ctx is done. A wake
// that comes before the interval is read is not missed: it was stored first.
func (l *loop) rest(ctx context.Context, p *pace) bool {
	for {
		rest, wake := context.WithCancel(ctx)
		l.wake.Store(&wake)
		p.change(l.name, time.Duration(l.every.Load()), l.clock.Now())
		err := l.clock.Until(rest, p.next)
		wake()
		if err == nil || ctx.Err() != nil {
			return ctx.Err() == nil
		}
	}
}

func (l *loop) ask(ctx context.Context, p *pace) answer {
	ctx, cancel := context.WithTimeout(ctx, p.deadline())
	defer cancel()
	began := l.clock.Now()
	poll, err := l.poller.Poll(ctx)
	ended := l.clock.Now()
	a := answer{name: l.name, at: ended, seconds: ended.Sub(began).Seconds(), poll: poll, err: err}
	if p.polled(began, ended, busy(l.poller)); p.interval > p.every {
		a.next = p.interval
	}
	return a
}

// Limits of how a switch is asked. A poll ends before the next is due, so that
// a slow switch never has two under way. An agent is not kept busy for more
// than a fifth of the time, since many share a small processor with what the
// switch is there for (common practice, no source); what takes it longer than
// the interval allows is asked less often.
const (
	deadlineShare = 0.9
	dutyDivisor   = 5  // the next poll begins no sooner than so many times the last one's work
	mostStretched = 10 // times the interval: the least often that a switch is asked
)

// pace says when one switch is asked next.
type pace struct {
	every    time.Duration // as configured
	interval time.Duration // as the agent bears it
	began    time.Time     // the last poll; zero before the first
	next     time.Time
}

// change takes the configured interval; a new one counts from the last poll.
func (p *pace) change(name string, every time.Duration, now time.Time) {
	switch {
	case p.every == every:
		return
	case p.began.IsZero():
		p.next = now.Add(firstDelay(name, every))
	default:
		p.next = p.began.Add(every)
	}
	p.every, p.interval = every, every
}

// polled takes when a poll began and ended and for how long the agent worked
// on it. A poll that took too long makes the loop skip moments, not hurry.
func (p *pace) polled(began, now time.Time, busy time.Duration) {
	p.began = began
	p.interval = min(max(p.every, dutyDivisor*busy), mostStretched*p.every)
	for !p.next.After(now) {
		p.next = p.next.Add(p.every)
	}
	if earliest := began.Add(p.interval); p.interval > p.every && p.next.Before(earliest) {
		p.next = earliest
	}
}

// deadline is how long the next poll may take. It grows with the interval as
// far as the least frequency leaves the agent its rest.
func (p *pace) deadline() time.Duration {
	return min(time.Duration(deadlineShare*float64(p.interval)), mostStretched*p.every/dutyDivisor)
}

// firstDelay spreads the switches over an interval, the same way at each
// start.
func firstDelay(name string, every time.Duration) time.Duration {
	h := fnv.New64a()
	h.Write([]byte(name))
	return time.Duration(h.Sum64() % uint64(every))
}

// busy is for how long the agent worked on the last poll, 0 where that is not
// told.
func busy(p Poller) time.Duration {
	if told, ok := p.(interface{ Traffic() snmp.Traffic }); ok {
		return told.Traffic().Busy
	}
	return 0
}
