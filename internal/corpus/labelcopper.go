package corpus

import (
	"fmt"
	"math"
	"time"

	"toneout/internal/sim"
)

// What each cause does to a copper run: field practice as common practice has it,
// with a spread from mild to heavy. The physics is sim's.

var (
	errors_ = []string{"frame-errors"}
	slow    = []string{"below-design-speed", "no-link"}
	both    = []string{"frame-errors", "below-design-speed", "no-link", "link-flapping"}
)

var copperRecipes = []recipe{
	{causes: []string{"open-pair"}, kinds: slow, weight: 7, on: anyEnd, do: openPair},
	{causes: []string{"shorted-pair"}, kinds: append(slow, "power-fault"), weight: 2, on: anyEnd, do: shortedPair},
	{causes: []string{"crossed-pair"}, kinds: slow, weight: 2, on: anyEnd, do: crossedPair},
	{causes: []string{"split-pair"}, kinds: both, weight: 3, on: atDesk, do: splitPair},
	{causes: []string{"over-length"}, kinds: both, weight: 2, on: atDesk, do: overLength},
	{causes: []string{"over-length"}, kinds: both, weight: 1, on: multiGig, do: overLength},
	{causes: []string{"wrong-category"}, kinds: both, weight: 2, on: multiGig, do: wrongCategory},
	{causes: []string{"wrong-category"}, kinds: both, weight: 1, on: atDesk, do: flatCord},
	{causes: []string{"poor-termination"}, kinds: both, weight: 6, on: atDesk, do: poorTermination},
	{causes: []string{"alien-crosstalk"}, kinds: both, weight: 3, on: multiGig, do: alienCrosstalk},
	{causes: []string{"interference"}, kinds: errors_, weight: 2, on: atDesk, do: interference},
	{causes: []string{"shield-broken"}, kinds: errors_, weight: 4, on: atDesk, do: shieldBroken},
	{causes: []string{"damaged-cable"}, kinds: both, weight: 4, on: anyEnd, do: damagedCable},
	{causes: []string{"cable-heat"}, kinds: both, weight: 2, on: atDesk, do: cableHeat},
	{causes: []string{"loose-plug"}, kinds: []string{"link-flapping", "frame-errors"}, weight: 4, on: anyEnd, do: loosePlug},
	{causes: []string{"bad-cord"}, kinds: both, weight: 7, on: atDesk, do: badCord},
	{causes: []string{"duplex-setting"}, kinds: []string{"duplex-mismatch", "below-design-speed", "frame-errors"}, weight: 3, on: atDesk, do: duplexSetting},
	{causes: []string{"speed-setting"}, kinds: []string{"below-design-speed"}, weight: 3, on: anyEnd, do: speedSetting},
	{causes: []string{"port-shut"}, kinds: []string{"no-link"}, weight: 3, on: fed, do: portShut},
	{causes: []string{"port-faulty"}, kinds: both, weight: 3, on: anyEnd, do: portFaulty},
	{causes: []string{"far-end-faulty"}, kinds: both, weight: 4, on: anyEnd, do: farEndFaulty},
}

func openPair(p *planter) {
	pair := []sim.Pair{pick(p.Labelled, sim.Pair45, sim.Pair78)}
	switch {
	case p.where == fed && p.chance(0.3): // nobody misses the link of a desk
		pair = []sim.Pair{pick(p.Labelled, sim.Pair12, sim.Pair36)}
	case p.where == fed && p.chance(0.15):
		p.at(0, func() { p.cable.Channel.Slow = true })
	}
	open := func() { p.cable.Open = pair }
	if p.chance(0.4) {
		p.repatched(open)
	} else {
		p.begins(open)
	}
}

func shortedPair(p *planter) {
	pair := []sim.Pair{pick(p.Labelled, sim.Pair45, sim.Pair78)}
	if p.where == fed && p.chance(0.5) {
		pair = []sim.Pair{pick(p.Labelled, sim.Pair12, sim.Pair36)}
	}
	p.begins(func() { p.cable.Channel.Shorted = pair })
}

