package main

import (
	"math"
	"math/rand/v2"
	"time"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// What devices offer: bits of IANAifMauAutoNegCapBits (RFC 4836).
var (
	fast = standards.ParseAbilities(bits(4, 5))     // 100BASE-TX, half and full duplex
	all  = standards.ParseAbilities(bits(4, 5, 15)) // 1000BASE-T, full duplex, too
)

// bits are octets of a BITS value, whose bit 0 is the most significant one.
func bits(set ...int) []byte {
	octets := make([]byte, 2)
	for _, bit := range set {
		octets[bit/8] |= 0x80 >> (bit % 8)
	}
	return octets
}

// line is one port of a switch with what is at its other end.
type line struct {
	habit      *habit
	reading    *port.Reading
	busy, idle float64 // bits received a minute
	errors     *source
	schedule   schedule // nil for a link that stands
	offers     standards.Abilities
	record     int // of an old device: what the inventory says
	empty      bool
	power      *port.Power
	uplink     *campusSwitch // the switch at the other end
	noise      uint32

	now  state
	sum  sums
	told [2]uint64 // unicast frames in
}

// sums are the counters as of the last restart of the switch.
type sums struct{ inOctets, inFrames, outOctets, outFrames, damaged uint64 }

// wander are factors of a minute's traffic.
var wander = func() (w [1 << 10]float64) {
	r := rand.New(rand.NewPCG(1, 1))
	for i := range w {
		w[i] = math.Exp(0.8*r.NormFloat64() - 0.32)
	}
	return w
}()

// isBusy tells the working hours of an hour of the week.
var isBusy = func() (b [7 * 24]bool) {
	for i := range b {
		b[i] = i/24 < 5 && i%24 >= 8 && i%24 < 18
	}
	return b
}()

// poll edits the reading to what the switch tells at a minute since a Monday.
func (l *line) poll(r *rand.Rand, minute int, at time.Time, uptime uint32) {
	l.reading.At, l.reading.Uptime = at, port.Some(uptime)
	if l.empty {
		return
	}
	next := running
	switch {
	case l.uplink != nil && l.uplink.silent > 0:
		next = state{}
	case l.schedule != nil:
		next = l.schedule(minute)
	}
	if next != l.now {
		l.change(next, uptime)
	}
	if next.up {
		l.receive(r, minute)
	}
}

// change takes the link to another state some seconds ago.
func (l *line) change(next state, uptime uint32) {
	l.now = next
	g := l.reading
	g.LastChange = port.Some(uptime - min(uptime, 100*uint32(5+l.noise%50)))
	g.Oper, g.HighSpeed, g.MAU = port.Down, port.Some(uint32(0)), 0
	g.AutoNeg.Received = port.Value[standards.Abilities]{}
	if !next.up {
		return
	}
	g.Oper, g.HighSpeed, g.MAU = port.Up, port.Some(next.mbps), 30 // 1000BASE-T, full duplex
	offers := l.offers
	switch {
	case l.uplink != nil:
		g.HighSpeed, g.MAU = port.Some(uint32(10_000)), 36 // 10GBASE-SR
		return
	case next.mbps == 100:
		g.MAU = 16 // 100BASE-TX, full duplex
	}
	if next.rest {
		offers = fast
	}
	g.AutoNeg.Received = port.Some(offers)
}

// receive adds a minute's traffic. One that is asleep says a word now and then.
func (l *line) receive(r *rand.Rand, minute int) {
	l.noise = l.noise*1664525 + 1013904223 // Knuth's and Lewis's line
	hour := minute / 60
	received := l.idle
	if isBusy[hour%(7*24)] {
		received = l.busy
	}
	received *= wander[l.noise>>22]
	if l.now.rest {
		received = float64(l.noise >> 28 * 512)
	}
	if l.errors != nil {
		l.sum.damaged += l.errors.errored(r, received, hour%24)
	}
	octets := uint64(received / 8)
	l.sum.inOctets += octets
	l.sum.inFrames += (octets + 699) / 700
	l.sum.outOctets += octets
	l.sum.outFrames += (octets + 699) / 700
	c := &l.reading.Counters
	c.Set64(port.InOctets, l.sum.inOctets)
	c.Set64(port.InUnicast, l.sum.inFrames)
	c.Set64(port.OutOctets, l.sum.outOctets)
	c.Set64(port.OutUnicast, l.sum.outFrames)
	c.Set32(port.InErrors, uint32(l.sum.damaged))
	c.Set32(port.FCS, uint32(l.sum.damaged))
}

// reset is the switch's restart: counters begin anew, and the link with them.
func (l *line) reset() {
	l.sum, l.now = sums{}, state{}
	l.zero()
}

func (l *line) zero() {
	c := &l.reading.Counters
	for k := range port.InErrors {
		c.Set64(k, 0)
	}
	for k := port.InErrors; k < port.CRCAlign; k++ {
		c.Set32(k, 0)
	}
	l.reading.Oper, l.reading.HighSpeed, l.reading.MAU = port.Down, port.Some(uint32(0)), 0
	l.reading.LastChange = port.Some(uint32(0))
}
