package fault

import (
	"slices"
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// items collects what is seen.
type items []item

func (s *items) see(i item, is bool) {
	if is && i != "" {
		*s = append(*s, i)
	}
}

// failedFarDB is a margin that hardly any bad joint comes to: a split pair fails its
// crosstalk by far (common practice, no source).
const failedFarDB = -5

// lengthOf is a run's length as its test measured it, else as recorded.
func lengthOf(run *plant.Run, test *plant.Acceptance) (float64, bool) {
	if test != nil && test.LengthM > 0 {
		return test.LengthM, true
	}
	return run.LengthM.Get()
}

// marginOf is the worst margin of a run's test in dB, as its values have it, else as
// recorded.
func marginOf(run *plant.Run, test *plant.Acceptance) (float64, bool) {
	if test != nil && test.Worst != nil && test.Worst.Unit == "dB" {
		return test.Worst.Margin, true
	}
	return run.TestMarginDB.Get()
}

// recordItems are what the record says of the run's make, where it speaks of what
// the link is made of.
func (p *portState) recordItems() (seen items) {
	run := p.join.Run
	if run == nil || p.inventory == nil || p.made() != ofCopper || !p.recordSpeaks() {
		return nil
	}
	test := p.inventory.Acceptance(run.ID)
	if length, known := lengthOf(run, test); known {
		seen.see(shortByRecord, length < standards.LongestLinkM*0.7)
		seen.see(midByRecord, length >= standards.LongestLinkM*0.7 && length <= standards.LongestLinkM*0.9)
		seen.see(longByRecord, length > standards.LongestLinkM*0.9)
	}
	if cable := p.inventory.Cable(run.Cable); cable != nil && cable.Shield != "" {
		seen.see(screened, standards.Shield(cable.Shield).Screened())
		seen.see(unscreened, !standards.Shield(cable.Shield).Screened())
	}
	seen.see(passedTest, run.TestResult == plant.Pass && test == nil)
	if margin, told := marginOf(run, test); told {
		seen.see(wideMargin, margin >= 3)
		seen.see(slimMargin, margin >= 0 && margin < 2)
		seen.see(failedNearly, margin < 0 && margin > failedFarDB)
		seen.see(failedFar, margin <= failedFarDB)
	}
	return append(seen, p.ageItems()...)
}

// ageItems are what the record says of when the run was laid.
func (p *portState) ageItems() (seen items) {
	if run := p.join.Run; run != nil && !run.InstalledOn.IsZero() && p.recordSpeaks() {
		age := p.reading.At.Sub(run.InstalledOn)
		seen.see(laidLately, age < 60*24*time.Hour)
		seen.see(laidLongAgo, age > 365*24*time.Hour)
	}
	return seen
}

// deviceItems are what the device at the far end says of a trouble that began then,
// where it announces itself (IEEE 802.1AB).
func (p *portState) deviceItems(since time.Time) (seen items) {
	f := &p.far
	if f.Device == (deviceID{}) || f.Unheard {
		return nil
	}
	before := f.Watched - p.reading.At.Sub(since).Seconds()
	seen.see(anotherDevice, p.exchanged.Sub(since).Abs() < showsSoon)
	seen.see(sameDevice, before > steadySpeed.Seconds())
	seen.see(heldBefore, f.Habit > 0 && f.Habit >= p.meant())
	return seen
}

// speedItems are what the link's speed says: crosstalk of neighbours is in the band
// of 2.5 Gbit/s and above (IEEE 802.3 clauses 55, 126).
func (p *portState) speedItems() (seen items) {
	if p.made() == ofCopper {
		meant := max(p.meant(), p.reading.Speed())
		seen.see(multiGigabit, meant > standards.Gbps)
		seen.see(gigabitOrLess, meant > 0 && meant <= standards.Gbps)
		now := p.reading.Speed()
		seen.see(atHundred, now > 0 && now < standards.Gbps)
		seen.see(aboveHundred, now >= standards.Gbps)
		seen.see(endForced, now > 0 && now < standards.Gbps && p.reading.AutoNeg.Enabled == port.No)
	} else if meant := max(p.meant(), p.Link.Speed, p.opticSpeed()); meant > 0 {
		seen.see(fecSpeed, meant >= 25*standards.Gbps)
		seen.see(belowFEC, meant < 25*standards.Gbps)
	}
	return seen
}

// opticSpeed is the speed of the PHY that the port's optic is, 0 where not known.
func (p *portState) opticSpeed() standards.Speed {
	phy, _ := standards.PHYNamed(p.phyName())
	return phy.Speed
}

// Frames that were damaged before they were coded are whole on the line: the check
// of frames fails and no symbol is wrong (RFC 3635 dot3StatsSymbolErrors). Many
// agents leave that count at zero, and it is of links up to 1 Gbit/s (memory).
const (
	leastCoded    = 30  // damaged frames, to tell
	coded         = 0.1 // symbol errors to each, where the line damages them
	internalShare = 0.1
)

// countItems are what the kinds of damaged frames say, as far as watched.
func (p *portState) countItems() (seen items) {
	fcs, counted := p.totals.Get(port.FCS)
	if p.errors.Source != port.EtherLike || !counted {
		return nil
	}
	if symbols, told := p.totals.Get(port.Symbol); told && fcs >= leastCoded && p.reading.Speed() <= standards.Gbps {
		seen.see(symbolsWhole, float64(symbols) < coded*float64(fcs)/3)
		seen.see(symbolsWrong, float64(symbols) >= coded*float64(fcs))
	}
	internal, told := p.totals.Get(port.InternalReceive)
	seen.see(noInternal, told && internal == 0 && fcs >= leastCoded)
	seen.see(internalErrors, told && fcs+internal >= leastPassedOn && float64(internal) > internalShare*float64(fcs+internal))
	return seen
}

// countsSymbols tells whether a switch was ever seen to count a wrong symbol: only then
// does a port of it that counts none tell anything.
func (t *Tracker) countsSymbols(name string) bool {
	return slices.ContainsFunc(t.switches[name].order, func(p *portState) bool {
		n, told := p.reading.Counters.Get(port.Symbol)
		return told && n > 0
	})
}

// nearby are what other ports of the switch say of damaged frames: what ails a
// circuit of the switch ails the ports on it, which are fours side by side; what
// comes from outside comes to the runs of one way.
func (t *Tracker) nearby(p *portState, since time.Time) (seen items) {
	s := t.switches[p.ref.Switch]
	at := t.placeOf(s, p)
	var block, way, elsewhere tried
	came := false
	for i, o := range s.order {
		if o == p || o.made() != p.made() || o.reading.Oper != port.Up {
			continue
		}
		bad := o.errors.detector.Open() || o.slow.Open && o.slow.Awake
		beside, along := at >= 0 && i/portBlock == at/portBlock, sharesWay(p.join.Run, o.join.Run)
		if beside {
			block.take(bad && (o.errors.Since.Sub(since).Abs() < showsTogether || o.slow.Since.Sub(since).Abs() < showsTogether))
		}
		if along {
			way.take(bad)
			came = came || o.reading.Speed() > standards.Gbps && !o.Onset.Made.IsZero() && since.Sub(o.Onset.Made) > -showsAtOnce && since.Sub(o.Onset.Made) < showsAtOnce
		}
		if !beside && !along {
			elsewhere.take(bad)
		}
	}
	seen.see(blockErrors, block.oftener(way, elsewhere))
	seen.see(wayErrors, way.oftener(elsewhere))
	seen.see(neighbourCame, came)
	return seen
}

// tried are how many ports there are, and how many of them receive damaged frames.
type tried struct{ all, bad float64 }

func (t *tried) take(bad bool) {
	if t.all++; bad {
		t.bad++
	}
}

// oftener tells whether a larger share of some is bad than of the others, by far.
func (t tried) oftener(others ...tried) bool {
	var rest tried
	for _, o := range others {
		rest.all += o.all
		rest.bad += o.bad
	}
	const far = 3
	return t.bad > 0 && t.bad/t.all > far*rest.bad/max(rest.all, 1)
}

// portBlock is how many ports are on one circuit of a switch (common practice, no
// source).
const portBlock = 4

func (t *Tracker) placeOf(s *switchState, p *portState) int {
	for i, o := range s.order {
		if o == p {
			return i
		}
	}
	return -1
}

func sharesWay(a, b *plant.Run) bool {
	if a == nil || b == nil {
		return false
	}
	for _, way := range a.Pathways {
		for _, other := range b.Pathways {
			if way == other {
				return true
			}
		}
	}
	return a.Bundle != "" && a.Bundle == b.Bundle
}

// anothersRow tells whether by the record a device that is able to no more than the
// port's link is at another port of its switch, whose link has held more: then the
// rows of the two are likely to have changed places.
func (t *Tracker) anothersRow(p *portState, since time.Time) bool {
	if began := p.Onset.item(since); began != sinceBefore && began != sinceNew || p.far.Held >= p.slow.Meant {
		return false // it has held more
	}
	for _, o := range t.switches[p.ref.Switch].order {
		run := o.join.Run
		if run != nil && o != p && run.DeviceSpeed > 0 && run.DeviceSpeed < p.slow.Meant && run.DeviceSpeed >= p.slow.Speed && max(o.far.Held, o.reading.Speed()) > run.DeviceSpeed {
			return true
		}
	}
	return false
}

// leastSlower ports tell what a switch's copper can do at the most (common practice, no source).
const leastSlower = 8

// noneSoFast tells whether none of a switch's copper ports ever held the speed that a
// record means for one of them: it is another port's record, as a rule.
func (t *Tracker) noneSoFast(p *portState) bool {
	if _, by := p.meantBy(); p.made() != ofCopper || by != byDesign {
		return false
	}
	slower := 0
	for _, o := range t.switches[p.ref.Switch].order {
		held := max(o.far.Held, o.reading.Speed())
		switch {
		case held == 0 || o.made() != ofCopper:
		case held >= p.slow.Meant:
			return false
		default:
			slower++
		}
	}
	return slower >= leastSlower
}