// crossedPair is a wire of each of two pairs in the other's place, as a jack is
// wired anew or a new run is used first.
func crossedPair(p *planter) {
	pairs := []sim.Pair{sim.Pair45, sim.Pair78}
	if p.where == fed && p.chance(0.4) {
		pairs = []sim.Pair{sim.Pair36, sim.Pair45}
	}
	cross := func() { p.cable.Channel.Crossed = pairs }
	if p.chance(0.9) {
		p.fresh(cross)
		p.flawed(3, map[bool]string{true: "1-1 2-2 3-3 6-6 4-7 5-5 7-4 8-8", false: "1-1 2-2 3-4 4-3 5-5 6-6 7-7 8-8"}[pairs[0] == sim.Pair45])
	} else {
		p.rewired(cross)
	}
}

// rewired plans it for the end of the half hour in which a jack is wired anew.
func (p *planter) rewired(do func()) {
	out := time.Duration(p.between(10, 50)) * time.Minute
	p.at(p.from-out, p.cable.Unplug)
	p.at(p.from, func() { do(); p.cable.Replug() })
}

// splitPair lets a pair's neighbour couple into it some 22 dB more than it should, at
// both ends and at any speed. Of those dB an echo canceller takes some back, and so
// many at least are left that it damages more than any poor joint (inference).
func splitPair(p *planter) {
	eaten, shows := p.between(13, 19), p.between(-4.1, -2.8)
	split := func() {
		p.cable.Channel.EatenToA = max(eaten, p.eat(true, shows))
		p.cable.Channel.EatenToB = max(eaten, p.eat(false, shows))
	}
	if p.chance(0.6) {
		p.fresh(split)
		p.flawed(p.between(-16, -6), pick(p.Labelled, "split 3-6/4-5", "pass")) // not every tester sees a split pair
	} else {
		p.rewired(split)
	}
}

// overLength lays metres until so little is left. A third of the schedules have the
// length that was planned.
func overLength(p *planter) {
	left := p.poor()
	lengthen := func() {
		for p.cable.Spare(p.speed, true) > left {
			p.cable.LengthM++
		}
	}
	p.Stage.Campus.Do(begun, lengthen)
	if p.chance(0.67) {
		p.record["length_m"] = fmt.Sprintf("%.0f", p.cable.LengthM)
	} else {
		p.record["length_m"] = "88"
	}
	p.laid(func() {})
	p.flawed(p.between(-2, 1.5), "pass")
}

// wrongCategory is a cable of a lower category than the record has it, which never
// held 10 Gb/s: so long that it doesn't, since a short one does.
func wrongCategory(p *planter) {
	kind, length := pick(p.Labelled, "5e", "5e", "6"), p.between(60, 85)
	p.laid(func() {
		p.cable.Kind, p.cable.LengthM = kind, length
		if kind == "6" {
			p.cable.Channel.Alien += 2
		}
	})
	p.record["length_m"] = fmt.Sprintf("%.0f", length)
	if p.chance(0.5) {
		p.record["cable"] = "cat-5e"
	}
	delete(p.record, "tested_on")
	delete(p.record, "test_result")
	delete(p.record, "test_margin_db")
}

// flatCord is a telephone's cord in the place of a patch cord.
func flatCord(p *planter) {
	left := p.between(-4.5, -1.5)
	if p.chance(0.5) {
		left = -9 // it trains at 100 Mb/s at the most
	}
	p.repatched(func() {
		p.cable.Channel.EatenToA, p.cable.Channel.EatenToB = p.eat(true, left), p.eat(false, left)
	})
	if p.chance(0.5) {
		p.record["far_cord_cable"] = "cat-3"
	}
}

// poorTermination is at the near panel, where the switch's end suffers most; of a
// joint at the outlet the device would suffer, and nobody could ask it. It is milder
// than a split pair.
func poorTermination(p *planter) {
	left, other := p.between(-3, -1), p.between(-0.5, 5)
	untwist := func() {
		p.cable.Channel.EatenToA, p.cable.Channel.EatenToB = p.eat(true, left), p.eat(false, other)
	}
	switch p.random.IntN(3) {
	case 0:
		p.fresh(untwist)
	case 1:
		p.always(untwist)
	case 2:
		p.rewired(untwist)
		return
	}
	p.flawed(p.between(-4, 0.5), "pass")
}

