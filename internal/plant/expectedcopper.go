package plant

import (
	"fmt"
	"strings"

	"toneout/internal/standards"
)

// copperPHY is a PHY over pairs with what does not depend on the run.
type copperPHY struct {
	standards.PHY
	linkM float64                        // its longest permanent link at 20 °C
	spare map[standards.Category]float64 // see spares
}

// copperPHYs by the place of their speed among the nominal ones; the zero
// copperPHY where none runs over pairs.
var copperPHYs = func() []copperPHY {
	all := make([]copperPHY, len(speeds))
	for _, phy := range standards.CopperPHYs() {
		needs, _ := phy.CopperNeeds()
		link := standards.LongestLinkM
		if needs.ReachM < standards.LongestChannelM {
			link = standards.LongestLinkOf(standards.Cat8)
		}
		for i, speed := range speeds {
			if speed == phy.Speed {
				all[i] = copperPHY{phy, link, spares(needs.Category)}
			}
		}
	}
	return all
}()

// spares is, by the category of a channel, how many times the loss of 100 m of
// it the PHY bears, where that is more than once: 10BASE-T 11.5 dB at 10 MHz
// (IEEE 802.3 14.4), 100BASE-TX and 1000BASE-T that of Category 5 at 100 MHz.
// The faster ones are taken to have none to spare.
func spares(needs standards.Category) map[standards.Category]float64 {
	loss := func(c standards.Category, mhz float64) float64 {
		db, _ := standards.Line{Category: c}.Limit(standards.InsertionLoss, mhz)
		return db
	}
	bears, mhz := loss(standards.Cat5e, 100), 100.0
	switch needs {
	case standards.Cat3:
		bears, mhz = 11.5, 10
	case standards.Cat5:
	default:
		return nil
	}
	all := map[standards.Category]float64{}
	for _, c := range standards.Categories() {
		line := c
		switch {
		case c == standards.Cat5:
			line = standards.Cat5e // of the same loss
		case standards.Cat6A.Below(c):
			line = standards.Cat6A // of no less
		}
		if own := loss(line, mhz); own > 0 && c != standards.Cat3 {
			all[c] = max(1, bears/own)
		}
	}
	return all
}

// times is how many times the loss of its longest channel the PHY bears.
func (p *copperPHY) times(c standards.Category) float64 {
	if share, ok := p.spare[c]; ok {
		return share
	}
	return 1
}

// copper judges a run of pairs.
func (l *laid) copper(e *Expected) {
	l.missCopper()
	ch := standards.CopperChannel{Category: l.category, Shield: l.shield, LengthM: l.fixedM + l.cordsM}
	ch.Connectors, _ = l.run.Connectors.Get()
	if l.noShield && l.shield.Screened() {
		ch.Shield = "" // a part may be unscreened
	}
	e.Channel, e.Missing = ch, l.missing
	if l.noLength {
		e.Channel.LengthM = 0
	}
	e.Speeds = make([]Carried, len(speeds))
	for i, speed := range speeds {
		e.Speeds[i].Speed = speed
		phy := &copperPHYs[i]
		if phy.Name == "" {
			e.Speeds[i].Judgement = standards.Judgement{Verdict: standards.NotAllowed, Why: "no PHY runs at " + speed.String() + " over copper pairs", Source: ieee}
			continue
		}
		e.Speeds[i].PHY, e.Speeds[i].Judgement = phy.Name, l.overCopper(phy, ch)
	}
}

var ieee = standards.Source{Document: "IEEE 802.3"}

func (l *laid) missCopper() {
	l.miss(l.noCable, "cable")
	l.miss(l.noCategory, "category")
	l.miss(l.noShield, "shield")
	l.miss(l.noLength, "length_m")
	l.missCord(l.run.NearCordCable, l.run.NearCordM, "near_cord_cable", "near_cord_m")
	l.missCord(l.run.FarCordCable, l.run.FarCordM, "far_cord_cable", "far_cord_m")
	_, counted := l.run.Connectors.Get()
	l.miss(!counted, "connectors")
	_, warm := l.warmest.Get()
	l.miss(!warm && l.fixedM > coolAnywhereM, "ambient_c")
}

// coolAnywhereM is a permanent link that heat does not shorten: 75 m may be as
// warm as cable may be (ANSI/TIA-568.2-D, memory).
const coolAnywhereM = 75

func (l *laid) missCord(cable string, length real, cableKey, lengthKey string) {
	l.miss(l.plant.Cable(cable) == nil, cableKey)
	_, ok := length.Get()
	l.miss(!ok, lengthKey)
}

// overCopper judges one PHY. Parts that are not recorded may make the channel
// longer and worse, never better; so what forbids the rest of it stands.
func (l *laid) overCopper(phy *copperPHY, ch standards.CopperChannel) standards.Judgement {
	j := phy.OverCopper(ch)
	if j.Verdict == standards.NotAllowed {
		return j
	}
	if why := l.unknown(); why != "" {
		return standards.Judgement{Why: why}
	}
	if j.Verdict == standards.NotJudged {
		return j
	}
	j = l.withCords(phy, ch, j)
	if j.Verdict == standards.NotAllowed {
		return j
	}
	return l.bundled(l.ruled(phy, ch, j))
}

// bundled names the bundle whose cables a condition is about.
func (l *laid) bundled(j standards.Judgement) standards.Judgement {
	if l.run.Bundle != "" && j.Verdict == standards.Depends && !l.shield.Screened() && strings.Contains(j.Why, "alien crosstalk") {
		j.Why += "; it lies in bundle " + l.run.Bundle
	}
	return j
}

// unknown says what of the fixed cable is not recorded, "" for nothing.
func (l *laid) unknown() string {
	switch {
	case l.noCable:
		return "cable of a part is not recorded"
	case l.noCategory:
		return "category is not recorded"
	case l.noLength:
		return notMeasured
	}
	return ""
}

