package fault

import (
	"fmt"

	"toneout/internal/plant"
	"toneout/internal/standards"
)

// lowWeights ranks why too little arrives.
func (d *direction) lowWeights() weights {
	if d.received.dark() {
		return d.darkWeights()
	}
	w := d.lossWeights(lightLow)
	least, known := 0.0, false
	if d.from != nil {
		least, known = sendsLeast(d.from)
	}
	short := d.sent.told && known && d.sent.now < least
	switch {
	case d.sent.fell() && 2*d.sent.rise() < d.received.rise(), short && d.within():
		return guarded(FailingTransmitter, w) // most of what is missing was never sent
	case short && d.sent.now < least-opticAccuracyDB:
		return w.given(ofFibre, sentFell)
	case d.sent.told:
		return w.given(ofFibre, sentEnough)
	}
	return w
}

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

// lossWeights adapts priors to what either direction loses: what is so in one
// sits where the strands are apart, at a plug; what is so in both, where they
// lie together. Where nothing is known to have changed it may be so since the
// run was laid, unless it passed a test then.
func (d *direction) lossWeights(prior weights) weights {
	back := d.back()
	rose, over := d.loss.rose(), d.over()
	changed := rose || d.received.fell()
	one := rose && back.loss.steady() || !changed && over && back.within()
	var seen []item
	see := func(i item, is bool) {
		if is {
			seen = append(seen, i)
		}
	}
	see(lossOneWay, one)
	see(lossBothWays, rose && back.loss.rose())
	see(lightChanged, changed)
	see(lossLaid, !changed && over && !one)
	see(lossLaidPassed, !changed && over && d.passed())
	last := d.to.hour.sum()
	see(linkLostLit, last.LinkChanges > 0)
	return prior.given(ofFibre, seen...)
}

// passed tells whether the run passed its acceptance test by the record.
func (d *direction) passed() bool {
	run := d.to.join.Run
	return run != nil && run.TestResult == plant.Pass
}

// darkWeights ranks why nothing arrives.
func (d *direction) darkWeights() weights {
	back := d.back()
	if d.from != nil && shut(d.from) {
		return guarded(PortShut, lightDark)
	}
	if d.sent.dark() {
		return guarded(FailingTransmitter, lightDark)
	}
	var seen []item
	if d.sent.told {
		seen = append(seen, farSends)
	}
	if d.to.Link.Ever {
		seen = append(seen, litBefore)
	} else if d.sent.told && back.sent.told && !back.sent.dark() && back.received.dark() {
		seen = append(seen, bothSendDark)
	}
	if d.from != nil && d.from.optic == nil {
		seen = append(seen, farOpticGone)
	}
	return lightDark.given(ofFibre, seen...)
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
	out := weights{}
	for part, of := range map[float64]weights{1 - lightExplains: w, lightExplains: light} {
		sum := 0.0
		for _, weight := range of {
			sum += weight
		}
		for cause, weight := range of {
			out[cause] += 100 * part * weight / sum
		}
	}
	return out
}

// byLight weighs the causes of damaged frames on a fibre by the light, and
// gives its sentences.
func (p *portState) byLight(w weights) (weights, []string) {
	k := p.Light.Known
	if k == nil || p.mediumNow() != standards.Fibre {
		return w, nil
	}
	d := p.toward(k.Lane)
	if !d.received.told {
		return w, nil
	}
	lost := k.Low.Open || p.Loss.isOpen()
	switch {
	case k.Low.Open:
		w = mixed(w, d.lowWeights())
	case p.Loss.isOpen():
		w = mixed(w, d.lossWeights(lossHigh))
	}
	if k.High.Open { // else it is no cause of damaged frames
		w[ReceiverOverload] += overloaded
	}
	if !p.Light.isOpen() && !lost && d.received.steady() {
		w = w.given(ofFibre, lightSteady)
	}
	return w, withoutEmpty(d.receivedSentence(), d.sentSentence(), d.lossSentence())
}

// inUse tells whether the run is one that carries something.
func inUse(run *plant.Run) bool {
	return run == nil || run.Status != plant.Spare && run.Status != plant.Abandoned
}
