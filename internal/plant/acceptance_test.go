package plant

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/port"
	"toneout/internal/standards"
)

var (
	allPairs  = []string{"12", "36", "45", "78"}
	allCombos = []string{"12-36", "12-45", "12-78", "36-45", "36-78", "45-78"}
)

// sweepOf makes the test of a 62 m run of Cat 6A cable, at so many frequencies from 1
// to 500 MHz: insertion loss by the cable's equation (ANSI/TIA-568.2-D) and two
// connections of 0.02 times the root of f, NEXT and return loss falling as the standard's limits do,
// some dB better, with a ripple. One value is set apart: NEXT of 36-45 at 100 MHz.
func sweepOf(class string, points int, dip float64) (rows []*TestRow) {
	add := func(p standards.Parameter, pairs string, mhz, db float64) {
		rows = append(rows, &TestRow{Run: "R", TestedOn: day(2024, 5, 2), Tester: "FQ-2", Class: class, Parameter: string(p), Pairs: pairs,
			FrequencyMHz: port.Some(mhz), ValueDB: port.Some(db), File: "tests.csv", Line: 2 + len(rows)})
	}
	for i := range points {
		f := 1 + 499*float64(i)/float64(points-1)
		for n, pair := range allPairs {
			cable := 1.82*math.Sqrt(f) + 0.0091*f + 0.25/math.Sqrt(f)
			add(standards.InsertionLoss, pair, f, 0.62*cable+0.04*math.Sqrt(f))
			add(standards.ReturnLoss, pair, f, 39-10*math.Log10(max(f, 10))+1.5*math.Sin(f/11+float64(n)))
		}
		for n, combo := range allCombos {
			next := 48 - 17*math.Log10(f/100) + math.Sin(f/7+float64(n))
			if combo == "36-45" && f == 100 {
				next = dip
			}
			add(standards.NEXT, combo, f, next)
		}
	}
	return rows
}

func accepted(t testing.TB, rows ...*TestRow) *Acceptance {
	t.Helper()
	a := New(Plant{Runs: []*Run{{ID: "R"}}, Tests: rows}).Acceptance("R")
	require.NotNil(t, a)
	return a
}

// The worst margin by hand. A permanent link of Cat 6A at 100 MHz: the cable's NEXT is
// 44.3 - 15 log10(1) = 44.3 dB, the connection's 54 - 20 log10(1) = 54 dB, and as voltages
//
//	10^(-44.3/20) + 10^(-54/20) = 0.006095 + 0.001995 = 0.008090
//
// which is 41.84 dB; the printed table of ANSI/TIA-568.2-D has 41.8. 42.2 dB measured keeps it by
// 0.36 dB. The next nearest is insertion loss at 1 MHz: the limit is 0.9 x 2.079 +
// 3 x 0.02 = 1.93 dB, measured 0.62 x 2.079 + 0.04 = 1.33 dB, a margin of 0.60 dB.
func TestAFivehundredPointSweep(t *testing.T) {
	rows := sweepOf("6A", 500, 42.2)
	a := accepted(t, rows...)
	require.Empty(t, a.Unjudged)
	require.Equal(t, standards.NEXT, a.Worst.Parameter)
	require.Equal(t, "36-45", a.Worst.Pairs)
	require.Equal(t, 100.0, a.Worst.FrequencyMHz)
	require.InDelta(t, 0.36, a.Worst.Margin, 0.05)
	require.Equal(t, len(rows), a.Points+a.Waived)
	require.Positive(t, a.Waived, "return loss where the insertion loss is below 3 dB")
	require.Equal(t, standards.Cat6A, a.Supports)
	for _, m := range a.ByParameter {
		if m.Parameter == standards.InsertionLoss {
			require.InDelta(t, 0.60, m.Margin, 0.05)
			require.Equal(t, 1.0, m.FrequencyMHz)
		}
	}
}

// How near is too near: IEC 61935-1 and ANSI/TIA-1152-A mark a result that is closer to
// the limit than the tester's accuracy (memory).
func TestResultsAroundTheAccuracy(t *testing.T) {
	for _, row := range []struct {
		margin, accuracy float64
		want             TestResult
	}{
		{2, 0.5, Pass}, {0.5, 0.5, Pass}, {0.49, 0.5, PassMarginal}, {0.01, 0.5, PassMarginal}, {0, 0.5, PassMarginal},
		{-0.01, 0.5, FailMarginal}, {-0.49, 0.5, FailMarginal}, {-0.5, 0.5, Fail}, {-3, 0.5, Fail}, {0, 0, Pass}, {-0.1, 0, Fail},
		{41.4 - 41.1, 0.3, Pass}, // the difference is 0.29999…
	} {
		require.Equal(t, row.want, resultOf(row.margin, row.accuracy), "%v of %v", row.margin, row.accuracy)
	}
}