// withCords makes a verdict depend on cords that are not recorded, where it
// would not hold with 10 m of cords (ISO/IEC 11801-1 and ANSI/TIA-568.2-D).
func (l *laid) withCords(phy *copperPHY, ch standards.CopperChannel, j standards.Judgement) standards.Judgement {
	longest := ch
	longest.LengthM = max(ch.LengthM, l.fixedM+standards.LongestCordsM)
	if !l.noCord || j.Unit == "m" && longest.LengthM <= j.Limit {
		return j
	}
	with := phy.OverCopper(longest)
	if rank(with) <= rank(j) {
		return j
	}
	unless := j
	unless.Verdict, unless.Source = standards.Depends, with.Source
	unless.Why = "cord lengths are not recorded: " + cordsHold(j, with, l.fixedM)
	return graver(unless, j)
}

// cordsHold says with what cords, of a verdict and that with the longest ones,
// the first holds.
func cordsHold(j, with standards.Judgement, fixedM float64) string {
	spare := quantity(j.Limit-fixedM, "m")
	switch {
	case j.Unit != "m":
		return "with " + quantity(standards.LongestCordsM, "m") + " in all the channel is too long"
	case with.Verdict == standards.Depends:
		return "with more than " + spare + " in all, " + with.Why
	}
	return "they may be " + spare + " in all"
}

// ruled adds the conditions that come of the rules for lengths: the permanent
// link's, the cords' and what heat takes of it.
func (l *laid) ruled(phy *copperPHY, ch standards.CopperChannel, j standards.Judgement) standards.Judgement {
	if l.fixedM > phy.linkM {
		j = graver(j, condition(l.fixedM, phy.linkM, "m", linkRule, fmt.Sprintf(
			"the permanent link is %s long, and may be %s: the channel must be measured as it stands", quantity(l.fixedM, "m"), quantity(phy.linkM, "m"))))
	}
	if phy.linkM == standards.LongestLinkM && l.cordsM > 0 {
		j = graver(j, l.cordRule(phy, ch.Category))
	}
	return graver(j, l.heat(phy, ch))
}

var linkRule = standards.Source{Document: "ISO/IEC 11801-1 and ANSI/TIA-568.2-D (permanent link)"}

func condition(have, limit float64, unit string, src standards.Source, why string) standards.Judgement {
	return standards.Judgement{Verdict: standards.Depends, Why: why, Have: have, Limit: limit, Unit: unit, Source: src}
}

var fine = standards.Judgement{Verdict: standards.Allowed}

// cordRule judges the cords by their gauge, where it is not recorded by that
// which loses least.
func (l *laid) cordRule(phy *copperPHY, c standards.Category) standards.Judgement {
	awg := l.awg()
	limit, ok := cordsBeside(l.fixedM, awg)
	limit.CombinedM *= phy.times(c)
	if !ok || l.cordsM <= limit.CombinedM {
		return fine
	}
	return condition(l.cordsM, limit.CombinedM, "m", limit.Source, fmt.Sprintf(
		"cords of %d AWG lose more than cable: %s of them beside %s of it are more than %s, so the channel must be measured as it stands",
		awg, quantity(l.cordsM, "m"), quantity(l.fixedM, "m"), quantity(limit.CombinedM, "m")))
}

// printedFromM is the shortest fixed cable in the table of cord lengths. Beside
// a shorter one cords may be longer by what it spares; the table, which then
// bounds the cord at an outlet, says nothing of the channel's loss.
const printedFromM = 70

func cordsBeside(fixedM float64, awg int) (standards.CordLimit, bool) {
	limit, ok := standards.Cords(max(fixedM, printedFromM), awg)
	if rise, known := standards.CordRise(awg); known && fixedM < printedFromM {
		limit.CombinedM += (printedFromM - fixedM) / (1 + rise)
	}
	return limit, ok
}

// awg is the gauge by which the cords are judged, 24 or 26: thinner ones lose
// no less than 26.
func (l *laid) awg() int {
	awg, ok := l.run.CordAWG.Get()
	for _, id := range [...]string{l.run.NearCordCable, l.run.FarCordCable} {
		if c := l.plant.Cable(id); c != nil && !ok {
			own, _ := c.AWG.Get()
			awg = max(awg, own)
		}
	}
	if awg > 24 {
		return 26
	}
	return 24
}

// heat judges what the warmest pathway takes of the length. A shield that is
// not recorded counts as none.
func (l *laid) heat(phy *copperPHY, ch standards.CopperChannel) standards.Judgement {
	celsius, known := l.warmest.Get()
	if !known || celsius <= 20 {
		return fine
	}
	limit, src, ok := standards.LongestLinkAt(celsius, ch.Shield.Screened())
	if !ok {
		return condition(celsius, hottest, "°C", src, fmt.Sprintf("its pathway is %s warm, and cable is rated to %d °C", quantity(celsius, "°C"), hottest))
	}
	if ch.Category == standards.Cat3 {
		limit = min(limit, standards.LongestLinkM/standards.WarmLoss(ch.Category, ch.Shield, celsius))
	}
	limit *= phy.linkM / standards.LongestLinkM * phy.times(ch.Category)
	if l.fixedM <= limit {
		return fine
	}
	return condition(l.fixedM, limit, "m", src, fmt.Sprintf(
		"at %s along its pathway a permanent link keeps its loss up to %s, and it is %s long: measure it warm", quantity(celsius, "°C"), quantity(limit, "m"), quantity(l.fixedM, "m")))
}

// hottest is the highest temperature that cable is rated to, in °C
// (ANSI/TIA-568.2-D, memory).
const hottest = 60
