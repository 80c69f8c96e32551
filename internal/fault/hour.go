package fault

import (
	"fmt"
	"math"
	"time"

	"toneout/internal/port"
	"toneout/internal/sequential"
)

// Hour is what a port received in the last hour, as far as readings compare.
type Hour struct {
	Seconds float64
	Frames  uint64 // good and damaged
	Bits    float64
	Errored uint64 // damaged
	Judged  Judged
}

// Judged is the part of what was received during which the switch counted
// damaged frames. It is zero where it never did.
type Judged struct {
	Seconds float64
	Frames  uint64
	Bits    float64
}

// Counted tells whether damaged frames were counted at all.
func (h Hour) Counted() bool { return h.Judged.Seconds > 0 }

// received is what a port received between two readings, with damaged frames
// as one source counts them.
func received(inc *port.Increments, source port.ErrorSource) Hour {
	good, _ := inc.Counters.FramesIn()
	errored, counted := inc.Counters.ErroredBy(source)
	h := Hour{Seconds: inc.Seconds, Frames: good + errored, Bits: bitsIn(inc, errored), Errored: errored}
	if counted {
		h.Judged = Judged{h.Seconds, h.Frames, h.Bits}
	}
	return h
}

// Frame sizes of IEEE 802.3 3.2.7 and 4.2.3 without tag.
const (
	minFrameBits = 8 * 64
	maxFrameBits = 8 * 1518
)

// bitsIn is how many bits were received, 0 where neither octets nor frames
// are told. Octets of damaged frames may be left out of the count, so each
// counts as the shortest frame at least. Where octets are not told, frames
// count as the longest that is usual, which rather delays an alarm than causes
// one.
func bitsIn(inc *port.Increments, errored uint64) float64 {
	least := float64(errored) * minFrameBits
	if octets, ok := inc.Counters.Get(port.InOctets); ok {
		return max(8*float64(octets), least)
	}
	if good, ok := inc.Counters.FramesIn(); ok {
		return max(float64(good)*maxFrameBits, least)
	}
	return 0
}

// window keeps the last hour in six parts of ten minutes.
type window struct {
	Parts [6]part
	Now   int64 // number of the latest part since the epoch

	past   part  // the sum of all but the latest
	pastOf int64 // the latest when it was worked out
}

// part is what came in ten minutes.
type part struct {
	Hour
	LinkChanges    int
	LateCollisions uint64
}

const windowPart = 10 * time.Minute

func (w *window) add(at time.Time, p part) {
	now := at.UnixNano() / int64(windowPart)
	if now < w.Now { // the clock was set back
		*w = window{Now: now}
	}
	for w.Now < now {
		w.Now = max(w.Now+1, now-int64(len(w.Parts))+1)
		w.Parts[w.Now%int64(len(w.Parts))] = part{}
	}
	latest := &w.Parts[now%int64(len(w.Parts))]
	*latest = latest.plus(&p)
}

// forgetErrors drops what was judged, which another source counted.
func (w *window) forgetErrors() {
	for i := range w.Parts {
		w.Parts[i].Errored, w.Parts[i].Judged = 0, Judged{}
	}
	w.pastOf = 0
}

// changedLately is how often the link changed in the last 10 to 20 minutes, at
// least.
func (w *window) changedLately(at time.Time) (changes int) {
	now := at.UnixNano() / int64(windowPart)
	for n := max(now-1, w.Now-int64(len(w.Parts))+1, 0); n <= w.Now; n++ {
		changes += w.Parts[n%int64(len(w.Parts))].LinkChanges
	}
	return changes
}

// worst is the ratio of damaged frames in the worst part; zero where none tells.
func (w *window) worst() (most Ratio) {
	for i := range w.Parts {
		ratio, _ := w.Parts[i].FrameErrors()
		most = worst(most, ratio)
	}
	return most
}

// lately is that of the last two parts together.
func (w *window) lately() Ratio {
	size := int64(len(w.Parts))
	both := w.Parts[w.Now%size].plus(&w.Parts[(w.Now+size-1)%size])
	ratio, _ := both.FrameErrors()
	return ratio
}

// sum is the last hour as of the last reading.
func (w *window) sum() part {
	latest := &w.Parts[w.Now%int64(len(w.Parts))]
	if w.pastOf != w.Now {
		w.past, w.pastOf = part{}, w.Now
		for i := range w.Parts {
			if p := &w.Parts[i]; p != latest {
				w.past = w.past.plus(p)
			}
		}
	}
	return w.past.plus(latest)
}

func (p *part) plus(o *part) part {
	return part{
		Hour: Hour{
			p.Seconds + o.Seconds, p.Frames + o.Frames, p.Bits + o.Bits, p.Errored + o.Errored,
			Judged{p.Judged.Seconds + o.Judged.Seconds, p.Judged.Frames + o.Judged.Frames, p.Judged.Bits + o.Judged.Bits},
		},
		LinkChanges: p.LinkChanges + o.LinkChanges, LateCollisions: p.LateCollisions + o.LateCollisions,
	}
}

// Span tells how long the readings span that make up the hour.
func (h Hour) Span() string {
	switch {
	case h.Seconds >= 0.8*time.Hour.Seconds(): // the window's oldest part may have just left
		return "hour"
	case h.Seconds >= 2*time.Minute.Seconds():
		return fmt.Sprintf("%.0f minutes", h.Seconds/60)
	}
	return fmt.Sprintf("%.0f seconds", h.Seconds)
}

// Ratio is an estimate with the bounds of its 95 % interval.
type Ratio struct{ Low, Estimate, High float64 }

// confidence of the intervals that are shown.
const confidence = 0.95

// FrameErrors is the ratio of damaged frames to all received; false where
// none came or damaged ones are not counted.
func (h Hour) FrameErrors() (Ratio, bool) { return h.ratio(float64(h.Judged.Frames)) }

// BitErrors is the ratio of errored bits to all received, at one a damaged
// frame, which is the least it can be.
func (h Hour) BitErrors() (Ratio, bool) { return h.ratio(h.Judged.Bits) }

func (h Hour) ratio(of float64) (Ratio, bool) {
	if of <= 0 {
		return Ratio{}, false
	}
	low, high := sequential.Interval(h.Errored, confidence)
	return Ratio{Low: min(1, low/of), Estimate: min(1, float64(h.Errored)/of), High: min(1, high/of)}, true
}

// String tells a ratio as one in so many, with its bounds.
func (r Ratio) String() string {
	return fmt.Sprintf("%s (95 %%: %s to %s)", oneIn(r.Estimate), oneIn(r.Low), oneIn(r.High))
}

func oneIn(ratio float64) string {
	if ratio <= 0 {
		return "none"
	}
	n := 1 / ratio
	if n >= 1e18 {
		return fmt.Sprintf("1 in 10^%.0f", math.Log10(n))
	}
	if n >= 1e6 { // three digits tell enough
		unit := math.Pow(10, math.Floor(math.Log10(n))-2)
		n = math.Round(n/unit) * unit
	}
	return "1 in " + count(uint64(n+0.5))
}

// count writes a whole number with its thousands apart.
func count(n uint64) string {
	if n < 1000 {
		return fmt.Sprint(n)
	}
	return fmt.Sprintf("%s,%03d", count(n/1000), n%1000)
}
