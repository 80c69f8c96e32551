package plant

import (
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// Reach and loss by optic and fibre: 10GBASE-SR 400 m over OM4 and 33 m over
// OM1, 2.9 dB over OM4 (IEEE 802.3 clause 52); 1000BASE-SX 275 m over OM1 (clause 38).
func TestReachOfFibre(t *testing.T) {
	judges(t, cleanFibre, []auditRow{
		{"400 m of OM4", func(r *Run, p *Plant) { r.LengthM = metres(400) }, ""},
		{"420 m of OM4", func(r *Run, p *Plant) { r.LengthM = metres(420) }, "fibre-too-long: 20 m over 400 m"},
		{"OM1", func(r *Run, p *Plant) { r.Cable = "om1" }, "fibre-too-long: 47 m over 33 m"},
		{"1G over OM1", func(r *Run, p *Plant) {
			r.Cable, r.LengthM, r.DesignSpeed, r.Optic, r.FarOptic = "om1", metres(275), standards.Gbps, "1000BASE-SX", "1000BASE-SX"
		}, ""},
		{"length not recorded", func(r *Run, p *Plant) { r.LengthM = real{} }, "length-not-recorded"},
		{"fibre not recorded", func(r *Run, p *Plant) { r.Cable = "glass" }, "type-not-recorded"},
		// 0.08 km x 3.5 dB/km + 6 x 0.75 dB = 4.78 dB (ANSI/TIA-568-C.3).
		{"too many joints", func(r *Run, p *Plant) { r.Connectors = port.Some(6) }, "loss-over-budget: 1.9 dB over 2.9 dB"},
		{"no optics, no PHY reaches", func(r *Run, p *Plant) {
			r.Cable, r.LengthM, r.Optic, r.FarOptic = "om1", metres(900), "", ""
		}, "speed-not-carried: 680 m over 220 m"},
		{"no optics, one reaches", func(r *Run, p *Plant) { r.Optic, r.FarOptic = "", "" }, ""},
	})
}

// Optics: wavelengths and strands of IEEE 802.3 clauses 52, 59 and 86.
func TestOptics(t *testing.T) {
	optics := func(near, far, cable string) func(*Run, *Plant) {
		return func(r *Run, _ *Plant) { r.Optic, r.FarOptic, r.Cable = near, far, cable }
	}
	rows := []struct {
		name string
		edit func(r *Run, p *Plant)
		want []Rule
	}{
		{"single-mode optics on single mode", optics("10GBASE-LR", "10GBASE-LR", "os2"), nil},
		{"ends differ", optics("10GBASE-SR", "10GBASE-LR", "om4"), []Rule{OpticsDisagree}},
		{"multimode optics on single mode", optics("10GBASE-SR", "10GBASE-SR", "os2"), []Rule{OpticWrongFibre}},
		{"single-mode optics on multimode", optics("10GBASE-LR", "10GBASE-LR", "om4"), []Rule{OpticWrongFibre}},
		{"slower than the design", optics("1000BASE-SX", "1000BASE-SX", "om4"), []Rule{OpticTooSlow}},
		{"copper's name", optics("10GBASE-T", "10GBASE-T", "om4"), []Rule{OpticOtherMedium}},
		{"one strand for two", func(r *Run, p *Plant) { r.Strands = "1" }, []Rule{OneStrand}},
		{"two strands by number", func(r *Run, p *Plant) { r.Strands = "11-12" }, nil},
		{"in words", func(r *Run, p *Plant) { r.Strands = "blue and orange" }, nil},
		{"one end not recorded", optics("10GBASE-SR", "", "om4"), nil},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			run, rest := cleanFibre()
			row.edit(&run, &rest)
			p := planted(rest, run)
			findings := p.AuditRun(p.Runs[0], Seen{})
			complete(t, findings)
			var codes []Rule
			for _, f := range findings {
				codes = append(codes, f.Rule)
			}
			require.Equal(t, row.want, codes, "%+v", findings)
		})
	}
}

// 10GBASE-ER sends up to 4.0 dBm and takes -1.0 dBm; from 4.0 dBm on its
// receiver may be damaged (IEEE 802.3 clause 52): it needs 5 dB of loss.
func TestOverload(t *testing.T) {
	run, rest := cleanFibre()
	run.Optic, run.FarOptic, run.Cable, run.LengthM = "10GBASE-ER", "10GBASE-ER", "os2", metres(200)
	p := planted(rest, run)
	findings := p.AuditRun(p.Runs[0], Seen{})
	require.Len(t, findings, 1, "%+v", findings)
	f := findings[0]
	require.Contains(t, []Rule{ReceiverOverload, OpticDamage}, f.Rule)
	require.Regexp(t, `attenuator of [0-9.]+ dB`, f.Mend)
	require.Regexp(t, `^[0-9.]+ dB over (-1|4) dBm$`, f.By, "levels in dBm differ by dB")
	require.Contains(t, f.Text, "the other end", "both ends send alike")
	require.Contains(t, f.Mend, "at each receiver")

	// the same optics, seen by the switches and not recorded
	run.Optic, run.FarOptic = "", ""
	p = planted(rest, run)
	seen := p.AuditRun(p.Runs[0], Seen{Near: SeenEnd{PHY: "10GBASE-ER"}, Far: SeenEnd{PHY: "10GBASE-ER"}})
	require.Equal(t, told(findings), told(seen), "what endangers a receiver does not hang on who named it")
}

