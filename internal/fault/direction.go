package fault

import (
	"fmt"
	"math"
	"strings"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// shine lets a port take the light that it told last, where that is new, and
// compares both directions with what the other end told.
func (t *Tracker) shine(p *portState, anew bool) {
	if p.optic == nil && p.Light.Known == nil && p.Loss.Known == nil {
		if p.beyond = nil; p.mediumNow() == standards.Fibre {
			p.beyond = t.otherEnd(p)
		}
		return
	}
	b := t.beamTo(p)
	p.beyond = b.from
	if anew {
		p.Light.observe(p, b)
	} else if p.Light.Known != nil {
		p.Light.Known.beam = b
	}
	within := 2 * t.settings.slowEvery()
	p.Loss.observe(p, b, within)
	if b.from != nil && b.from.Light.Known != nil {
		b.from.Loss.observe(b.from, t.beamTo(b.from), within)
		t.board.note(b.from)
	}
}

// direction is the light from one end of a cable to the other, on one lane.
type direction struct {
	to, from             *portState // from is nil where not known
	lane                 int
	received, sent, bias amount // dBm; bias in dB over 1 mA
	loss                 amount // dB
	most                 port.Value[float64]
}

// amount is a value with what it usually is.
type amount struct {
	now, usual    float64
	told, settled bool
}

// rise is by how many dB the value is more than usual, 0 where that is not
// known.
func (a amount) rise() float64 {
	if !a.told || !a.settled {
		return 0
	}
	return a.now - a.usual
}

// rose tells whether it is more than usual, by more than it wanders.
func (a amount) rose() bool { return a.rise() > closeDB }
func (a amount) fell() bool { return a.rise() < -closeDB }

// steady tells whether it is known to be as usual.
func (a amount) steady() bool { return a.told && a.settled && !a.rose() && !a.fell() }

// dark tells whether the light is told to be none.
func (a amount) dark() bool { return a.told && dark(port.Light(a.now)) }

func lightAmount(v port.Value[port.Light], of []level, lane int) (a amount) {
	var now port.Light
	now, a.told = v.Get()
	a.now = float64(now)
	if lane < len(of) {
		a.usual, a.settled = of[lane].known()
	}
	return a
}

// toward is the light to a port on a lane.
func (p *portState) toward(lane int) direction {
	d := direction{to: p, from: p.beyond, lane: lane}
	if k := p.Light.Known; k != nil {
		d.from = k.beam.from
		d.received = lightAmount(p.laneOf(lane).Received, k.Base.Received, lane)
	}
	if loss := p.Loss.Known; loss != nil && d.from != nil && lane < len(loss.lanes) {
		d.loss.now, d.loss.told = loss.lanes[lane].Get()
		d.loss.usual, d.loss.settled = loss.Base.usual(lane)
		d.most = loss.most
	}
	d.send()
	return d
}

// send takes what the other end tells of what it sends.
func (d *direction) send() {
	from, p := d.from, d.to
	if from == nil || from.optic == nil || from.Light.Known == nil || p.optic != nil && len(from.optic.Lanes) != len(p.optic.Lanes) {
		return
	}
	far, base := from.laneOf(d.lane), &from.Light.Known.Base
	d.sent = lightAmount(far.Sent, base.Sent, d.lane)
	if ma, told := far.BiasMA.Get(); told && ma > 0 {
		d.bias = lightAmount(port.Some(port.LightOf(ma)), base.Bias, d.lane)
	}
}

// back is the light the other way, on the same lane.
func (d *direction) back() direction {
	if d.from == nil {
		return direction{}
	}
	return d.from.toward(d.lane)
}

// laneOf is what one lane of the port's optic tells; nothing where there is none.
func (p *portState) laneOf(lane int) port.Lane {
	if p.optic == nil || lane >= len(p.optic.Lanes) {
		return port.Lane{}
	}
	return p.optic.Lanes[lane]
}

// onLane says which lane it is, "" where there is one only.
func (p *portState) onLane(lane int) string {
	if p.optic == nil || len(p.optic.Lanes) < 2 {
		return ""
	}
	return fmt.Sprintf(" on lane %d", lane+1)
}

// againstUsual compares a value with what it usually is, "" where that is not
// known.
func (a amount) againstUsual() string {
	switch rise := a.rise(); {
	case !a.told || !a.settled:
		return ""
	case a.rose():
		return fmt.Sprintf(", %.1f dB more than usual", rise)
	case a.fell() && !a.dark():
		return fmt.Sprintf(", %.1f dB less than usual", -rise)
	case a.dark():
		return fmt.Sprintf("; usual is %.1f dBm", a.usual)
	}
	return fmt.Sprintf(", as usual (%.1f)", a.usual)
}

func dBm(v float64) string {
	if dark(port.Light(v)) {
		return "no light"
	}
	return fmt.Sprintf("%.1f dBm", v)
}

// sentences are all that is known of the light both ways.
func (d *direction) sentences() []string {
	back := d.back()
	return withoutEmpty(d.receivedSentence(), d.lanesSentence(), d.sentSentence(), d.lossSentence(),
		back.receivedSentence(), back.sentSentence(), back.lossSentence(), accuracySentence)
}

const accuracySentence = "An optic measures its own light to within 2 or 3 dB only: a change tells more than a level."

func (d *direction) receivedSentence() string {
	if !d.received.told {
		return ""
	}
	window := ""
	if k := d.to.Light.Known; k != nil && k.beam.phy != "" {
		window = fmt.Sprintf("; its %s receiver takes %.1f to %.1f dBm", k.beam.phy, k.beam.light.TakesLeast, k.beam.light.TakesMost)
	}
	return fmt.Sprintf("%v receives %s%s%s%s.", d.to.ref, dBm(d.received.now), d.to.onLane(d.lane), d.received.againstUsual(), window)
}

// lanesSentence tells what each lane receives, "" of one.
func (d *direction) lanesSentence() string {
	if d.to == nil || d.to.optic == nil || len(d.to.optic.Lanes) < 2 {
		return ""
	}
	var each []string
	for i, lane := range d.to.optic.Lanes {
		text := "nothing told"
		if v, told := lane.Received.Get(); told {
			text = dBm(float64(v))
		}
		each = append(each, fmt.Sprintf("%d: %s", i+1, text))
	}
	return fmt.Sprintf("By its lanes %v receives %s.", d.to.ref, strings.Join(each, ", "))
}

func (d *direction) sentSentence() string {
	if !d.sent.told {
		return ""
	}
	current := ""
	if d.bias.rose() {
		current = fmt.Sprintf("; its laser takes %.0f %% more current than usual", 100*(math.Pow(10, d.bias.rise()/10)-1))
	}
	return fmt.Sprintf("%v sends %s%s%s%s.", d.from.ref, dBm(d.sent.now), d.to.onLane(d.lane), d.sent.againstUsual(), current)
}

func (d *direction) lossSentence() string {
	if !d.loss.told {
		return ""
	}
	budget := ""
	if most, known := d.most.Get(); known {
		budget = fmt.Sprintf("; at most %.1f dB is expected", most)
	}
	return fmt.Sprintf("%.1f dB are lost from %v to %v%s%s%s.", d.loss.now, d.from.ref, d.to.ref, d.to.onLane(d.lane), d.loss.againstUsual(), budget)
}

// sendsLeast is what an optic's PHY sends at least; false where not known.
func sendsLeast(p *portState) (float64, bool) {
	optic, ok := standards.OpticNamed(p.phyName())
	return optic.SendLeast, ok
}
