package fault

import (
	"fmt"
	"math"
	"slices"
	"time"

	"toneout/internal/port"
)

// Switches that send a frame on while it still comes in pass damaged ones on,
// so that each port on the way counts the same frames: only the first is to be
// blamed. Two counts are of the same frames where they agree in every ten minutes
// of the last hour and in the whole of it, within chance and what polls at different moments shift
// (common practice, no source).
const (
	leastPassedOn = 10  // frames, to tell that counts agree
	pollShift     = 0.2 // of a count in ten minutes
	wholeShift    = 0.1 // of the count in an hour
	pollsApart    = 5   // to tell that they do not
	chance        = 3   // standard deviations

	trickleWaits   = 24 * time.Hour     // for as many, since others were last seen
	longestTrickle = 7 * 24 * time.Hour // and at most
)

// passage is what was found of whether a port's damaged frames came to it so.
type passage struct {
	Asked  time.Time // first, in this episode
	First  string    // the port that received first what this one received damaged; "" for this one
	Beside time.Time // when other ports of the switch beyond last had received some, in its last hour
	Enough time.Time // since when there are enough to tell; zero while there are not
	Told   bool      // whether it was let through
	Before trickle   // as of when it was first asked
	Slowly bool      // First rests on what came since then
	Agreed time.Time // since when the counts agree
	Apart  time.Time // since when they agree no longer; zero while they do
}

// apartLasts is for how long counts have to differ, at most, before what was found
// stands no longer: what one switch counted in its latest poll another counts in its
// next. What agreed for a short time may have done so by chance, and stands no longer
// than that.
const apartLasts = 2 * windowPart

// take takes which port is the first by the counts up to now, if any.
func (p *passage) take(first *portState, now time.Time) {
	switch {
	case first != nil:
		if p.First == "" {
			p.Agreed = now
		}
		p.First, p.Apart, p.Slowly = first.ref.String(), time.Time{}, false
	case p.First == "":
	case p.Apart.IsZero():
		p.Apart = now
	}
	if !p.Apart.IsZero() && now.Sub(p.Apart) >= min(apartLasts, p.Apart.Sub(p.Agreed)) {
		p.First, p.Apart = "", time.Time{}
	}
}

// trickle is what a port received damaged in all, and the other ports of the switch
// beyond together, which do not tell of it by the hour where it is little.
type trickle struct{ Mine, Theirs uint64 }

// since is what came since another time; counts that were reset begin anew there.
func (c trickle) since(from *trickle) trickle {
	if c.Mine < from.Mine || c.Theirs < from.Theirs {
		*from = c
	}
	return trickle{c.Mine - from.Mine, c.Theirs - from.Theirs}
}

// passed tells whether theirs may be the same frames.
func (c trickle) passed() bool {
	mine, theirs := float64(c.Mine), float64(c.Theirs)
	return c.Mine >= leastPassedOn && math.Abs(mine-theirs) <= chance*math.Sqrt(mine+theirs)+pollShift*max(mine, theirs)
}

// slowly takes a trickle, where no hour has enough to tell. What was told once is not
// taken back so, and what was found is not by too few, as after a restart.
func (p *passage) slowly(most *portState, came trickle, now time.Time) {
	switch passed := most != nil && came.passed(); {
	case passed && p.First == "" && !p.Told:
		p.First, p.Agreed, p.Slowly = most.ref.String(), now, true
	case !passed && p.Slowly && came.Mine >= leastPassedOn:
		p.First, p.Slowly = "", false
	}
}

// early tells whether it is too early to tell, so many having come damaged in the last
// hour: few, or some for less than so long, while the switch beyond receives such frames
// too. What was told once is not taken back so.
func (p *passage) early(damaged uint64, came trickle, beside bool, now time.Time, long time.Duration) bool {
	if beside {
		p.Beside = now
	}
	switch {
	case damaged < leastPassedOn:
		p.Enough = time.Time{}
	case p.Enough.IsZero():
		p.Enough = now
	}
	few := p.Enough.IsZero() && came.Mine < leastPassedOn && now.Sub(p.Asked) < longestTrickle
	early := now.Sub(p.Beside) < trickleWaits && (few || !p.Enough.IsZero() && now.Sub(p.Enough) < long)
	p.Told = p.Told || !early
	return !p.Told
}

// guardErrors: damaged frames that the switch at the other end received damaged
// are no fault of the cable between. What was found stands where nothing more
// can be: while that switch is silent, or hardly a frame is damaged any longer.
func (t *Tracker) guardErrors(f *finding) {
	p := f.port
	other := t.otherEnd(p)
	if other == nil {
		return
	}
	most, all := t.trickle(p, other)
	if p.Passed.Asked.IsZero() {
		p.Passed.Asked, p.Passed.Before = p.reading.At, all
	}
	beyond := t.switches[other.ref.Switch].view
	if beyond.Silent == 0 && beyond.LastAnswer.Before(p.Passed.Asked) {
		f.hush(Guard{Name: PassedOn, Says: fmt.Sprintf("Held back until %s is read again: it may have received them damaged.", beyond.Name)})
		return
	}
	damaged := p.hour.sum().Errored
	least := uint64(leastPassedOn)
	if p.Passed.Slowly { // an hour of a trickle has to say more than it does by chance
		least *= 5
	}
	if beyond.Silent == 0 && damaged >= least {
		p.Passed.take(t.upstream(p), p.reading.At)
	}
	came := all.since(&p.Passed.Before)
	if beyond.Silent == 0 && damaged < least {
		p.Passed.slowly(most, came, p.reading.At)
	}
	first := p.Passed.First
	if first == "" && beyond.Silent == 0 && p.Passed.early(damaged, came, t.damagedBeside(other), p.reading.At, pollsApart*t.settings.PollEvery) {
		f.hush(Guard{Name: PassedOn, Says: fmt.Sprintf("Held back until %d frames and %d polls tell whether %s received them damaged, as it does others.", leastPassedOn, pollsApart, beyond.Name)})
		return
	}
	if first != "" {
		f.hush(Guard{Name: PassedOn, Says: first + " received about as many damaged frames at the same time, and its switch passed them on."})
		f.blame(UpstreamErrors)
	}
}

