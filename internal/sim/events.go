package sim

import (
	"math/rand/v2"
	"slices"
	"time"
)

// event is what happens to the campus at a time.
type event struct {
	at time.Duration
	do func()
}

// At plans what is to happen at a time. It is done when the campus comes to
// it, as if inside Do; methods that take the time themselves cannot be called.
func (c *Campus) At(when time.Time, do func()) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.plan(c.since(when), do)
}

func (c *Campus) plan(at time.Duration, do func()) {
	i := slices.IndexFunc(c.events, func(e event) bool { return e.at > at })
	if i < 0 {
		i = len(c.events)
	}
	c.events = slices.Insert(c.events, i, event{at, do})
}

// happen does what is due.
func (c *Campus) happen() {
	for len(c.events) > 0 && c.events[0].at <= c.elapsed {
		do := c.events[0].do
		c.events = c.events[1:]
		do()
	}
}

// outage is how long a switch takes to start with new firmware.
const outage = 3 * time.Minute

// FirmwareRound restarts the switches one after the other, apart from each
// other; each is away for 3 minutes.
func (c *Campus) FirmwareRound(from time.Time, apart time.Duration, switches ...*Switch) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for i, s := range switches {
		at := c.since(from) + time.Duration(i)*apart
		c.plan(at, func() { s.power(false) })
		c.plan(at+outage, func() { s.power(true) })
	}
}

// PatchEvening moves plugs at the panels of some switches within an hour: each
// time two runs of a switch, drawn by the seed, change places. Their ends hang
// in the air for half a minute. The records know nothing of it.
func (c *Campus) PatchEvening(from time.Time, moves int, switches ...*Switch) {
	c.mu.Lock()
	defer c.mu.Unlock()
	random := rand.New(rand.NewPCG(c.seed, 0x9a7c4))
	for range moves {
		s := switches[random.IntN(len(switches))]
		runs := c.patchable(s)
		if len(runs) < 2 {
			continue
		}
		i, j := random.IntN(len(runs)), random.IntN(len(runs)-1)
		if j >= i {
			j++
		}
		c.move(c.since(from)+time.Duration(random.Float64()*float64(time.Hour)), runs[i], runs[j])
	}
}

// patchable are the runs of a switch's copper ports that end on devices.
func (c *Campus) patchable(s *Switch) (out []*Cable) {
	for _, cable := range c.cables {
		if cable.A.owner == s && cable.Media == Copper && cable.Device != nil {
			out = append(out, cable)
		}
	}
	return out
}

// move lets two runs change places at a time, each end loose for half a minute.
func (c *Campus) move(at time.Duration, one, other *Cable) {
	c.plan(at, func() { one.loose, other.loose = true, true })
	c.plan(at+30*time.Second, func() {
		one.loose, other.loose = false, false
		one.A, other.A = other.A, one.A
		c.places[one.ID], c.places[other.ID] = one.A, other.A
	})
}

// Unplug pulls the cord out of the cable's far end, and Replug puts it back, to
// be called inside Campus.Do.
func (c *Cable) Unplug() { c.loose = true }

// Replug: see Unplug.
func (c *Cable) Replug() { c.loose = false }

// LoosePlug is a plug that loses its link so often an hour, on average.
func LoosePlug(perHour float64) *Rattle {
	return &Rattle{Mean: time.Duration(float64(time.Hour) / perHour)}
}

// Nightly is on every day between two hours of the campus's clock, 19 and 7 say.
func (c *Campus) Nightly(from, until int) Schedule {
	midnight := c.start.Add(-time.Duration(c.start.Hour())*time.Hour - time.Duration(c.start.Minute())*time.Minute)
	return Schedule{
		Offset: midnight.Add(time.Duration(from) * time.Hour).Sub(c.start), Every: 24 * time.Hour,
		For: time.Duration((until-from+24)%24) * time.Hour,
	}
}
