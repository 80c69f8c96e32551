package web

import (
	"toneout/internal/plant"
	"toneout/internal/standards"
)

// Acceptance is what the values measured when a run was installed say, judged
// by toneout and not taken from the tester's word.
type Acceptance struct {
	TestedOn    string       `json:"tested_on,omitempty"`
	Tester      string       `json:"tester,omitempty"`
	Class       string       `json:"class,omitempty"`  // as recorded
	Line        string       `json:"line,omitempty"`   // the limit line that it names
	Result      string       `json:"result,omitempty"` // pass, pass*, fail*, fail; left out where nothing could be judged
	Summary     string       `json:"summary"`          // in sentences
	Worst       *Measured    `json:"worst,omitempty"`
	ByParameter []Measured   `json:"by_parameter"` // the worst of each, worst first
	Points      int          `json:"points"`       // values judged
	Waived      int          `json:"waived"`       // values that the standard does not judge
	Supports    string       `json:"supports,omitempty"`
	Against     []Support    `json:"against"` // every category tried, rising
	WireMap     *WireMap     `json:"wire_map,omitempty"`
	LengthM     *float64     `json:"length_m,omitempty"` // the longest pair
	Unjudged    []string     `json:"unjudged"`
	Earlier     []Acceptance `json:"earlier,omitempty"` // newest first
}

// Measured is one measured value against its limit, in unit.
type Measured struct {
	Parameter      string   `json:"parameter"`
	Pairs          string   `json:"pairs,omitempty"`
	FrequencyMHz   *float64 `json:"frequency_mhz,omitempty"`
	WavelengthNM   *float64 `json:"wavelength_nm,omitempty"`
	Value          *float64 `json:"value,omitempty"`
	Limit          *float64 `json:"limit,omitempty"`
	Margin         *float64 `json:"margin,omitempty"` // above 0 keeps the limit
	Accuracy       *float64 `json:"accuracy,omitempty"`
	AccuracyStated bool     `json:"accuracy_stated"` // by the tester; else what the standard wants of one
	Derived        bool     `json:"derived"`         // worked out from two values
	Unit           string   `json:"unit"`
	SignalToNoise  *float64 `json:"signal_to_noise,omitempty"` // times the noise's power, of ACR-N and PSACR-N
	Result         string   `json:"result"`
}

// Words tells a value with its limit, e.g. "NEXT of 12-36 at 250 MHz: 34.9 dB,
// limit 35.3 dB, margin -0.4 dB".
func (m *Measured) Words() string {
	where := joinWords(" ", m.Parameter, prefixed("of ", m.Pairs), prefixed("at ", m.at()))
	return where + ": " + joinWords(", ", measure(m.Value, m.Unit), prefixed("limit ", measure(m.Limit, m.Unit)), prefixed("margin ", measure(m.Margin, m.Unit)))
}

// Support is whether the values keep the lines of one category.
type Support struct {
	Line    string    `json:"line"`
	Result  string    `json:"result,omitempty"` // left out where nothing could be judged
	Worst   *Measured `json:"worst,omitempty"`
	Missing []string  `json:"missing"` // what was not measured far enough to say it
}

// WireMap is which pin each conductor reaches.
type WireMap struct {
	Right      bool        `json:"right"`
	Words      string      `json:"words"`
	Conductors []Conductor `json:"conductors"`
	Faults     []WireFault `json:"faults"`

	table []plant.WireRow
}

// Conductor is one row of a wire map.
type Conductor struct {
	Pin      string `json:"pin"` // S for the screen
	Expected string `json:"expected"`
	Found    string `json:"found,omitempty"` // left out where open
	Shorted  string `json:"shorted_to,omitempty"`
}

// WireFault is one thing wrong with it.
type WireFault struct {
	Kind      string `json:"kind"`
	Pins      string `json:"pins,omitempty"`
	Text      string `json:"text"`
	Effect    string `json:"effect"`
	Suspected bool   `json:"suspected"` // by measured values and not by the wire map itself
}

// acceptanceOf is nil for a run that was not tested.
func acceptanceOf(a *plant.Acceptance) *Acceptance {
	if a == nil {
		return nil
	}
	out := &Acceptance{
		TestedOn: date(a.TestedOn), Tester: a.Tester, Class: a.Class, Result: string(a.Result), Summary: a.Summary(),
		Worst: measuredPointer(a.Worst), ByParameter: []Measured{}, Points: a.Points, Waived: a.Waived,
		Supports: string(a.Supports), Against: []Support{}, WireMap: wireMapOf(a.WireMap),
		LengthM: unlessZero(a.LengthM), Unjudged: append([]string{}, a.Unjudged...),
	}
	if a.Line != (standards.Line{}) {
		out.Line = a.Line.String()
	}
	for _, m := range a.ByParameter {
		out.ByParameter = append(out.ByParameter, measuredOf(m))
	}
	for _, s := range a.Against {
		out.Against = append(out.Against, Support{s.Line.String(), string(s.Result), measuredPointer(s.Worst), append([]string{}, s.Missing...)})
	}
	for _, earlier := range a.Earlier {
		out.Earlier = append(out.Earlier, *acceptanceOf(earlier))
	}
	return out
}

func measuredPointer(m *plant.Measured) *Measured {
	if m == nil {
		return nil
	}
	out := measuredOf(*m)
	return &out
}

func measuredOf(m plant.Measured) Measured {
	return Measured{
		Parameter: string(m.Parameter), Pairs: m.Pairs, FrequencyMHz: unlessZero(m.FrequencyMHz), WavelengthNM: unlessZero(m.WavelengthNM),
		Value: figure(m.Value), Limit: figure(m.Limit), Margin: figure(m.Margin), Accuracy: unlessZero(m.Accuracy),
		AccuracyStated: m.Stated, Derived: m.Derived, Unit: m.Unit, SignalToNoise: signalToNoise(m.Parameter, m.Value), Result: string(m.Result),
	}
}

func wireMapOf(w *plant.WireMap) *WireMap {
	if w == nil {
		return nil
	}
	out := &WireMap{Right: w.Right(), Words: w.Words(), Conductors: []Conductor{}, Faults: []WireFault{}, table: w.Table()}
	for _, c := range w.Conductors {
		out.Conductors = append(out.Conductors, Conductor(c))
	}
	for _, f := range w.Faults {
		out.Faults = append(out.Faults, WireFault{string(f.Kind), f.Pins, f.Text, f.Effect, f.Suspected})
	}
	return out
}
