package notify

import (
	"cmp"
	"slices"
	"sync"
	"time"
)

// Bounds of what is held for an Alertmanager, however long it is away.
const (
	maxHeld     = 10_000
	maxBatch    = 64
	keepClosed  = 15 * time.Minute // a closing that could not be told in this time is given up
	endsRepeats = 4                // an open alert ends by itself after so many repeats,
	endsAfter   = 5 * time.Minute  // but not before this
)

// Back-off after failures, doubled at each.
const (
	firstPause = time.Second
	lastPause  = time.Minute
)

// queue is what one Alertmanager is to be told, and when. It is given the
// time, and is safe for concurrent use.
type queue struct {
	repeat, linger time.Duration
	chance         func() float64 // in [0, 1)
	room           int            // for so many alerts

	mu       sync.Mutex
	held     map[identity]*held
	fresh    bool // whether something was put since that was last asked
	overfull bool // whether an open alert found no room
	failures int  // in a row
	retryAt  time.Time
}

// held is one alert and what the Alertmanager knows of it.
type held struct {
	alert *alert
	due   time.Time
	tried bool // it may know of it
	told  bool // it knows of it, as it last was
}

// sending is an alert on its way.
type sending struct {
	*held
	alert *alert
}

// put takes an alert that opened, changed or closed, and tells whether there
// was room. What only changed its words waits for its repeat.
func (q *queue) put(a *alert, now time.Time) (taken bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	h := q.held[a.identity]
	open := a.ended.IsZero()
	q.fresh = true
	switch {
	case h == nil && !open: // it was never told
	case h == nil && len(q.held) >= q.room:
		q.overfull = true
		return false
	case h == nil:
		q.held[a.identity] = &held{alert: a, due: now}
	case open:
		if !h.alert.ended.IsZero() {
			h.due, h.told = now, false
		}
		h.alert = a
	case !h.tried:
		delete(q.held, a.identity)
	default:
		h.alert, h.due, h.told = a, a.ended.Add(q.linger), false
	}
	return true
}

// renewed tells once whether something was put.
func (q *queue) renewed() bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	defer func() { q.fresh = false }()
	return q.fresh
}

// next gives what is due, at most a batch, and what has never been told before
// what is repeated; else the moment to ask again. A closing that is too old
// is given up, and counted.
func (q *queue) next(now time.Time) (batch []sending, moment time.Time, givenUp int) {
	q.mu.Lock()
	defer q.mu.Unlock()
	givenUp = q.giveUp(now)
	if now.Before(q.retryAt) {
		return nil, q.retryAt, givenUp
	}
	moment = now.Add(q.repeat)
	for _, h := range q.held {
		if h.due.After(now) {
			moment = earlier(moment, h.due)
			continue
		}
		batch = append(batch, sending{h, h.alert})
	}
	return first(batch), moment, givenUp
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

func (q *queue) giveUp(now time.Time) (n int) {
	for id, h := range q.held {
		if !h.alert.ended.IsZero() && now.Sub(h.alert.ended) > keepClosed {
			delete(q.held, id)
			n++
		}
	}
	return n
}

// last gives at a stop what the Alertmanager does not know yet: nothing where
// it just failed. Open alerts stay open, since a restart is no repair.
func (q *queue) last(now time.Time) (batch []sending) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if now.Before(q.retryAt) {
		return nil
	}
	for _, h := range q.held {
		if !h.told {
			batch = append(batch, sending{h, h.alert})
		}
	}
	return first(batch)
}

// first is a batch of the most urgent. From then on it may arrive, whatever is heard of it.
func first(all []sending) []sending {
	slices.SortFunc(all, func(a, b sending) int {
		if a.told != b.told {
			return cmp.Compare(number(a.told), number(b.told))
		}
		return a.due.Compare(b.due)
	})
	all = all[:min(len(all), maxBatch)]
	for _, s := range all {
		s.tried = true
	}
	return all
}

func number(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// arrived notes that a batch was taken, or refused so that it is of no use to
// send it again: what is open is repeated all the same.
func (q *queue) arrived(batch []sending, now time.Time) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.failures, q.retryAt = 0, time.Time{}
	for _, s := range batch {
		switch {
		case q.held[s.alert.identity] != s.held || !s.held.alert.ended.Equal(s.alert.ended): // it closed or opened meanwhile
		case s.alert.ended.IsZero():
			s.due, s.told = now.Add(q.repeat), true
		default:
			delete(q.held, s.alert.identity)
		}
	}
}

// failed notes that a batch is to be sent again after a pause.
func (q *queue) failed(now time.Time) {
	q.mu.Lock()
	defer q.mu.Unlock()
	pause := min(firstPause<<min(q.failures, 10), lastPause)
	pause = max(firstPause, pause/2+time.Duration(q.chance()*float64(pause/2)))
	q.failures++
	q.retryAt = now.Add(pause)
}

// wants tells whether an open alert found no room and there is some now.
func (q *queue) wants() bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	if !q.overfull || len(q.held) >= q.room {
		return false
	}
	q.overfull = false
	return true
}
