package fault

import (
	"cmp"
	"slices"
	"time"

	"toneout/internal/plant"
	"toneout/internal/port"
)

// lightTest watches for a receiver that gets too little or too much light. Of
// several lanes the worst counts.
type lightTest struct {
	Known *lightKnown // nil before the port's optic told anything
}

// lightKnown is what is known of the light at one end.
type lightKnown struct {
	Low, High holding
	Doubted   bool   // whether a lane was told to be dark while the link was up, which it can't be
	Dark      bool   // whether there was no light at all at some time while Low is open
	Inside    bool   // whether what came was well inside the window when last told
	Lane      int    // from 0, that is worst
	PHY       string // when the link was up last
	Untold    int    // readings in a row that told no light received
	Course    course

	Base lightBase
	beam beam      // as of the last reading
	at   time.Time // of the last reading; zero before the first since a restart
}

// lightBase is what the light at one end usually is, by lane. It begins anew
// with another optic, what is received also with another one at the other end.
type lightBase struct {
	Serial    string
	Far       plant.PortRef
	FarSerial string
	Received  []level // dBm
	Sent      []level // dBm
	Bias      []level // of the laser's current, dB over 1 mA
}

// noLightDBm is what counts as no light: sensors that know no zero end
// somewhere from -30 to -40 (common practice, no source), and no receiver of IEEE
// 802.3 takes so little but that of 100BASE-FX, of which hardly one tells (-31 dBm,
// memory).
const noLightDBm = -30

func dark(l port.Light) bool { return l <= noLightDBm }

func (c *lightTest) isOpen() bool { return c.Known != nil && (c.Known.Low.Open || c.Known.High.Open) }

// observe takes a reading of the slow clock.
func (c *lightTest) observe(p *portState, b beam) {
	if p.optic == nil {
		c.unplug()
		return
	}
	if c.Known == nil {
		c.Known = &lightKnown{}
	}
	k := c.Known
	k.beam, k.at = b, p.toldAt
	swapped := k.Base.follow(p, b.from)
	if swapped {
		k.Low, k.High = holding{}, holding{}
	}
	k.Course.observe(p, &k.Base, swapped)
	up := p.reading.Oper == port.Up
	if phy, ok := p.reading.PHY(); ok && up {
		k.PHY = phy.Name
	}
	if p.reading.Admin == port.Down || p.doubted {
		k.Low, k.High = holding{}, holding{}
		return
	}
	k.Doubted = up && anyDark(p.optic.Lanes)
	k.judge(p, p.toldAt)
	if up && !p.open() {
		k.Base.learn(p.optic.Lanes)
	}
}

// watchLink takes a poll, which may be between two readings: where the link is
// up again there is light, so darkness that was told before is over, and a
// reading that is well needs no second one.
func (c *lightTest) watchLink(p *portState) {
	k := c.Known
	if k == nil || !k.Low.Open || !k.Dark || p.reading.Oper != port.Up {
		return
	}
	if dark, told := p.inTheDark(); k.Inside || told && dark {
		k.Low = holding{}
	}
}

// unplug forgets what is of the optic that is gone; one that is put back, as
// its serial tells, is known again.
func (c *lightTest) unplug() {
	k := c.Known
	if k == nil {
		return
	}
	if k.Untold++; k.at.IsZero() && k.Untold < silentPolls {
		return // not told since a restart
	}
	if k.Base.Serial == "" {
		c.Known = nil
		return
	}
	*c = c.rested()
}

// rested is what outlasts a fault that is over.
func (c *lightTest) rested() lightTest {
	if c.Known == nil {
		return lightTest{}
	}
	k := c.Known
	return lightTest{&lightKnown{Base: k.Base, PHY: k.PHY, Course: course{Out: k.Course.Out, In: k.Course.In}}}
}

