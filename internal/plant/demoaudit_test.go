package plant_test

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
	"toneout/internal/sim"
)

// auditDemo audits the records of the simulated college.
func auditDemo(t *testing.T) (*sim.Campus, *plant.Plant, *plant.Audit) {
	campus := sim.FerrowQuay(1, time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC))
	directory := t.TempDir()
	require.NoError(t, campus.WriteInventory(directory))
	p, problems, err := plant.Load(filepath.Join(directory, "plant.yml"))
	require.NoError(t, err)
	require.Empty(t, problems)
	return campus, p, p.Audit(nil)
}

// plantedRules is which rule finds what is wrong in the college's records.
var plantedRules = map[string]plant.Rule{
	"62.5 and 50 µm fibre in one run":          "mixed-fibre",
	"cable missing":                            "cable-not-recorded",
	"cable too low for the speed":              "category-too-low",
	"cable without category":                   "type-not-recorded",
	"channel over 100 m":                       "channel-too-long",
	"cord lower than the cable":                "cord-below-cable",
	"cord too low for the speed":               "cord-category-too-low",
	"crossed pair":                             "wire-map-fault",
	"device faster than the run is meant for":  "device-faster",
	"fail written, run in use":                 "test-failed",
	"fewer connectors than panels":             "connectors-too-few",
	"fibre cord on copper":                     "mixed-media",
	"fibre loses more than its parts may":      "test-failed",
	"fibre too long":                           "fibre-too-long",
	"fixed cable of cord wire":                 "gauge-improbable",
	"fixed link over 90 m":                     "link-too-long",
	"heat source without temperature":          "heat-not-recorded",
	"length hardly possible":                   "length-improbable",
	"length missing":                           "length-not-recorded",
	"length not the measured one":              "length-differs",
	"loss not that of the parts":               "expected-loss-differs",
	"loss over budget":                         "loss-over-budget",
	"never tested":                             "never-tested",
	"one strand for two":                       "one-strand",
	"open pair":                                "wire-map-fault",
	"optic on copper":                          "optic-other-medium",
	"optic slower than the run is meant for":   "optic-too-slow",
	"pass written, margin below zero":          "test-differs",
	"phone in a 10G run":                       "behind-phone",
	"position past the panel":                  "position-beyond-panel",
	"screened and unscreened cable in one run": "mixed-screens",
	"sender too strong":                        "receiver-overload",
	"single-mode optic on multimode":           "optic-wrong-fibre",
	"speed on a condition":                     "speed-depends",
	"speed out of reach":                       "speed-not-carried",
	"split pairs":                              "wire-map-fault",
	"tested before it was there":               "tested-before-installed",
	"tested for less than it is meant for":     "tested-below-design",
	"thin cords too long":                      "cords-too-long",
	"too long for the heat":                    "too-hot",
	"too many connectors":                      "too-many-connectors",
	"two runs at one outlet":                   "outlet-shared",
	"two runs at one position":                 "position-shared",
	"unlike optics":                            "optics-disagree",
	"unscreened beside a motor":                "near-interference",
	"unscreened cord on screened cable":        "unscreened-cord",
	"values fail, pass written":                "test-failed",
	"values too near to call":                  "test-too-near",
	"warranty over before it was there":        "warranty-before-installed",
}

// The simulator's own answer book says what is wrong in which run's record; it
// knows nothing of the rules, and they nothing of it.
func TestTheAuditFindsEveryPlantedErrorAndNoOther(t *testing.T) {
	campus, p, a := auditDemo(t)
	found := map[string][]plant.Rule{}
	for _, f := range a.Findings {
		found[f.Run] = append(found[f.Run], f.Rule)
	}
	wrong, sorts := map[string]bool{}, map[string]bool{}
	for _, e := range campus.RecordErrors() {
		wrong[e.Run], sorts[e.What] = true, true
		require.Contains(t, plantedRules, e.What)
		require.Contains(t, found[e.Run], plantedRules[e.What], "%s: %s: %s", e.Run, e.What, e.Because)
	}
	require.Len(t, sorts, len(plantedRules), "sorts of errors planted")
	require.Greater(t, len(sorts), 20)
	for _, r := range p.Runs {
		if !wrong[r.ID] {
			require.Empty(t, found[r.ID], "%s is clean", r.ID)
		}
	}
	require.Equal(t, len(p.Runs)-len(wrong), a.Clean)
}
