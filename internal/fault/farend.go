package fault

import (
	"time"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// farEnd is what the device at the other end was seen to be able to.
type farEnd struct {
	Offered standards.Abilities // all it ever offered
	Held    standards.Speed     // the fastest it ever ran at
	Down    int                 // polls without a link, in a row

	Device deviceID // who it is by what it announces; zero where not known
	Before *farEnd  // one that left, and counts again where it is heard again

	Unheard bool // it is no longer heard
	Flapped bool // the link came or went since it was last heard

	Watched float64         // seconds of a standing link with this device
	Steady  standards.Speed // at the last reading
	Since   float64         // of watched: when it began
	Habit   standards.Speed // the fastest that was steady for long
}

// deviceID tells devices apart by what they announce.
type deviceID struct{ Chassis, Port port.ID }

func idOf(n *port.Neighbour) deviceID { return deviceID{n.Chassis, n.Port} }

// same tells whether two announcements are of one device and port. A MAC
// address of the port suffices: the address by which some telephones name
// themselves changes.
func (d deviceID) same(o deviceID) bool {
	return d == o || d.Port.Kind == port.IDMAC && d.Port == o.Port
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
		if f.Down++; f.Down >= otherDevice {
			f.leave()
		}
		return
	}
	f.Down = 0
	if f.Flapped = f.Flapped || inc.LinkChanges > 0; f.Flapped && f.Unheard {
		f.leave()
	}
	if reason == port.Comparable && inc.LinkChanges == 0 {
		f.Held = max(f.Held, r.Speed())
		f.watch(r.Speed(), inc.Seconds)
	}
	if offered, ok := r.AutoNeg.Received.Get(); ok {
		f.Offered |= offered
	}
}

// watch takes so many seconds at a speed.
func (f *farEnd) watch(speed standards.Speed, seconds float64) {
	if f.Device == (deviceID{}) {
		return
	}
	if speed != f.Steady {
		f.Steady, f.Since = speed, f.Watched
	}
	f.Watched += seconds
	if f.Watched-f.Since >= steadySpeed.Seconds() {
		f.Habit = max(f.Habit, speed)
	}
}

// aWeek is how long a device is watched until its habit tells what is meant.
const aWeek = 7 * 24 * time.Hour

// meant is the fastest speed that the link held while it stood for a week with
// the same neighbour; 0 before.
func (f *farEnd) meant() standards.Speed {
	if f.Watched < aWeek.Seconds() {
		return 0
	}
	return f.Habit
}

// leave takes that the device may have been unplugged for another one.
func (f *farEnd) leave() {
	before := f.Before
	if f.Device != (deviceID{}) {
		gone := *f
		gone.Before = nil
		before = &gone
	}
	*f = farEnd{Down: f.Down, Before: before}
}

// hear takes the device that is directly at the other end, with what it
// offers, and tells whether it is another one than before.
func (f *farEnd) hear(n *port.Neighbour) (another bool) {
	id := idOf(n)
	switch {
	case f.Device != (deviceID{}):
		if another = !f.Device.same(id); another {
			*f = farEnd{}
		}
	case f.Before != nil:
		if another = !f.Before.Device.same(id); !another {
			f.resume()
		}
		f.Before = nil
	}
	f.Device, f.Unheard, f.Flapped = id, false, false
	if offered, ok := n.Offered.Get(); ok {
		f.Offered |= offered
	}
	return another
}

// resume counts what was known of the device before its link was lost.
func (f *farEnd) resume() {
	f.Offered |= f.Before.Offered
	f.Held = max(f.Held, f.Before.Held)
	f.Watched, f.Habit = f.Before.Watched, f.Before.Habit
	f.Steady, f.Since = 0, f.Watched
}
