package sim

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"
)

// Media is copper or fibre.
type Media string

// The media of the campus.
const (
	Copper Media = "copper"
	Fibre  Media = "fibre"
)

// Pair is a twisted pair by its pins in the eight-position jack.
type Pair string

// The four pairs. Auto-negotiation and 100BASE-TX live on the first two;
// 1000BASE-T needs all four.
const (
	Pair12 Pair = "1-2"
	Pair36 Pair = "3-6"
	Pair45 Pair = "4-5"
	Pair78 Pair = "7-8"
)

// Cable is one run between a switch port A and, at B, another port or a
// device. What is wrong with it is physical; what its ends count follows.
type Cable struct {
	ID       string // of the run; what the label says
	Media    Media
	Kind     string // category "6A", or fibre "OM4"
	LengthM  float64
	Pathways []string
	A        *Port
	B        *Port   // or
	Device   *Device // one of the two; neither: nothing is plugged in

	AtoB, BtoA Flow    // what the ends send
	Open       []Pair  // broken pairs
	BERToA     float64 // bit error ratio of what A receives
	BERToB     float64
	Coupling   float64 // share of a pathway's noise that reaches the pairs
	Rattle     *Rattle
	Leak       *Leak
	Channel    *Channel // what the pairs do to signals; nil: nothing
	Path                // of light

	random       *rand.Rand
	period       float64 // seconds, of the slow swing of its traffic
	phase        float64
	trainedAfter time.Duration
	loose        bool  // a plug hangs in the air
	sunk         bool  // the link came up at less than its ends offer, for the pairs' sake
	aliens       int   // neighbours in its bundle that send at 10 Gb/s
	joined       joint // what the link joins while it is up

	lightBER         [2]float64 // of what A and B receive, of the present step
	sentByA, sentByB []stream   // of it too
}

// Rattle is a plug that loses contact now and then.
type Rattle struct {
	Mean time.Duration // between losses of the link
	BER  float64       // in the seconds before a loss, while contact fails
	next time.Duration // the next loss
	gone time.Duration // until which contact is lost
}

const (
	copperTraining = 2 * time.Second        // auto-negotiation and training
	fibreTraining  = 500 * time.Millisecond // signal detect and lock
	contactFails   = 3 * time.Second
	busiest        = 0.7  // the greatest share of a link's speed that is used
	minFrame       = 64   // octets of the shortest frame (IEEE 802.3 4A.4.2)
	alignmentShare = 0.05 // of a 4-bit-group PHY's bad frames end off an octet
)

// line is the state of one end of a link and what its MAC and PHY count.
type line struct {
	Counters
	speed   int // Mb/s, 0 = no link
	half    bool
	changed time.Duration // since the start; negative: before it
	waiting stomped       // to be sent
	heard   []int         // speeds that the other end's auto-negotiation offers
}

// Counters of one end, all 64 bits wide here.
type Counters struct {
	InOctets, OutOctets                           uint64    // of good frames
	BadOctets                                     uint64    // of what was received otherwise
	Fragments                                     uint64    // received shorter than 64 octets, cut by a collision
	In, Out                                       [3]uint64 // good frames: unicast, multicast, broadcast
	Alignment, FCS, TooLong, InternalRx, Symbol   uint64
	SingleCollision, Late, Excessive, InternalTx  uint64
	MultipleCollision, Deferred, Carrier, SQETest uint64
	Exits                                         uint64 // times that the medium left "available"
}

// InErrors is what RFC 3635 makes of ifInErrors, and OutErrors of ifOutErrors.
func (c Counters) InErrors() uint64 { return c.Alignment + c.FCS + c.TooLong + c.InternalRx }

// OutErrors: see InErrors.
func (c Counters) OutErrors() uint64 {
	return c.SQETest + c.Late + c.Excessive + c.InternalTx + c.Carrier
}

// ends gives both lines; the far one is a spare where nothing is plugged in.
func (c *Cable) ends() (a, b *line) {
	switch {
	case c.B != nil:
		return &c.A.line, &c.B.line
	case c.Device != nil:
		return &c.A.line, &c.Device.line
	}
	return &c.A.line, &line{}
}

// offers gives what both ends can do now, and their fixed speeds.
func (c *Cable) offers(at time.Duration) (a, b []int, fixedA, fixedB int) {
	if !c.A.dead() {
		a, fixedA = c.A.offered(), c.A.Fixed
	}
	switch {
	case c.B != nil && !c.B.dead():
		b, fixedB = c.B.offered(), c.B.Fixed
	case c.Device != nil && c.alive(at):
		b, fixedB = c.Device.Speeds, c.Device.Fixed
		if c.Device.Asleep.On(at) {
			b = c.Device.SleepSpeeds
		}
	}
	return a, b, fixedA, fixedB
}

