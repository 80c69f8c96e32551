package daemon

import (
	"sync"
	"time"

	"toneout/internal/journal"
)

// waitingRoom holds what waits for the journal. It is bounded, so that a journal
// that is away for long costs events and not the daemon. Where there are
// checkpoints, an event waits for one that holds what it tells: whatever the
// journal has of a fault, the next daemon knows too.
type waitingRoom struct {
	mutex  sync.Mutex
	events []waiting
	free   int // of them may be written, the first ones
	added  int // in all
	lost   int
	held   bool // each, until it is freed
	wake   chan struct{}
	wanted func() // a checkpoint is; never nil
}

// waiting is something to write: what became of a fault, or an event.
type waiting struct {
	fault happening
	event journal.Event // where it has an id
	again bool          // it waited already before a restart, and may have been written
}

// mostWaiting is how many events wait at most; one of a fault takes some 10 KB.
const mostWaiting = 5000

func newWaitingRoom() *waitingRoom {
	return &waitingRoom{wake: make(chan struct{}, 1), wanted: func() {}}
}

// add never waits. What finds no room is counted and lost.
func (r *waitingRoom) add(events ...waiting) {
	if len(events) == 0 {
		return
	}
	r.mutex.Lock()
	room := min(len(events), mostWaiting-len(r.events))
	r.events = append(r.events, events[:room]...)
	r.added += room
	r.lost += len(events) - room
	wanted := r.wanted
	r.mutex.Unlock()
	if r.held {
		wanted()
	} else {
		r.release(r.mark())
	}
}

// whenHeld has want called once something waits to be freed.
func (r *waitingRoom) whenHeld(want func()) {
	r.mutex.Lock()
	r.wanted = want
	waits := r.free < len(r.events)
	r.mutex.Unlock()
	if waits {
		want()
	}
}

// mark stands for what was added so far, and release frees that.
func (r *waitingRoom) mark() int {
	r.mutex.Lock()
	defer r.mutex.Unlock()
	return r.added
}

func (r *waitingRoom) release(mark int) {
	r.mutex.Lock()
	r.free = max(r.free, len(r.events)-(r.added-mark))
	r.mutex.Unlock()
	select {
	case r.wake <- struct{}{}:
	default: // it is awake
	}
}

// releaseAll frees what is left, once it is freed otherwise or after so long.
func (r *waitingRoom) releaseAll(after time.Duration) {
	timer := time.NewTimer(after)
	defer timer.Stop()
	for waits := true; waits; {
		r.mutex.Lock()
		waits = r.free < len(r.events)
		r.mutex.Unlock()
		if waits {
			select {
			case <-r.wake:
			case <-timer.C:
				r.release(r.mark())
			}
		}
	}
}

// first gives what waits longest of what is free; done takes it out.
func (r *waitingRoom) first(most int) []waiting {
	r.mutex.Lock()
	defer r.mutex.Unlock()
	n := min(most, r.free)
	return r.events[:n:n]
}

func (r *waitingRoom) done(n int) {
	r.mutex.Lock()
	defer r.mutex.Unlock()
	r.events = append([]waiting(nil), r.events[n:]...)
	r.free -= n
}

func (r *waitingRoom) count() (waiting, lost int) {
	r.mutex.Lock()
	defer r.mutex.Unlock()
	return len(r.events), r.lost
}
