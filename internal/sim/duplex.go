package sim

import "math"

// fixedHalf says whose speed is fixed with half duplex.
func (c *Cable) fixedHalf() (a, b bool) {
	a = c.A.Fixed > 0 && c.A.Half
	switch {
	case c.B != nil:
		b = c.B.Fixed > 0 && c.B.Half
	case c.Device != nil:
		b = c.Device.Fixed > 0 && c.Device.Half
	}
	return a, b
}

// collide is a duplex mismatch: the full end talks whenever it likes. A frame
// of the half end that is hit after the slot time (64 octets) is a late
// collision there and a bad frame at the full end; the full end's own frame is
// lost unseen. It gives the frames that survive.
func (c *Cable) collide(from, to *line, against []stream, s stream, n uint64) uint64 {
	perSecond, busy := rates(against, from.speed)
	rest := float64(8*(s.octets-64)) / (1e6 * float64(from.speed))
	hit := binomial(c.random, n, -math.Expm1(-perSecond*rest))
	if from.half {
		from.Deferred += binomial(c.random, n-hit, busy)
		slot := 512 / (1e6 * float64(from.speed))
		early := binomial(c.random, n-hit, -math.Expm1(-perSecond*slot))
		from.SingleCollision += early
		from.Late += hit
		// RFC 3635, ifOutOctets: of valid frames only, which these are not.
		from.OutOctets -= hit * uint64(s.octets)
		to.FCS += hit
		to.Fragments += early
		to.BadOctets += hit*uint64(s.octets+minFrame)/2 + early*minFrame/2
	}
	return n - hit
}

// rates gives the frames a second of an end, and the share of its time that
// they take.
func rates(sent []stream, speed int) (perSecond, busy float64) {
	for _, s := range sent {
		perSecond += s.perSecond
		busy += s.perSecond * float64(8*s.octets) / (1e6 * float64(speed))
	}
	return perSecond, min(busy, 1)
}

// share is what two ends in half duplex do: they wait for each other, and
// collide, and send again; nothing is damaged.
func (c *Cable) share(from, to *line, against []stream, n uint64) {
	perSecond, busy := rates(against, from.speed)
	slot := 512 / (1e6 * float64(from.speed))
	early := binomial(c.random, n, -math.Expm1(-perSecond*slot))
	from.SingleCollision += early
	from.Deferred += binomial(c.random, n-early, busy)
	to.Fragments += early
	to.BadOctets += early * minFrame / 2
}
