package web

import (
	"fmt"
	"math"
	"strconv"

	"toneout/internal/plant"
	"toneout/internal/standards"
)

// Expectation is what a run ought to carry, by its record and the standards.
type Expectation struct {
	Medium    string         `json:"medium,omitempty"`  // left out where not recorded, or mixed along the run
	Channel   *Channel       `json:"channel,omitempty"` // of copper
	Path      *Path          `json:"path,omitempty"`    // of fibre
	AmbientC  *float64       `json:"ambient_c,omitempty"`
	Speeds    []SpeedVerdict `json:"speeds"` // every nominal speed, rising
	Light     *LightEnds     `json:"light,omitempty"`
	Loss      *Loss          `json:"loss,omitempty"`
	Handling  []Handling     `json:"handling"`   // advice for whoever lays or terminates it
	LimitedBy []string       `json:"limited_by"` // what at its ends does less than the cable may carry
	Missing   []string       `json:"missing"`    // keys of the record without which more could be said
}

// Channel is a copper channel as far as it is recorded.
type Channel struct {
	Category   string   `json:"category,omitempty"` // the lowest along it, cords included
	Shield     string   `json:"shield,omitempty"`
	LengthM    *float64 `json:"length_m,omitempty"`
	Connectors int      `json:"connectors,omitempty"`
	DelayNS    *float64 `json:"delay_ns,omitempty"` // to be expected at the usual velocity
}

// Path is a run of fibre from its near to its far optic.
type Path struct {
	Parts      []PathPart `json:"parts"`
	Connectors int        `json:"connectors"` // mated pairs
	Splices    int        `json:"splices"`
}

// PathPart is one piece of fibre along it.
type PathPart struct {
	Fibre   string   `json:"fibre"`
	LengthM *float64 `json:"length_m,omitempty"`
}

// SpeedVerdict is whether the run may carry one speed.
type SpeedVerdict struct {
	Speed      string   `json:"speed"`
	Verdict    string   `json:"verdict"`         // allowed, depends, not allowed, not judged
	PHY        string   `json:"phy,omitempty"`   // by which the judgement is best
	Why        string   `json:"why,omitempty"`   // on what it depends, what forbids it, or what is not recorded
	Needs      string   `json:"needs,omitempty"` // what the run must be given for it
	Have       *float64 `json:"have,omitempty"`  // the figure judged and its limit, in unit
	Limit      *float64 `json:"limit,omitempty"`
	Unit       string   `json:"unit,omitempty"`
	Source     string   `json:"source,omitempty"`
	FromMemory bool     `json:"from_memory,omitempty"` // the figure was known to the writer and not seen in print
}

// Reason tells a person why the verdict is so; "" where there is no more to say.
func (v SpeedVerdict) Reason() string {
	words := v.Why
	if words == "" && v.Have != nil && v.Limit != nil {
		words = fmt.Sprintf("%s of at most %s", measure(v.Have, v.Unit), measure(v.Limit, v.Unit))
	}
	return joinWords("; ", words, prefixed("it needs ", v.Needs))
}

// Origin is the source with how well it is known; "" for none.
func (v SpeedVerdict) Origin() string {
	if v.FromMemory {
		return v.Source + " (from memory)"
	}
	return v.Source
}

// LightEnds is the light at each end that receives.
type LightEnds struct {
	Near *Light `json:"near,omitempty"`
	Far  *Light `json:"far,omitempty"`
}

// Light is the light that an end ought to receive, and what its optic takes.
type Light struct {
	LeastDBm      *float64 `json:"least_dbm,omitempty"` // expected
	MostDBm       *float64 `json:"most_dbm,omitempty"`
	TakesLeastDBm *float64 `json:"takes_least_dbm,omitempty"` // the receiver's window
	TakesMostDBm  *float64 `json:"takes_most_dbm,omitempty"`
	DamageDBm     *float64 `json:"damage_dbm,omitempty"`
	LossLeastDB   *float64 `json:"loss_least_db,omitempty"` // of the way to this end
	LossMostDB    *float64 `json:"loss_most_db,omitempty"`
	PadDB         *float64 `json:"pad_db,omitempty"` // to add, so that the strongest sender cannot overload it
	Verdict       string   `json:"verdict"`
	Why           string   `json:"why,omitempty"`
	Source        string   `json:"source,omitempty"`
}

