package sequential

import (
	"math"
	"math/bits"
	"time"
)

// sums are what is known of a stretch of polls. Seven digits are enough: what a
// day rounds off is less than a frame in a million.
type sums struct {
	bits, seconds          float32
	frames                 float32 // damaged ones
	largest                float32 // most damaged frames of one poll
	polls                  float32
	errored                float32 // polls with damaged frames
	repeats                float32 // of them those whose predecessor had some too
	longPolls, longErrored float32 // in dense episodes
	longFrames             float32
	widePolls, wideErrored float32 // in wide ones
}

// daySums are those of one day, packed: a port holds seven of them.
type daySums struct {
	bits, seconds, frames, largest, longFrames float32

	polls uint32

	errored, repeats, longPolls, longErrored, widePolls, wideErrored uint16
}

// mostADay is how many errored polls of a day are learned from, and how many in
// episodes: one in 1.3 s. What comes after them that day is judged alone.
const mostADay = math.MaxUint16

// waitingDays is how long what was learned waits before it counts: a climb is
// seen before it is taken for the port's way.
const waitingDays = 7

// halfLife of what a baseline remembers, in days learned from.
const halfLife = 30

var decay = float32(math.Exp2(-1.0 / halfLife))

// habit is a port's own way, learned day by day. Days in which nothing was
// learned do not count: a gap is a gap.
type habit struct {
	baseline sums
	bound    float32 // 95 % one-sided, on errored polls in as much traffic and time as the baseline's
	waiting  [waitingDays]daySums
	days     uint8 // waiting
	next     uint8 // place of the next day
	today    sums
	day      int32 // today's, since 1970 by UTC
}

// known tells whether there is a baseline.
func (h *habit) known() bool { return h.baseline.polls > 0 }

// usual is a poll as long with the traffic that the port has in the mean, by its
// baseline, else by today. Evidence comes to rest by that: one poll that is busy
// or idle changes nothing.
func (h *habit) usual(s *Sample) Sample {
	of, usual := &h.baseline, *s
	if !h.known() {
		of = &h.today
	}
	if of.seconds > 0 {
		usual.Bits = s.Seconds * float64(of.bits) / float64(of.seconds)
	}
	return usual
}

// Baseline is a port's own habit, of so many polls, the older of which count
// for less.
type Baseline struct {
	Polls, Bits, Seconds float64
	Errored              float64 // polls with damaged frames
	Frames               float64 // damaged ones
	Largest              uint64  // most damaged frames of one poll
}

// Baseline is the port's own habit; false in the first seven days.
func (d *Detector) Baseline() (Baseline, bool) {
	b := &d.habit.baseline
	return Baseline{
		Polls: float64(b.polls), Bits: float64(b.bits), Seconds: float64(b.seconds),
		Errored: float64(b.errored), Frames: float64(b.frames), Largest: uint64(b.largest),
	}, d.habit.known()
}

// dayOf is the day of a reading, since 1970 by UTC.
func dayOf(at time.Time) int32 {
	const day = 24 * 60 * 60
	return int32(math.Floor(float64(at.Unix()) / day))
}

// learn adds a poll to today, which ends where the reading is of a later day.
// A clock set back by less than a day does not end it. calm tells whether the
// evidence against the habit was at rest before the poll: a day that ends in
// suspicion is not learned from, for a slow climb must not be, while of a burst
// all or nothing is.
func (h *habit) learn(s *Sample, past history, calm bool) {
	if day := dayOf(s.At); day > h.day || day < h.day-1 {
		if calm && h.today.polls > 0 {
			h.turn()
		}
		h.today, h.day = sums{}, day
	}
	if h.today.errored < mostADay {
		h.today.add(s, past)
	}
}

// turn puts today with the days that wait, and what has waited for long enough
// into the baseline: the first seven days together, then one by one.
func (h *habit) turn() {
	if h.days == waitingDays {
		h.baseline.absorb(&h.waiting[h.next])
		h.days--
	}
	h.waiting[h.next] = h.today.packed()
	h.next = (h.next + 1) % waitingDays
	h.days++
	if !h.known() && h.days == waitingDays {
		for i := range h.waiting {
			h.baseline.absorb(&h.waiting[i])
		}
		h.days = 0
	}
	h.bound = float32(upperBound(float64(h.baseline.errored), 0.05))
}

func (t *sums) add(s *Sample, past history) {
	errored := float32(0)
	if s.Errored > 0 {
		errored = 1
	}
	frames := float32(s.Errored)
	t.bits += float32(s.Bits)
	t.seconds += float32(s.Seconds)
	t.frames += frames
	t.largest = max(t.largest, frames)
	t.polls++
	t.errored += errored
	if past.errored {
		t.repeats += errored
	}
	if past.dense() && t.longPolls < mostADay {
		t.longPolls++
		t.longErrored += errored
		t.longFrames += frames
	}
	if past.wide() && t.widePolls < mostADay {
		t.widePolls++
		t.wideErrored += errored
	}
}

func (t *sums) packed() daySums {
	return daySums{
		bits: t.bits, seconds: t.seconds, frames: t.frames, largest: t.largest, longFrames: t.longFrames,
		polls: uint32(t.polls), errored: uint16(t.errored), repeats: uint16(t.repeats),
		longPolls: uint16(t.longPolls), longErrored: uint16(t.longErrored),
		widePolls: uint16(t.widePolls), wideErrored: uint16(t.wideErrored),
	}
}

// absorb lets the sums fade by a day and adds one.
func (t *sums) absorb(d *daySums) {
	fade := func(sum *float32, by float32) { *sum = *sum*decay + by }
	count := func(sum *float32, by uint16) { fade(sum, float32(by)) }
	fade(&t.bits, d.bits)
	fade(&t.seconds, d.seconds)
	fade(&t.frames, d.frames)
	fade(&t.longFrames, d.longFrames)
	fade(&t.polls, float32(d.polls))
	count(&t.errored, d.errored)
	count(&t.repeats, d.repeats)
	count(&t.longPolls, d.longPolls)
	count(&t.longErrored, d.longErrored)
	count(&t.widePolls, d.widePolls)
	count(&t.wideErrored, d.wideErrored)
	t.largest = max(t.largest, d.largest)
}

// history tells what was errored lately: the last poll, and each of the last 64
// minutes, or polls where these take longer, the latest in the lowest bit. By
// minutes, so that polls of a second look back as far as a machine runs.
type history struct {
	slots    uint64
	minute   int32 // of the latest slot, since 1970
	errored  bool  // the last poll
	exceeded bool  // it exceeded every one on record
}

// dense: at least 5 of the 16 slots before were errored, as in a disturbance
// that goes on.
func (h history) dense() bool { return bits.OnesCount16(uint16(h.slots)) >= 5 }

// wide: at least 2 of the 64 slots before were errored, as while a machine
// runs that disturbs now and then.
func (h history) wide() bool { return bits.OnesCount64(h.slots) >= 2 }

func (h history) then(at time.Time, errored, exceeded bool) history {
	if minute := int32(at.Unix() / 60); minute != h.minute {
		h.slots, h.minute = h.slots<<1, minute
	}
	if h.errored, h.exceeded = errored, exceeded; errored {
		h.slots |= 1
	}
	return h
}
