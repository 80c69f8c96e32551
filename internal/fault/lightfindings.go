package fault

import (
	"fmt"
	"math"
)

func (c *lightTest) finding(p *portState) finding {
	k := c.Known
	d := p.toward(k.Lane)
	f := finding{port: p, kind: LowLight, since: k.Low.Since}
	for _, g := range d.guards() {
		f.hush(g)
	}
	if k.Low.Open {
		f.summary = d.lowSummary()
		f.prior.Prior = lightLow
		if d.received.dark() {
			f.prior.Prior = lightDark
		}
		if d.received.dark() && d.from != nil && shut(d.from) {
			f.named = PortShut
		}
		f.evidence = d.sentences()
	} else {
		f.kind, f.since, f.prior.Prior = HighLight, k.High.Since, lightHigh
		f.summary = d.highSummary()
		f.severe = d.damaging()
		f.evidence = append(withoutEmpty(d.padSentence(), d.damageSentence()), d.sentences()...)
	}
	f.restated = d.received.told && !d.received.dark()
	f.evidence = append(f.evidence, linkSentence(p), opticSentence(p))
	f.seen = p.fibreItems(&d, p.Onset.with(f.since))
	f.evidence = withoutEmpty(append(f.evidence, p.Onset.sentence(f.since))...)
	return f
}

func (c *lossTest) finding(p *portState) finding {
	k := c.Known
	d := p.toward(k.Lane)
	f := finding{port: p, kind: ExcessLoss, since: k.Held.Since, summary: d.lossSummary(), restated: d.loss.told, prior: before{Prior: lossHigh}, seen: p.fibreItems(&d, p.Onset.with(k.Held.Since))}
	f.evidence = withoutEmpty(append(append(d.sentences(), linkSentence(p), opticSentence(p)), p.Onset.sentence(f.since))...)
	return f
}

func (d *direction) lowSummary() string {
	k := d.to.Light.Known
	least, on := k.beam.light.TakesLeast, d.to.onLane(d.lane)
	now := d.received.now
	switch {
	case !d.received.told:
		return fmt.Sprintf("Too little light reached %v when it last told of it.", d.to.ref)
	case d.received.dark():
		return fmt.Sprintf("No light reaches %v%s: its %s receiver needs at least %.1f dBm.", d.to.ref, on, k.beam.phy, least)
	case now < least:
		return fmt.Sprintf("%v receives %.1f dBm%s: its %s receiver needs at least %.1f dBm.", d.to.ref, now, on, k.beam.phy, least)
	}
	return fmt.Sprintf("%v receives %.1f dBm%s%s: %.1f dB above the least that its %s receiver needs.",
		d.to.ref, now, on, d.received.againstUsual(), now-least, k.beam.phy)
}

func (d *direction) highSummary() string {
	k := d.to.Light.Known
	most, on := k.beam.light.TakesMost, d.to.onLane(d.lane)
	now := d.received.now
	switch {
	case !d.received.told:
		return fmt.Sprintf("Too much light reached %v when it last told of it.", d.to.ref)
	case now > most:
		return fmt.Sprintf("%v receives %.1f dBm%s: its %s receiver takes at most %.1f dBm.", d.to.ref, now, on, k.beam.phy, most)
	}
	return fmt.Sprintf("%v receives %.1f dBm%s%s: %.1f dB below the most that its %s receiver takes.",
		d.to.ref, now, on, d.received.againstUsual(), most-now, k.beam.phy)
}

// damaging tells whether the light may damage the receiver.
func (d *direction) damaging() bool {
	damage, known := d.to.Light.Known.beam.light.Damage.Get()
	return known && d.received.told && d.received.now > damage
}

func (d *direction) damageSentence() string {
	damage, known := d.to.Light.Known.beam.light.Damage.Get()
	if !known {
		return ""
	}
	if d.damaging() {
		return fmt.Sprintf("More than %.1f dBm may have damaged the receiver.", damage)
	}
	return fmt.Sprintf("More than %.1f dBm can damage the receiver.", damage)
}

// spareDB is how far inside the window an attenuator ought to bring the light:
// what is read may be wrong by as much (common practice, no source).
const spareDB = 2

// padSentence tells which attenuator to fit: enough for what is read, and for
// the strongest sender by the record.
func (d *direction) padSentence() string {
	light := d.to.Light.Known.beam.light
	if !d.received.told {
		return ""
	}
	pad := math.Ceil(max(d.received.now-light.TakesMost+spareDB, light.Pad))
	left := d.received.now - pad
	if left < light.TakesLeast+spareDB {
		return fmt.Sprintf("An attenuator of %.0f dB would leave %.1f dBm at %v, too near the least that its receiver takes: fit an optic of less reach at the other end.", pad, left, d.to.ref)
	}
	return fmt.Sprintf("An attenuator of %.0f dB at the receiver of %v would leave %.1f dBm.", pad, d.to.ref, left)
}

func (d *direction) lossSummary() string {
	if !d.loss.told {
		return fmt.Sprintf("Too much light was lost on the way to %v when both ends last told of it.", d.to.ref)
	}
	budget := ""
	if most, known := d.most.Get(); known && d.loss.now > most {
		budget = fmt.Sprintf(", %.1f dB more than the %.1f dB expected at most", d.loss.now-most, most)
	}
	return fmt.Sprintf("%.1f dB are lost from %v to %v%s%s%s.", d.loss.now, d.from.ref, d.to.ref, d.to.onLane(d.lane), d.loss.againstUsual(), budget)
}

func linkSentence(p *portState) string {
	return fmt.Sprintf("The link is %v at %v.", p.reading.Oper, p.ref)
}

func opticSentence(p *portState) string {
	if p.optic == nil || p.optic.Model == "" {
		return ""
	}
	return fmt.Sprintf("The optic in %v is %s, serial %s.", p.ref, p.optic.Model, p.optic.Serial)
}
