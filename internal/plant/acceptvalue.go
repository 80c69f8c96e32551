package plant

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"toneout/internal/standards"
)

// testJudge judges tests; it keeps what it has read, since rows repeat their words.
type testJudge struct {
	plant      *Plant
	parameters map[string]standards.Parameter // by the text; "" where it names none
	pairs      map[string]*pairSet
	classes    map[string]lineOf
	limits     map[standards.Line]map[standards.Parameter]map[float64]limitAt
}

// lineOf is the limit line that the text of a class names, or why none.
type lineOf struct {
	standards.Line
	err error
}

func newTestJudge(p *Plant) *testJudge {
	return &testJudge{plant: p, parameters: map[string]standards.Parameter{}, pairs: map[string]*pairSet{},
		classes: map[string]lineOf{}, limits: map[standards.Line]map[standards.Parameter]map[float64]limitAt{}}
}

var errNoClass = errors.New("class is missing, so no limit line is known: write one such as EA or Cat 6 channel")

func (j *testJudge) line(class string) lineOf {
	l, known := j.classes[class]
	switch {
	case known:
		return l
	case class == "":
		l.err = errNoClass
	default:
		if l.Line, l.err = standards.ParseLine(class); l.err != nil {
			l.Line = standards.Line{}
		}
	}
	j.classes[class] = l
	return l
}

func (j *testJudge) parameter(text string) standards.Parameter {
	p, known := j.parameters[text]
	if !known {
		p, _ = standards.ParseParameter(text)
		j.parameters[text] = p
	}
	return p
}

// pairsOf reads the pairs of a test row, such as "12-36"; the end that they were
// measured from may stand behind, as in "12-36 far".
func (j *testJudge) pairsOf(text string) *pairSet {
	set, known := j.pairs[text]
	if !known {
		named := strings.TrimRightFunc(text, func(r rune) bool { return unicode.IsLetter(r) || r == ' ' })
		set = &pairSet{key: text, pairs: pairsNamed(named)}
		if len(set.pairs) > 0 {
			names := make([]string, len(set.pairs))
			for i, p := range set.pairs {
				names[i] = p[0] + p[1]
			}
			slices.Sort(names)
			set.key = strings.Join(names, "-")
		}
		j.pairs[text] = set
	}
	return set
}

// value is one measured value of a test.
type value struct {
	row      *TestRow
	p        standards.Parameter
	mhz, got float64
	pairs    *pairSet
	il       float64 // insertion loss of the same pairs at this frequency
	ilKnown  bool
}

// pairSet is what the text of a test row's pairs names, once for each text.
type pairSet struct {
	key   string // spells pairs alike, so that 36-12 and "1-2/3-6" are one; the text where it names no pairs
	pairs []wirePair
}

// test is one test being judged.
type test struct {
	*Acceptance
	run      *Run
	lineErr  error
	values   []value              // those that have a limit line over frequency
	loss     losses               // insertion loss of the same test
	path     *standards.FibrePath // of the run, once asked for
	worst    map[standards.Parameter]Measured
	splits   []wirePair // two at a time: pairs that disturb each other as split ones do
	unjudged []refused
}

// refused is why rows could not be judged, and which.
type refused struct {
	why string
	at  []string
}

// judge holds the rows of one test against the limits.
func (j *testJudge) judge(run *Run, rows []*TestRow) *Acceptance {
	t := &test{Acceptance: &Acceptance{TestedOn: rows[0].TestedOn, Class: rows[0].Class}, run: run,
		worst: map[standards.Parameter]Measured{}}
	line := j.line(t.Class)
	t.Line, t.lineErr = line.Line, line.err
	for _, row := range rows {
		if t.Tester == "" {
			t.Tester = row.Tester
		}
		j.take(t, row)
	}
	addLosses(t.values)
	j.judgeValues(t)
	t.suspectSplits()
	j.support(t)
	t.finish()
	return t.Acceptance
}

// judgeValues holds every value against the test's own line.
func (j *testJudge) judgeValues(t *test) {
	derive := !t.has(standards.ACRN)
	derivePS := !t.has(standards.PSACRN)
	for i := range t.values {
		v := &t.values[i]
		if t.lineErr != nil {
			t.refuse(v.row, "%v", t.lineErr)
			continue
		}
		if v.waivedBy(t.Line) {
			t.Waived++
			continue
		}
		m, ok := j.measure(t.Line, v)
		if !ok {
			t.refuse(v.row, "%s", noLimit(t.Line, v))
			continue
		}
		t.add(m)
		t.noteSplit(v, m)
		if v.ilKnown && (v.p == standards.NEXT && derive || v.p == standards.PSNEXT && derivePS) {
			j.addRatio(t, m, v.il)
		}
	}
}

