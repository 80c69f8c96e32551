package corpus

import (
	"fmt"
	"time"
)

var (
	dim  = []string{"low-light", "excess-loss", "frame-errors", "no-link", "link-flapping"}
	dark = []string{"no-link", "low-light"}
)

// What each cause does to a fibre run.
var fibreRecipes = []recipe{
	{causes: []string{"dirty-connector"}, kinds: dim, weight: 6, on: atFibre, do: dirtyConnector},
	{causes: []string{"dirty-connector"}, kinds: dim, weight: 1, on: fastRun, do: dirtyConnector},
	{causes: []string{"bent-fibre"}, kinds: dim, weight: 3, on: atFibre, do: bentFibre},
	{causes: []string{"wrong-fibre"}, kinds: dim, weight: 2, on: atFibre, do: wrongFibre},
	{causes: []string{"wrong-fibre"}, kinds: dim, weight: 1, on: singleMod, do: modalFibre},
	{causes: []string{"loss-over-budget"}, kinds: dim, weight: 2, on: atFibre, do: overBudget},
	{causes: []string{"receiver-overload"}, kinds: []string{"high-light", "frame-errors"}, weight: 2, on: shortRun, do: overload},
	{causes: []string{"loose-optic"}, kinds: dim, weight: 2, on: atFibre, do: looseOptic},
	{causes: []string{"optic-mismatch"}, kinds: dim, weight: 2, on: atFibre, do: opticMismatch},
	{causes: []string{"failing-transmitter"}, kinds: dim, weight: 3, on: atFibre, do: failingTransmitter},
	{causes: []string{"failing-receiver"}, kinds: errors_, weight: 3, on: atFibre, do: failingReceiver},
	{causes: []string{"broken-strand"}, kinds: dark, weight: 2, on: atFibre, do: brokenStrand},
	{causes: []string{"reversed-polarity"}, kinds: dark, weight: 3, on: atFibre, do: reversed},
	{causes: []string{"fec-mismatch"}, kinds: []string{"no-link"}, weight: 3, on: fastRun, do: otherFEC},
	{causes: []string{"port-shut"}, kinds: dark, weight: 1, on: atFibre, do: farShut},
}

// lose adds dB to one strand's loss.
func (p *planter) lose(toA bool, dB float64) {
	if toA {
		p.cable.LossToA += dB
	} else {
		p.cable.LossToB += dB
	}
}

// toA draws the direction that suffers. Where the far end is not asked, its
// receiver's troubles cannot be seen.
func (p *planter) toA() bool {
	return p.chance(0.5) || len(p.far) > 5 && p.far[:5] == unpolled
}

// enough gives a loss that brings an end's light near the least it can do with, or
// below it.
func (p *planter) enough(toA bool) float64 {
	spare := p.light(toA)
	return max(p.between(spare-2.5, spare+1.8), 2.6)
}

// light is how many dB an end can lose.
func (p *planter) light(toA bool) (spare float64) {
	p.Stage.Campus.Do(begun, func() { spare = p.cable.LightSpare(toA) })
	return spare
}

func dirtyConnector(p *planter) {
	toA := p.toA()
	dB := p.enough(toA)
	p.repatched(func() { p.lose(toA, dB) })
}

func bentFibre(p *planter) {
	dB := p.enough(true)
	skew := p.between(0.8, 1.2)
	p.begins(func() { p.lose(true, dB); p.lose(false, dB*skew) })
	if p.chance(0.4) { // it moves
		for at := p.from + time.Hour; at < playEnds; at += time.Duration(p.between(0.5, 6) * float64(time.Hour)) {
			more := p.between(-0.8, 0.8)
			p.at(at, func() { p.lose(true, more); p.lose(false, more*skew) })
			p.at(at+20*time.Minute, func() { p.lose(true, -more); p.lose(false, -more*skew) })
		}
	}
}

