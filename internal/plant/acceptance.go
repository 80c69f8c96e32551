package plant

import (
	"maps"
	"slices"
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

// acceptances judges the tests of every run.
func acceptances(p *Plant) map[string]*Acceptance {
	rows := map[string][]*TestRow{}
	for _, row := range p.Tests {
		rows[row.Run] = append(rows[row.Run], row)
	}
	all := make(map[string]*Acceptance, len(rows))
	j := newTestJudge(p)
	for run, of := range rows {
		all[run] = j.ofRun(p.Run(run), of)
	}
	return all
}

// ofRun judges each test of a run and hangs the older ones on the newest.
func (j *testJudge) ofRun(run *Run, rows []*TestRow) *Acceptance {
	var all []*Acceptance
	for _, test := range j.testsOf(rows) {
		all = append(all, j.judge(run, test))
	}
	all[0].Earlier = all[1:]
	return all[0]
}

// testsOf parts the rows of a run into its tests, newest first.
func (j *testJudge) testsOf(rows []*TestRow) (tests [][]*TestRow) {
	byDay := map[time.Time][]*TestRow{}
	for _, row := range rows {
		byDay[row.TestedOn] = append(byDay[row.TestedOn], row)
	}
	days := slices.SortedFunc(maps.Keys(byDay), func(a, b time.Time) int { return b.Compare(a) })
	for _, day := range days {
		tests = append(tests, j.testsOfDay(byDay[day])...)
	}
	return tests
}

// testsOfDay parts one day's rows by class, the last first. Rows without a class,
// such as a wire map, and a fibre's wavelengths belong to the last.
func (j *testJudge) testsOfDay(rows []*TestRow) (tests [][]*TestRow) {
	var lines []standards.Line
	var loose []*TestRow
	byLine := map[standards.Line][]*TestRow{}
	for _, row := range rows {
		line := j.line(row.Class).Line // the zero Line for what is none
		if row.Class == "" || isFibreLoss(row.Parameter) {
			loose = append(loose, row)
			continue
		}
		if byLine[line] == nil {
			lines = append(lines, line)
		}
		byLine[line] = append(byLine[line], row)
	}
	if len(lines) == 0 {
		return [][]*TestRow{loose}
	}
	slices.Reverse(lines)
	if i := slices.Index(lines, standards.Line{}); i >= 0 { // what cannot be judged is not the newest
		lines = append(slices.Delete(lines, i, i+1), standards.Line{})
	}
	for _, line := range lines {
		tests = append(tests, byLine[line])
	}
	tests[0] = append(tests[0], loose...)
	return tests
}
