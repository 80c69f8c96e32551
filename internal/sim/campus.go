package sim

import (
	"hash/fnv"
	"math/rand/v2"
	"sync"
	"time"
)

// Campus is switches, cables and devices on one clock, behind one mutex.
type Campus struct {
	// Step is the grid on which the model advances; set before first use.
	Step time.Duration

	mu       sync.Mutex
	seed     uint64
	start    time.Time
	elapsed  time.Duration
	switches []*Switch
	cables   []*Cable
	places   map[string]*Port // where runs begin in truth, by id
	noises   []noise
	faults   []PlantedFault
	serials  int       // given so far
	optics   int       // made so far
	caching  []*Switch // whose counters are served from a cache
	events   []event   // to come, in order
	bundled  bool      // whether some cables lie in bundles

	pastMidnight time.Duration // the time of day at which it starts
	site         site

	misrecorded []RecordError
}

type noise struct {
	pathway string
	when    Schedule
	ber     float64
}

const (
	longSleep  = 10 * time.Minute // of the callers, after which steps are coarse
	coarseStep = 10 * time.Second
)

// NewCampus makes an empty campus that begins at start.
func NewCampus(seed uint64, start time.Time) *Campus {
	return &Campus{
		Step: 100 * time.Millisecond, seed: seed, start: start, places: map[string]*Port{},
		pastMidnight: start.Sub(start.Truncate(24 * time.Hour)),
	}
}

// AddSwitch builds a switch.
func (c *Campus) AddSwitch(plan SwitchPlan) *Switch {
	c.mu.Lock()
	defer c.mu.Unlock()
	s := newSwitch(c, plan)
	c.switches = append(c.switches, s)
	c.listCaches()
	return s
}

// Connect lays a cable, brings its link up where it can be, and gives both
// ends the counters of the time since their switches booted.
func (c *Campus) Connect(cable Cable) *Cable {
	c.mu.Lock()
	defer c.mu.Unlock()
	laid := &cable
	name := fnv.New64a()
	name.Write([]byte(cable.A.owner.Name + cable.A.Name + cable.ID))
	laid.random = rand.New(rand.NewPCG(c.seed, name.Sum64()))
	laid.period = 180 + 480*laid.random.Float64()
	laid.phase = 6.28 * laid.random.Float64()
	if laid.Media == Fibre && laid.Device != nil && laid.Device.Module == nil && laid.A.module != nil {
		laid.Device.Module = c.optic(laid.A.Optic)
	}
	if laid.Rattle != nil {
		laid.Rattle.next = c.elapsed + contactFails + time.Duration(laid.random.Float64()*float64(4*time.Second))
	}
	c.bundled = c.bundled || laid.Channel != nil && laid.Channel.Bundle != ""
	c.past(laid)
	c.cables = append(c.cables, laid)
	c.places[laid.ID] = laid.A
	return laid
}

// past plays the time from the boot of the younger end to now in one stroke.
func (c *Campus) past(cable *Cable) {
	up := c.elapsed - cable.A.owner.booted
	if cable.B != nil {
		up = min(up, c.elapsed-cable.B.owner.booted)
	}
	cable.trainedAfter = c.elapsed
	rattle := cable.Rattle
	cable.Rattle = nil
	cable.power(c.elapsed)
	if cable.Device != nil {
		cable.Device.starts = 0
	}
	cable.step(c.elapsed, up, 0.7, 0)
	cable.Rattle = rattle
	for _, p := range []*Port{cable.A, cable.B} { // what the past damaged has long gone on
		if p != nil && p.exit != nil {
			p.exit.line.waiting = stomped{}
		}
	}
	a, b := cable.ends()
	a.changed = c.elapsed - time.Duration(float64(up)*cable.random.Float64())
	b.changed = a.changed
	if !cable.joined.up() {
		return
	}
	for _, p := range cable.joined.ports() {
		p.capture()
		for _, n := range p.heard {
			n.since = a.changed
		}
	}
}

// Noise puts a source of bit errors beside a pathway: while its schedule is
// on, every cable through it has ber times its Coupling more of them.
func (c *Campus) Noise(pathway string, when Schedule, ber float64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.noises = append(c.noises, noise{pathway, when, ber})
}

// Switches gives the switches in the order they were built.
func (c *Campus) Switches() []*Switch { return c.switches }

// Switch gives a switch by name, nil if there is none.
func (c *Campus) Switch(name string) *Switch {
	for _, s := range c.switches {
		if s.Name == name {
			return s
		}
	}
	return nil
}

// Cable gives the cable at a switch's port, nil if there is none.
func (c *Campus) Cable(p *Port) *Cable {
	for _, cable := range c.cables {
		if cable.A == p || cable.B == p {
			return cable
		}
	}
	return nil
}

// Reachable gives the switches that frames from a switch reach over links that
// are up, itself included while it has power. Where a switch on the only way
// dies, what hangs below it is missing here.
func (c *Campus) Reachable(now time.Time, from *Switch) map[*Switch]bool {
	reached := map[*Switch]bool{}
	c.Do(now, func() {
		if !from.off {
			c.reach(from, reached)
		}
	})
	return reached
}

func (c *Campus) reach(s *Switch, reached map[*Switch]bool) {
	reached[s] = true
	for _, cable := range c.cables {
		j := cable.joined
		if j.pb == nil || j.pa.owner != s && j.pb.owner != s {
			continue
		}
		for _, p := range j.ports() {
			if !reached[p.owner] {
				c.reach(p.owner, reached)
			}
		}
	}
}

// Do brings the campus to a time and calls f with nobody else reading it.
// Cables, devices and ports may be changed and counters read there.
func (c *Campus) Do(now time.Time, f func()) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.advance(now)
	f()
}

func (c *Campus) since(now time.Time) time.Duration { return now.Sub(c.start) }

// advance integrates up to a time, in whole steps, coarse ones first where
// nobody has asked for long; a time already passed changes nothing.
func (c *Campus) advance(now time.Time) {
	c.happen()
	if c.since(now)-c.elapsed > longSleep {
		c.march(now, max(c.Step, coarseStep))
	}
	c.march(now, c.Step)
}

func (c *Campus) march(now time.Time, step time.Duration) {
	for c.since(now)-c.elapsed >= step {
		busy := daily(c.start.Add(c.elapsed))
		c.count()
		for _, cable := range c.cables {
			cable.step(c.elapsed, step, busy, c.noiseOn(cable))
		}
		c.elapsed += step
		c.happen()
		for _, s := range c.caching {
			s.refresh(c.elapsed)
		}
	}
}

func (c *Campus) noiseOn(cable *Cable) float64 {
	ber := 0.0
	if cable.Coupling == 0 {
		return ber
	}
	for _, n := range c.noises {
		for _, pathway := range cable.Pathways {
			if pathway == n.pathway && n.when.On(c.elapsed) {
				ber += n.ber
			}
		}
	}
	return ber
}
