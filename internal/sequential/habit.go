package sequential

import (
	"math"
	"math/bits"
	"time"
)

// sums are what is known of a stretch of polls.
type sums struct {
	bits, seconds float64
	frames        float64 // damaged ones
	longFrames    float64 // of them in long episodes
	polls         float32
	errored       float32 // polls with damaged frames
	repeats       float32 // of them those whose predecessor had some too
	longPolls     float32 // polls in long episodes
	longErrored   float32
	largest       float32 // most damaged frames of one poll
}

// daySums are those of one day, packed: a port holds seven of them.
type daySums struct {
	bits, seconds, frames, longFrames, largest      float32
	polls, errored, repeats, longPolls, longErrored uint16
}

// mostADay is how many polls of a day are learned from, which is one in 1.3 s;
// what comes after them that day is judged alone.
const mostADay = math.MaxUint16

// waitingDays is how long what was learned waits before it counts: a climb is
// seen before it is taken for the port's way.
const waitingDays = 7

// halfLife of what a port's baseline remembers, in days learned from.
const halfLife = 30

var decay = math.Exp2(-1.0 / halfLife)

// habit is a port's own way, learned day by day. Days in which nothing was
// learned do not count: a gap is a gap.
type habit struct {
	baseline sums
	bound    float32 // on errored polls in as much traffic or time as the baseline's, 95 % one-sided
	waiting  [waitingDays]daySums
	days     uint8 // waiting
	next     uint8 // oldest of the waiting, once there are seven
	today    sums
	day      int32 // today's, since 1970 by UTC
}

// known tells whether there is a baseline.
func (h *habit) known() bool { return h.baseline.polls > 0 }

// dayOf is the day of a reading, since 1970 by UTC.
func dayOf(at time.Time) int32 {
	const day = 24 * 60 * 60
	return int32(math.Floor(float64(at.Unix()) / day))
}

// learn adds a poll to today, which ends where the reading is of a later day.
// A clock set back by less than a day does not end it.
func (h *habit) learn(s *Sample, past history) {
	if day := dayOf(s.At); day > h.day || day < h.day-1 {
		h.turn()
		h.day = day
	}
	if h.today.polls < mostADay {
		h.today.add(s, past)
	}
}

// turn puts today with the days that wait, and what has waited for long enough
// into the baseline.
func (h *habit) turn() {
	if h.today.polls == 0 {
		return
	}
	if h.days == waitingDays {
		h.baseline.absorb(&h.waiting[h.next])
		h.bound = float32(upperBound(float64(h.baseline.errored), 0.05))
	} else {
		h.days++
	}
	h.waiting[h.next] = h.today.packed()
	h.next = (h.next + 1) % waitingDays
	h.today = sums{}
}

func (t *sums) add(s *Sample, past history) {
	t.polls++
	t.bits += s.Bits
	t.seconds += s.Seconds
	if past.long() {
		t.longPolls++
	}
	if s.Errored == 0 {
		return
	}
	t.errored++
	t.frames += float64(s.Errored)
	t.largest = max(t.largest, float32(s.Errored))
	if past.errored() {
		t.repeats++
	}
	if past.long() {
		t.longErrored++
		t.longFrames += float64(s.Errored)
	}
}

func (t *sums) packed() daySums {
	return daySums{
		bits: float32(t.bits), seconds: float32(t.seconds), frames: float32(t.frames), longFrames: float32(t.longFrames), largest: t.largest,
		polls: uint16(t.polls), errored: uint16(t.errored), repeats: uint16(t.repeats),
		longPolls: uint16(t.longPolls), longErrored: uint16(t.longErrored),
	}
}

// absorb lets the sums fade by a day and adds one.
func (t *sums) absorb(d *daySums) {
	fade := func(sum *float64, by float32) { *sum = *sum*decay + float64(by) }
	count := func(sum *float32, by uint16) { *sum = *sum*float32(decay) + float32(by) }
	fade(&t.bits, d.bits)
	fade(&t.seconds, d.seconds)
	fade(&t.frames, d.frames)
	fade(&t.longFrames, d.longFrames)
	count(&t.polls, d.polls)
	count(&t.errored, d.errored)
	count(&t.repeats, d.repeats)
	count(&t.longPolls, d.longPolls)
	count(&t.longErrored, d.longErrored)
	t.largest = max(t.largest, d.largest)
}

// history tells of the last sixteen polls which were errored, the latest in
// the lowest bit.
type history uint16

func (h history) errored() bool { return h&1 != 0 }

// episodeOf is how many of sixteen polls are errored in a long episode.
const episodeOf = 5

func (h history) long() bool { return bits.OnesCount16(uint16(h)) >= episodeOf }

func (h history) then(errored bool) history {
	h <<= 1
	if errored {
		h |= 1
	}
	return h
}
