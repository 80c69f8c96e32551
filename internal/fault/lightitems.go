package fault

import (
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/standards"
)

// What the light shows of one direction, and of both.
const (
	lightSteady    item = "as much light arrives as usual"
	lightLess      item = "less light arrives than usual"
	lightMuchLess  item = "by far less light arrives than usual"
	lightFair      item = "as much light arrives as expected"
	lightShort     item = "less light arrives than expected"
	lightUnder     item = "less light arrives than the receiver needs"
	lightVast      item = "less light arrives by 12 dB and more"
	lightMuchShort item = "by far less light arrives than expected"
	lightOver      item = "more light arrives than the receiver takes"

	bothSteady   item = "as much light as usual arrives at both ends, and there is no link"
	lossOneWay   item = "too much is lost in one direction only"
	lossBothWays item = "too much is lost in both directions"
	lossUnlike   item = "too much is lost in both directions, and in one by far"
	goodBefore   item = "it was good while watched"
	lossPassed   item = "the run passed its test, by the record"

	sentFell   item = "too little is sent already"
	sentUsual  item = "as much is sent as usual"
	sentEnough item = "as much is sent as expected"
	sentNone   item = "the far end sends no light"
	biasRose   item = "the sending laser takes more current than before"
	biasUsual  item = "the sending laser takes as much current as before"

	lightJumps   item = "the light jumps from reading to reading"
	lightStill   item = "the light holds still"
	lightStepped item = "the light fell at once"
	lightCrept   item = "the light fell over hours or days"
)

// What the optics are, and what they say of the fibre.
const (
	modelsDiffer item = "the optics at the ends are of different kinds"
	modelsAlike  item = "the optics at the ends are of one kind"
	opticSwapped item = "another optic was put in shortly before"
	undimmed     item = "light for multimode fibre is not dimmed"
	mixable      item = "its light is for single-mode fibre, and passes multimode fibre undimmed"
	mayOverload  item = "its optics can send more than they can take, so that something must dim the light"
	neverOver    item = "its optics cannot send more than they can take"
	longWave     item = "its light is for single-mode fibre, and is dimmed"
)

// What no light shows, beside those of lossItems.
const (
	farSends     item = "the far end sends light"
	bothSendDark item = "both send and neither receives, and there was no link before"
	bothDark     item = "neither end receives light, and both send"
	oneDark      item = "one end alone receives no light"
	farOpticGone item = "there is no optic at the far end"
)

// In dB (common practice, no source).
const (
	muchFall   = 9.5 // more than a bend or dirt takes as a rule: light for multimode fibre loses 10 and more in single-mode fibre
	muchOver   = 7.3 // likewise over the most that the way ought to lose
	vastFall   = 12  // more than that loses: a receiver for one wavelength hardly sees another
	unlikeDB   = 4   // between directions of one cause
	supposedDB = 2   // by how much two optics of one kind may differ in what they send
)

// lightItems are what the light shows of a direction.
func (d *direction) items() (seen items) {
	k := d.to.Light.Known
	seen = d.opticItems()
	if k == nil || !d.received.told {
		return append(seen, d.sentItems()...)
	}
	if d.received.dark() {
		return append(seen, d.darkItems()...)
	}
	seen.see(receivesSome, d.to.reading.Oper != port.Up)
	seen = append(append(seen, d.sentItems()...), k.Course.items()...)
	if k.Course.jumps() { // what jumps has no level
		return seen
	}
	return append(append(seen, d.levelItems()...), d.wayItems()...)
}

// levelItems hold what arrives against what is usual, else against what the way ought
// to leave of it.
func (d *direction) levelItems() (seen items) {
	over, slack, known := d.overBy()
	fallen := -d.received.rise()
	optic, is := standards.OpticNamed(d.to.phyName())
	under := is && d.received.now < optic.TakeLeast
	dim := d.received.fell() || !d.received.settled && known && over > slack
	switch {
	case d.to.Light.Known.High.Open:
		seen.see(lightOver, true)
	case d.received.settled:
		seen.see(lightSteady, fallen <= closeDB && !under)
		seen.see(lightUnder, fallen <= closeDB && under)
		seen.see(lightLess, fallen > closeDB && fallen <= muchFall)
		seen.see(lightMuchLess, fallen > muchFall && fallen <= vastFall)
		seen.see(lightVast, fallen > vastFall)
	case known:
		seen.see(lightFair, over <= slack && !under)
		seen.see(lightUnder, over <= slack && under)
		seen.see(lightShort, over > slack && over <= muchOver)
		seen.see(lightMuchShort, over > muchOver)
	}
	if !is || !d.received.settled && !known {
		return seen
	}
	seen.see(undimmed, !dim && !optic.SingleMode)
	seen.see(mixable, !dim && optic.SingleMode && d.mayBeMultimode())
	seen.see(longWave, dim && optic.SingleMode)
	return seen
}