// resolve gives the speed that the medium and the ends allow, 0 for no link.
func (c *Cable) resolve(at time.Duration) int {
	most := c.pairsLeft()
	if most == 0 || !c.hears(true) || !c.hears(false) || !c.sameFEC() {
		return 0
	}
	a, b, fixedA, fixedB := c.offers(at)
	best := 0
	for _, speed := range a {
		fits := speed > best && slices.Contains(b, speed)
		// A PHY whose training fails for want of a pair downshifts.
		fits = fits && speed <= most
		fits = fits && (fixedA == 0 || speed == fixedA) && (fixedB == 0 || speed == fixedB)
		if fits {
			best = speed
		}
	}
	return c.trained(at, a, b, best, fixedA+fixedB > 0)
}

// trained gives the speed that the pairs let PHYs train at, of those that both
// offer. They do not try again at a higher one until the link is lost.
func (c *Cable) trained(at time.Duration, a, b []int, best int, fixed bool) int {
	if now := c.A.line.speed; c.joined.up() && c.sunk && now < best && slices.Contains(b, now) && c.bears(at, now) {
		return now
	}
	offered := best
	for best > 0 && !c.bears(at, best) {
		if fixed {
			return 0
		}
		best = slower(a, b, best)
	}
	c.sunk = best < offered
	return best
}

// slower gives the next lower speed that both ends offer, 0 for none.
func slower(a, b []int, than int) (best int) {
	for _, speed := range a {
		if speed > best && speed < than && slices.Contains(b, speed) {
			best = speed
		}
	}
	return best
}

// settle moves the link towards what resolve says.
func (c *Cable) settle(at time.Duration) {
	a, b := c.ends()
	target := c.resolve(at)
	if c.Rattle != nil && c.rattles(at) || c.stir(at) {
		target = 0
	}
	offeredA, offeredB, fixedA, fixedB := c.offers(at)
	switch {
	case c.joined.up() && (!c.joined.is(a, b) || a.speed != target):
		c.fall(at)
	case !c.joined.up() && target == 0:
		c.trainedAfter = at + c.training()
		c.alone(at)
	case !c.joined.up() && at >= c.trainedAfter:
		// An end that hears no auto-negotiation detects the speed and must
		// assume half duplex (IEEE 802.3 28.2.3.1, parallel detection).
		halfA, halfB := c.fixedHalf()
		a.up(at, target, c.Media == Copper && (halfA || fixedB > 0 && fixedA == 0))
		b.up(at, target, c.Media == Copper && (halfB || fixedA > 0 && fixedB == 0))
		c.rise(at, a, b)
	}
	a.heard, b.heard = nil, nil
	if a.speed > 0 && fixedB == 0 {
		a.heard = c.stillOffered(offeredB, a.speed)
	}
	if a.speed > 0 && fixedA == 0 {
		b.heard = offeredA
	}
}

// alone is what ports do that need no link to be up: such a one is up while it
// receives light from a laser of its speed, and sends to nobody.
func (c *Cable) alone(at time.Duration) {
	for i, p := range []*Port{c.A, c.B} {
		if p == nil || !p.OneWay {
			continue
		}
		if speed := p.Speeds[0]; !p.dead() && c.lightBER[i] < highBER && !c.bare() {
			p.line.up(at, speed, false)
		} else if p.line.speed > 0 {
			p.line.down(at)
		}
	}
}

func (c *Cable) training() time.Duration {
	if c.Media == Fibre {
		return fibreTraining
	}
	return copperTraining
}

// joint is the two ends that a link joins; a plug pulled and put elsewhere
// leaves them before the cable's fields tell of it.
type joint struct {
	a, b   *line
	pa, pb *Port // pb is nil at a device
}

func (j joint) up() bool { return j.a != nil }

func (j joint) is(a, b *line) bool { return j.a == a && j.b == b }

// rise is what follows from a link that has come up.
func (c *Cable) rise(at time.Duration, a, b *line) {
	c.joined = joint{a, b, c.A, c.B}
	for _, p := range c.joined.ports() {
		p.rose(at)
	}
	c.introduce(at)
}

// fall drops the link, which is to be negotiated again.
func (c *Cable) fall(at time.Duration) {
	c.trainedAfter = at + c.training()
	if !c.joined.up() {
		if c.A.OneWay && c.A.line.speed > 0 {
			c.A.line.down(at)
		}
		return
	}
	for _, p := range c.joined.ports() {
		p.lose(at)
	}
	c.joined.a.down(at)
	c.joined.b.down(at)
	c.joined = joint{}
}

