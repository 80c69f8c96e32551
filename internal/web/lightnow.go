package web

import (
	"fmt"
	"time"

	"toneout/internal/fault"
	"toneout/internal/port"
)

// OpticNow is what the optic in a port tells of itself, beside what is expected
// of the light.
type OpticNow struct {
	At      *time.Time `json:"at,omitempty"` // when it was asked
	Model   string     `json:"model,omitempty"`
	Serial  string     `json:"serial,omitempty"`
	Celsius *float64   `json:"celsius,omitempty"`
	PHY     string     `json:"phy,omitempty"` // whose window the receiver has; left out where not known

	TakesLeastDBm    *float64 `json:"takes_least_dbm,omitempty"` // the receiver's window
	TakesMostDBm     *float64 `json:"takes_most_dbm,omitempty"`
	DamageDBm        *float64 `json:"damage_dbm,omitempty"`
	ExpectedLeastDBm *float64 `json:"expected_least_dbm,omitempty"` // what ought to arrive by the record
	ExpectedMostDBm  *float64 `json:"expected_most_dbm,omitempty"`

	From        *Place    `json:"from,omitempty"` // the watched port that sends to it
	LossMostDB  *float64  `json:"loss_most_db,omitempty"`
	LossLeastDB *float64  `json:"loss_least_db,omitempty"`
	Lanes       []LaneNow `json:"lanes"`
}

// LaneNow is one lane of an optic. Of no light at all, dark is true and no
// level is given; what is not told is left out.
type LaneNow struct {
	Lane             int      `json:"lane"` // from 1
	ReceivedDBm      *float64 `json:"received_dbm,omitempty"`
	ReceivedDark     bool     `json:"received_dark,omitempty"`
	UsualReceivedDBm *float64 `json:"usual_received_dbm,omitempty"` // learned
	Standing         string   `json:"standing"`                     // inside, outside, changed, not judged
	SentDBm          *float64 `json:"sent_dbm,omitempty"`
	SentDark         bool     `json:"sent_dark,omitempty"`
	UsualSentDBm     *float64 `json:"usual_sent_dbm,omitempty"`
	BiasMA           *float64 `json:"bias_ma,omitempty"`
	LossDB           *float64 `json:"loss_db,omitempty"` // from the other end to this one
	UsualLossDB      *float64 `json:"usual_loss_db,omitempty"`
}

// Where a lane stands.
const (
	inside    = "inside"
	outside   = "outside"
	changed   = "changed" // inside, and 2 dB or more from what is usual
	notJudged = "not judged"
)

// changedBy is how far from usual counts as changed, in dB.
const changedBy = 2

// opticNow is nil where the port tells of no optic.
func opticNow(p *fault.Port) *OpticNow {
	if p.Optic == nil {
		return nil
	}
	out := &OpticNow{Model: p.Optic.Model, Serial: p.Optic.Serial, Celsius: rounded(p.Optic.Celsius), Lanes: []LaneNow{}}
	light := p.Light
	if light == nil {
		return out
	}
	out.At, out.PHY, out.From, out.LossMostDB = timePointer(light.At), light.PHY, placePointer(light.From), rounded(light.Most)
	if takes := light.Takes; light.PHY != "" {
		out.TakesLeastDBm, out.TakesMostDBm, out.DamageDBm = figure(takes.TakesLeast), figure(takes.TakesMost), rounded(takes.Damage)
		if takes.Known {
			out.ExpectedLeastDBm, out.ExpectedMostDBm, out.LossLeastDB = figure(takes.Least), figure(takes.Most), figure(takes.LossLeast)
		}
	}
	for i := range light.Lanes {
		lane := laneNow(i, &light.Lanes[i], out)
		if i < len(p.Optic.Lanes) {
			lane.BiasMA = rounded(p.Optic.Lanes[i].BiasMA)
		}
		out.Lanes = append(out.Lanes, lane)
	}
	return out
}

func laneNow(i int, l *fault.LaneLight, of *OpticNow) LaneNow {
	out := LaneNow{Lane: i + 1, LossDB: rounded(l.Loss), UsualLossDB: rounded(l.UsualLoss)}
	out.ReceivedDBm, out.ReceivedDark = level(l.Received)
	out.SentDBm, out.SentDark = level(l.Sent)
	out.UsualReceivedDBm, _ = level(l.UsualReceived)
	out.UsualSentDBm, _ = level(l.UsualSent)
	out.Standing = out.stands(of)
	return out
}

