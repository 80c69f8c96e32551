package daemon

import (
	"encoding/json"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/sim"
	"toneout/internal/web"
)

// A plant as plants are: a third of the runs in no file, 3 % of the recorded
// ports swapped. Every fault is placed on the right port, no run is blamed or
// joined that a neighbour or a description contradicts, and each such record
// is in a conflict that a person can read. The truth is the simulator's own.
func TestPoorRecordsBlameNoWrongRun(t *testing.T) {
	t.Parallel()
	campus := sim.FerrowQuayWith(1, begin, sim.Records{Missing: 1.0 / 3, Swapped: 0.03})
	r, clock := campusOn(t, campus, 90*time.Second)
	clock.wait(t, 4*time.Minute)
	truth := map[string]sim.RecordTruth{}
	for _, record := range campus.Truth(clock.now()) {
		truth[record.Run] = record
	}
	faults := r.faults()
	checkAgainstBook(t, campus, faults, func(planted sim.PlantedFault, run string) bool {
		return run == planted.Run || run == "" && (contradicted(truth[planted.Run]) || !truth[planted.Run].Right)
	})
	for _, f := range faults {
		record := truth[f.Run]
		require.False(t, contradicted(record), "%s is blamed, and its record is contradicted: %+v", f.Run, f)
	}

	var coverage web.Coverage
	r.json("/api/coverage", &coverage)
	listed := map[string]bool{}
	for _, conflict := range coverage.Conflicts {
		for _, run := range conflict.Runs {
			listed[run] = true
		}
	}
	joined := map[string]bool{}
	var runs []web.RunVerdict
	r.json("/api/runs", &runs)
	for _, run := range runs {
		joined[run.ID] = run.Ports.Near != nil
	}
	wrong, right, found := 0, 0, 0
	for id, record := range truth {
		switch {
		case contradicted(record):
			wrong++
			require.True(t, listed[id], "the conflict about %+v", record)
		case record.Right:
			right++
			if joined[id] {
				found++
			}
		}
	}
	require.GreaterOrEqual(t, wrong, 6, "records that something contradicts")
	require.Greater(t, float64(found), 0.97*float64(right), "%d of %d right records are joined", found, right)
}

func contradicted(r sim.RecordTruth) bool { return !r.Right && (r.ByNeighbour || r.ByDescription) }

// json reads a path of the daemon's API.
func (r *running) json(path string, into any) {
	status, body := r.get(path)
	require.Equal(r.t, http.StatusOK, status, body)
	require.NoError(r.t, json.Unmarshal([]byte(body), into))
}
