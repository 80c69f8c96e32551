package fault

import (
	"cmp"
	"math"
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// lossTest watches for a direction that loses more light than it did or ought
// to: what the other end sends less what this port receives. Of several lanes
// the worst counts.
type lossTest struct {
	Known *lossKnown // nil before both ends told of light
}

// lossKnown is what is known of the loss towards one end.
type lossKnown struct {
	Held   holding
	Lane   int // from 0, that is worst
	Untold int // readings in a row that told no loss
	Base   lossBase

	lanes  []port.Value[float64] // dB, as last compared
	most   port.Value[float64]   // dB, the most that the way ought to lose
	at     [2]time.Time          // when either end was read that was last compared: sender, receiver
	paused time.Time             // which reading of this end last had nothing to compare with
}

// lossBase is what a direction usually loses, by lane. It begins anew with
// another optic at either end, and with another port at the other one.
type lossBase struct {
	Far     plant.PortRef
	Serials [2]string // sender, receiver
	Lanes   []level   // dB
}

// The holding rules, in dB.
const (
	lossRises   = 2 // over its baseline
	lossExceeds = 3 // over the budget
)

func (c *lossTest) isOpen() bool { return c.Known != nil && c.Known.Held.Open }

// observe compares the latest readings of both ends, b.from's and those of the
// port that receives. Each reading of an end counts once, so that one wrong
// value is one comparison.
func (c *lossTest) observe(p *portState, b beam, within time.Duration) {
	from := b.from
	switch {
	case p.doubted, shut(p), from != nil && (shut(from) || from.optic == nil && !from.toldAt.IsZero()), p.optic == nil && c.compared():
		c.end(p)
		return
	case from == nil, from.optic == nil, p.optic == nil:
		c.pause(p.toldAt)
		return
	}
	if c.Known == nil {
		c.Known = &lossKnown{}
	}
	k := c.Known
	at := [2]time.Time{from.toldAt, p.toldAt}
	if apart := at[0].Sub(at[1]); max(apart, -apart) > within || !at[0].After(k.at[0]) || !at[1].After(k.at[1]) {
		return
	}
	k.at, k.most = at, b.most
	if k.Base.follow(p, from) {
		k.Held = holding{}
	}
	k.lanes = losses(from.optic.Lanes, p.optic.Lanes)
	k.judge(p.toldAt)
	if p.reading.Oper == port.Up && from.reading.Oper == port.Up && !p.open() && !from.open() {
		k.learn()
	}
}

func shut(p *portState) bool { return p.reading.Admin == port.Down }

// compared tells whether both ends were compared since a restart.
func (c *lossTest) compared() bool { return c.Known != nil && !c.Known.at[0].IsZero() }

// pause takes that the other end is not known now, or that an end has not told
// of its optic since a restart: what was open stays so for some readings of
// this end.
func (c *lossTest) pause(toldAt time.Time) {
	if k := c.Known; k != nil && toldAt.After(k.paused) {
		k.paused = toldAt
		if k.Untold++; k.Untold >= silentPolls {
			*c = c.rested()
		}
	}
}

// end lets go where there is nothing to compare any longer. What is usual is
// kept for when the same optics tell again.
func (c *lossTest) end(p *portState) {
	switch k := c.Known; {
	case k == nil:
	case p.optic == nil && k.Base.Serials[1] == "":
		c.Known = nil
	default:
		*c = c.rested()
	}
}

// rested is what outlasts a fault that is over.
func (c *lossTest) rested() lossTest {
	if c.Known == nil {
		return lossTest{}
	}
	return lossTest{&lossKnown{Base: c.Known.Base}}
}

// losses are those of the lanes, paired by their numbers; none where the ends
// have not as many, or one end tells no light.
func losses(sent, received []port.Lane) []port.Value[float64] {
	if len(sent) != len(received) {
		return nil
	}
	lost := make([]port.Value[float64], len(sent))
	for i := range sent {
		out, sends := sent[i].Sent.Get()
		in, receives := received[i].Received.Get()
		if sends && receives && !dark(out) && !dark(in) {
			lost[i] = port.Some(float64(out - in))
		}
	}
	return lost
}

// judge holds every lane against the budget and what it usually loses.
func (k *lossKnown) judge(at time.Time) {
	var v verdict
	budget, budgeted := k.most.Get()
	for i, lane := range k.lanes {
		lost, told := lane.Get()
		if !told {
			continue
		}
		usual, settled := k.Base.usual(i)
		v.take(i, &edge{at: -(budget + lossExceeds), limited: budgeted, near: math.Inf(1), usual: -usual, settled: settled, by: lossRises}, -lost)
	}
	if k.Untold++; v.told {
		k.Untold, k.Lane = 0, v.lane
		k.Held.take(v.passed, v.inside, at)
	}
	if k.Untold >= silentPolls {
		k.Held = holding{}
	}
}

func (k *lossKnown) learn() {
	if len(k.Base.Lanes) != len(k.lanes) {
		k.Base.Lanes = make([]level, len(k.lanes))
	}
	for i, lane := range k.lanes {
		if lost, told := lane.Get(); told {
			k.Base.Lanes[i].learn(lost, -1)
		}
	}
}

// usual is what a lane usually loses; false where that is not known.
func (b *lossBase) usual(lane int) (db float64, ok bool) {
	if lane >= len(b.Lanes) {
		return 0, false
	}
	return b.Lanes[lane].known()
}

// follow begins anew where the optics or the way are others, and tells whether
// they are.
func (b *lossBase) follow(p, from *portState) (anew bool) {
	serials := [2]string{from.serial(), p.serial()}
	if b.Far != (plant.PortRef{}) && b.Far != from.ref || differ(b.Serials[0], serials[0]) || differ(b.Serials[1], serials[1]) {
		*b, anew = lossBase{}, true
	}
	b.Far = from.ref
	for i, serial := range serials {
		b.Serials[i] = cmp.Or(serial, b.Serials[i])
	}
	return anew
}