// mostMultimodeM is the longest way that light for single-mode fibre finds through
// multimode fibre (IEEE 802.3 clause 38: 550 m with the right launch).
const mostMultimodeM = 550

func (d *direction) mayBeMultimode() bool {
	run := d.to.join.Run
	if run == nil {
		return true
	}
	length, recorded := run.LengthM.Get()
	return !recorded || length <= mostMultimodeM
}

// overBy is by how many dB more is lost than the way ought to lose at most, and how many
// of them mean nothing; where the other end does not tell what it sends, as if it sent
// what this one does.
func (d *direction) overBy() (dB, slack float64, known bool) {
	most, known := d.mostLoss()
	switch own := d.to.laneOf(d.lane).Sent; {
	case !known || !d.received.told:
		return 0, 0, false
	case d.loss.told:
		return d.loss.now - most, lossRises, true
	case d.sent.told:
		return d.sent.now - d.received.now - most, lossRises, true
	default:
		sent, told := own.Get()
		return float64(sent) - d.received.now - most, lossRises + supposedDB, told && !dark(sent)
	}
}

// mostLoss is what the way ought to lose at most by the record, else what its optics
// are made for.
func (d *direction) mostLoss() (most float64, known bool) {
	k := d.to.Light.Known
	if most, known := k.beam.most.Get(); known {
		return most, true
	}
	optic, known := standards.OpticNamed(k.beam.phy)
	return optic.SendLeast - optic.TakeLeast, known
}

// worse is by how many dB a direction is worse than usual, else than it ought to be.
func (d *direction) worse() (dB float64, known bool) {
	switch {
	case d.to == nil || !d.received.told || d.received.dark():
		return 0, false
	case d.loss.told && d.loss.settled:
		return d.loss.rise(), true
	case d.received.settled:
		return -d.received.rise(), true
	}
	over, slack, known := d.overBy()
	return over - slack + closeDB, known
}

// wayItems hold both directions against each other: what is so in one sits where the
// strands are apart, at a plug; what is so in both, where they lie together.
func (d *direction) wayItems() (seen items) {
	back := d.back()
	one, known := d.worse()
	other, told := back.worse()
	if !known || !told || one <= closeDB {
		return nil
	}
	apart := abs(one - other)
	both := other > closeDB || !d.received.settled && apart <= lossRises // without a habit, a little more or less is none
	seen.see(lossOneWay, !both)
	seen.see(lossBothWays, both && apart <= unlikeDB)
	seen.see(lossUnlike, both && apart > unlikeDB)
	return seen
}

// changed tells whether the direction was better while watched.
func (d *direction) changed() bool {
	worse, known := d.worse()
	return known && worse > closeDB && (d.received.settled || d.loss.told && d.loss.settled)
}

// bothSteady tells whether as much light as ever arrives at both ends.
func (d *direction) bothSteady() bool {
	back := d.back()
	one, known := d.worse()
	other, told := back.worse()
	return known && told && one <= closeDB && other <= closeDB
}

// sentItems are what the other end tells of what it sends.
func (d *direction) sentItems() (seen items) {
	if d.from == nil || !d.sent.told {
		return nil
	}
	least, known := sendsLeast(d.from)
	short := known && d.sent.now < least
	switch {
	case d.sent.dark():
		seen.see(sentNone, true)
	case d.sent.fell() && 2*d.sent.rise() < d.received.rise(), short && d.received.told && !d.over(), short && d.sent.now < least-opticAccuracyDB:
		seen.see(sentFell, true)
	case d.sent.steady():
		seen.see(sentUsual, true)
	default:
		seen.see(sentEnough, true)
	}
	seen.see(biasRose, d.bias.rose())
	seen.see(biasUsual, d.bias.steady())
	return seen
}

