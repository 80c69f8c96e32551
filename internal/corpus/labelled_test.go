package corpus

import (
	"flag"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
)

// Seeds by which the table of causes may be tuned, and seeds kept for reports, which
// nobody tunes by.
var (
	tuningSeeds    = []uint64{1001, 1002, 1003, 1004, 1005, 1006, 1007, 1008, 1009, 1010}
	reportingSeeds = []uint64{}
)

const labelsOfPlant = 35

var plants = flag.Int("plants", 2, "of the tuning seeds, how many plants are played")

// playLabelled plays one plant through the tracker by readings.
func playLabelled(t *testing.T, seed uint64) ([]*Verdict, []*Told) {
	l := NewLabelled(seed, labelsOfPlant)
	path, err := l.WriteInventory(t.TempDir())
	require.NoError(t, err)
	inventory, problems, err := plant.Load(path)
	require.NoError(t, err)
	require.Empty(t, problems)
	return l.Judge(l.Play(inventory, l.Readings))
}

// playAll plays the plants of some seeds beside each other.
func playAll(t *testing.T, seeds []uint64) *Score {
	var all sync.WaitGroup
	var mutex sync.Mutex
	score := &Score{}
	for _, seed := range seeds {
		all.Go(func() {
			verdicts, stray := playLabelled(t, seed)
			mutex.Lock()
			defer mutex.Unlock()
			score.Add(verdicts, stray)
			for _, v := range verdicts {
				if v.LookAlike && v.Blamed() != nil || !v.LookAlike && !v.Raised() {
					t.Logf("%d %v %s from %v: %+v", v.Seed, v.Causes, v.Run, v.From, summary(v))
				}
			}
			for _, told := range stray {
				t.Logf("%d stray: %s %s at %s, %v to %v: %s", seed, told.Kind, told.Run, told.place(), told.First, told.Last, told.Summary)
			}
		})
	}
	all.Wait()
	return score
}

func summary(v *Verdict) string {
	if v.Told == nil {
		return "nothing"
	}
	return string(v.Told.Kind) + " by " + v.Cause + ": " + v.Told.Summary
}

// What plants with labelled faults are told of.
func TestLabelledPlants(t *testing.T) {
	score := playAll(t, tuningSeeds[:*plants])
	t.Log("\n" + score.String())
}
