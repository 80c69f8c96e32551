package corpus

import (
	"time"

	"toneout/internal/sim"
)

// What only looks like a bad cable.
var lookAlikes = []recipe{
	{causes: []string{"far-end-asleep"}, kinds: []string{"below-design-speed"}, lookAlike: true, weight: 10, on: atDesk, do: asleep},
	{causes: []string{"far-end-limit"}, kinds: []string{"below-design-speed"}, lookAlike: true, weight: 12, on: anyEnd, do: legacy},
	{causes: []string{"power-budget"}, kinds: []string{"no-link", "power-fault"}, lookAlike: true, weight: 8, on: fed, do: refused},
	{causes: []string{"upstream-errors"}, kinds: []string{"frame-errors"}, lookAlike: true, weight: 6, on: victims, do: passedOn},
	{causes: []string{"record-wrong"}, kinds: []string{"below-design-speed"}, lookAlike: true, weight: 10, on: atDesk, do: otherRun},
	{lookAlike: true, weight: 8, on: anyEnd, do: restarts},
	{lookAlike: true, weight: 8, on: anyEnd, do: patchEvening},
	{lookAlike: true, weight: 6, on: atDesk, do: atItsObjective},
	{lookAlike: true, weight: 8, on: atFibre, do: withinBudget},
	{lookAlike: true, weight: 3, on: atDesk, do: unplugged},
	{lookAlike: true, weight: 2, on: atDesk, do: switchRestart},
}

// asleep is a computer that lowers its speed while nobody works at it.
func asleep(p *planter) {
	speeds := pick(p.Labelled, []int{100}, []int{10}, []int{10, 100})
	nights := p.Stage.Campus.Nightly(18+p.random.IntN(3), 6+p.random.IntN(3))
	if p.chance(0.4) { // nobody comes any more
		nights = sim.Schedule{Every: 1, For: 1}
	}
	p.begins(func() { p.cable.Device.SleepSpeeds, p.cable.Device.Asleep = speeds, nights })
}

// legacy is a device that can do no more than 100 Mb/s.
func legacy(p *planter) {
	swap := func() { p.cable.Device.Speeds = []int{10, 100} }
	if p.chance(0.5) {
		p.always(swap)
	} else {
		p.repatched(func() { swap(); p.cable.Device.Name += " old" }) // it announces itself as what it is
	}
	if p.chance(0.3) {
		p.record["device"] = "label printer"
	}
}

// refused is a device that wants more power than the switch has.
func refused(p *planter) {
	p.begins(func() { p.cable.Device.Watts = 500; p.cable.Reboot() })
	p.at(p.from+time.Second, p.cable.Unplug)
	p.at(p.from+20*time.Second, p.cable.Replug)
}

// passedOn is an uplink that carries on what a desk's run of its switch damages.
func passedOn(p *planter) {
	source := p.site.beside(p.spot, 1, func(s *spot) bool { return s.where == atDesk })
	if len(source) == 0 {
		p.Labels = p.Labels[:len(p.Labels)-1]
		return
	}
	s := source[0]
	p.Labels = append(p.Labels, &Label{
		Run: s.id, Near: s.near, From: p.from, Causes: []string{"damaged-cable"}, Kinds: both,
	})
	at := &planter{Labelled: p.Labelled, spot: s}
	p.begins(func() {
		left := p.between(-4, -2.5)
		s.cable.Channel.EatenToA, s.cable.Channel.EatenToB = at.eat(true, left), at.eat(false, left+0.5)
	})
}

// otherRun is a row of the inventory with the port of another run, at which an old
// device hangs that is known and meant to be there.
func otherRun(p *planter) {
	others := p.site.beside(p.spot, 1, func(s *spot) bool { return s.where == atDesk })
	if len(others) == 0 {
		p.Labels = p.Labels[:len(p.Labels)-1]
		return
	}
	p.record["device"], p.record["device_speed"] = "door controller", "100M"
	p.always(func() { p.cable.Device.Speeds = []int{10, 100} })
	p.swap(p.spot, others[0])
}

// restarts is a device that starts anew now and then.
func restarts(p *planter) {
	every := time.Duration(p.spread(0.15, 30) * float64(time.Hour))
	for at := p.from; at < playEnds; at += every {
		p.at(at, p.cable.Reboot)
	}
}

// patchEvening is a plug that is moved a few times within minutes.
func patchEvening(p *planter) {
	for range 1 + p.random.IntN(3) {
		at := p.from + time.Duration(p.between(0, 40))*time.Minute
		p.at(at, p.cable.Unplug)
		p.at(at+time.Duration(p.between(20, 100))*time.Second, p.cable.Replug)
	}
}

// atItsObjective damages what its physical layer may.
func atItsObjective(p *planter) {
	ber := p.spread(3e-12, 6e-11) // the objective of 1000BASE-T is 1e-10 (IEEE 802.3 40.1.1)
	p.label.damages = true        // which a switch that passes frames on passes on
	p.always(func() { p.cable.BERToA, p.cable.BERToB = ber, ber })
}

// withinBudget is a run through some more joints, with enough light left.
func withinBudget(p *planter) {
	dB := p.between(0.3, 1.2)
	p.repatched(func() { p.lose(true, dB); p.lose(false, dB) })
}

// unplugged is a computer that is taken away.
func unplugged(p *planter) { p.begins(p.cable.Unplug) }

// switchRestart is a whole switch that starts anew.
func switchRestart(p *planter) {
	p.atTime(p.from, p.cable.A.Switch().Restart)
	for _, s := range p.site.beside(p.spot, 2, func(s *spot) bool { return s.where == atDesk }) {
		p.also(s)
	}
}
