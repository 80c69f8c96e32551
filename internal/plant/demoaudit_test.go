package plant

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/sim"
)

// bookRules are the rules that find what the answer book of the demo plant's
// records says is wrong.
var bookRules = map[string]Rule{
	"fixed link over 90 m":                     LinkTooLong,
	"channel over 100 m":                       ChannelTooLong,
	"thin cords too long":                      CordsTooLong,
	"cord too low for the speed":               CordCategoryTooLow,
	"cord lower than the cable":                CordBelowCable,
	"cable too low for the speed":              CategoryTooLow,
	"speed on a condition":                     SpeedDepends,
	"speed out of reach":                       SpeedNotCarried,
	"too long for the heat":                    TooHot,
	"unscreened cord on screened cable":        UnscreenedCord,
	"screened and unscreened cable in one run": MixedScreens,
	"too many connectors":                      TooManyConnectors,
	"unscreened beside a motor":                NearInterference,
	"phone in a 10G run":                       BehindPhone,
	"never tested":                             NeverTested,
	"tested for less than it is meant for":     TestedBelowDesign,
	"values fail, pass written":                TestFailed,
	"fail written, run in use":                 TestFailed,
	"values too near to call":                  TestTooNear,
	"pass written, margin below zero":          TestDiffers,
	"tested before it was there":               TestedTooEarly,
	"warranty over before it was there":        WarrantyBeforeStart,
	"split pairs":                              WireMapFault,
	"crossed pair":                             WireMapFault,
	"open pair":                                WireMapFault,
	"length not the measured one":              LengthDiffers,
	"length missing":                           LengthNotRecorded,
	"length hardly possible":                   LengthImprobable,
	"cable missing":                            CableNotRecorded,
	"cable without category":                   TypeNotRecorded,
	"heat source without temperature":          HeatNotRecorded,
	"fixed cable of cord wire":                 GaugeImprobable,
	"fibre cord on copper":                     MixedMedia,
	"optic on copper":                          OpticOtherMedium,
	"position past the panel":                  PositionBeyond,
	"two runs at one position":                 PositionShared,
	"two runs at one outlet":                   OutletShared,
	"device faster than the run is meant for":  DeviceFaster,
	"fewer connectors than panels":             ConnectorsTooFew,
	"62.5 and 50 µm fibre in one run":          MixedFibre,
	"fibre too long":                           FibreTooLong,
	"unlike optics":                            OpticsDisagree,
	"single-mode optic on multimode":           OpticWrongFibre,
	"sender too strong":                        ReceiverOverload,
	"loss over budget":                         LossOverBudget,
	"one strand for two":                       OneStrand,
	"optic slower than the run is meant for":   OpticTooSlow,
	"loss not that of the parts":               ExpectedLossDiffers,
	"fibre loses more than its parts may":      TestFailed,
}

// The audit of the demo plant finds every record that its answer book says is
// wrong, by the rule for it, and nothing at any other run.
func TestAuditOfTheDemoPlant(t *testing.T) {
	campus := sim.FerrowQuay(1, time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC))
	directory := t.TempDir()
	for name, text := range campus.Inventory() {
		require.NoError(t, os.WriteFile(filepath.Join(directory, name), []byte(text), 0o644))
	}
	p, problems, err := Load(filepath.Join(directory, "plant.yml"))
	require.NoError(t, err)
	require.Empty(t, problems)

	wanted := map[string][]Rule{}
	whats := map[string]bool{}
	for _, e := range campus.RecordErrors() {
		rule, known := bookRules[e.What]
		require.True(t, known, e.What)
		wanted[e.Run] = append(wanted[e.Run], rule)
		whats[e.What] = true
	}
	require.GreaterOrEqual(t, len(whats), 20)

	got := map[string][]Rule{}
	a := p.Audit(nil)
	complete(t, a.Findings)
	for _, f := range a.Findings {
		got[f.Run] = append(got[f.Run], f.Rule)
		if len(wanted[f.Run]) == 0 {
			t.Errorf("%s is right in the book: %s: %s (%s)", f.Run, f.Rule, f.Text, f.By)
		}
	}
	for run, rules := range wanted {
		require.ElementsMatch(t, rules, got[run], run)
	}
	require.Equal(t, len(p.Runs)-len(wanted), a.Clean)
}