// A tester's own accuracy comes before the standard's.
func TestStatedAccuracy(t *testing.T) {
	line, err := standards.ParseLine("6A")
	require.NoError(t, err)
	limit, ok := line.Limit(standards.NEXT, 100)
	require.True(t, ok)
	row := TestRow{Run: "R", Class: "6A", Parameter: "NEXT", Pairs: "12-36", FrequencyMHz: port.Some(100.0), ValueDB: port.Some(limit - 0.2)}
	for stated, want := range map[float64]TestResult{0: Fail, 0.1: Fail, 0.3: FailMarginal} {
		row.AccuracyDB = port.Some(stated)
		a := accepted(t, &row)
		require.Equal(t, want, a.Result, "%v", stated)
		require.True(t, a.Worst.Stated)
	}
	row.AccuracyDB = port.Value[float64]{}
	a := accepted(t, &row)
	standard, _ := line.Accuracy(standards.NEXT, 100)
	require.Equal(t, resultOf(-0.2, standard), a.Result)
	require.Equal(t, standard, a.Worst.Accuracy)
	require.False(t, a.Worst.Stated)
}

// Which category values support: those whose whole range was measured. 100, 250 and 500 MHz: ISO/IEC 11801-1.
func TestSupports(t *testing.T) {
	without := func(drop func(*TestRow) bool) (kept []*TestRow) {
		for _, row := range sweepOf("6A", 500, 50) {
			if !drop(row) {
				kept = append(kept, row)
			}
		}
		return kept
	}
	at := func(row *TestRow) float64 { mhz, _ := row.FrequencyMHz.Get(); return mhz }
	lossier := sweepOf("6A", 500, 50)
	for _, row := range lossier {
		if db, _ := row.ValueDB.Get(); row.Parameter == "insertion loss" && at(row) > 260 {
			row.ValueDB = port.Some(db + 20)
		}
	}
	broken := append(sweepOf("6A", 500, 50), &TestRow{Run: "R", TestedOn: day(2024, 5, 2), Parameter: "wire map", Value: "1-1 2-2 3-3 4-4 5-5 6-6 7-x 8-8"})
	resistive := append(sweepOf("6A", 500, 50), unitRow("loop resistance", "40", "ohm"))
	resistive[len(resistive)-1].TestedOn = day(2024, 5, 2)
	ends := without(func(*TestRow) bool { return false })
	for _, row := range without(func(*TestRow) bool { return false }) {
		row.Pairs += " far"
		ends = append(ends, row)
	}
	for _, row := range []struct {
		name    string
		rows    []*TestRow
		want    standards.Category
		missing string // from the line of Cat 6A
	}{
		{"all", sweepOf("6A", 500, 50), standards.Cat6A, ""},
		{"printed steps would do", without(func(r *TestRow) bool {
			f := at(r)
			return f != math.Trunc(f) || f > 4 && int(f)%20 > 0 && f != 8 && f != 12
		}), standards.Cat6A, ""},
		{"to 250 MHz", without(func(r *TestRow) bool { return at(r) > 250 }), standards.Cat6, "from 1 to 250 MHz only, not to 500"},
		{"to 248 MHz", without(func(r *TestRow) bool { return at(r) > 248 }), standards.Cat6, "from 1 to 248 MHz only"},
		{"to 240 MHz", without(func(r *TestRow) bool { return at(r) > 240 }), standards.Cat5e, "from 1 to 240 MHz only"},
		{"NEXT to 100 MHz", without(func(r *TestRow) bool { return r.Parameter == "NEXT" && at(r) > 100 }), standards.Cat5e, "NEXT of 12-36 was measured from 1 to 100 MHz only, not to 500"},
		{"from 10 MHz", without(func(r *TestRow) bool { return at(r) < 10 }), "", "from 10 to 500 MHz only"},
		{"a hole", without(func(r *TestRow) bool { return at(r) > 120 && at(r) < 245 }), standards.Cat5e, "was not measured between 120 and 245 MHz"},
		{"no return loss", without(func(r *TestRow) bool { return r.Parameter == "return loss" }), "", "return loss was not measured"},
		{"a combination left out", without(func(r *TestRow) bool { return r.Pairs == "12-36" }), "", "NEXT was measured on 5 of 6 combinations of pairs"},
		{"a pair left out", without(func(r *TestRow) bool { return r.Pairs == "78" && r.Parameter == "return loss" }), "", "return loss was measured on 3 of 4 pairs"},
		{"too lossy beyond 260 MHz", lossier, standards.Cat6, ""},
		{"NEXT spoilt at 100 MHz", sweepOf("6A", 500, 25), "", ""},
		{"kept by 5e alone", sweepOf("6A", 500, 40), standards.Cat5e, ""}, // 32.3 dB in 5e, 41.8 in 6 and 6A
		{"an open conductor", broken, "", ""},
		{"too much resistance", resistive, "", ""},
		{"from both ends", ends, standards.Cat6A, ""},
		{"a pair left out at both ends", drop(ends, "12-36"), "", "NEXT was measured on 5 of 6 combinations of pairs"},
	} {
		a := accepted(t, row.rows...)
		require.Equal(t, row.want, a.Supports, row.name)
		require.Len(t, a.Against, 3)
		if row.missing == "" {
			require.Empty(t, a.Against[2].Missing, row.name)
		} else {
			require.Contains(t, fmt.Sprint(a.Against[2].Missing), row.missing, row.name)
		}
	}
}

