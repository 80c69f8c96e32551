package corpus

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

var begin = time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)

func TestScenariosThroughTheTracker(t *testing.T) {
	play(t, 0)
}

// A restart of the daemon raises nothing and lets nothing go.
func TestScenariosThroughRestarts(t *testing.T) {
	play(t, 9)
}

func play(t *testing.T, restarts int) {
	files, err := Files()
	require.NoError(t, err)
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".yml"), func(t *testing.T) {
			t.Parallel()
			s, err := Load(file)
			require.NoError(t, err)
			path, err := s.WriteInventory(t.TempDir())
			require.NoError(t, err)
			inventory, problems, err := plant.Load(path)
			require.NoError(t, err)
			require.Empty(t, problems)
			log, err := s.PlayDirect(begin, inventory, restarts)
			require.NoError(t, err)
			require.Empty(t, s.Judge(log), "%s\ntold:\n%v", s.Says, log)
		})
	}
}

// Each kind of fault is raised and let go in some scenario.
func TestEachKindHasItsScenario(t *testing.T) {
	files, err := Files()
	require.NoError(t, err)
	var shown []fault.Kind
	for _, file := range files {
		s, err := Load(file)
		require.NoError(t, err)
		for _, e := range s.Expect {
			if !e.Quiet && e.Closes != (window{}) {
				shown = append(shown, fault.Kind(e.Kind))
			}
		}
	}
	require.Subset(t, shown, fault.Kinds)
}