// Single-fibre optics come in pairs that send what the other takes (IEEE 802.3
// clause 59); 40GBASE-SR4 has four lanes a direction (clause 86).
func TestMendsOfOptics(t *testing.T) {
	rows := []struct{ optic, far, strands, cable, text, mend, never string }{
		{"1000BASE-BX10-D", "1000BASE-BX10-D", "", "os2", "-D and the other -U", "made as a pair", "same kind"},
		{"10GBASE-SR", "10GBASE-LR", "", "om4", "do not work together: 10GBASE-SR sends", "same kind", "pair"},
		{"40GBASE-SR4", "40GBASE-SR4", "11-12", "om4", "wants 8 strands", "no more than there are", "single-fibre"},
		{"10GBASE-SR", "10GBASE-SR", "1", "om4", "wants 2 strands", "single-fibre", "no more"},
	}
	for _, row := range rows {
		run, rest := cleanFibre()
		run.Optic, run.FarOptic, run.Strands, run.Cable = row.optic, row.far, row.strands, row.cable
		run.DesignSpeed, run.LengthM = standards.Gbps, metres(20)
		p := planted(rest, run)
		findings := p.AuditRun(p.Runs[0], Seen{})
		require.NotEmpty(t, findings, row.optic)
		require.Contains(t, findings[0].Text, row.text)
		require.Contains(t, findings[0].Mend, row.mend)
		require.NotContains(t, findings[0].Mend, row.never)
	}
}

// 40GBASE-SR4 allows 1.5 dB over OM4 (IEEE 802.3 clause 86): 0.05 km x 3.5 dB/km
// + 2 x 0.75 dB may be 1.7 dB (ANSI/TIA-568-C.3), and a measured 0.9 dB is within.
func TestLossThatMayBeOver(t *testing.T) {
	over := func(counted bool, tests ...*TestRow) []Finding {
		run, rest := cleanFibre()
		run.Optic, run.FarOptic, run.Strands, run.LengthM = "40GBASE-SR4", "40GBASE-SR4", "1-8", metres(50)
		run.Connectors = whole{}
		if counted {
			run.Connectors, run.Splices = port.Some(2), port.Some(0)
		}
		rest.Tests = tests
		p := planted(rest, run)
		return p.AuditRun(p.Runs[0], Seen{})
	}
	run, _ := cleanFibre()
	measured := func(db float64) *TestRow {
		return &TestRow{Run: run.ID, Class: "OM4 850", Parameter: "loss", ValueDB: metres(db)}
	}
	require.Equal(t, "loss-over-budget: 0.2 dB over 1.5 dB", told(over(true)))
	require.Equal(t, Possible, over(true)[0].Sure)
	require.Contains(t, over(true)[0].Text, "may lose more")
	require.NotContains(t, over(true)[0].Text, "not recorded")
	require.Contains(t, over(false)[0].Text, "connectors are not recorded")
	require.Empty(t, over(true, measured(0.9)), "measured")
	require.Equal(t, Possible, over(true, measured(1.6))[0].Sure, "measured, and within the tester's accuracy of what the optic allows")

	// 4 connectors and 50 m may lose 3.2 dB, so that 2.5 dB passes as a link
	run.Optic, run.FarOptic, run.Strands, run.LengthM = "40GBASE-SR4", "40GBASE-SR4", "1-8", metres(50)
	run.Connectors, run.Splices, run.ExpectedLossDB = port.Some(4), port.Some(0), real{}
	_, rest := cleanFibre()
	rest.Tests = []*TestRow{measured(2.5)}
	p := planted(rest, run)
	findings := p.AuditRun(p.Runs[0], Seen{})
	require.Equal(t, "loss-over-budget: 1 dB over 1.5 dB", told(findings))
	require.Equal(t, Certain, findings[0].Sure)
	require.Equal(t, Link, findings[0].Endangers)
	require.Contains(t, findings[0].Text, "its test measured 2.5 dB at 850 nm")
}

