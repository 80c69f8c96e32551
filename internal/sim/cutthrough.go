package sim

// stomped are damaged frames that a cut-through switch passes on: it has begun
// to send them before their check sequence is there to be checked, and can only
// see to it that the next receiver finds them wrong too.
type stomped struct{ frames, octets uint64 }

// passOn takes frames that an end of the cable received damaged, to be sent on
// by the port that the switch sends most by.
func (c *Cable) passOn(to *line, frames uint64, octets int) {
	p := c.A
	if to != &p.line {
		p = c.B
	}
	if p == nil || frames == 0 {
		return
	}
	if onward := p.owner.onward; onward != nil && onward != p && onward.line.speed > 0 {
		onward.stomped.frames += frames
		onward.stomped.octets += frames * uint64(octets)
	}
}

// carryStomped moves what a port passes on to the other end, where it counts
// as damaged once more.
func (c *Cable) carryStomped(p *Port, to *line) {
	s := p.stomped
	if s.frames == 0 {
		return
	}
	p.stomped = stomped{}
	p.line.Out[unicast] += s.frames
	p.line.OutOctets += s.octets
	c.damage(to, s.frames, int(s.octets/s.frames))
}
