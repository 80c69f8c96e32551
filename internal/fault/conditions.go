package fault

import (
	"time"

	"toneout/internal/port"
)

// condition watches one port for one kind of fault and lets go later than it
// took hold. The zero value has seen nothing.
type condition interface {
	isOpen() bool
	finding(p *portState) finding // of one that is open
}

// conditionSet is what else a port is watched for, beside its speed and its
// damaged frames.
type conditionSet struct {
	Duplex duplexTest
	Flaps  flapTest
	Link   linkTest
	Power  powerTest
	Light  lightTest
	Loss   lossTest
	Onset  onset

	Folded []folded // faults of its run that another one told of

	Passed passage
}

// folded is a fault that another one told of, until then at least.
type folded struct {
	Kind  Kind
	Until time.Time
}

// conditions are the port's, in no order that matters.
func (c *conditionSet) conditions() [6]condition {
	return [...]condition{&c.Duplex, &c.Flaps, &c.Link, &c.Power, &c.Light, &c.Loss}
}

func (c *conditionSet) open() bool {
	return c.Duplex.isOpen() || c.Flaps.isOpen() || c.Link.isOpen() || c.Power.isOpen() || c.Light.isOpen() || c.Loss.isOpen()
}

// observe takes a poll: the reading before or nil, what came since (as in
// portState.observe), and what the poll itself showed of the link.
func (c *conditionSet) observe(p *portState, previous *port.Reading, inc *port.Increments, poll *compared) {
	c.Onset.observe(p)
	c.Duplex.observe(p.reading, inc, poll.far)
	c.Flaps.observe(p, previous, poll.inc.LinkChanges, poll.many)
	c.Flaps.lostPower(c.Power.observe(p.feeds, p.reading.At, poll.reason), p.reading.At)
	c.Link.observe(p, poll)
	if !p.errors.detector.Open() {
		c.Passed = passage{}
	}
}
