package sequential

import "math"

// guard is what the baseline says of the polls that come next.
//
// For m: with as many polls as it has seen errored, the mean number of errored
// polls in as much traffic or time as it has seen is bound at most. For mu:
// bursts may last, so after an errored poll the next is one more often.

const (
	// oneSided is the 95 % quantile of the normal distribution.
	oneSided = 1.645
	// noneSeen is the bound on the mean of a count of which none was seen,
	// -ln 0.05: so much is allowed to records.
	noneSeen = 2.996
	// assumedFrames is added to the damaged frames seen, so that the first
	// burst of a port that knows none may be a large one.
	assumedFrames = 30
	// often is the share of errored polls from which on another errored poll
	// tells nothing, and only the size of the loss counts.
	often = 0.1
	// longKnown is how many polls in episodes tell how these go on.
	longKnown = 50
)

var (
	absoluteWeights = weights{size: 0.5, errored: 0.5}
	relativeWeights = weights{size: 0.4, errored: 0.4, record: 0.2}
	oftenWeights    = weights{size: 0.6, record: 0.4}
)

// oftenErrored tells whether errored polls are an everyday matter.
func (t *sums) oftenErrored() bool { return t.errored > often*t.polls }

func (t *sums) weights() *weights {
	if t.oftenErrored() {
		return &oftenWeights
	}
	return &relativeWeights
}

// share is the poll's part of all that the baseline saw: of its traffic or of
// its time, whichever is larger, so that errors that follow either are allowed.
func (t *sums) share(s *Sample) float64 {
	return max(s.Bits/float64(t.bits), s.Seconds/float64(t.seconds))
}

// perErrored bounds the damaged frames of an errored poll.
func perErrored(frames, errored float32) float64 {
	return (float64(frames) + assumedFrames) / (float64(errored) + 1)
}

// goesOn bounds the chance that a poll is errored of whose like again of so
// many were. Where there were none it is small, so that a clean port's first
// fault is seen soon.
func goesOn(again, of float32) float64 {
	n := float64(of) + 2
	rho := min(1, (float64(again)+0.2)/n)
	if of > 0 {
		rho += oneSided * math.Sqrt(rho*(1-rho)/n)
	}
	return min(1, rho)
}

// means bound what each channel has in the mean in such a share of what the
// baseline saw.
func (h *habit) means(share float64) means {
	v := float64(h.bound) * share
	return means{
		size:    perErrored(h.baseline.frames, h.baseline.errored) * v,
		errored: min(1, v),
		record:  min(1, noneSeen*share),
	}
}

// wagers are the bets on a poll against the port's own habit.
func (h *habit) wagers(s *Sample, past history) wagers {
	b := &h.baseline
	seen, above := indicators(s, b.largest)
	first := 0.0
	if b.largest < 1 {
		first = 1
	}
	frames := perErrored(b.frames, b.errored)
	w := wagers{
		size:    {x: float64(s.Errored), one: 1},
		errored: {x: seen, one: 1},
		record:  {x: above, one: first},
	}
	for c, m := range h.means(b.share(s)) {
		w[c].m, w[c].mu = m, m
	}
	if past.errored {
		rho := goesOn(b.repeats, b.errored)
		w.allow(rho*frames, rho, min(rho, 3*rho/(float64(b.errored)+1)))
		switch {
		case past.exceeded && b.oftenErrored():
			w.allow(0, 0, 0.1)
		case past.exceeded:
			w.allow(0, 0, rho)
		}
	}
	if past.dense() && b.longPolls >= longKnown {
		rho := goesOn(b.longErrored, b.longPolls)
		w.allow(rho*perErrored(b.longFrames, b.longErrored), rho, rho*min(1, 3/(float64(b.longErrored)+1)))
	}
	if past.wide() && b.widePolls >= longKnown {
		rho := goesOn(b.wideErrored, b.widePolls)
		w.allow(rho*frames, rho, rho*min(1, 3/(float64(b.errored)+1)))
	}
	return w
}

func indicators(s *Sample, largest float32) (seen, above float64) {
	if s.Errored > 0 {
		seen = 1
	}
	if float32(s.Errored) > largest {
		above = 1
	}
	return seen, above
}

// allow raises the bounds to what may be.
func (w *wagers) allow(frames, seen, above float64) {
	w[size].mu = max(w[size].mu, frames)
	w[errored].mu = max(w[errored].mu, seen)
	w[record].mu = max(w[record].mu, above)
}

// against are the bets on a poll that may have so many errors.
func against(s *Sample, allowed float64) wagers {
	seen, _ := indicators(s, 0)
	m := meansOf(allowed)
	return wagers{size: {float64(s.Errored), m[size], m[size], 1}, errored: {seen, m[errored], m[errored], 1}}
}

// meansOf are those of a poll that may have so many errors.
func meansOf(allowed float64) means { return means{size: allowed, errored: min(1, allowed)} }
