package sim

// stomped are damaged frames on their way through a switch that sends a frame
// on before it has seen its end: whoever receives them counts them again.
type stomped struct{ frames, octets uint64 }

// damaged is what a line has received of them.
func (l *line) damaged() stomped { return stomped{l.FCS + l.Alignment, l.BadOctets} }

// passOn gives what a port has received damaged since then to the port that
// its switch sends it out of.
func (p *Port) passOn(since stomped) {
	if p == nil || p.exit == nil {
		return
	}
	now := p.line.damaged()
	p.exit.line.waiting.frames += now.frames - since.frames
	p.exit.line.waiting.octets += now.octets - since.octets
}

// deliver sends what waits at one end to the other, where it is bad already.
func (l *line) deliver(to *line) {
	n := l.waiting.frames
	l.waiting.frames, to.FCS, l.Out[unicast] = 0, to.FCS+n, l.Out[unicast]+n
	l.OutOctets, to.BadOctets = l.OutOctets+l.waiting.octets, to.BadOctets+l.waiting.octets
	l.waiting.octets = 0
}

// cutThrough makes a switch pass on what its ports receive, out of one of them.
// What that one receives goes many ways, and is left out.
func (s *Switch) cutThrough(exit string) {
	for _, p := range s.ports {
		if p.Name != exit {
			p.exit = s.Port(exit)
		}
	}
}