// Loss is what the run ought to lose in the worse direction.
type Loss struct {
	WavelengthNM *float64 `json:"wavelength_nm,omitempty"`
	LeastDB      *float64 `json:"least_db,omitempty"`
	MostDB       *float64 `json:"most_db,omitempty"`
	RecordedDB   *float64 `json:"recorded_db,omitempty"`
	Agrees       bool     `json:"agrees"` // what is recorded lies within
}

func expectationOf(e plant.Expected) *Expectation {
	out := &Expectation{
		Medium: string(e.Medium), AmbientC: pointer(e.AmbientC), Speeds: make([]SpeedVerdict, len(e.Speeds)),
		Handling: handlingOf(e.Medium, e.Channel), LimitedBy: []string{}, Missing: append([]string{}, e.Missing...),
	}
	for i, c := range e.Speeds {
		out.Speeds[i] = speedVerdict(c)
	}
	for _, l := range e.LimitedBy {
		out.LimitedBy = append(out.LimitedBy, l.String())
	}
	switch e.Medium {
	case standards.Copper:
		ch := e.Channel
		out.Channel = &Channel{string(ch.Category), string(ch.Shield), unlessZero(ch.LengthM), ch.Connectors, delayOf(ch.LengthM)}
	case standards.Fibre:
		out.Path, out.Light, out.Loss = pathOf(e.Path), lightEnds(e.Light), lossOf(e.Loss)
	}
	return out
}

func speedVerdict(c plant.Carried) SpeedVerdict {
	v := SpeedVerdict{
		Speed: c.Speed.String(), Verdict: c.Verdict.String(), PHY: c.PHY, Why: c.Why, Needs: c.Needs,
		Unit: c.Unit, Source: c.Source.Document, FromMemory: c.Source.Memory && c.Source.Document != "",
	}
	if c.Unit != "" {
		v.Have, v.Limit = figure(c.Have), figure(c.Limit)
	}
	return v
}

func pathOf(p standards.FibrePath) *Path {
	out := &Path{Parts: []PathPart{}, Connectors: p.Connectors, Splices: p.Splices}
	for _, part := range p.Parts {
		out.Parts = append(out.Parts, PathPart{part.Fibre.String(), unlessZero(part.LengthM)})
	}
	return out
}

// lightEnds is nil where neither end's light is known.
func lightEnds(ends [2]plant.Light) *LightEnds {
	out := LightEnds{lightOf(ends[plant.NearEnd]), lightOf(ends[plant.FarEnd])}
	if out == (LightEnds{}) {
		return nil
	}
	return &out
}

func lightOf(l plant.Light) *Light {
	if !l.Known {
		return nil
	}
	j := l.Judgement
	return &Light{
		LeastDBm: figure(l.Least), MostDBm: figure(l.Most), TakesLeastDBm: figure(l.TakesLeast), TakesMostDBm: figure(l.TakesMost),
		DamageDBm: pointer(l.Damage), LossLeastDB: figure(l.LossLeast), LossMostDB: figure(l.LossMost), PadDB: unlessZero(l.Pad),
		Verdict: j.Verdict.String(), Why: j.Why, Source: j.Source.Document,
	}
}

func lossOf(b plant.Budget) *Loss {
	if !b.Known {
		return nil
	}
	return &Loss{figure(b.NM), figure(b.Least), figure(b.Most), pointer(b.Recorded), b.Agrees}
}

// figure is a computed number without the noise of its computing; nil for
// none that can be told.
func figure(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	v = math.Round(v*1e4) / 1e4
	return &v
}

// decimal writes a figure to two places at most.
func decimal(v float64) string {
	return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64)
}

// measure writes a figure with its unit; "" for none.
func measure(v *float64, unit string) string {
	if v == nil {
		return ""
	}
	return decimal(*v) + " " + unit
}

// unlessZero is nil for 0, where that stands for what is not known.
func unlessZero(v float64) *float64 {
	if v == 0 {
		return nil
	}
	return figure(v)
}
