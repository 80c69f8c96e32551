package plant

import (
	"strings"
	"time"

	"toneout/internal/standards"
)

// Acceptance is what the values measured when a run was installed say, judged
// here and not taken from the tester's word.
type Acceptance struct {
	TestedOn    time.Time // of the newest test; the zero time where not recorded
	Tester      string
	Class       string             // as recorded
	Line        standards.Line     // the zero Line where the class names none
	Result      TestResult         // the worst of all values and the wire map; "" where nothing could be judged
	Worst       *Measured          // the least margin; nil where no value could be judged
	ByParameter []Measured         // the worst of each parameter, worst first
	Points      int                // values judged
	Waived      int                // values that the standard does not judge, the loss at their frequency being small
	Supports    standards.Category // the best category all of whose lines the values keep; "" for none, or where they do not reach far enough
	Against     []Support          // every category that was tried, rising
	WireMap     *WireMap           // nil where none was taken
	LengthM     float64            // the longest pair, 0 where not measured
	Unjudged    []string           // rows that could not be judged, and why, in sentences
	Earlier     []*Acceptance      // older tests of the run, newest first
}

// Measured is one measured value against its limit. Values, limits and margins
// are in Unit.
type Measured struct {
	Parameter    standards.Parameter
	Pairs        string
	FrequencyMHz float64 // 0 for what has none
	WavelengthNM float64 // of a fibre's loss
	Value, Limit float64
	Margin       float64 // above 0 passes
	Accuracy     float64 // of the tester: a margin nearer to 0 is too near to call
	Stated       bool    // the accuracy is the tester's own; else what the standard wants of one
	Derived      bool    // worked out from two values, e.g. ACR-N from NEXT and insertion loss
	Unit         string  // dB, ns, ohm
	Result       TestResult
}

// Support is whether the values keep the lines of one category.
type Support struct {
	Line    standards.Line
	Result  TestResult // the worst; "" where nothing could be judged
	Worst   *Measured
	Missing []string // what was not measured, or not far enough, to say that the run has this category
}

// Parameters that have no limit line over frequency.
const (
	LoopResistance standards.Parameter = "loop resistance" // of a pair, both conductors
	FibreLoss      standards.Parameter = "loss"            // of a strand
)

// Acceptance gives what the tests of a run say, or nil where it has none. The
// newest test counts; of several on one day that differ in class, the one that
// stands last. It is not to be changed.
func (p *Plant) Acceptance(runID string) *Acceptance { return p.acceptance[runID] }

// Summary tells an acceptance test in a few plain sentences.
func (a *Acceptance) Summary() string {
	if a.Result == "" {
		return "The acceptance test could not be judged."
	}
	return "The acceptance test: " + string(a.Result) + "."
}

func isWireMap(parameter string) bool {
	return strings.EqualFold(strings.ReplaceAll(parameter, " ", ""), "wiremap")
}