func (j joint) ports() []*Port {
	if j.pb == nil {
		return []*Port{j.pa}
	}
	return []*Port{j.pa, j.pb}
}

func (l *line) down(at time.Duration) {
	l.speed, l.half, l.changed = 0, false, at
	l.Exits++
}

// up brings a line up; one that is up as it should be stays as it is.
func (l *line) up(at time.Duration, speed int, half bool) {
	if l.speed == speed && l.half == half {
		return
	}
	l.speed, l.half, l.changed = speed, half, at
}

// rattles says whether contact is lost now, and draws the next loss.
func (c *Cable) rattles(at time.Duration) bool {
	r := c.Rattle
	if at >= r.next {
		lost := time.Duration((0.3 + c.random.Float64()) * float64(time.Second))
		r.gone = at + lost
		c.A.absent(at)
		wait := time.Duration(c.random.ExpFloat64() * float64(r.Mean))
		r.next = r.gone + copperTraining + contactFails + wait
	}
	return at < r.gone
}

// step carries dt of traffic at a time after the start. busy scales it, noise
// is the bit error ratio in the pathway.
func (c *Cable) step(at, dt time.Duration, busy, noise float64) {
	c.power(at)
	if c.loose || c.B == nil && c.Device == nil {
		c.fall(at)
		return
	}
	c.lightBER = [2]float64{c.opticalBER(at, true), c.opticalBER(at, false)}
	c.settle(at)
	a, b := c.ends()
	if !c.joined.up() {
		a.waiting, b.waiting = stomped{}, stomped{}
		return
	}
	toA, toB := c.BtoA, c.AtoB
	busy *= 1 + 0.25*math.Sin(2*math.Pi*at.Seconds()/c.period+c.phase)
	extra := noise * c.Coupling
	if c.Rattle != nil && at+contactFails >= c.Rattle.next {
		extra += c.Rattle.BER
	}
	if c.Device != nil && c.Device.Asleep.On(at) {
		toA, toB = Flow{Broadcast: 0.02}, Flow{Broadcast: toB.Broadcast}
	}
	limit := busiest * 1e6 * float64(a.speed)
	c.sentByA = toB.streams(c.sentByA[:0], busy, limit)
	c.sentByB = toA.streams(c.sentByB[:0], busy, limit)
	wasA, wasB := a.damaged(), b.damaged()
	a.deliver(b)
	b.deliver(a)
	illA, illB := c.illnesses()
	c.carry(a, b, c.sentByA, c.sentByB, direction{c.BERToB + extra + c.lightBER[1] + c.copperBER(at, a.speed, false), illA, illB}, dt)
	c.carry(b, a, c.sentByB, c.sentByA, direction{c.BERToA + extra + c.lightBER[0] + c.copperBER(at, a.speed, true), illB, illA}, dt)
	c.A.passOn(wasA)
	c.B.passOn(wasB)
}

// direction is how one direction of a run damages frames: on the way, and at
// its ends.
type direction struct {
	ber      float64
	from, to Illness
}

// carry moves one direction's frames; against are the other's, which matter
// where one end believes in half duplex and the other does not.
func (c *Cable) carry(from, to *line, sent, against []stream, d direction, dt time.Duration) {
	mismatch, shared := from.half != to.half, from.half && to.half
	for _, s := range sent {
		n := poisson(c.random, s.perSecond*dt.Seconds())
		from.Out[s.cast] += n
		from.OutOctets += n * uint64(s.octets)
		switch {
		case mismatch:
			n = c.collide(from, to, against, s, n)
		case shared:
			c.share(from, to, against, n)
		}
		n -= c.sicken(from, to, n, s.octets, d)
		bad := uint64(0)
		if d.ber > 0 {
			bad = binomial(c.random, n, frameErrorRatio(d.ber, s.octets))
			c.damage(to, bad, s.octets)
		}
		to.In[s.cast] += n - bad
		to.InOctets += (n - bad) * uint64(s.octets)
	}
}

// damage counts bad frames where they are received: each in exactly one of the
// exclusive counters, and a symbol error where the PHY saw one too.
func (c *Cable) damage(to *line, bad uint64, octets int) {
	to.BadOctets += bad * uint64(octets)
	alignment := uint64(0)
	if c.Media == Copper && to.speed <= 100 {
		alignment = binomial(c.random, bad, alignmentShare)
	}
	to.Alignment += alignment
	to.FCS += bad - alignment
	if c.Media == Copper && to.speed >= 100 {
		to.Symbol += binomial(c.random, bad, 0.3)
	}
}