// trickle gives what a port and the others of the switch at its other end received
// damaged since they were first read, and which of those the most.
func (t *Tracker) trickle(p, other *portState) (most *portState, all trickle) {
	all.Mine, _ = p.totals.ErroredBy(p.errors.Source)
	var worst uint64
	for _, o := range t.switches[other.ref.Switch].order {
		if o == other || o.errors.Source == port.RMON {
			continue
		}
		n, _ := o.totals.ErroredBy(o.errors.Source)
		if all.Theirs += n; n > worst {
			most, worst = o, n
		}
	}
	return most, all
}

// damagedBeside tells whether another port of the same switch received damaged frames
// in the last hour, which may be those that this one sent on.
func (t *Tracker) damagedBeside(p *portState) bool {
	return slices.ContainsFunc(t.switches[p.ref.Switch].order, func(o *portState) bool {
		return o != p && o.errors.Source != port.RMON && o.hour.sum().Errored > 0
	})
}

// upstream is the first port on the way that received the damaged frames of a
// port; nil where that is the port itself, or the way leads round in a ring.
func (t *Tracker) upstream(p *portState) (first *portState) {
	seen := map[*portState]bool{p: true}
	for at := p; ; at = first {
		next := t.passedOnFrom(at)
		if next == nil {
			return first
		}
		if seen[next] {
			return nil
		}
		seen[next] = true
		first = next
	}
}

// passedOnFrom is the port of the switch at the other end that received most of
// the frames that a port counts as damaged; nil where these don't agree.
func (t *Tracker) passedOnFrom(p *portState) (most *portState) {
	other := t.otherEnd(p)
	if other == nil {
		return nil
	}
	s := t.switches[other.ref.Switch]
	if s.view.Silent > 0 {
		return nil
	}
	var together window
	for _, q := range s.order {
		// RMON's count may hold the frames that a port sent
		if q == other || q == p || q.errors.Source == port.RMON {
			continue
		}
		n := q.hour.sum().Errored
		if n == 0 {
			continue
		}
		together.addAll(&q.hour)
		if most == nil || n > most.hour.sum().Errored {
			most = q
		}
	}
	every, lasts := t.settings.PollEvery, p.reading.At.Sub(p.errors.Since)
	if most == nil || !p.hour.agrees(&together, every, lasts) && !p.hour.agrees(&most.hour, every, lasts) {
		return nil
	}
	return most
}

// agrees tells whether another port's hour may show the damaged frames of this
// one, which has received some for so long and is read every so often. What one count
// has too many in one part the other may have in the next, where a burst came between
// their polls.
func (w *window) agrees(o *window, every, lasts time.Duration) bool {
	mine, theirs := w.sum().Errored, o.sum().Errored
	if mine < leastPassedOn || theirs < leastPassedOn || !alike(float64(mine), float64(theirs), wholeShift, every, lasts.Seconds()) {
		return false
	}
	size, last := int64(len(w.Parts)), min(w.Now, o.Now)
	var over float64 // what the part before has too many, or too few
	for n := max(last-size+1, 0); n <= last; n++ {
		a, b, seconds := float64(w.Parts[n%size].Errored), float64(o.Parts[n%size].Errored), min(w.Parts[n%size].Seconds, lasts.Seconds())
		switch {
		case alike(a, b, pollShift, every, seconds), over != 0 && alike(a+max(over, 0), b+max(-over, 0), pollShift, every, seconds):
			over = 0
		case over == 0:
			over = a - b
		default:
			return false
		}
	}
	return over == 0
}

// alike tells whether two counts over so many seconds may be of the same
// frames; what one poll counts may be missing from one of them, and a part besides.
func alike(x, y, shift float64, every time.Duration, seconds float64) bool {
	shift += every.Seconds() / max(seconds, every.Seconds())
	return math.Abs(x-y) <= chance*math.Sqrt(x+y)+shift*max(x, y)
}

// addAll adds what another window counted as damaged.
func (w *window) addAll(o *window) {
	if w.Now < o.Now {
		was := *w
		*w = window{Now: o.Now}
		w.addAll(&was)
	}
	size := int64(len(w.Parts))
	for n := max(w.Now-size+1, o.Now-size+1, 0); n <= o.Now; n++ {
		w.Parts[n%size].Errored += o.Parts[n%size].Errored
	}
}
