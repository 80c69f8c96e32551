package plant

import (
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// levelRow is a row of class 6A in dB at a frequency.
func levelRow(parameter, pairs string, mhz, db float64) *TestRow {
	return &TestRow{Run: "R", Class: "6A", Parameter: parameter, Pairs: pairs, FrequencyMHz: port.Some(mhz), ValueDB: port.Some(db), File: "in/tests.csv", Line: 7}
}

func unitRow(parameter, value, unit string) *TestRow {
	return &TestRow{Run: "R", Class: "6A", Parameter: parameter, Value: value, Unit: unit, File: "in/tests.csv", Line: 7}
}

func TestUnits(t *testing.T) {
	require.Equal(t, 62.4, accepted(t, unitRow("length", "62.4", "m"), unitRow("length", "60", "m")).LengthM)
	require.InDelta(t, 62.4, accepted(t, unitRow("Length", "204.724", "ft")).LengthM, 0.001) // ISO 80000-3: 0.3048 m
	// Delay of a permanent link at 10 MHz: 0.9 x (534 + 36/√10) + 3 x 2.5 = 498 ns (ANSI/TIA-568.2-D; memory).
	for _, row := range []*TestRow{unitRow("delay", "480", "ns"), unitRow("delay", "0.48", "us"), unitRow("Delay", "0.480", "µs")} {
		m := accepted(t, row).Worst
		require.InDelta(t, 498, m.Limit, 1)
		require.InDelta(t, 18, m.Margin, 1)
		require.Equal(t, "ns", m.Unit)
	}
	require.InDelta(t, 4, accepted(t, unitRow("delay skew", "40", "ns")).Worst.Margin, 0.01)       // 44 ns, likewise
	require.InDelta(t, 3, accepted(t, unitRow("loop resistance", "18", "ohm")).Worst.Margin, 0.01) // 21 ohm of a link
	require.Equal(t, Fail, accepted(t, unitRow("resistance", "30", "ohm")).Result)                 // IEC 61935-1: 1 ohm and 1 %
	require.Equal(t, PassMarginal, accepted(t, unitRow("resistance", "20.5", "Ohm")).Worst.Result) // likewise
}

// What cannot be judged is told with its place and why, once for many rows.
func TestUnjudgedRows(t *testing.T) {
	class := func(row *TestRow, class string) *TestRow { row.Class = class; return row }
	for _, row := range []struct {
		row  *TestRow
		want string
	}{
		{unitRow("length", "62", "yd"), `tests.csv:7: unit "yd" of length is not m or ft`},
		{unitRow("length", "long", "m"), `tests.csv:7: length wants a value in m or ft`},
		{unitRow("delay", "-4", "ns"), `tests.csv:7: delay wants a value in ns or us`},
		{levelRow("delay", "12", 10, 4), `tests.csv:7: delay wants a value in ns or us`},
		{unitRow("NEXT", "40", "dB"), `tests.csv:7: NEXT without frequency_mhz has no limit`},
		{levelRow("NEXT", "12-36", 0, 40), `tests.csv:7: NEXT without frequency_mhz has no limit`},
		{levelRow("sparkle", "12", 100, 4), `tests.csv:7: parameter "sparkle" is none that has a limit line`},
		{levelRow("NEXT", "12-36", 600, 40), `tests.csv:7: NEXT at 600 MHz is outside Category 6A permanent link (ANSI/TIA-568.2-D), which goes from 1 to 500 MHz`},
		{class(levelRow("NEXT", "12-36", 100, 40), "F"), `tests.csv:7: no limit of NEXT is known for Class F permanent link (ISO/IEC 11801-1)`},
		{class(levelRow("NEXT", "12-36", 100, 40), "Q"), `tests.csv:7: `},
		{class(levelRow("NEXT", "12-36", 100, 40), ""), `tests.csv:7: `},
		{class(unitRow("resistance", "4", "ohm"), ""), `tests.csv:7: `},
	} {
		a := accepted(t, row.row)
		require.Len(t, a.Unjudged, 1)
		require.Contains(t, a.Unjudged[0], row.want)
		require.Nil(t, a.Worst)
		require.Equal(t, TestResult(""), a.Result)
		require.Contains(t, a.Summary(), "could not be judged: "+row.want)
	}
	rows := sweepOf("nonsense", 500, 50)
	a := accepted(t, rows...)
	require.Len(t, a.Unjudged, 1)
	require.Contains(t, a.Unjudged[0], "tests.csv:2, tests.csv:3, tests.csv:4 and 6997 more: ")
}

// Return loss is not judged where the insertion loss is below 3 dB, NEXT, by
// ISO/IEC 11801-1, where it is below 4 dB (memory).
func TestWaivers(t *testing.T) {
	iso := func(rows ...*TestRow) []*TestRow {
		for _, row := range rows {
			row.Class = "EA"
		}
		return rows
	}
	il := func(pair string, mhz, db float64) *TestRow { return levelRow("insertion loss", pair, mhz, db) }
	for _, row := range []struct {
		name   string
		rows   []*TestRow
		waived int
	}{
		{"small loss", iso(il("12", 10, 2.9), levelRow("return loss", "12", 10, 3)), 1},
		{"at the limit", iso(il("12", 10, 3), levelRow("return loss", "12", 10, 3)), 0},
		{"another pair's", iso(il("36", 10, 2.9), il("12", 10, 3.5), levelRow("return loss", "12", 10, 3)), 0},
		{"of all pairs, its own not measured", iso(il("36", 10, 2.9), il("45", 10, 3.5), levelRow("return loss", "12", 10, 3)), 0},
		{"between two", iso(il("12", 8, 2), il("12", 12, 3.8), levelRow("return loss", "12", 10, 3)), 1},
		{"between two, above", iso(il("12", 12, 4.2), il("12", 8, 2), levelRow("return loss", "12", 10, 3)), 0},
		{"beyond the last", iso(il("12", 8, 2), levelRow("return loss", "12", 10, 3)), 0},
		{"the greater of two ends", iso(il("12", 10, 3.5), il("12", 10, 2), levelRow("return loss", "12", 10, 3)), 0},
		{"NEXT", iso(il("12", 10, 3.9), il("36", 10, 3.9), levelRow("NEXT", "36-12", 10, 3)), 1},
		{"NEXT, one pair above", iso(il("12", 10, 3.9), il("36", 10, 4.1), levelRow("NEXT", "36-12", 10, 3)), 0},
	} {
		a := accepted(t, row.rows...)
		require.Equal(t, row.waived, a.Waived, row.name)
		require.Equal(t, row.waived == 0, a.Result == Fail, row.name)
	}
}

// ACR-N = NEXT - insertion loss (ISO/IEC 11801-1); told, and never the worst since its
// margin is the sum of the two.
func TestTheRatioToCrosstalkIsDerived(t *testing.T) {
	rows := []*TestRow{levelRow("insertion loss", "12", 100, 15), levelRow("insertion loss", "36", 100, 16), levelRow("NEXT", "12-36", 100, 44)}
	find := func(a *Acceptance) *Measured {
		for _, m := range a.ByParameter {
			if m.Parameter == standards.ACRN {
				return &m
			}
		}
		return nil
	}
	m := find(accepted(t, rows...))
	require.NotNil(t, m)
	require.True(t, m.Derived)
	require.Equal(t, 28.0, m.Value)
	require.InDelta(t, 41.8-17.8, m.Limit, 0.1) // printed NEXT and insertion loss of the link
	require.Equal(t, 3, accepted(t, rows...).Points)
	given := find(accepted(t, append(rows, levelRow("ACR-N", "12-36", 100, 27))...))
	require.False(t, given.Derived)
	require.Equal(t, 27.0, given.Value)
}

// Split pairs: every pin right, NEXT some 22 dB or more below (common practice, no source).
func TestASplitPairIsSuspected(t *testing.T) {
	wireMap := func(text string) *TestRow { return &TestRow{Run: "R", Parameter: "wire map", Value: text} }
	bad := func() *TestRow { return levelRow("NEXT", "3-6/4-5", 100, 41.8-23) }
	a := accepted(t, bad(), bad(), wireMap("pass"))
	require.Len(t, a.WireMap.Faults, 1)
	require.True(t, a.WireMap.Faults[0].Suspected)
	require.Equal(t, "3-6 and 4-5", a.WireMap.Faults[0].Pins)
	require.Equal(t, Fail, a.Result)
	require.Contains(t, a.Summary(), "Pairs 3-6 and 4-5 may be split")
	require.Empty(t, accepted(t, levelRow("NEXT", "36-45", 100, 41.8-20), wireMap("pass")).WireMap.Faults)
	open := accepted(t, bad(), wireMap("1-1 2-2 3-x 4-4 5-5 6-6 7-7 8-8"))
	require.Len(t, open.WireMap.Faults, 1, "where the wire map is wrong that explains it")
	require.Nil(t, accepted(t, bad()).WireMap)
}

func TestSummaries(t *testing.T) {
	line, err := standards.ParseLine("6A")
	require.NoError(t, err)
	require.Equal(t, "The acceptance test of 2024-05-02 passes against "+line.String()+
		": insertion loss of 12 at 1 MHz is 0.6 dB within its limit of 1.9 dB. The values support "+line.String()+".",
		accepted(t, stated(sweepOf("6A", 500, 50), 0.1)...).Summary())
	require.Contains(t, accepted(t, stated(sweepOf("6A", 500, 41.5), 0.5)...).Summary(),
		" fails (fail*, too near to call) against "+line.String()+": NEXT of 36-45 at 100 MHz is 0.3 dB beyond its limit of 41.8 dB, nearer than the tester's accuracy of 0.5 dB.")
	require.Equal(t, "The acceptance test passes.", accepted(t, &TestRow{Run: "R", Parameter: "wire map", Value: "pass"}).Summary())
	require.Contains(t, accepted(t, levelRow("NEXT", "12-36", 100, 60)).Summary(), "cannot be said: NEXT of 12-36 was measured from 100 to 100 MHz only, not to ")
	a := accepted(t, levelRow("NEXT", "12-36", 100, 60), unitRow("wire map", "3=6", ""))
	require.Contains(t, a.Summary(), " by its wire map; of the values, NEXT of 12-36 at 100 MHz is 18.2 dB within its limit of 41.8 dB. Pin 3 and pin 6 are shorted. No link")
	a = accepted(t, unitRow("wire map", "3=6", ""))
	require.Equal(t, "The acceptance test fails against "+line.String()+". Pin 3 and pin 6 are shorted. No link is to be expected: auto-negotiation, 10BASE-T and 100BASE-TX need pairs 1-2 and 3-6.", a.Summary())
}

func stated(rows []*TestRow, db float64) []*TestRow {
	for _, row := range rows {
		row.AccuracyDB = port.Some(db)
	}
	return rows
}

func FuzzTestRows(f *testing.F) {
	for _, row := range []string{"EA,NEXT,12-36,250,-0.4,,,0.5", "6 channel,return loss,12 far,1e-300,1e300,,,", "OM4 850,loss,1,,0.3,,,",
		"E,wire map,,,,pass,,", ",delay,45,,,480,ns,", "EA,resistance,,,,1e308,ohm,", "A,insertion loss,1236,0,-1,,,1e308"} {
		f.Add("class,parameter,pairs,frequency_mhz,value_db,value,unit,accuracy_db,run\n" + row + ",A\n" + row + ",A\n")
	}
	f.Fuzz(func(t *testing.T, data string) {
		p, _, err := parse("plant.yml", []byte("runs: [{id: A}]\ntests_files: t\n"), func(string) ([]byte, error) { return []byte(data), nil })
		require.NoError(t, err)
		a := p.Acceptance("A")
		require.Equal(t, len(p.Tests) > 0, a != nil)
		if a == nil {
			return
		}
		require.NotEmpty(t, a.Summary())
		for _, m := range a.ByParameter {
			require.False(t, math.IsNaN(m.Margin) || math.IsNaN(m.Limit), "%+v", m)
			require.NotEqual(t, TestResult(""), m.Result)
		}
	})
}

// BenchmarkSweep judges one run of 500 points on every pair: 7,000 values.
func BenchmarkSweep(b *testing.B) {
	p := Plant{Runs: []*Run{{ID: "R"}}, Tests: sweepOf("6A", 500, 42.2)}
	for b.Loop() {
		if New(p).Acceptance("R").Worst == nil {
			b.Fatal("not judged")
		}
	}
}

// BenchmarkWorstPair judges 500 points of three parameters, each the worst pair's.
func BenchmarkWorstPair(b *testing.B) {
	var rows []*TestRow
	for _, row := range sweepOf("6A", 500, 42.2) {
		if row.Pairs == "12" || row.Pairs == "36-45" {
			row.Pairs = ""
			rows = append(rows, row)
		}
	}
	p := Plant{Runs: []*Run{{ID: "R"}}, Tests: rows}
	for b.Loop() {
		if New(p).Acceptance("R").Worst == nil {
			b.Fatal("not judged")
		}
	}
}

// BenchmarkManyTests judges the tests of 5,000 runs, each with 42 values at three
// frequencies, as an inventory is loaded.
func BenchmarkManyTests(b *testing.B) {
	var p Plant
	for i := range 5000 {
		p.Runs = append(p.Runs, &Run{ID: strconv.Itoa(i)})
		for _, row := range sweepOf("6A", 3, 42.2) {
			row.Run = p.Runs[i].ID
			p.Tests = append(p.Tests, row)
		}
	}
	for b.Loop() {
		if q := New(p); q.Acceptance("0").Worst == nil || q.Acceptance("4999").Points == 0 {
			b.Fatal("not judged")
		}
	}
}

func TestAWrongWireMapSaysNothingOfCategories(t *testing.T) {
	rows := append(sweepOf("EA", 20, 0), &TestRow{Run: "R", Class: "EA", Parameter: "wire map", Value: "1-3 2-6 3-1 6-2 4-4 5-5 7-7 8-8"})
	last := rows[len(rows)-1]
	last.Run, last.Class, last.TestedOn = rows[0].Run, rows[0].Class, rows[0].TestedOn
	summary := accepted(t, rows...).Summary()
	require.Contains(t, summary, "rossover")
	require.NotContains(t, summary, "do not keep")
	require.NotContains(t, summary, "support")
}
