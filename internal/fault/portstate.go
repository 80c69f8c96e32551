package fault

import (
	"fmt"
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/sequential"
	"toneout/internal/standards"
)

// portState is all that is remembered of one port.
type portState struct {
	ref    plant.PortRef
	fresh  *port.Reading // of the poll being taken in
	last   *port.Reading
	missed int // polls of the switch that did not show the port

	totals      port.Counters
	linkChanges uint64
	carried     uint64 // frames received since the link last came up
	hour        window

	far    farEnd
	slow   slow
	errors errorTest
}

func (p *portState) seen() plant.SeenPort {
	r := p.last
	if p.fresh != nil {
		r = p.fresh
	}
	return plant.SeenPort{
		Switch: p.ref.Switch, Name: p.ref.Port, Description: r.Description, Alias: r.Alias,
		Index: r.Index, Physical: true,
	}
}

// observe takes the port's reading of a new poll.
func (p *portState) observe(r *port.Reading, run *plant.Run, medium standards.Medium, threshold float64) {
	inc, reason := port.Between(p.last, r)
	p.last = r
	p.far.observe(r)
	if r.Oper != port.Up {
		p.carried = 0
	}
	if reason == port.Comparable {
		p.count(&inc, r.At)
		p.errors.observe(r, &inc, medium, threshold)
		p.errors.weigh(&p.hour)
	}
	p.slow.observe(r, &inc, p.meant(run))
}

// count adds what came since the last reading to the totals.
func (p *portState) count(inc *port.Increments, at time.Time) {
	p.totals.Add(&inc.Counters)
	p.linkChanges += uint64(inc.LinkChanges)
	p.hour.add(at, received(inc), inc.LinkChanges)
	if inc.LinkChanges > 0 {
		p.carried = 0
	}
	if frames, ok := inc.Counters.FramesIn(); ok {
		p.carried += frames
	}
}

// received is what a port received between two readings.
func received(inc *port.Increments) Hour {
	good, _ := inc.Counters.FramesIn()
	errored, counted := inc.Counters.Errored()
	return Hour{Seconds: inc.Seconds, Frames: good + errored, Errored: errored, Bits: bitsIn(inc), Counted: counted}
}

// Frame sizes of IEEE 802.3 3.2.7 and 4.2.3 without tag.
const (
	minFrameBits = 8 * 64
	maxFrameBits = 8 * 1518
)

// bitsIn is how many bits were received. Octets of damaged frames may be left
// out of the count, so each counts as the shortest frame at least. Where
// octets are not told, frames count as the longest: a bound that can delay an
// alarm and never cause one.
func bitsIn(inc *port.Increments) float64 {
	errored, _ := inc.Counters.Errored()
	least := float64(errored) * minFrameBits
	if octets, ok := inc.Counters.Get(port.InOctets); ok {
		return max(8*float64(octets), least)
	}
	good, _ := inc.Counters.FramesIn()
	return max(float64(good)*maxFrameBits, least)
}

// meant is the speed that the link is known to be meant to have, 0 where
// nothing tells: by the inventory, else the fastest that both ends offer.
func (p *portState) meant(run *plant.Run) standards.Speed {
	if run != nil {
		if speed := run.DesignSpeedMeant(); speed > 0 {
			return speed
		}
	}
	own, ok := p.last.AutoNeg.Advertised.Get()
	if !ok {
		return 0
	}
	return (own & p.far.offered).Fastest()
}

// farEnd is what the device at the other end was seen to be able to.
type farEnd struct {
	offered standards.Abilities // all it ever offered
	held    standards.Speed     // the fastest it ever ran at
	down    int                 // polls without a link, in a row
}

// otherDevice is after how many polls without a link another device may have
// been plugged in, so that what the last one was able to no longer counts.
const otherDevice = 2

func (f *farEnd) observe(r *port.Reading) {
	if r.Oper != port.Up {
		if f.down++; f.down >= otherDevice {
			*f = farEnd{down: f.down}
		}
		return
	}
	f.down = 0
	f.held = max(f.held, r.Speed())
	if offered, ok := r.AutoNeg.Received.Get(); ok {
		f.offered |= offered
	}
}

// window keeps the last hour in six parts of ten minutes.
type window struct {
	parts [6]struct {
		Hour
		linkChanges int
	}
	part int64 // number of the latest part since the epoch
}

const windowPart = 10 * time.Minute

func (w *window) add(at time.Time, h Hour, linkChanges int) {
	now := at.UnixNano() / int64(windowPart)
	for w.part < now {
		w.part = max(w.part+1, now-int64(len(w.parts))+1)
		w.parts[w.part%int64(len(w.parts))] = struct {
			Hour
			linkChanges int
		}{}
	}
	part := &w.parts[now%int64(len(w.parts))]
	part.Hour = part.plus(h)
	part.linkChanges += linkChanges
}

// frameErrors is the ratio of the last hour.
func (w *window) frameErrors() (Ratio, bool) {
	hour, _ := w.sum()
	return hour.FrameErrors()
}

// sum is the last hour as of the last reading, and the link's changes in it.
func (w *window) sum() (Hour, int) {
	var sum Hour
	changes := 0
	for i := range w.parts {
		sum = sum.plus(w.parts[i].Hour)
		changes += w.parts[i].linkChanges
	}
	return sum, changes
}

func (h Hour) plus(o Hour) Hour {
	return Hour{
		h.Seconds + o.Seconds, h.Frames + o.Frames, h.Errored + o.Errored, h.Bits + o.Bits, h.Counted || o.Counted,
	}
}

// span tells how long the readings span that make up the hour.
func (h Hour) span() string {
	switch {
	case h.Seconds >= 0.8*time.Hour.Seconds(): // the window's oldest part may have just left
		return "hour"
	case h.Seconds >= 2*time.Minute.Seconds():
		return fmt.Sprintf("%.0f minutes", h.Seconds/60)
	}
	return fmt.Sprintf("%.0f seconds", h.Seconds)
}

// confidence of the intervals that are shown.
const confidence = 0.95

func (h Hour) ratio(of float64) (Ratio, bool) {
	if !h.Counted || of <= 0 {
		return Ratio{}, false
	}
	low, high := sequential.Interval(h.Errored, confidence)
	return Ratio{Low: min(1, low/of), Estimate: min(1, float64(h.Errored)/of), High: min(1, high/of)}, true
}

// FrameErrors is the ratio of damaged frames to all received; false where
// none came or damaged ones are not counted.
func (h Hour) FrameErrors() (Ratio, bool) { return h.ratio(float64(h.Frames)) }

// BitErrors is the ratio of errored bits to all received, at one a damaged
// frame, which is the least it can be.
func (h Hour) BitErrors() (Ratio, bool) { return h.ratio(h.Bits) }
