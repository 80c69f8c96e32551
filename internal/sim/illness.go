package sim

// Illness is what is wrong with a port, or a device's, rather than with what is
// plugged into it.
type Illness struct {
	BER      float64 // of what it receives, whatever the cable,
	Internal float64 // and the share of those frames that its MAC counts as its own errors
	// Sends is the share of the frames it sends that it damages before its PHY
	// has them: the other end's frame check fails, and no symbol is wrong.
	Sends float64
}

// illnesses of both ends.
func (c *Cable) illnesses() (a, b Illness) {
	of := func(i *Illness) Illness {
		if i == nil {
			return Illness{}
		}
		return *i
	}
	switch {
	case c.B != nil:
		b = of(c.B.Ill)
	case c.Device != nil:
		b = of(c.Device.Ill)
	}
	return of(c.A.Ill), b
}

// sicken counts the frames that an ill end damages, of n of a size: it gives how
// many.
func (c *Cable) sicken(from, to *line, n uint64, octets int, d direction) (bad uint64) {
	if d.from.Sends > 0 {
		sent := binomial(c.random, n, d.from.Sends)
		to.FCS += sent
		bad += sent
	}
	if d.to.BER > 0 {
		received := binomial(c.random, n-bad, frameErrorRatio(d.to.BER, octets))
		internal := binomial(c.random, received, d.to.Internal)
		to.InternalRx += internal
		to.FCS += received - internal
		bad += received
	}
	to.BadOctets += bad * uint64(octets)
	return bad
}

// sameFEC says that both ends of a link correct errors alike, or do not: at 25 Gb/s
// and above no link comes up otherwise (IEEE 802.3 clauses 91, 108).
func (c *Cable) sameFEC() bool {
	return c.B == nil || c.A.FEC == c.B.FEC || c.A.Speeds[0] < 25000
}
