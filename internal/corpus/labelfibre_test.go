package corpus

import (
	"flag"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"toneout/internal/plant"
)

var fibrePlants = flag.Int("fibre", 1, "how many plants without copper are played")

const (
	fibreSeed   = 3001
	labelsFibre = 16 // of the 20 runs
)

// What happens to fibre, looked at more closely than the seeds of whole plants allow,
// by seeds of its own.
func TestLabelledFibre(t *testing.T) {
	var all sync.WaitGroup
	var mutex sync.Mutex
	score, free := &Score{}, make(chan bool, 2)
	for n := range uint64(*fibrePlants) {
		all.Go(func() {
			free <- true
			verdicts, stray := playFibre(t, fibreSeed+n)
			<-free
			mutex.Lock()
			defer mutex.Unlock()
			score.Add(verdicts, stray)
			for _, v := range verdicts {
				if !v.LookAlike && (v.Told == nil || !v.Within(1)) {
					t.Logf("%d %v %s to %q from %v: %s", v.Seed, v.Causes, v.Run, v.Far, v.From, summary(v))
				}
			}
			for _, told := range stray {
				t.Logf("%d stray: %s %s at %s, %v to %v: %s", fibreSeed+n, told.Kind, told.Run, told.place(), told.First, told.Last, told.Summary)
			}
		})
	}
	all.Wait()
	t.Log("\n" + score.String())
	require.Equal(t, score.Runs, score.RightRun, "the right run wherever the record is right")
	require.Greater(t, score.Raised, score.Faults*4/5, "told of at all")
}

func playFibre(t *testing.T, seed uint64) ([]*Verdict, []*Told) {
	l := NewLabelledFibre(seed, labelsFibre)
	path, err := l.WriteInventory(t.TempDir())
	require.NoError(t, err)
	inventory, _, err := plant.Load(path)
	require.NoError(t, err)
	return l.Judge(l.Play(inventory, l.Readings))
}