// stands holds what is received against the window and what is usual.
func (l *LaneNow) stands(of *OpticNow) string {
	now, usual := l.ReceivedDBm, l.UsualReceivedDBm
	switch {
	case of.TakesLeastDBm == nil || now == nil && !l.ReceivedDark:
		return notJudged
	case l.ReceivedDark || *now < *of.TakesLeastDBm || *now > *of.TakesMostDBm:
		return outside
	case usual != nil && (*now-*usual >= changedBy || *usual-*now >= changedBy):
		return changed
	}
	return inside
}

// level is a light in dBm; dark has none, and JSON no infinity.
func level(v port.Value[port.Light]) (dBm *float64, dark bool) {
	light, told := v.Get()
	if !told || light.Dark() {
		return nil, told
	}
	return figure(float64(light)), false
}

// rounded is nil for what is absent.
func rounded(v port.Value[float64]) *float64 {
	if value, told := v.Get(); told {
		return figure(value)
	}
	return nil
}

var standingMarks = map[string]marked{
	inside: {"fits", "✓"}, outside: {"broken", "✗"}, changed: {"unsure", "~"}, notJudged: {"unjudged", "?"},
}

// lightNowGrid is the light at ports now, a row for each lane that arrives; nil
// where none tells any.
func lightNowGrid(ports []*PortNow) *grid {
	g := briefGrid("The light now, by the end that receives it, beside what is expected and what is usual",
		"Towards", "Arrives", "Ought to arrive", "Its receiver takes", "Sent from there", "Lost on the way", "Ought to lose")
	for _, p := range ports {
		if p.Optic == nil {
			continue
		}
		for i := range p.Optic.Lanes {
			g.add(p.lightCells(&p.Optic.Lanes[i], otherOf(ports, p))...)
		}
	}
	if len(g.Rows) == 0 {
		return nil
	}
	return g
}

// otherOf is the port that sends to one; nil where it is not among these.
func otherOf(ports []*PortNow, to *PortNow) *PortNow {
	for _, p := range ports {
		if from := to.Optic.From; p != to && from != nil && from.Switch == p.Switch && from.Port == p.Port && p.Optic != nil && len(p.Optic.Lanes) == len(to.Optic.Lanes) {
			return p
		}
	}
	return nil
}

func (now *PortNow) lightCells(l *LaneNow, other *PortNow) []cell {
	o := now.Optic
	towards := fmt.Sprintf("%s %s", now.Switch, now.Port)
	if now.End != "" {
		towards = now.End + " end, " + towards
	}
	if len(o.Lanes) > 1 {
		towards += fmt.Sprintf(", lane %d", l.Lane)
	}
	arrives := standingMarks[l.Standing].cell(levelWords(l.ReceivedDBm, l.ReceivedDark))
	arrives.Notes = notEmpty(standingNotes[l.Standing], prefixed("usual ", measure(l.UsualReceivedDBm, "dBm")))
	sent := told("")
	if other != nil {
		there := &other.Optic.Lanes[l.Lane-1]
		sent = cell{Text: levelWords(there.SentDBm, there.SentDark), Notes: notEmpty(prefixed("usual ", measure(there.UsualSentDBm, "dBm")), prefixed("laser current ", measure(there.BiasMA, "mA")))}
	}
	lost := told(measure(l.LossDB, "dB"))
	lost.Notes = notEmpty(prefixed("usual ", measure(l.UsualLossDB, "dB")))
	return []cell{plain(towards), arrives, told(spanOf(o.ExpectedLeastDBm, o.ExpectedMostDBm, "dBm")),
		told(joinWords(", ", spanOf(o.TakesLeastDBm, o.TakesMostDBm, "dBm"), o.PHY)), sent, lost, told(o.budgetWords())}
}

var standingNotes = map[string]string{
	inside: "inside the window", outside: "outside the window", changed: "2 dB or more from usual", notJudged: "not judged",
}

func (o *OpticNow) budgetWords() string {
	if o.LossLeastDB == nil && o.LossMostDB != nil {
		return measure(o.LossMostDB, "dB") + " at most"
	}
	return spanOf(o.LossLeastDB, o.LossMostDB, "dB")
}

// spanOf is a range with its unit, "" where it is not known.
func spanOf(least, most *float64, unit string) string {
	if least == nil || most == nil {
		return ""
	}
	return span(least, most) + " " + unit
}

func levelWords(dBm *float64, dark bool) string {
	if dark {
		return "no light"
	}
	return orWords(measure(dBm, "dBm"), notTold)
}

