package plant

import (
	"cmp"
	"fmt"
	"slices"

	"toneout/internal/standards"
)

// supported are the categories that values are tried against, rising; the line's own
// joins them.
var supported = []standards.Category{standards.Cat5e, standards.Cat6, standards.Cat6A}

// needed are the parameters without which no category can be said to be kept.
var needed = []standards.Parameter{standards.InsertionLoss, standards.NEXT, standards.ReturnLoss}

// What makes a sweep of single values. A tester steps by 0.15 MHz at 1 MHz to 1 MHz at
// 500 (IEC 61935-1, ANSI/TIA-1152-A; memory); wider than this it says nothing of what
// lies between (common practice, no source): the printed tables' steps are within.
const (
	sweepStartMHz = 4    // the first value, at most
	sweepEndShare = 0.99 // of the range's end the last value, at least
	sweepStep     = 2.0  // a value to the one before it, at most, above sweepStartMHz
)

// support finds the best category whose lines the values keep.
func (j *testJudge) support(t *test) {
	if t.lineErr != nil || len(t.values) == 0 {
		return
	}
	sweeps := sweepsOf(t.values)
	categories := supported
	if !slices.Contains(categories, t.Line.Category) {
		categories = append(slices.Clone(categories), t.Line.Category)
	}
	for _, c := range categories {
		line := t.Line
		line.Category = c
		s := j.against(t, line, sweeps)
		t.Against = append(t.Against, s)
		if len(s.Missing) == 0 && (s.Result == Pass || s.Result == PassMarginal) {
			t.Supports = c
		}
	}
}

// against holds every value against another line.
func (j *testJudge) against(t *test, line standards.Line, sweeps []sweep) Support {
	s := Support{Line: line, Missing: missingFrom(line, sweeps)}
	for i := range t.values {
		v := &t.values[i]
		m, ok := j.measure(line, v)
		if !ok || v.waivedBy(line) {
			continue
		}
		s.Result = worse(s.Result, m.Result)
		if s.Worst == nil || compareMeasured(m, *s.Worst) < 0 {
			worst := m
			s.Worst = &worst
		}
	}
	s.Result = worse(s.Result, t.worst[LoopResistance].Result) // one limit for all
	if t.WireMap != nil && !t.WireMap.Right() {
		s.Result = Fail
	}
	return s
}

// sweep is where one parameter was measured on one pair, or two.
type sweep struct {
	p     standards.Parameter
	pairs *pairSet
	mhz   []float64 // rising
}

func sweepsOf(values []value) []sweep {
	type of struct {
		p   standards.Parameter
		key string
	}
	at := map[of]int{}
	var sweeps []sweep
	for i := range values {
		v := &values[i]
		k, known := at[of{v.p, v.pairs.key}]
		if !known {
			k = len(sweeps)
			at[of{v.p, v.pairs.key}] = k
			sweeps = append(sweeps, sweep{p: v.p, pairs: v.pairs})
		}
		sweeps[k].mhz = append(sweeps[k].mhz, v.mhz)
	}
	for _, s := range sweeps {
		slices.Sort(s.mhz)
	}
	return sweeps
}

// missingFrom tells what was not measured over the range of a line.
func missingFrom(line standards.Line, sweeps []sweep) (missing []string) {
	measured := map[standards.Parameter]map[string]bool{}
	told := map[standards.Parameter]bool{}
	for _, s := range sweeps {
		if s.p == standards.Delay || s.p == standards.DelaySkew {
			continue // told at one frequency
		}
		if measured[s.p] == nil {
			measured[s.p] = map[string]bool{}
		}
		measured[s.p][s.pairs.key] = true
		if gap := s.gap(line); gap != "" && !told[s.p] {
			told[s.p] = true
			missing = append(missing, gap)
		}
	}
	for _, p := range needed {
		if measured[p] == nil {
			missing = append(missing, fmt.Sprintf("%s was not measured", p))
		}
	}
	for _, s := range sweeps {
		if want, got := pairsWanted(s), len(measured[s.p]); got < want && !told[s.p] {
			told[s.p] = true
			missing = append(missing, fmt.Sprintf("%s was measured on %d of %d %s", s.p, got, want, pairsWord(s)))
		}
	}
	return missing
}

// pairsWanted is how many pairs, or combinations of two, a parameter has; 0 where
// the sweep names none and may be the worst of all.
func pairsWanted(s sweep) int {
	switch len(s.pairs.pairs) {
	case 1:
		return 4
	case 2:
		return 6
	}
	return 0
}

func pairsWord(s sweep) string {
	if len(s.pairs.pairs) == 1 {
		return "pairs"
	}
	return "combinations of pairs"
}

// gap tells what part of a line's range a sweep leaves out; "" for none.
func (s sweep) gap(line standards.Line) string {
	_, most := line.Range()
	beyond, _ := slices.BinarySearch(s.mhz, most+rounding)
	within := s.mhz[:beyond]
	name := string(s.p)
	if s.pairs.key != "" {
		name += " of " + s.pairs.key
	}
	if len(within) == 0 {
		return fmt.Sprintf("%s was not measured up to %s MHz", name, figure(most))
	}
	first, last := within[0], within[len(within)-1]
	if first > sweepStartMHz || last < sweepEndShare*most {
		return fmt.Sprintf("%s was measured from %s to %s MHz only, not to %s", name, figure(first), figure(last), figure(most))
	}
	for i := 1; i < len(within); i++ {
		if from, to := within[i-1], within[i]; from >= sweepStartMHz && to > sweepStep*from+rounding {
			return fmt.Sprintf("%s was not measured between %s and %s MHz", name, figure(from), figure(to))
		}
	}
	return ""
}

// Pairs whose NEXT is this far beyond its limit while every pin is right are likely
// split (common practice, no source).
const splitDB = 22

// noteSplit notes two pairs that disturb each other as split ones do.
func (t *test) noteSplit(v *value, m Measured) {
	if v.p == standards.NEXT && m.Margin <= -splitDB && len(v.pairs.pairs) == 2 {
		t.splits = append(t.splits, v.pairs.pairs...)
	}
}

// suspectSplits adds to a wire map without a fault the splits that NEXT hints at.
func (t *test) suspectSplits() {
	if t.WireMap == nil || !t.WireMap.Right() {
		return
	}
	for pair := range slices.Chunk(t.splits, 2) {
		f := splitFault(pair[0], pair[1], true)
		if !slices.Contains(t.WireMap.Faults, f) {
			t.WireMap.Faults = append(t.WireMap.Faults, f)
		}
	}
}

// finish sorts and sums up what was judged.
func (t *test) finish() {
	for _, m := range t.worst {
		t.ByParameter = append(t.ByParameter, m)
	}
	slices.SortFunc(t.ByParameter, compareMeasured)
	if i := slices.IndexFunc(t.ByParameter, func(m Measured) bool { return !m.Derived }); i >= 0 {
		t.Worst = &t.ByParameter[i]
	}
	if t.WireMap != nil {
		t.Result = worse(t.Result, wireMapResult(t.WireMap))
	}
	slices.SortStableFunc(t.unjudged, func(a, b refused) int { return cmp.Compare(len(b.at), len(a.at)) })
	for _, r := range t.unjudged {
		t.Unjudged = append(t.Unjudged, r.String())
	}
}

func wireMapResult(w *WireMap) TestResult {
	if w.Right() {
		return Pass
	}
	return Fail
}
