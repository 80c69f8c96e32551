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
// of the last hour, within chance and what polls at different moments shift
// (common practice, no source).
const (
	leastPassedOn = 10  // frames, to tell that counts agree
	pollShift     = 0.2 // of a count
	chance        = 3   // standard deviations
)

// guardErrors: damaged frames that the switch at the other end received damaged
// are no fault of the cable between. What was found stands where nothing more
// can be: while that switch is silent, or hardly a frame is damaged any longer.
func (t *Tracker) guardErrors(f *finding) {
	p := f.port
	other := t.otherEnd(p)
	if other == nil {
		return
	}
	beyond := t.switches[other.ref.Switch].view
	if beyond.Silent == 0 && beyond.LastAnswer.Before(f.since) {
		f.hush(Guard{Name: PassedOn, Says: fmt.Sprintf("Held back until %s is read again: it may have received them damaged.", beyond.Name)})
		return
	}
	if beyond.Silent == 0 && p.hour.sum().Errored >= leastPassedOn {
		p.First = ""
		if first := t.upstream(p); first != nil {
			p.First = first.ref.String()
		}
	}
	if p.First == "" && beyond.Silent == 0 && p.hour.sum().Errored < leastPassedOn && t.damagedBeside(other) {
		f.hush(Guard{Name: PassedOn, Says: fmt.Sprintf("Held back until %d frames tell whether %s received them damaged, as it does others.", leastPassedOn, beyond.Name)})
		return
	}
	if p.First != "" {
		f.hush(Guard{Name: PassedOn, Says: p.First + " received about as many damaged frames at the same time, and its switch passed them on."})
		f.blame(UpstreamErrors)
	}
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
// one, which has received some for so long and is read every so often.
func (w *window) agrees(o *window, every, lasts time.Duration) bool {
	mine, theirs := w.sum().Errored, o.sum().Errored
	if mine < leastPassedOn || theirs < leastPassedOn || !alike(mine, theirs, every, lasts.Seconds()) {
		return false
	}
	size := int64(len(w.Parts))
	for n := max(w.Now, o.Now) - size + 1; n <= min(w.Now, o.Now); n++ {
		if n >= 0 && !alike(w.Parts[n%size].Errored, o.Parts[n%size].Errored, every, min(w.Parts[n%size].Seconds, lasts.Seconds())) {
			return false
		}
	}
	return true
}

// alike tells whether two counts over so many seconds may be of the same
// frames; what one poll counts may be missing from one of them.
func alike(a, b uint64, every time.Duration, seconds float64) bool {
	x, y := float64(a), float64(b)
	shift := pollShift + every.Seconds()/max(seconds, every.Seconds())
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
