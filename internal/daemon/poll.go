package daemon

import (
	"context"
	"hash/fnv"
	"time"

	"toneout/internal/port"
)

// answer is what one poll of one switch came to.
type answer struct {
	name    string
	at      time.Time // when it ended
	seconds float64   // how long it took
	poll    port.Poll
	err     error
}

// deadlineShare is how much of the interval a poll may take, so that a slow
// switch never has two polls under way.
const deadlineShare = 0.9

// pollLoop asks one switch at its own moments until ctx is done. A poll that
// took too long makes it skip moments, not hurry.
func pollLoop(ctx context.Context, o Options, name string, p Poller, answers chan<- answer) {
	next := o.Clock.Now().Add(firstDelay(name, o.PollEvery))
	for o.Clock.Until(ctx, next) == nil {
		a := pollOnce(ctx, o, name, p)
		if ctx.Err() != nil {
			return
		}
		select {
		case answers <- a:
		case <-ctx.Done():
			return
		}
		for now := o.Clock.Now(); !next.After(now); {
			next = next.Add(o.PollEvery)
		}
	}
}

func pollOnce(ctx context.Context, o Options, name string, p Poller) answer {
	ctx, cancel := context.WithTimeout(ctx, time.Duration(deadlineShare*float64(o.PollEvery)))
	defer cancel()
	began := o.Clock.Now()
	poll, err := p.Poll(ctx)
	ended := o.Clock.Now()
	return answer{name: name, at: ended, seconds: ended.Sub(began).Seconds(), poll: poll, err: err}
}

// firstDelay spreads the switches over an interval, the same way at each
// start.
func firstDelay(name string, every time.Duration) time.Duration {
	h := fnv.New64a()
	h.Write([]byte(name))
	return time.Duration(h.Sum64() % uint64(every))
}