// wrongFibre is light for multimode fibre in a single-mode cord.
func wrongFibre(p *planter) {
	mix := func() { p.cable.Kind = "OS2" }
	if p.chance(0.5) {
		p.fresh(mix)
	} else {
		p.repatched(mix)
	}
}

// modalFibre is a laser for single-mode fibre on multimode fibre.
func modalFibre(p *planter) {
	p.cable.LengthM = p.between(100, 130)
	p.record["length_m"] = fmt.Sprintf("%.0f", p.cable.LengthM)
	mix := func() { p.cable.Kind = "OM4" }
	if p.chance(0.5) {
		p.fresh(mix)
	} else {
		p.repatched(mix)
	}
}

// overBudget is a run of too many joints, new or after one more was put in.
func overBudget(p *planter) {
	dB := p.light(true) + p.between(0.3, 1.8)
	many := func() { p.lose(true, dB+p.between(-0.5, 0.5)); p.lose(false, dB) }
	if p.chance(0.3) {
		p.record["connectors"] = fmt.Sprint(8 + p.random.IntN(6))
	}
	if p.chance(0.5) { // else the joints came after its test, which such a run would not pass
		p.record["test_result"] = "fail"
	}
	p.laid(many)
}

// overload is a long-reach optic whose attenuator was left out.
func overload(p *planter) {
	p.at(0, func() { p.cable.LengthM = p.between(5, 300) })
	p.record["length_m"] = "200"
	if p.chance(0.5) {
		p.fresh(func() {})
		return
	}
	p.at(0, func() { p.lose(true, 8); p.lose(false, 8) })
	toA := p.toA()
	p.repatched(func() { p.lose(toA, -8) })
}

func looseOptic(p *planter) {
	toA := p.toA()
	dB := p.enough(toA) + 2
	p.begins(func() {
		if toA {
			p.cable.A.Module().Loose = dB
		} else {
			p.cable.B.Module().Loose = dB
		}
	})
}

// opticMismatch is an optic of another kind at one end.
func opticMismatch(p *planter) {
	p.at(p.from-2*time.Minute, p.cable.Unplug)
	p.atTime(p.from, func(now time.Time) { p.cable.B.Insert(now, "10GBASE-LR") })
	p.at(p.from, p.cable.Replug)
}

// failingTransmitter has been wearing out; in the end its light falls by some dB a day.
func failingTransmitter(p *planter) {
	toA := p.toA()
	perDay := p.between(1.2, 4)
	p.at(0, func() {
		m := p.cable.A.Module()
		if toA {
			m = p.cable.B.Module()
		}
		m.WearPerDay = perDay
		m.Wear = 1.5 - perDay*p.from.Hours()/24 // its current is at its end about then
	})
	p.from -= time.Duration(1.5 / perDay * float64(24*time.Hour)) // when its current begins to rise
}

func failingReceiver(p *planter) {
	toA := p.toA()
	deaf := p.light(toA) + p.between(0.6, 2.4)
	p.begins(func() {
		if toA {
			p.cable.A.Module().Deaf = deaf
		} else {
			p.cable.B.Module().Deaf = deaf
		}
	})
}

// brokenStrand is one strand that broke, or the whole cord or cable that was cut.
func brokenStrand(p *planter) {
	toA, cut := p.chance(0.5), p.chance(0.4)
	p.begins(func() { p.cable.BrokenToA, p.cable.BrokenToB = toA || cut, !toA || cut })
}

// reversed is found where a run is new; whoever changes a cord waits for its link as a
// rule.
func reversed(p *planter) {
	cross := func() { p.cable.Reversed = true }
	if p.chance(0.9) {
		p.fresh(cross)
	} else {
		p.repatched(cross)
	}
}

func otherFEC(p *planter) {
	end := pick(p.Labelled, p.cable.A, p.cable.B)
	p.begins(func() { end.FEC = "none" })
}

func farShut(p *planter) {
	end := pick(p.Labelled, p.cable.A, p.cable.B)
	p.begins(func() { end.Shut = true })
}
