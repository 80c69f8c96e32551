package fault

import "toneout/internal/port"

// condition watches one port for one kind of fault and lets go later than it
// took hold. The zero value has seen nothing.
type condition interface {
	isOpen() bool
	finding(p *portState) finding // of one that is open
}

// conditionSet is what else a port is watched for, beside its speed and its
// damaged frames.
type conditionSet struct {
	duplex duplexTest
	flaps  flapTest
	link   linkTest
	power  powerTest
	light  lightTest
	loss   lossTest
}

// conditions are the port's, in no order that matters.
func (c *conditionSet) conditions() [6]condition {
	return [...]condition{&c.duplex, &c.flaps, &c.link, &c.power, &c.light, &c.loss}
}

func (c *conditionSet) open() bool {
	return c.duplex.isOpen() || c.flaps.isOpen() || c.link.isOpen() || c.power.isOpen() || c.light.isOpen() || c.loss.isOpen()
}

// observe takes a poll: the reading before or nil, what came since (as in
// portState.observe), and what the poll itself showed of the link.
func (c *conditionSet) observe(p *portState, previous *port.Reading, inc *port.Increments, poll *compared) {
	c.duplex.observe(p, inc)
	c.flaps.observe(p, previous, poll.inc.LinkChanges, poll.many)
	c.link.observe(p)
	c.power.observe(p.power, p.reading.At, poll.reason)
}
