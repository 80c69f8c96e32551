package fault

import (
	"time"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// farEnd is what the device at the other end was seen to be able to.
type farEnd struct {
	offered standards.Abilities // all it ever offered
	held    standards.Speed     // the fastest it ever ran at
	down    int                 // polls without a link, in a row

	device deviceID // who it is by what it announces; zero where not known
	before *farEnd  // one that left, and counts again where it is heard again

	unheard bool // it is no longer heard
	flapped bool // the link came or went since it was last heard

	watched float64         // seconds of a standing link with this device
	steady  standards.Speed // at the last reading
	since   float64         // of watched: when it began
	habit   standards.Speed // the fastest that was steady for long
}

// deviceID tells devices apart by what they announce.
type deviceID struct{ chassis, port port.ID }

func idOf(n *port.Neighbour) deviceID { return deviceID{n.Chassis, n.Port} }

// same tells whether two announcements are of one device and port. A MAC
// address of the port suffices: the address by which some telephones name
// themselves changes.
func (d deviceID) same(o deviceID) bool {
	return d == o || d.port.Kind == port.IDMAC && d.port == o.port
}

// otherDevice is after how many polls without a link another device may have
// been plugged in, so that what the last one was able to no longer counts.
const otherDevice = 2

// steadySpeed is for how long a link stands at a speed so that this is one that
// it holds (common practice, no source).
const steadySpeed = time.Hour

// observe takes a reading with what came since the one before. A speed read
// while the link came up may be the configured one. A device that is not heard
// after the link flapped may have been exchanged for one that is silent.
func (f *farEnd) observe(r *port.Reading, inc *port.Increments, reason port.Reason) {
	if r.Oper == port.StatusAbsent {
		return
	}
	if r.Oper != port.Up {
		if f.down++; f.down >= otherDevice {
			f.leave()
		}
		return
	}
	f.down = 0
	if f.flapped = f.flapped || inc.LinkChanges > 0; f.flapped && f.unheard {
		f.leave()
	}
	if reason == port.Comparable && inc.LinkChanges == 0 {
		f.held = max(f.held, r.Speed())
		f.watch(r.Speed(), inc.Seconds)
	}
	if offered, ok := r.AutoNeg.Received.Get(); ok {
		f.offered |= offered
	}
}

// watch takes so many seconds at a speed.
func (f *farEnd) watch(speed standards.Speed, seconds float64) {
	if f.device == (deviceID{}) {
		return
	}
	if speed != f.steady {
		f.steady, f.since = speed, f.watched
	}
	f.watched += seconds
	if f.watched-f.since >= steadySpeed.Seconds() {
		f.habit = max(f.habit, speed)
	}
}

// aWeek is how long a device is watched until its habit tells what is meant.
const aWeek = 7 * 24 * time.Hour

// meant is the fastest speed that the link held while it stood for a week with
// the same neighbour; 0 before.
func (f *farEnd) meant() standards.Speed {
	if f.watched < aWeek.Seconds() {
		return 0
	}
	return f.habit
}

// leave takes that the device may have been unplugged for another one.
func (f *farEnd) leave() {
	before := f.before
	if f.device != (deviceID{}) {
		gone := *f
		gone.before = nil
		before = &gone
	}
	*f = farEnd{down: f.down, before: before}
}

// hear takes the device that is directly at the other end, with what it
// offers, and tells whether it is another one than before.
func (f *farEnd) hear(n *port.Neighbour) (another bool) {
	id := idOf(n)
	switch {
	case f.device != (deviceID{}):
		if another = !f.device.same(id); another {
			*f = farEnd{}
		}
	case f.before != nil:
		if another = !f.before.device.same(id); !another {
			f.resume()
		}
		f.before = nil
	}
	f.device, f.unheard, f.flapped = id, false, false
	if offered, ok := n.Offered.Get(); ok {
		f.offered |= offered
	}
	return another
}

// resume counts what was known of the device before its link was lost.
func (f *farEnd) resume() {
	f.offered |= f.before.offered
	f.held = max(f.held, f.before.held)
	f.watched, f.habit = f.before.watched, f.before.habit
	f.steady, f.since = 0, f.watched
}
