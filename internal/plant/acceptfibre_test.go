package plant

import (
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/port"
	"toneout/internal/standards"
)

// 200 m of OM4 at 850 nm with two mated pairs and a splice may lose, by ANSI/TIA-568.3-D (3.0
// dB/km, 0.75 dB, 0.3 dB; memory as to 3.0, ISO/IEC 11801-1 has 3.5): 0.6 + 1.5 + 0.3 = 2.4 dB, or 2.5 dB.
func TestFibreLoss(t *testing.T) {
	run := Run{ID: "R", Cable: "f", LengthM: port.Some(200.0), Connectors: port.Some(2), Splices: port.Some(1)}
	test := func(run Run, class string, db float64) *Acceptance {
		return New(Plant{
			Cables: []*Cable{{ID: "f", Media: standards.Fibre, Fibre: "OM4"}},
			Runs:   []*Run{&run},
			Tests: []*TestRow{{Run: "R", Class: class, Parameter: "loss", Pairs: "1", ValueDB: port.Some(db), AccuracyDB: port.Some(0.2), File: "t.csv", Line: 2},
				{Run: "R", Class: "OM4 1300", Parameter: "Loss", Pairs: "2", ValueDB: port.Some(0.1), File: "t.csv", Line: 3}},
		}).Acceptance("R")
	}
	a := test(run, "OM4 850", 1.0)
	require.Empty(t, a.Unjudged)
	require.Empty(t, a.Earlier, "wavelengths are one test")
	require.InDelta(t, 2.45, a.Worst.Limit, 0.06)
	require.Equal(t, Pass, a.Result)
	require.Equal(t, 2, a.Points)
	require.Equal(t, 850.0, a.Worst.WavelengthNM)
	require.Contains(t, a.Summary(), "loss of 1 at 850 nm is 1.")
	require.Equal(t, PassMarginal, test(run, "om4 850nm", a.Worst.Limit-0.1).Result)
	require.Equal(t, FailMarginal, test(run, "850", a.Worst.Limit+0.1).Result)
	require.Equal(t, Fail, test(run, "850", a.Worst.Limit+0.3).Result)

	require.Equal(t, []string{`t.csv:2: class "OM4" names no wavelength: write the fibre and nm, such as OM4 850`}, test(run, "OM4", 1).Unjudged)
	require.Equal(t, []string{"t.csv:2: the class says OM3 and the record OM4: which is right decides the limit"}, test(run, "OM3 850", 1).Unjudged)

	// Without the count of splices a loss that keeps the limit without any is good, and more is not known.
	unspliced := run
	unspliced.Splices = port.Value[int]{}
	require.Equal(t, Pass, test(unspliced, "OM4 850", 1).Result)
	more := test(unspliced, "OM4 850", 2.3)
	require.Len(t, more.Unjudged, 1)
	require.Contains(t, more.Unjudged[0], "t.csv:2: the record of the run tells not both connectors and splices: the limit is 2.")
	require.Equal(t, 1, more.Points)

	none := run
	none.LengthM = port.Value[float64]{}
	require.Len(t, test(none, "OM4 850", 1).Unjudged, 2)
	require.Contains(t, test(none, "OM4 850", 1).Unjudged[0], "the record of the run does not tell its fibre and length")
}

// From 62.5 to 50 µm light is lost at the joint, back it is not: 20 log10 of cores and of
// apertures, 1.94 + 2.77 = 4.7 dB (theory of a fully filled fibre; the sum is seen in print).
func TestFibreLossByDirection(t *testing.T) {
	loss := func(pairs string) float64 {
		return New(Plant{
			Cables: []*Cable{{ID: "old", Media: standards.Fibre, CoreUM: port.Some(62.5), ModalBandwidth: port.Some(200.0)}, {ID: "new", Media: standards.Fibre, Fibre: "OM3"}},
			Runs: []*Run{{ID: "R", Segments: []Segment{{Cable: "old", LengthM: port.Some(50.0)}, {Cable: "new", LengthM: port.Some(50.0)}},
				Connectors: port.Some(3), Splices: port.Some(0)}},
			Tests: []*TestRow{{Run: "R", Class: "850", Parameter: "loss", Pairs: pairs, ValueDB: port.Some(1.0)}},
		}).Acceptance("R").Worst.Limit
	}
	require.InDelta(t, 4.7, loss("1 near to far")-loss("1 far to near"), 0.05)
}
