package plant_test

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/sim"
)

// foundBy is the rule that must find each sort of record error that the
// simulated college makes. The words are the simulator's own.
var foundBy = map[string]plant.Rule{
	"fixed link over 90 m":                     plant.LinkTooLong,
	"channel over 100 m":                       plant.ChannelTooLong,
	"thin cords too long":                      plant.CordsTooLong,
	"cord too low for the speed":               plant.CordCategoryTooLow,
	"cord lower than the cable":                plant.CordBelowCable,
	"cable too low for the speed":              plant.CategoryTooLow,
	"speed on a condition":                     plant.SpeedDepends,
	"speed out of reach":                       plant.SpeedNotCarried,
	"too long for the heat":                    plant.TooHot,
	"unscreened cord on screened cable":        plant.UnscreenedCord,
	"screened and unscreened cable in one run": plant.MixedScreens,
	"too many connectors":                      plant.TooManyConnectors,
	"unscreened beside a motor":                plant.NearInterference,
	"phone in a 10G run":                       plant.BehindPhone,
	"never tested":                             plant.NeverTested,
	"tested for less than it is meant for":     plant.TestedBelowDesign,
	"values fail, pass written":                plant.TestFailed,
	"fail written, run in use":                 plant.TestFailed,
	"values too near to call":                  plant.TestTooNear,
	"pass written, margin below zero":          plant.TestDiffers,
	"tested before it was there":               plant.TestedTooEarly,
	"warranty over before it was there":        plant.WarrantyBeforeStart,
	"split pairs":                              plant.WireMapFault,
	"crossed pair":                             plant.WireMapFault,
	"open pair":                                plant.WireMapFault,
	"length not the measured one":              plant.LengthDiffers,
	"length missing":                           plant.LengthNotRecorded,
	"length hardly possible":                   plant.LengthImprobable,
	"cable missing":                            plant.CableNotRecorded,
	"cable without category":                   plant.TypeNotRecorded,
	"heat source without temperature":          plant.HeatNotRecorded,
	"fixed cable of cord wire":                 plant.GaugeImprobable,
	"fibre cord on copper":                     plant.MixedMedia,
	"optic on copper":                          plant.OpticOtherMedium,
	"position past the panel":                  plant.PositionBeyond,
	"two runs at one position":                 plant.PositionShared,
	"two runs at one outlet":                   plant.OutletShared,
	"device faster than the run is meant for":  plant.DeviceFaster,
	"fewer connectors than panels":             plant.ConnectorsTooFew,
	"62.5 and 50 µm fibre in one run":          plant.MixedFibre,
	"fibre too long":                           plant.FibreTooLong,
	"unlike optics":                            plant.OpticsDisagree,
	"single-mode optic on multimode":           plant.OpticWrongFibre,
	"sender too strong":                        plant.ReceiverOverload,
	"loss over budget":                         plant.LossOverBudget,
	"one strand for two":                       plant.OneStrand,
	"optic slower than the run is meant for":   plant.OpticTooSlow,
	"loss not that of the parts":               plant.ExpectedLossDiffers,
	"fibre loses more than its parts may":      plant.TestFailed,
}

// The audit finds every record error of the simulated plants by the rule that
// is meant for it, and nothing else on any run, however many records are
// missing. The simulator's answer book is the truth.
func TestAuditOfTheSimulatedPlants(t *testing.T) {
	start := time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)
	for name, campus := range map[string]*sim.Campus{
		"well kept":  sim.FerrowQuay(1, start),
		"badly kept": sim.FerrowQuayWith(1, start, sim.Records{Missing: 1.0 / 3, Swapped: 0.03}),
		"faultless":  sim.Quayside(1, start),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			inventory := inventoryOf(t, campus)
			found, meant := map[string]map[plant.Rule]bool{}, map[string]map[plant.Rule]bool{}
			for _, f := range inventory.Audit(nil).Findings {
				note(found, f.Run, f.Rule)
			}
			for _, e := range campus.RecordErrors() {
				require.Contains(t, foundBy, e.What)
				require.True(t, found[e.Run][foundBy[e.What]], "%s: %s, since %s; found was %v", e.Run, e.What, e.Because, found[e.Run])
				note(meant, e.Run, foundBy[e.What])
			}
			for run, rules := range found {
				require.Equal(t, meant[run], rules, run)
			}
		})
	}
}

// Every sort of error is planted: a rule that the college cannot break would
// never be asked above.
func TestEverySortOfRecordErrorIsPlanted(t *testing.T) {
	planted := map[string]bool{}
	for _, e := range sim.FerrowQuay(1, time.Unix(0, 0)).RecordErrors() {
		planted[e.What] = true
	}
	for what := range foundBy {
		require.True(t, planted[what], what)
	}
}

// Every row of the college's tests can be judged, and tests of runs whose
// record is right pass clear of the tester's accuracy.
func TestAcceptanceOfTheSimulatedPlant(t *testing.T) {
	campus := sim.FerrowQuay(1, time.Unix(0, 0))
	inventory := inventoryOf(t, campus)
	wrong := map[string]bool{}
	for _, e := range campus.RecordErrors() {
		wrong[e.Run] = true
	}
	tested, points := 0, 0
	for _, run := range inventory.Runs {
		a := inventory.Acceptance(run.ID)
		if a == nil {
			continue
		}
		tested++
		points = max(points, a.Points)
		require.Empty(t, a.Unjudged, run.ID)
		if !wrong[run.ID] {
			require.Equal(t, plant.Pass, a.Result, "%s: %s", run.ID, a.Summary())
		}
	}
	require.Greater(t, tested, 30)
	require.Greater(t, points, 5*500, "a sweep of 500 points")
}

func note(rules map[string]map[plant.Rule]bool, run string, rule plant.Rule) {
	if rules[run] == nil {
		rules[run] = map[plant.Rule]bool{}
	}
	rules[run][rule] = true
}

func inventoryOf(t *testing.T, campus *sim.Campus) *plant.Plant {
	directory := t.TempDir()
	require.NoError(t, campus.WriteInventory(directory))
	inventory, problems, err := plant.Load(filepath.Join(directory, "plant.yml"))
	require.NoError(t, err)
	require.Empty(t, problems)
	return inventory
}
