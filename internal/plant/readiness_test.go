package plant

import (
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// The least lengths and categories that the rows rest on: IEEE 802.3 55, TIA
// TSB-155-A and TSB-5021; IEEE 802.3 52 for fibre.
func TestReady(t *testing.T) {
	p := cablePlant()
	good := alongRun("6A", 60, 2, 2)
	rows := []struct {
		name    string
		run     *Run
		speed   string
		seen    Seen
		want    Answer
		because string
		also    string
	}{
		{"record alone", good.with(asIs), "10G", Seen{}, ByRecord, "10GBASE-T over category 6A, 64 m of at most 100 m", ""},
		{"never tested", good.with(asIs), "10G", Seen{}, ByRecord, "no test of it is recorded", ""},
		{"a condition", alongRun("5e", 60, 2, 2).with(asIs), "2.5G", Seen{}, ByRecord, "on the condition: installed cabling", ""},
		{"too low", alongRun("5e", 60, 2, 2).with(asIs), "10G", Seen{}, NotReady, "needs category 6", ""},
		{"not recorded", (&Run{ID: "R", Cable: "6A"}), "10G", Seen{}, NotKnown, "length_m is not recorded", ""},
		{"no nominal speed", good.with(asIs), "", Seen{}, NotKnown, "no nominal speed", ""},
		{"abandoned", good.with(func(r *Run) { r.Status = Abandoned }), "10G", Seen{}, NotReady, "recorded as abandoned", ""},
		{"faulty", good.with(func(r *Run) { r.Status = Faulty }), "10G", Seen{}, NotReady, "recorded as faulty", ""},
		{"damaged frames", good.with(asIs), "10G", Seen{Errors: "1 in 40,000"}, NotReady, "it counts damaged frames at its present speed: 1 in 40,000", ""},
		{"recorded fail", good.with(func(r *Run) { r.TestResult, r.TestedOn = Fail, day(2020, 3, 4) }), "10G", Seen{}, NotReady, "tested 2020-03-04: fail", ""},
		{"recorded pass", good.with(func(r *Run) { r.TestResult, r.TestMarginDB = Pass, port.Some(4.1) }), "10G", Seen{}, ByRecord, "pass, worst margin 4.1 dB, to limits that are not recorded", ""},
		{"tested, result not recorded", good.with(func(r *Run) { r.TestedOn = day(2020, 3, 4) }), "10G", Seen{}, ByRecord, "tested 2020-03-04, without the result", ""},
		{"age", good.with(func(r *Run) { r.InstalledOn = day(2009, 1, 2) }), "10G", Seen{}, ByRecord, "installed 2009-01-02", ""},
		{"runs at it", good.with(asIs), "1G", Seen{Near: SeenEnd{Speed: standards.Gbps}}, ByRecord, "a port on it runs at 1G now", ""},
		{"slow port", good.with(asIs), "10G", Seen{Near: SeenEnd{Fastest: standards.Gbps}}, ByRecord, "", "the port at the near end does 1G at most"},
		{"other optics", (&Run{ID: "R", Cable: "OM4", LengthM: port.Some(80.0), Connectors: port.Some(2)}), "10G", Seen{}, ByRecord, "10GBASE-SR over OM4, 80 m of at most 400 m", "10GBASE-SR optics at both ends"},
		{"too far", (&Run{ID: "R", Cable: "OM3", LengthM: port.Some(380.0), Connectors: port.Some(2)}), "10G", Seen{}, NotReady, "380 m is longer than the 300 m", ""},
	}
	for _, row := range rows {
		speed, _ := standards.ParseSpeed(row.speed)
		ready := p.Ready(row.run, speed, row.seen)
		require.Equal(t, row.want, ready.Answer, "%s: %v", row.name, ready.Because)
		require.Contains(t, and(ready.Because), row.because, row.name)
		require.NotEmpty(t, ready.Because, "an answer has its reason")
		require.Contains(t, and(ready.Also), row.also, row.name)
		require.Equal(t, row.run.ID, ready.Run)
	}
}

// What speaks for a speed is never a limit that the run passes (90 m of permanent
// link, ISO/IEC 11801-1; 1.9 dB of 10GBASE-LRM, IEEE 802.3 clause 68), and all fibre
// along it is named.
func TestGroundIsNoBrokenLimit(t *testing.T) {
	p := cablePlant()
	long := alongRun("6A", 92, 2, 2)
	ready := p.Ready(&long, 2500*standards.Mbps, Seen{})
	require.Equal(t, "2.5GBASE-T over category 6A", ready.Because[0])
	require.Contains(t, ready.Because[1], "92 m long, and may be 90 m")

	mixed := alongRun("OM3", 60, 2, 2)
	mixed.NearCordCable, mixed.FarCordCable = "OM4", "OM4"
	require.Equal(t, "10GBASE-SR over OM4 and OM3, 64 m of at most 300 m", p.Ready(&mixed, 10*standards.Gbps, Seen{}).Because[0])
}

// A port that is too slow is no fault of the cable.
func TestPortsAreNeverTheCablesNo(t *testing.T) {
	seen := Seen{Near: SeenEnd{Fastest: 100 * standards.Mbps}, Far: SeenEnd{Fastest: 100 * standards.Mbps}}
	ready := cablePlant().Ready(alongRun("6A", 60, 2, 2).with(asIs), 10*standards.Gbps, seen)
	require.Equal(t, ByRecord, ready.Answer)
	require.Len(t, ready.Also, 2)
}

// What the values of an acceptance test support counts by the category that the
// speed needs at that length: 6A for 10G over 62 m (IEEE 802.3 55), 5e for 1G
// (IEEE 802.3 40).
func TestReadyByAcceptance(t *testing.T) {
	plantOf := func(r *Run, tests []*TestRow) *Plant {
		rows := *cablePlant()
		rows.Runs, rows.Tests = []*Run{r}, tests
		return New(rows)
	}
	run := alongRun("6A", 62, 0, 0).with(noCords)
	good := plantOf(run, sweepOf("EA", 500, 42.5))
	require.Equal(t, standards.Cat6A, good.Acceptance("R").Supports)
	ready := good.Ready(run, 10*standards.Gbps, Seen{})
	require.Equal(t, ByRecord, ready.Answer)
	require.Contains(t, ready.Because, "tested 2024-05-02 to Category 6A, within the tester's accuracy of its limits")

	bad := plantOf(run, sweepOf("EA", 500, 33))
	ready = bad.Ready(run, 10*standards.Gbps, Seen{})
	require.Equal(t, NotReady, ready.Answer)
	require.Contains(t, and(ready.Because), "its acceptance test 2024-05-02 fails: NEXT of 36-45")

	supports := bad.Acceptance("R").Supports
	require.Equal(t, standards.Cat5e, supports, "33 dB at 100 MHz keeps Category 5e's 32.3 dB, not 6's 41.8")
	require.Equal(t, ByRecord, bad.Ready(run, standards.Gbps, Seen{}).Answer, "its fault does not touch 1G")

	length := []*TestRow{{Run: "R", Class: "EA", Parameter: "length", Pairs: "12", Value: "62", Unit: "m"}}
	ready = plantOf(run, length).Ready(run, 10*standards.Gbps, Seen{})
	require.Contains(t, ready.Because, "its acceptance test has no value that could be judged")

	unknown := alongRun("copper?", 62, 0, 0).with(noCords)
	ready = plantOf(unknown, sweepOf("EA", 500, 42.5)).Ready(unknown, 10*standards.Gbps, Seen{})
	require.Equal(t, ByRecord, ready.Answer, "the values tell what the record does not")
	require.Contains(t, ready.Because, "by its test alone: category is not recorded")
}

func TestNextSpeed(t *testing.T) {
	p := cablePlant()
	rows := []struct{ cable, design, runsAt, want string }{
		{"5e", "100M", "", "1G"}, {"5e", "1G", "", "2.5G"}, {"6A", "5G", "", "10G"}, {"6A", "10G", "", ""}, {"8s", "10G", "", "25G"},
		{"6A", "1G", "2.5G", "5G"}, {"6A", "1G", "100M", "2.5G"}, {"6A", "", "1G", "2.5G"}, {"6A", "", "", ""},
		{"OM4", "1G", "", "10G"}, {"OM4", "10G", "", "25G"}, {"OM4", "25G", "", "40G"}, {"OS2", "40G", "", "100G"}, {"OS2", "100G", "", ""},
		{"dac", "10G", "", "25G"}, {"lost", "1G", "", ""},
	}
	for _, row := range rows {
		design, _ := standards.ParseSpeed(row.design)
		runsAt, _ := standards.ParseSpeed(row.runsAt)
		next, ok := p.NextSpeed(&Run{Cable: row.cable, DesignSpeed: design}, Seen{Far: SeenEnd{Speed: runsAt}})
		require.Equal(t, row.want != "", ok, "%+v", row)
		if ok {
			require.Equal(t, row.want, next.String(), "%+v", row)
		}
	}
}

// One category of fibre along a channel (ISO/IEC 11801-1, memory): what the audit
// forbids is no upgrade's condition.
func TestMixedCoresAreNotReady(t *testing.T) {
	run, rest := cleanFibre()
	run.Cable, run.LengthM, run.Optic, run.FarOptic = "", real{}, "", ""
	run.Segments = []Segment{{Cable: "om4", LengthM: metres(10)}, {Cable: "om1", LengthM: metres(10)}}
	p := planted(rest, run)
	ready := p.Ready(p.Runs[0], 10*standards.Gbps, Seen{})
	require.Equal(t, NotReady, ready.Answer, "%+v", ready)
	require.Contains(t, ready.Because[len(ready.Because)-1], "from the larger core to the smaller")
}