// PowerNow is what a port feeds its far end over the pairs (RFC 3621).
type PowerNow struct {
	Enabled string            `json:"enabled,omitempty"` // yes, no
	Status  string            `json:"status"`            // disabled, searching, delivering, fault, test, other fault, not told
	Class   *int              `json:"class,omitempty"`   // while it delivers
	Events  map[string]uint32 `json:"events"`            // counted by the switch: short, overload, denied, absent, invalid
}

var powerStatuses = map[port.PowerStatus]string{
	port.PowerNotTold: notTold, port.PowerDisabled: "disabled", port.PowerSearching: "searching", port.PowerDelivering: "delivering",
	port.PowerFault: "fault", port.PowerTest: "test", port.PowerOtherFault: "other fault",
}

// opticLine is which optic is in a port.
func opticLine(p *PortNow) string {
	if p.Optic == nil {
		return ""
	}
	return orWords(joinWords(", ", p.Optic.Model, prefixed("serial ", p.Optic.Serial), measure(p.Optic.Celsius, "°C")), "there, and tells nothing of itself")
}

func powerLine(p *PortNow) string {
	if p.Power == nil {
		return ""
	}
	return p.Power.words()
}

// powerNow is nil where the port feeds none.
func powerNow(p *port.Power) *PowerNow {
	if p == nil {
		return nil
	}
	out := &PowerNow{Status: powerStatuses[p.Status], Events: map[string]uint32{}}
	if p.Status == port.PowerDelivering {
		out.Class = pointer(p.Class) // valid only then (RFC 3621, pethPsePortPowerClassifications)
	}
	switch p.Enabled {
	case port.Yes:
		out.Enabled = "yes"
	case port.No:
		out.Enabled = "no"
	}
	for name, v := range map[string]port.Value[uint32]{"short": p.Shorts, "overload": p.Overloads, "denied": p.Denied, "absent": p.Absent, "invalid": p.Invalid} {
		if count, told := v.Get(); told {
			out.Events[name] = count
		}
	}
	return out
}

// powerEvents are told in this order; none of them is a fault of its own.
var powerEvents = []struct{ key, one string }{
	{"short", "short circuit"}, {"overload", "overload"}, {"denied", "refusal"}, {"absent", "disconnection"},
}

// words tells the state of the power and what was counted.
func (p *PowerNow) words() string {
	words := p.Status
	if p.Status == powerStatuses[port.PowerSearching] {
		words += " for a device to feed"
	}
	if p.Class != nil {
		words += fmt.Sprintf(", class %d", *p.Class)
	}
	for _, e := range powerEvents {
		if count, told := p.Events[e.key]; told {
			words += "; " + plural(int(count), e.one)
		}
	}
	return words
}

// LightWords tells what arrives at the port, a line for each lane, and what it
// sends; none where it tells of no light.
func (now *PortNow) LightWords() (lines []string) {
	if now.Optic == nil {
		return nil
	}
	for i := range now.Optic.Lanes {
		l := &now.Optic.Lanes[i]
		words := joinWords("; ",
			joinWords(", ", verbLevel("receives", l.ReceivedDBm, l.ReceivedDark), standingNotes[l.Standing], prefixed("usual ", measure(l.UsualReceivedDBm, "dBm"))),
			prefixed("ought to receive ", spanOf(now.Optic.ExpectedLeastDBm, now.Optic.ExpectedMostDBm, "dBm")),
			prefixed("the receiver takes ", spanOf(now.Optic.TakesLeastDBm, now.Optic.TakesMostDBm, "dBm")),
			verbLevel("sends", l.SentDBm, l.SentDark),
			now.Optic.lossWords(l))
		lane := ""
		if len(now.Optic.Lanes) > 1 {
			lane = fmt.Sprintf("lane %d: ", l.Lane)
		}
		lines = append(lines, lane+words)
	}
	return lines
}

func verbLevel(verb string, dBm *float64, dark bool) string {
	if dBm == nil && !dark {
		return verb + ": " + notTold
	}
	return verb + " " + levelWords(dBm, dark)
}

func (o *OpticNow) lossWords(l *LaneNow) string {
	if l.LossDB == nil {
		return ""
	}
	return "lost on the way to it: " + measure(l.LossDB, "dB") + prefixed(", usual ", measure(l.UsualLossDB, "dB")) + prefixed(", ought to be ", o.budgetWords())
}

// PowerWords tells the state of power over the pairs; "" for a port that feeds
// none.
func (now *PortNow) PowerWords() string { return powerLine(now) }
