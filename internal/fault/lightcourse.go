package fault

import (
	"math"
	"math/bits"
	"time"

	"toneout/internal/port"
)

// course is how the light at one end came to be what it is, of the lane that gets
// least. The zero value has seen nothing.
type course struct {
	At      time.Time // of the last reading that told light; zero before the first
	Last    float32   // dBm then
	Slow    float32   // follows it within about an hour
	Moves   uint16    // of the latest readings, bit by bit, the last one lowest: whether it differs from the one before
	Told    uint8     // how many of these bits there are
	Fell    fall      // how it fell, where it did
	Out, In time.Time // when there was no light at all last, since when on; and when there was light again
	Swapped time.Time // when another optic was found at either end
}

// fall is how light fell below what is usual.
type fall uint8

const (
	fellUnseen fall = iota
	fellAtOnce
	fellSlowly // over hours or days
)

const (
	movesOf    = 16              // readings, an hour and more of the slow clock
	jumpsFrom  = 3               // of these, that one by itself or somebody at work does not make (common practice, no source)
	stillFor   = 8               // readings in a row that are as the one before
	followsIn  = time.Hour       // Slow
	fallsSeen  = followsIn / 3   // between readings at most, to tell how it fell
	outBetween = 2 * time.Minute // from when the link was lost until it is read whether there is light
)

// observe takes a reading of the slow clock.
func (c *course) observe(p *portState, base *lightBase, swapped bool) {
	lane, told := leastLit(p.optic.Lanes)
	if swapped {
		*c = course{Out: c.Out, In: c.In, Swapped: p.toldAt}
	}
	switch {
	case !told:
	case lane < 0:
		if !c.Out.After(c.In) {
			c.Out = p.toldAt
		}
	default:
		if c.Out.After(c.In) {
			c.In = p.toldAt
		}
		now, _ := p.optic.Lanes[lane].Received.Get()
		usual, settled := base.usual(base.Received, lane)
		c.take(float64(now), p.toldAt, usual, settled, p.open())
	}
}

// leastLit is the lane that receives least of those that receive light, -1 where none
// does; false where none tells.
func leastLit(lanes []port.Lane) (lane int, told bool) {
	lane = -1
	for i, l := range lanes {
		now, ok := l.Received.Get()
		told = told || ok
		if !ok || dark(now) {
			continue
		}
		if lane >= 0 {
			if least, _ := lanes[lane].Received.Get(); now >= least {
				continue
			}
		}
		lane = i
	}
	return lane, told
}

func (c *course) take(now float64, at time.Time, usual float64, settled, open bool) {
	if c.At.IsZero() || !at.After(c.At) {
		c.At, c.Last, c.Slow = at, float32(now), float32(now)
		return
	}
	gap := at.Sub(c.At)
	c.Moves <<= 1
	if abs(now-float64(c.Last)) > closeDB {
		c.Moves |= 1
	}
	c.Told = min(c.Told+1, movesOf)
	c.Slow += float32(1-math.Exp(-gap.Seconds()/followsIn.Seconds())) * (float32(now) - c.Slow)
	c.At, c.Last = at, float32(now)

	fallen := usual - now
	switch seen := settled && fallen > closeDB; {
	case !seen && !open:
		c.Fell = fellUnseen
	case seen && gap <= fallsSeen && (!open || c.Fell == fellUnseen):
		c.Fell = fellAtOnce
		if usual-float64(c.Slow) > fallen/2 {
			c.Fell = fellSlowly
		}
	}
}

// items are what the course says.
func (c *course) items() (seen items) {
	jumps := c.jumps()
	seen.see(lightJumps, jumps)
	seen.see(lightStill, c.Told >= stillFor && c.Moves&(1<<stillFor-1) == 0)
	seen.see(lightStepped, !jumps && c.Fell == fellAtOnce)
	seen.see(lightCrept, !jumps && c.Fell == fellSlowly)
	return seen
}

func (c *course) jumps() bool { return bits.OnesCount16(c.Moves) >= jumpsFrom }

// wasOut tells for how long there was no light from about a time on until there was
// some again; false where that is not known.
func (c *course) wasOut(from time.Time) (time.Duration, bool) {
	if c.Out.Before(from.Add(-outBetween)) || c.Out.After(from.Add(2*outBetween)) || !c.In.After(c.Out) {
		return 0, false
	}
	return c.In.Sub(c.Out), true
}

// stayed tells whether there was light all the while since about a time.
func (c *course) stayed(from time.Time) bool {
	return c.At.After(from) && c.Out.Before(from.Add(-outBetween))
}