// alienCrosstalk comes when a row of neighbours in the bundle links at 10 Gb/s.
func alienCrosstalk(p *planter) {
	victims := append(p.site.beside(p.spot, 2, func(*spot) bool { return true }), p.spot)
	loud := p.site.beside(p.spot, 14, func(*spot) bool { return true })
	if len(loud) < 11 {
		p.Labels = p.Labels[:len(p.Labels)-1] // the bundle is used up
		return
	}
	for _, s := range loud {
		p.at(0, s.cable.Unplug)
		p.at(p.from, s.cable.Replug)
	}
	for _, v := range victims {
		if v != p.spot {
			p.also(v)
		}
		left, alien := p.between(-2.8, -1.4), p.between(3, 10)
		p.at(0, func() {
			v.cable.Channel.Alien = alien
			eaten := (&planter{Labelled: p.Labelled, spot: v}).eat(true, left+10*math.Log10(1+alien*(tenGig-1)))
			v.cable.Channel.EatenToA, v.cable.Channel.EatenToB = eaten, eaten
		})
	}
}

// machine lets a source beside a tray run in working hours, coupled to some runs.
func (p *planter) machine(runs []*spot, ber float64, every, lasts time.Duration) {
	pathway := "beside-" + p.id
	offset := time.Duration(p.random.Int64N(int64(every)))
	p.Stage.Campus.Noise(pathway, sim.Schedule{Offset: offset, Every: every, For: lasts}, ber)
	starts, ends := 7+p.random.IntN(4), 15+p.random.IntN(5)
	for _, s := range runs {
		couples := p.spread(0.05, 1)
		if s == p.spot {
			couples = 1
		}
		s.cable.Pathways = append(s.cable.Pathways, pathway)
		for day := p.from.Truncate(24 * time.Hour); day < playEnds; day += 24 * time.Hour {
			p.at(max(day+time.Duration(starts)*time.Hour, p.from), func() { s.cable.Coupling = couples })
			p.at(max(day+time.Duration(ends)*time.Hour, p.from+time.Hour), func() { s.cable.Coupling = 0 })
		}
	}
}

func interference(p *planter) {
	if p.cable.Channel.Screen { // a sound one would keep it out
		p.cable.Channel.Screen, p.record["cable"] = false, "cat-6a"
	}
	tray := p.cable.Pathways[0]
	runs := append(p.site.beside(p.spot, 2+p.random.IntN(5), func(s *spot) bool { // many runs of one pathway
		return s.shares(tray) && s.where == atDesk && !s.cable.Channel.Screen
	}), p.spot)
	for _, s := range runs[:len(runs)-1] {
		p.also(s)
	}
	p.machine(runs, p.spread(2e-7, 2e-5), time.Duration(p.between(8, 60))*time.Minute, time.Duration(p.between(10, 150))*time.Second)
}

// shieldBroken lets in what other screened runs of the tray keep out.
func shieldBroken(p *planter) {
	p.at(0, func() { p.cable.Channel.Screen = true })
	p.record["cable"] = "cat-6a-screened"
	p.machine([]*spot{p.spot}, p.spread(2e-7, 2e-5), time.Duration(p.between(8, 90))*time.Minute, time.Duration(p.between(10, 200))*time.Second)
}

// cutThrough are both true of a cable some of whose wires are cut.
var cutThrough = []string{"damaged-cable", "open-pair"}