// A fibre's loss is judged by the standard for fibre, and mended as fibre is: 0.08 km x
// 3.5 dB/km + 2 x 0.75 dB = 1.78 dB (ANSI/TIA-568-C.3); a copper pair is no fibre.
func TestFailedTestOfFibre(t *testing.T) {
	run, rest := cleanFibre()
	run.TestResult, run.TestMarginDB, run.Connectors, run.Splices = "", real{}, port.Some(2), port.Some(0)
	rest.Tests = []*TestRow{{Run: run.ID, Class: "OM4 850", Parameter: "loss", Pairs: "11", ValueDB: metres(2.6)}}
	p := planted(rest, run)
	findings := p.AuditRun(p.Runs[0], Seen{})
	require.Len(t, findings, 1, "%+v", findings)
	f := findings[0]
	require.Equal(t, TestFailed, f.Rule)
	require.Equal(t, "the values of its test fail: loss of strand 11 at 850 nm is worst", f.Text)
	require.Contains(t, f.Source, "568.3-D")
	require.Contains(t, f.Mend, "clean and inspect")
	require.NotContains(t, f.Mend, "re-terminate")
}

// What hangs on a condition is not told as forbidden: 1000BASE-LX over multimode takes a
// mode-conditioning cord (IEEE 802.3 38.11.4), 1000BASE-BX10 is -D at one end and -U at the
// other (clause 59), and no reach of 1000BASE-SX over OM4 is in clause 38.
func TestConditionsOfFibreAreNotForbidden(t *testing.T) {
	rows := []struct {
		optic, cable string
		length       float64
		text         string
	}{
		{"1000BASE-LX", "om4", 80, "suits this fibre under a condition only"},
		{"1000BASE-BX10", "os2", 80, "one end must be 1000BASE-BX10-D"},
		{"1000BASE-SX", "om4", 700, "may be too long for optic"},
	}
	for _, row := range rows {
		run, rest := cleanFibre()
		run.Optic, run.FarOptic, run.Cable, run.LengthM, run.DesignSpeed = row.optic, row.optic, row.cable, metres(row.length), standards.Gbps
		run.ExpectedLossDB = real{}
		p := planted(rest, run)
		findings := p.AuditRun(p.Runs[0], Seen{})
		require.NotEmpty(t, findings, row.optic)
		require.Equal(t, standards.Depends, findings[0].Verdict)
		require.Contains(t, findings[0].Text, row.text)
	}
}

// Light is lost where it goes from the larger core and aperture to the smaller:
// 62.5 to 50 µm 20 log(62.5/50) + 20 log(0.275/0.20) = 1.94 + 2.77 = 4.70 dB at
// most, nothing the other way.
func TestMixedFibre(t *testing.T) {
	along := func(a, b string) func(*Run, *Plant) {
		return func(r *Run, _ *Plant) {
			r.Cable, r.LengthM = "", real{}
			r.Segments = []Segment{{Cable: a, LengthM: metres(10)}, {Cable: b, LengthM: metres(10)}}
		}
	}
	judges(t, cleanFibre, []auditRow{
		{"one kind", along("om4", "om4"), ""},
		{"62.5 to 50 µm", along("om1", "om4"), "mixed-fibre: up to 4.7 dB towards the far end"},
		{"50 to 62.5 µm", along("om4", "om1"), "mixed-fibre: up to 4.7 dB towards the near end"},
		{"grades of one core", along("om4", "om3"), "mixed-grades"},
		{"one not recorded", along("om4", "glass"), "type-not-recorded"},
		{"a cord of another core", func(r *Run, p *Plant) { r.FarCordCable, r.FarCordM = "om1", metres(2) },
			"mixed-fibre: up to 4.7 dB towards the near end"},
	})
	run, rest := cleanFibre()
	along("om4", "om3")(&run, &rest)
	p := planted(rest, run)
	require.Equal(t, Margin, p.AuditRun(p.Runs[0], Seen{})[0].Endangers, "grades of one core fit together")
}

// The loss of a link: length x 3.5 dB/km for OM4 at 850 nm + 0.75 dB a
// connection + 0.3 dB a splice at most (ANSI/TIA-568-C.3).
func TestExpectedLoss(t *testing.T) {
	loss := func(db float64) func(*Run, *Plant) {
		return func(r *Run, _ *Plant) { r.ExpectedLossDB = metres(db) }
	}
	judges(t, cleanFibre, []auditRow{
		{"as computed: 0.28 + 1.5 dB", loss(1.78), ""},
		{"less, with good connectors", loss(0.9), ""},
		{"more than its parts lose", loss(3.74), "expected-loss-differs: 2 dB over 1.8 dB"},
		{"connectors not counted", func(r *Run, p *Plant) { loss(9)(r, p); r.Connectors = whole{} }, ""},
		{"length not recorded", func(r *Run, p *Plant) { loss(9)(r, p); r.LengthM = real{} }, "length-not-recorded"},
	})
}

func TestStrandCount(t *testing.T) {
	for text, want := range map[string]int{
		"1": 1, "2": 2, "12": 12, "11-12": 2, "11,12": 2, "11;12": 2, "1-8": 8, "3/4": 2,
		"": 0, "blue": 0, "12-11": 0, "0": 0, "-": 0, "A1": 0,
	} {
		n, ok := strandCount(text)
		require.Equal(t, want > 0, ok, text)
		if ok {
			require.Equal(t, want, n, text)
		}
	}
}