// drop leaves out what was measured on some pairs, from either end.
func drop(rows []*TestRow, pairs string) (kept []*TestRow) {
	for _, row := range rows {
		if !strings.HasPrefix(row.Pairs, pairs) {
			kept = append(kept, row)
		}
	}
	return kept
}

// More loss of the pairs and less of what they must keep apart never makes a run
// better; nor does a waiver come of it, since those end as insertion loss grows.
func TestWorseValuesNeverRaiseAnything(t *testing.T) {
	order := append([]standards.Category{""}, supported...)
	index := func(c standards.Category) int {
		for i, o := range order {
			if o == c {
				return i
			}
		}
		return -1
	}
	least := math.Inf(1)
	category, result := standards.Cat6A, 0
	for _, by := range []float64{0, 0.05, 0.2, 0.5, 1, 2, 4, 7, 12, 20} {
		rows := sweepOf("6A", 200, 50)
		for _, row := range rows {
			db, _ := row.ValueDB.Get()
			if row.Parameter == "insertion loss" {
				by = -by
			}
			row.ValueDB = port.Some(db - by)
			by = math.Abs(by)
		}
		a := accepted(t, rows...)
		require.LessOrEqual(t, a.Worst.Margin, least, "%v dB worse", by)
		require.LessOrEqual(t, index(a.Supports), index(category), "%v dB worse", by)
		now := indexOf(results, a.Result)
		require.GreaterOrEqual(t, now, result)
		least, category, result = a.Worst.Margin, a.Supports, now
	}
	require.Equal(t, standards.Category(""), category)
	require.Equal(t, Fail, results[result])
}

func indexOf(all []TestResult, r TestResult) int {
	for i, o := range all {
		if o == r {
			return i
		}
	}
	return -1
}

func TestTheNewestTestCounts(t *testing.T) {
	row := func(on time.Time, class, tester string) *TestRow {
		return &TestRow{Run: "R", TestedOn: on, Class: class, Tester: tester, Parameter: "return loss", FrequencyMHz: port.Some(100.0), ValueDB: port.Some(30.0)}
	}
	old, new := day(2019, 8, 2), day(2024, 5, 2)
	a := accepted(t, row(new, "6", "a"), row(old, "6A", "b"), row(new, "6A", "c"), row(time.Time{}, "6A", "d"), row(new, "no such", "e"),
		&TestRow{Run: "R", TestedOn: new, Parameter: "Wire Map", Value: "pass"})
	var testers []string
	for _, one := range append([]*Acceptance{a}, a.Earlier...) {
		testers = append(testers, one.Tester)
	}
	require.Equal(t, []string{"c", "a", "e", "b", "d"}, testers, "of one day the one that stands last, what cannot be judged behind")
	require.NotNil(t, a.WireMap, "a row without a class belongs to the day's last test")
	require.Nil(t, a.Earlier[0].WireMap)
	require.Equal(t, new, a.TestedOn)
	require.Nil(t, New(Plant{Runs: []*Run{{ID: "R"}}}).Acceptance("R"))
}