// damagedCable is a cable that works or rain have reached.
func damagedCable(p *planter) {
	crush := func() {
		p.cable.Channel.EatenToA, p.cable.Channel.EatenToB = p.eat(true, p.poor()), p.eat(false, p.poor())
	}
	switch draw := p.random.Float64(); {
	case draw < 0.3 && p.where == fed: // cut
		p.label.Causes = cutThrough
		p.begins(func() { p.cable.Open = pairs })
	case draw < 0.35: // some wires
		p.label.Causes = cutThrough
		p.begins(func() {
			crush()
			p.cable.Open = []sim.Pair{pick(p.Labelled, sim.Pair45, sim.Pair78)}
		})
	case draw < 0.5 && p.where == fed: // water between the wires
		p.begins(func() {
			crush()
			p.cable.Leak = &sim.Leak{Mean: time.Duration(p.between(5, 60)) * time.Minute, Overload: p.chance(0.5)}
		})
		p.label.Kinds = append(p.label.Kinds[:len(p.label.Kinds):len(p.label.Kinds)], "power-fault")
	case draw < 0.75: // water in the jacket, which comes and goes
		p.begins(func() {
			crush()
			p.cable.Channel.Weather = &sim.Weather{DB: p.between(1, 3), Period: time.Duration(p.between(20, 50)) * time.Hour}
		})
	default:
		p.begins(crush)
	}
}

// cableHeat is a run without much to spare through a place that grows hot by day.
func cableHeat(p *planter) {
	hot := sim.Warmth{Celsius: p.between(28, 32), Swing: p.between(26, 34)}
	tray := p.cable.Pathways[0]
	runs := append(p.site.beside(p.spot, p.random.IntN(3), func(s *spot) bool { return s.shares(tray) && s.where == atDesk }), p.spot)
	for _, s := range runs {
		if s != p.spot {
			p.also(s)
		}
		p.at(0, func() {
			s.cable.LengthM = p.between(90, 100)
			eaten := (&planter{Labelled: p.Labelled, spot: s}).eat(true, p.between(0.8, 1.5))
			s.cable.Channel.EatenToA, s.cable.Channel.EatenToB = eaten, eaten
		})
		s.record["length_m"] = "89"
		p.begins(func() { s.cable.Channel.Warmth = hot })
	}
}

func loosePlug(p *planter) {
	r := &sim.Rattle{Mean: time.Duration(p.spread(1.5, 8) * float64(time.Minute)), BER: p.spread(1e-7, 1e-4)}
	p.begins(func() { p.cable.Rattle = r })
}

// badCord has a contact or a wire that is better or worse after each movement.
func badCord(p *planter) {
	cord := &sim.Cord{PerHour: p.spread(1, 8), Breaks: p.between(0, 0.3)}
	worst := p.between(-5.5, -2)
	p.repatched(func() { cord.WorstDB = p.eat(true, worst); p.cable.Channel.Cord = cord })
}

// duplexSetting fixes one end at 100 Mb/s in full duplex, and the other assumes half.
func duplexSetting(p *planter) {
	if p.chance(0.6) {
		p.begins(func() { p.cable.Device.Fixed = 100 })
	} else {
		p.begins(func() { p.cable.A.Fixed = 100 })
	}
}

func speedSetting(p *planter) {
	p.begins(func() { p.cable.A.Advertised = []int{10, 100} })
}

func portShut(p *planter) { p.begins(func() { p.cable.A.Shut = true }) }

// portFaulty is a port, or a block of four on one circuit.
func portFaulty(p *planter) {
	ill := &sim.Illness{BER: p.spread(2e-8, 2e-5), Internal: p.between(0, 0.5)}
	runs := []*spot{p.spot}
	if p.chance(0.6) {
		block := (p.number() - 1) / 4
		runs = append(p.site.beside(p.spot, 3, func(s *spot) bool { return (s.number()-1)/4 == block && s.cable.Media == sim.Copper }), p.spot)
	}
	for _, s := range runs {
		if s != p.spot {
			p.also(s)
		}
		p.begins(func() { s.cable.A.Ill = ill })
	}
}

// farEndFaulty is a device that damages what it sends, or hangs with its power on and
// has no link, which is rare: a PHY keeps its link as a rule when the rest hangs.
func farEndFaulty(p *planter) {
	if p.where == fed && p.chance(0.25) {
		p.begins(func() { p.cable.Device.Hung = true })
		return
	}
	ill := &sim.Illness{Sends: p.spread(1e-4, 1e-1)}
	p.begins(func() { p.cable.Device.Ill = ill })
}
