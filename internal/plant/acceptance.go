package plant

import (
	"time"

	"toneout/internal/standards"
)

// Acceptance is what the values measured when a run was installed say, judged
// here and not taken from the tester's word.
type Acceptance struct {
	TestedOn    time.Time // of the newest test; the zero time where not recorded
	Tester      string
	Line        standards.Line
	Result      TestResult         // "" where no value could be judged
	Worst       *Measured          // the least margin; nil where no value could be judged
	ByParameter []Measured         // the worst of each parameter, worst first
	Points      int                // values judged
	Supports    standards.Category // the best category all of whose lines the values keep; "" for none, or where they do not reach far enough
	WireMap     *WireMap           // nil where none was taken
	LengthM     float64            // the longest pair, 0 where not measured
	Unjudged    []string           // rows that could not be judged, and why, in sentences
}

// Measured is one measured value against its limit. Values and limits are dB, or ns
// of delay and skew.
type Measured struct {
	Parameter    standards.Parameter
	Pairs        string
	FrequencyMHz float64
	Value, Limit float64
	Margin       float64 // above 0 passes
	Accuracy     float64 // of the tester: a margin nearer to 0 is too near to call
	Result       TestResult
}

// WireMap is which pin each conductor of a cable reaches.
type WireMap struct {
	Conductors []Conductor // pins 1 to 8, then the screen where it was tested
	Faults     []WireFault
}

// Conductor is one conductor of a wire map.
type Conductor struct {
	Pin      string // at the near end; "S" for the screen
	Expected string
	Found    string // "" where open
	Shorted  string // the pin it is shorted to; "" for none
}

// WireFault is one thing wrong with a wire map.
type WireFault struct {
	Kind string // open, short, crossed, reversed, split, miswired
	Pins string // e.g. "4-5", "3-6 and 4-5"
	Text string // in words
}