// judge holds every lane against the receiver's window and what it usually gets.
func (k *lightKnown) judge(p *portState, at time.Time) {
	if k.beam.phy == "" {
		k.Low, k.High = holding{}, holding{}
		return
	}
	var low, high verdict
	all, _ := p.inTheDark()
	k.Dark = all || k.Dark && k.Low.Open
	for i, lane := range p.optic.Lanes {
		received, told := lane.Received.Get()
		least, most := k.beam.light.TakesLeast, k.beam.light.TakesMost
		none := dark(received) || p.reading.Oper != port.Up && float64(received) < least // or what is left where nobody sends
		if !told || none && !k.darkCounts(p) {
			continue
		}
		usual, settled := k.Base.usual(k.Base.Received, i)
		low.take(i, &edge{at: least, limited: true, near: edgeNear, usual: usual, settled: settled, by: lightFalls}, float64(received))
		high.take(i, &edge{at: -most, limited: true, near: edgeNear, usual: -usual, settled: settled, by: lightFalls}, -float64(received))
	}
	if k.Untold++; low.told {
		k.Untold = 0
		k.Low.take(low.passed, low.inside, at)
		k.High.take(high.passed, high.inside, at)
	}
	k.Inside = low.told && low.inside
	if k.Untold >= silentPolls {
		k.Low, k.High = holding{}, holding{}
	}
	switch {
	case low.passed:
		k.Lane = low.lane
	case high.passed:
		k.Lane = high.lane
	case !k.Low.Open && k.High.Open:
		k.Lane = high.lane
	default:
		k.Lane = low.lane
	}
}

// darkCounts tells whether no light is a fault: not while the link is up, since
// then the sensor is wrong, and only where light is meant to come.
func (k *lightKnown) darkCounts(p *portState) bool {
	run := p.join.Run
	switch {
	case p.reading.Oper == port.Up || !inUse(run):
		return false
	case k.Low.Open || k.beam.from != nil || p.Link.isOpen():
		return true
	}
	return run != nil && run.AlwaysOn
}

// anyDark tells whether a lane is told to receive no light.
func anyDark(lanes []port.Lane) bool {
	return slices.ContainsFunc(lanes, func(l port.Lane) bool {
		light, told := l.Received.Get()
		return told && dark(light)
	})
}

// verdict is over all lanes of one receiver.
type verdict struct {
	told, passed, inside bool
	lane                 int // the worst
	margin               float64
}

func (v *verdict) take(lane int, e *edge, value float64) {
	margin := value - e.at
	if !v.told {
		v.told, v.inside = true, true
		v.lane, v.margin = lane, margin
	}
	passed := e.passed(value)
	if passed && !v.passed || passed == v.passed && margin < v.margin {
		v.lane, v.margin = lane, margin
	}
	v.passed = v.passed || passed
	v.inside = v.inside && e.inside(value)
}

// follow begins anew what is of another optic or another way, and tells whether
// it is.
func (b *lightBase) follow(p, from *portState) (anew bool) {
	if differ(b.Serial, p.serial()) {
		*b, anew = lightBase{}, true
	}
	b.Serial = cmp.Or(p.serial(), b.Serial)
	if from == nil {
		return anew
	}
	if b.Far != (plant.PortRef{}) && b.Far != from.ref || differ(b.FarSerial, from.serial()) {
		b.Received, b.FarSerial, anew = nil, "", true
	}
	b.Far, b.FarSerial = from.ref, cmp.Or(from.serial(), b.FarSerial)
	return anew
}

// differ tells whether two serials are of two optics; one not told tells nothing.
func differ(a, b string) bool { return a != "" && b != "" && a != b }

// serial is that of the port's optic, "" where not told.
func (p *portState) serial() string {
	if p.optic == nil {
		return ""
	}
	return p.optic.Serial
}

// learn takes what the lanes tell while all is well.
func (b *lightBase) learn(lanes []port.Lane) {
	if len(b.Sent) != len(lanes) || len(b.Bias) != len(lanes) {
		b.Sent, b.Bias = make([]level, len(lanes)), make([]level, len(lanes))
	}
	if len(b.Received) != len(lanes) {
		b.Received = make([]level, len(lanes))
	}
	for i, lane := range lanes {
		if v, told := lane.Received.Get(); told && !dark(v) {
			b.Received[i].learn(float64(v), 1)
		}
		if v, told := lane.Sent.Get(); told && !dark(v) {
			b.Sent[i].learn(float64(v), 0)
		}
		if v, told := lane.BiasMA.Get(); told && v > 0 {
			b.Bias[i].learn(float64(port.LightOf(v)), 0) // decibels of a current here
		}
	}
}

// usual is what a lane usually tells; false where that is not known.
func (b *lightBase) usual(of []level, lane int) (db float64, ok bool) {
	if lane >= len(of) {
		return 0, false
	}
	return of[lane].known()
}
