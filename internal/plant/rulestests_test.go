package plant

import (
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/standards"
)

// tested is what the values of a test came to, as judged against a line.
func tested(category standards.Category, result TestResult, worst Measured) *Acceptance {
	worst.Result = result
	return &Acceptance{Line: standards.Line{Category: category, PermanentLink: true, ISO: true}, Result: result, Worst: &worst,
		ByParameter: []Measured{worst}, Points: 1, LengthM: 63}
}

func next(margin float64) Measured {
	return Measured{Parameter: standards.NEXT, Pairs: "12-36", FrequencyMHz: 250, Value: 30 + margin, Limit: 30, Margin: margin, Accuracy: 1.2, Unit: "dB"}
}

// Results: pass, fail and the asterisk of what is within the tester's accuracy,
// IEC 61935-1 and ANSI/TIA-1152-A (memory). Length is measured to about a
// tenth (ANSI/TIA-1152-A, memory); 3 m is common practice.
func TestFieldTests(t *testing.T) {
	miswired := tested(standards.Cat6A, Fail, next(-2))
	miswired.WireMap = &WireMap{Faults: []WireFault{{Kind: "open", Pins: "4-5", Text: "pair 4-5 is open"}}}
	long := func(m float64) *Acceptance {
		a := tested(standards.Cat6A, Pass, next(4))
		a.LengthM = m
		return a
	}
	rows := []struct {
		name string
		edit func(r *Run)
		test *Acceptance
		want string
	}{
		{"passes", nil, tested(standards.Cat6A, Pass, next(4)), ""},
		{"fails", nil, tested(standards.Cat6A, Fail, next(-2)), "test-failed: 2 dB past the limit"},
		{"fails on delay", nil, tested(standards.Cat6A, Fail, Measured{Parameter: standards.Delay, Value: 520, Limit: 498, Margin: -22, Unit: "ns"}),
			"test-failed: 22 ns past the limit"},
		{"near the limit", nil, tested(standards.Cat6A, PassMarginal, next(0.4)), "test-too-near: 0.4 dB to spare, and the tester is good to 1.2 dB; test-differs"},
		{"near the limit from below", func(r *Run) { r.TestMarginDB = metres(0.2) }, tested(standards.Cat6A, FailMarginal, next(-0.2)),
			"test-too-near: 0.2 dB past the limit, and the tester is good to 1.2 dB"},
		{"wire map, told once", nil, miswired, "wire-map-fault"},
		{"record fails", func(r *Run) { r.TestResult, r.TestMarginDB = Fail, metres(-3) }, nil, "test-failed: 3 dB past the limit"},
		{"record too near", func(r *Run) { r.TestResult, r.TestMarginDB = PassMarginal, metres(0.3) }, nil, "test-too-near"},
		{"record passes with a negative margin", func(r *Run) { r.TestMarginDB = metres(-3) }, nil, "test-differs"},
		{"record fails and the values pass", func(r *Run) { r.TestResult, r.TestMarginDB = Fail, real{} }, tested(standards.Cat6A, Pass, next(4)), "test-differs"},
		{"values worse than the recorded margin", nil, tested(standards.Cat6A, Pass, next(2)), "test-differs"},
		{"values within rounding of it", nil, tested(standards.Cat6A, Pass, next(2.7)), ""},
		{"length as recorded, within a tenth", func(r *Run) { r.LengthM = metres(62) }, long(66), ""},
		{"length otherwise", func(r *Run) { r.LengthM = metres(62) }, long(71), "length-differs: 9 m under 71 m"},
		{"short, within 3 m", func(r *Run) { r.LengthM = metres(12) }, long(14.5), ""},
		{"length not measured", func(r *Run) { r.LengthM = metres(20) }, long(0), ""},
		{"a channel is measured with its cords", nil, func() *Acceptance { a := long(67); a.Line.PermanentLink = false; return a }(), ""},
		{"proves Cat 5e, and 1G needs no more", nil, tested(standards.Cat5e, Pass, next(4)), ""},
		{"proves Cat 5e, and 10G needs more", func(r *Run) { r.DesignSpeed = 10 * standards.Gbps }, tested(standards.Cat5e, Pass, next(4)), "tested-below-design"},
		{"the values prove more than its line", func(r *Run) { r.DesignSpeed = 10 * standards.Gbps }, func() *Acceptance {
			a := tested(standards.Cat5e, Pass, next(4))
			a.Supports = standards.Cat6A
			return a
		}(), ""},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			run, rest := cleanCopper()
			if row.edit != nil {
				row.edit(&run)
			}
			p := planted(rest, run)
			p.acceptance = map[string]*Acceptance{run.ID: row.test}
			findings := p.AuditRun(p.Runs[0], Seen{})
			require.Equal(t, row.want, told(findings))
			complete(t, findings)
		})
	}
}

// A strand's loss is told as that of a strand, by the rule for fibre.
func TestFailedStrand(t *testing.T) {
	run, rest := cleanFibre()
	p := planted(rest, run)
	p.acceptance = map[string]*Acceptance{run.ID: tested("", Fail, Measured{
		Parameter: FibreLoss, Pairs: "2", WavelengthNM: 850, Value: 3.9, Limit: 1.8, Margin: -2.1, Unit: "dB"})}
	p.acceptance[run.ID].LengthM = 0
	findings := p.AuditRun(p.Runs[0], Seen{})
	require.Equal(t, "test-failed: 2.1 dB past the limit", told(findings))
	require.Equal(t, "the values of its test fail: loss of strand 2 at 850 nm is worst, though the record says pass", findings[0].Text)
	require.Contains(t, findings[0].Source, "568.3")
}

// Cabling is tested when installed (ISO/IEC 14763-2, memory); assemblies of
// twinax and active optical cable come tested from their makers.
func TestNeverTested(t *testing.T) {
	untested := func(clean func() (Run, Plant), status Status) string {
		run, rest := clean()
		bare := Run{}
		run.TestedOn, run.TestResult, run.TestMarginDB, run.Status = bare.TestedOn, "", real{}, status
		p := planted(rest, run)
		return told(p.AuditRun(p.Runs[0], Seen{}))
	}
	require.Equal(t, "never-tested", untested(cleanCopper, Live))
	require.Equal(t, "never-tested", untested(cleanFibre, Faulty))
	require.Empty(t, untested(cleanAssembly("dac", 3), Live))
	require.Empty(t, untested(cleanCopper, Spare))
	require.Empty(t, untested(cleanCopper, Abandoned))
}
