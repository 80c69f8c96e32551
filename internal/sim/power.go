package sim

import "time"

// FeedStatus is pethPsePortDetectionStatus (RFC 3621).
type FeedStatus int

// The states that a port of the campus can be in.
const (
	FeedDisabled   FeedStatus = 1
	FeedSearching  FeedStatus = 2
	FeedDelivering FeedStatus = 3
	FeedFault      FeedStatus = 4
)

// Feed is what a port shows of the power that it gives over the pairs (IEEE
// 802.3 clause 33), and has counted of it.
type Feed struct {
	Status FeedStatus
	Class  int // of the device that is fed, 0 to 4

	Absent, Invalid, Denied, Overload, Short uint64
}

// feed is a Feed with its memory.
type feed struct {
	Feed
	device *Device       // fed, or last found to want no power
	next   time.Duration // when the port tries again
}

// Leak is a short or water in a cable, which trips the power over its pairs.
type Leak struct {
	Mean     time.Duration // between two trips; 0: at once, as often as the port tries
	Overload bool          // it draws too much rather than shorts
	next     time.Duration
}

// How long a port waits before it tries to feed again: after a short or an
// overload, and where the switch had too little power. IEEE 802.3 33.2.7.7 asks
// for 750 ms after an error; switches wait longer, common practice.
const (
	afterFault  = 10 * time.Second
	afterDenial = 30 * time.Second
	detection   = time.Second // from the plug to the power
)

// Feed gives what a port shows of its power, to be read inside Campus.Do.
func (p *Port) Feed() Feed { return p.feed.Feed }

// feeds says whether the port can give power at all.
func (p *Port) feeds() bool { return p.Media == Copper && p.owner.watts > 0 }

// alive says whether the device has power and has started.
func (c *Cable) alive(at time.Duration) bool {
	d := c.Device
	return d.on(at) && (d.Watts == 0 || !c.A.feeds() || c.A.feed.Status == FeedDelivering && c.A.feed.device == d)
}

// touches says whether current can flow between port and device: a pair with a
// broken wire carries no signal, but the power takes what wires there are.
func (c *Cable) touches(at time.Duration) bool {
	return c.Device != nil && !c.loose && len(c.Open) < 4 && (c.Rattle == nil || at >= c.Rattle.gone) && (c.Channel == nil || c.Channel.Cord == nil || at >= c.Channel.Cord.gone)
}

// power moves the port's feed on.
func (c *Cable) power(at time.Duration) {
	f := &c.A.feed
	switch {
	case !c.A.feeds():
	case c.A.owner.off || c.A.chassis.lost:
		f.Status, f.device, f.next = FeedSearching, nil, at+detection
	case c.A.Unfed:
		f.Status, f.device = FeedDisabled, nil
	case f.Status == FeedDelivering && (!c.touches(at) || c.Device != f.device):
		c.A.absent(at)
	case f.Status == FeedDelivering && c.trips(at):
		c.A.trip(c.shorted() || !c.Leak.Overload, at)
	case f.Status != FeedDelivering && c.touches(at) && at >= f.next:
		c.detect(at)
	}
}

// absent ends the feed of what draws nothing any more.
func (p *Port) absent(at time.Duration) {
	if f := &p.feed; f.Status == FeedDelivering {
		f.Absent++
		f.Status, f.device, f.next = FeedSearching, nil, at+detection
	}
}

// trips says whether the leak trips the power now, and draws its next time.
func (c *Cable) trips(at time.Duration) bool {
	if c.shorted() {
		return true
	}
	l := c.Leak
	if l == nil || at < l.next {
		return false
	}
	first := l.next == 0
	l.next = at + max(time.Duration(c.random.ExpFloat64()*float64(l.Mean)), 1)
	return !first || l.Mean == 0
}

func (p *Port) trip(short bool, at time.Duration) {
	if short {
		p.feed.Short++
	} else {
		p.feed.Overload++
	}
	p.feed.Status, p.feed.device, p.feed.next = FeedFault, nil, at+afterFault
}

// detect is the port's attempt to feed what is plugged in.
func (c *Cable) detect(at time.Duration) {
	p, d := c.A, c.Device
	f := &p.feed
	f.Status = FeedSearching
	switch {
	case d.Watts == 0:
		if f.device != d {
			f.Invalid++
			f.device = d
		}
	case c.shorted():
		p.trip(true, at)
	case c.Leak != nil && c.Leak.Mean == 0:
		p.trip(!c.Leak.Overload, at)
	case p.owner.fed(p.chassis)+d.Watts > p.owner.watts:
		f.Denied++
		f.next = at + afterDenial
	default:
		f.Status, f.device, f.Class = FeedDelivering, d, d.Class
		d.starts = at + d.Boot
	}
}

// fed is the power that a chassis gives now, W.
func (s *Switch) fed(ch *chassis) float64 {
	sum := 0.0
	for _, p := range s.ports {
		if p.chassis == ch && p.feed.Status == FeedDelivering {
			sum += p.feed.device.Watts
		}
	}
	return sum
}

// Reboot starts the device at the cable's end anew, to be called inside
// Campus.Do: its link is gone for as long as it boots.
func (c *Cable) Reboot() {
	if c.Device != nil {
		c.Device.starts = c.A.owner.campus.elapsed + c.Device.Boot
	}
}

// Watts is how much the switch can give to what it feeds; 0 where it feeds nothing.
func (s *Switch) Watts() float64 { return s.watts }