// darkItems are what no light shows.
func (d *direction) darkItems() (seen items) {
	back := d.back()
	bothSend := d.sent.told && back.sent.told && !d.sent.dark() && !back.sent.dark()
	seen.see(receivesNone, true)
	seen.see(farSends, d.sent.told && !d.sent.dark())
	seen.see(sentNone, d.sent.dark())
	seen.see(bothSendDark, !d.to.Link.Ever && bothSend && back.received.dark())
	seen.see(bothDark, d.to.Link.Ever && bothSend && back.received.dark())
	seen.see(oneDark, back.received.told && !back.received.dark())
	seen.see(farOpticGone, d.from != nil && d.from.optic == nil && !d.from.toldAt.IsZero())
	return seen
}

// opticItems are what the optics at both ends are.
func (d *direction) opticItems() (seen items) {
	own, told := d.to.kindOfOptic()
	seen.see(mayOverload, told && own.SendMost > own.TakeMost)
	seen.see(neverOver, told && own.SendMost <= own.TakeMost)
	if d.from != nil && told {
		far, told := d.from.kindOfOptic()
		seen.see(modelsDiffer, told && far.PHY != own.PHY)
		seen.see(modelsAlike, told && far.PHY == own.PHY)
	}
	return seen
}

// kindOfOptic is what the port's optic is by its maker's model name, else by the PHY
// that the port had with it; false where neither tells.
func (p *portState) kindOfOptic() (standards.Optic, bool) {
	if p.optic != nil {
		if optic, ok := standards.OpticInModel(p.optic.Model); ok {
			return optic, true
		}
	}
	return standards.OpticNamed(p.phyName())
}

// swapped tells whether another optic was put in at either end shortly before a time.
func (p *portState) swapped(since time.Time) bool {
	k := p.Light.Known
	return k != nil && !k.Course.Swapped.IsZero() && !k.Course.Swapped.Before(since.Add(-showsSoon)) && !k.Course.Swapped.After(since.Add(cordTakes))
}

// fibreItems are what is seen of a trouble of a fibre run that began then, whatever it
// does: the light of the direction that suffers.
func (p *portState) fibreItems(d *direction, since time.Time) (seen items) {
	began := p.began(since)
	if lost := p.Link.Ever && p.reading.Oper != port.Up; (lost || d.changed()) && (began == sinceNew || began == sinceBefore) {
		began = goodBefore
	}
	seen.see(began, true)
	seen.see(opticSwapped, p.swapped(since))
	seen = append(append(seen, p.ageItems()...), p.speedItems()...)
	seen = append(seen, d.items()...)
	seen.see(lossPassed, d.passed() && !d.changed())
	return seen
}

// passed tells whether the run passed its acceptance test by the record.
func (d *direction) passed() bool {
	run := d.to.join.Run
	return run != nil && run.TestResult == plant.Pass
}

// began is how a trouble began, as in onset.item. Of a link that was lost and never came
// back only the light can tell whether a plug was out first.
func (p *portState) began(since time.Time) item {
	if !p.Link.Ever {
		return neverUp
	}
	began := p.Onset.item(since)
	if p.reading.Oper == port.Up || p.downSince.IsZero() {
		return began
	}
	k := p.Light.Known
	if k == nil {
		return ""
	}
	switch out, was := k.Course.wasOut(p.downSince); {
	case was && out < cordTakes:
		return sincePatched
	case was && out < wiresTake:
		return sinceRewired
	case k.Course.stayed(p.downSince):
		return began
	}
	return ""
}

// suffering is the direction of a run that fares worse, of one whose link is lost: that
// may be the other one.
func (p *portState) suffering() direction {
	d := p.towardWorst()
	back := d.back()
	if back.to == nil || !back.received.told || d.received.dark() {
		return d
	}
	one, _ := d.worse()
	other, known := back.worse()
	if !d.received.told || back.received.dark() || known && other > max(one, closeDB) {
		return back
	}
	return d
}

// towardWorst is the light to the port on the lane that is worst.
func (p *portState) towardWorst() direction {
	if k := p.Light.Known; k != nil {
		return p.toward(k.Lane)
	}
	return p.toward(0)
}
