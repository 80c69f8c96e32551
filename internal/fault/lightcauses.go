package fault

import (
	"fmt"
	"maps"

	"toneout/internal/plant"
	"toneout/internal/standards"
)

// lowItems are what is seen of too little light, its prior, and the cause that it
// names itself, "" for none.
func (d *direction) lowItems() (of prior, seen items, named Cause) {
	if d.received.dark() {
		return d.darkItems()
	}
	seen = d.lossItems()
	least, known := 0.0, false
	if d.from != nil {
		least, known = sendsLeast(d.from)
	}
	short := d.sent.told && known && d.sent.now < least
	switch {
	case d.sent.fell() && 2*d.sent.rise() < d.received.rise(), short && d.within():
		named = FailingTransmitter // most of what is missing was never sent
	case short && d.sent.now < least-opticAccuracyDB:
		seen.see(sentFell, true)
	default:
		seen.see(sentEnough, d.sent.told)
	}
	return lightLow, seen, named
}

// muchDB is more than a bend or dirt take; light for multimode fibre loses more in
// single-mode fibre (common practice, no source).
const muchDB = 10

// opticAccuracyDB is what an optic's own readings are good to (common practice,
// no source).
const opticAccuracyDB = 3

// over tells whether the direction loses more than it ought to, by more than
// two optics' readings are likely to differ; within, whether it is known not to.
func (d *direction) over() bool {
	most, known := d.most.Get()
	return known && d.loss.told && d.loss.now > most+lossRises
}

func (d *direction) within() bool {
	_, known := d.most.Get()
	return known && d.loss.told && !d.over()
}

// lossItems are what either direction loses: what is so in one
// sits where the strands are apart, at a plug; what is so in both, where they
// lie together. Where nothing is known to have changed it may be so since the
// run was laid, unless it passed a test then.
func (d *direction) lossItems() (seen items) {
	back := d.back()
	rose, over := d.loss.rose(), d.over()
	changed := rose || d.received.fell()
	one := rose && back.loss.steady() || !changed && over && back.within()
	seen.see(lossOneWay, one)
	seen.see(lossBothWays, rose && back.loss.rose())
	most, known := d.most.Get()
	seen.see(lossMuch, d.received.rise() < -muchDB || known && d.loss.told && d.loss.now > most+muchDB)
	seen.see(lightChanged, changed)
	seen.see(lossLaid, !changed && over && !one)
	seen.see(lossLaidPassed, !changed && over && d.passed())
	last := d.to.hour.sum()
	seen.see(linkLostLit, last.LinkChanges > 0)
	return seen
}

// passed tells whether the run passed its acceptance test by the record.
func (d *direction) passed() bool {
	run := d.to.join.Run
	return run != nil && run.TestResult == plant.Pass
}

// darkItems are likewise of no light.
func (d *direction) darkItems() (of prior, seen items, named Cause) {
	back := d.back()
	switch {
	case d.from != nil && shut(d.from):
		named = PortShut
	case d.sent.dark():
		named = FailingTransmitter
	}
	seen.see(farSends, d.sent.told && !d.sent.dark())
	seen.see(litBefore, d.to.Link.Ever)
	seen.see(bothSendDark, !d.to.Link.Ever && d.sent.told && back.sent.told && !back.sent.dark() && back.received.dark())
	seen.see(bothDark, d.to.Link.Ever && d.sent.told && back.sent.told && !back.sent.dark() && back.received.dark())
	seen.see(oneDark, back.received.told && !back.received.dark())
	seen.see(farOpticGone, d.from != nil && d.from.optic == nil)
	return lightDark, seen, named
}

// guards tells why nobody is to be told of a dark receiver.
func (d *direction) guards() []Guard {
	k := d.to.Light.Known
	if !d.received.dark() || d.from == nil {
		return nil
	}
	far := k.beam.sender
	switch {
	case shut(d.from):
		return []Guard{{Name: ShutByAdmin, Says: fmt.Sprintf("%v at the other end is shut, so it sends no light.", d.from.ref)}}
	case far.unread(), far.view.Silent > 0 && !far.view.LastAnswer.After(k.Low.Since):
		return []Guard{{Name: ParentDown, Switch: far.name, Says: fmt.Sprintf("%s at the other end does not answer, so it may have no power to send light.", far.name)}}
	}
	return nil
}

// overloaded is the weight of too much light where there is too much, beside
// causes of damaged frames that weigh 100 together (common practice, no source).
const overloaded = 150

// lightExplains is how much of damaged frames the light explains where too
// little of it comes with them (common practice, no source).
const lightExplains = 0.85

// mixed is what the light says of causes, with a part of what else was thought.
func mixed(w, light weights) weights {
	out, sum := weights{}, w.sum()
	for cause, weight := range w {
		out[cause] = 100 * (1 - lightExplains) * weight / sum
	}
	sum = light.sum()
	for cause, weight := range light {
		out[cause] += 100 * lightExplains * weight / sum
	}
	return out
}

// overloadedBy are those of damaged frames where there is too much light; else that
// is no cause of them.
func overloadedBy(w weights) weights {
	out := maps.Clone(w)
	out[ReceiverOverload] += overloaded
	return out
}

// byLight gives what the light says of damaged frames on a fibre before anything else
// is seen, what is seen of it, and its sentences.
func (p *portState) byLight() (w before, seen items, sentences []string) {
	k := p.Light.Known
	if k == nil || p.mediumNow() != standards.Fibre {
		return w, nil, nil
	}
	d := p.toward(k.Lane)
	if !d.received.told {
		return w, nil, nil
	}
	switch {
	case k.Low.Open:
		w.Light, seen, w.Sent = d.lowItems()
	case p.Loss.isOpen():
		w.Light, seen = lossHigh, d.lossItems()
	}
	w.Overload = k.High.Open
	seen.see(lightSteady, !p.Light.isOpen() && !p.Loss.isOpen() && d.received.steady())
	return w, seen, withoutEmpty(d.receivedSentence(), d.sentSentence(), d.lossSentence())
}

// inUse tells whether the run is one that carries something.
func inUse(run *plant.Run) bool {
	return run == nil || run.Status != plant.Spare && run.Status != plant.Abandoned
}