func noLimit(l standards.Line, v *value) string {
	least, most := l.Range()
	if v.mhz > 0 && (v.mhz < least || v.mhz > most) {
		return fmt.Sprintf("%s at %s MHz is outside %s, which goes from %s to %s MHz", v.p, figure(v.mhz), l, figure(least), figure(most))
	}
	return fmt.Sprintf("no limit of %s is known for %s", v.p, l)
}

func (t *test) has(p standards.Parameter) bool {
	return slices.ContainsFunc(t.values, func(v value) bool { return v.p == p })
}

// measure is a value against a line; false where the line has no limit there.
func (j *testJudge) measure(l standards.Line, v *value) (Measured, bool) {
	at := j.limitAt(l, v.p, v.mhz)
	if !at.known {
		return Measured{}, false
	}
	m := Measured{Parameter: v.p, Pairs: v.row.Pairs, FrequencyMHz: v.mhz, Value: v.got, Limit: at.limit, Accuracy: at.accuracy, Unit: "dB"}
	m.Margin = v.got - at.limit
	if at.most {
		m.Margin = -m.Margin
	}
	stated, told := v.row.AccuracyDB.Get()
	switch {
	case v.p == standards.Delay || v.p == standards.DelaySkew:
		m.Unit = "ns"
	case told:
		m.Accuracy, m.Stated = stated, true
	}
	m.Result = resultOf(m.Margin, m.Accuracy)
	return m, true
}

// limitAt is a line's limit at one frequency.
type limitAt struct {
	known           bool
	most            bool // the limit is the most that is allowed, else the least
	limit, accuracy float64
}

// limitAt works a limit out once: the tests of a site share their frequencies.
func (j *testJudge) limitAt(l standards.Line, p standards.Parameter, mhz float64) limitAt {
	ofLine := j.limits[l]
	if ofLine == nil {
		ofLine = map[standards.Parameter]map[float64]limitAt{}
		j.limits[l] = ofLine
	}
	of := ofLine[p]
	if of == nil {
		of = map[float64]limitAt{}
		ofLine[p] = of
	}
	at, known := of[mhz]
	if !known {
		if at.limit, at.known = l.Limit(p, mhz); at.known {
			margin, _ := l.Margin(p, mhz, at.limit-1)
			at.most = margin > 0
			at.accuracy, _ = l.Accuracy(p, mhz)
		}
		of[mhz] = at
	}
	return at
}

// addRatio adds the attenuation to crosstalk ratio that a NEXT and the insertion
// loss at its frequency come to: ACR-N = NEXT - insertion loss (ISO/IEC 11801-1). It
// is told and not counted, since it keeps its limit where those two keep theirs.
func (j *testJudge) addRatio(t *test, next Measured, il float64) {
	p := standards.ACRN
	if next.Parameter == standards.PSNEXT {
		p = standards.PSACRN
	}
	at := j.limitAt(t.Line, p, next.FrequencyMHz)
	if !at.known {
		return
	}
	ilAccuracy := j.limitAt(t.Line, standards.InsertionLoss, next.FrequencyMHz).accuracy
	ratio := next
	ratio.Parameter, ratio.Derived = p, true
	ratio.Value, ratio.Limit = next.Value-il, at.limit
	ratio.Margin, ratio.Accuracy = ratio.Value-at.limit, math.Hypot(next.Accuracy, ilAccuracy)
	t.add(ratio)
}

// add keeps the worst of each parameter.
func (t *test) add(m Measured) {
	m.Result = resultOf(m.Margin, m.Accuracy)
	if worst, known := t.worst[m.Parameter]; !known || m.Margin < worst.Margin {
		t.worst[m.Parameter] = m
	}
	if !m.Derived {
		t.Points++
		t.Result = worse(t.Result, m.Result)
	}
}

// rounding is what a margin may be off by through binary fractions.
const rounding = 1e-9

// resultOf names a margin: too near to call where it is nearer to the limit than
// the tester's accuracy (IEC 61935-1, ANSI/TIA-1152-A; memory). A value at the
// limit keeps it.
func resultOf(margin, accuracy float64) TestResult {
	near := math.Abs(margin) < accuracy-rounding
	switch passes := margin > -rounding; {
	case passes && near:
		return PassMarginal
	case passes:
		return Pass
	case near:
		return FailMarginal
	}
	return Fail
}

// worse is the worse of two results; "" is none.
func worse(a, b TestResult) TestResult {
	if slices.Index(results, b) > slices.Index(results, a) {
		return b
	}
	return a
}

// compareMeasured puts the worst first: what fails, then what is in dB, since
// margins of other units do not compare, then the least margin.
func compareMeasured(a, b Measured) int {
	rank := func(m Measured) (n int) {
		if m.Margin > -rounding {
			n = 2
		}
		if m.Unit != "dB" {
			n++
		}
		return n
	}
	return cmp.Or(rank(a)-rank(b), cmp.Compare(a.Margin, b.Margin), cmp.Compare(a.Parameter, b.Parameter))
}
