package daemon

import (
	"encoding/json"
	"net/http"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/fault"
	"toneout/internal/plant"
	"toneout/internal/sim"
	"toneout/internal/web"
)

// The demo's promise: 60 s after the start every
// planted fault points at its port and run, look-alikes are not blamed on the
// cable, and nothing else is raised. The answer book is the simulator's own.
func TestFerrowQuayByTheAnswerBook(t *testing.T) {
	t.Parallel()
	campus := sim.FerrowQuay(1, begin)
	r, clock := campusOn(t, campus, 58*time.Second)
	clock.wait(t, 4*time.Minute)
	checkAgainstBook(t, campus, r.faults(), func(planted sim.PlantedFault, run string) bool { return run == planted.Run })
	status, body := r.get("/readyz")
	require.Equal(t, http.StatusOK, status, body)
	checkAudit(t, campus, r)
	checkShared(t, campus, r)
}

// checkShared holds what is told that faults have in common against the answer book.
func checkShared(t *testing.T, campus *sim.Campus, r *running) {
	var shared []fault.SharedCause
	status, body := r.get("/api/shared-causes")
	require.Equal(t, http.StatusOK, status, body)
	require.NoError(t, json.Unmarshal([]byte(body), &shared))
	require.Len(t, shared, len(campus.Shared()))
	for i, planted := range campus.Shared() {
		require.Equal(t, [2]string{planted.Attribute, planted.Value}, [2]string{string(shared[i].Attribute), shared[i].Value})
		require.Subset(t, shared[i].Faulty, planted.Runs)
	}
}

// isShared tells whether a planted fault is one of many of a shared cause.
func isShared(campus *sim.Campus, planted sim.PlantedFault) bool {
	return slices.ContainsFunc(campus.Shared(), func(c sim.PlantedCause) bool { return slices.Contains(c.Runs, planted.Run) })
}

// checkAudit holds the audit against the simulator's book of wrong records:
// each is found, and no end that the switches show is said to be missing.
func checkAudit(t *testing.T, campus *sim.Campus, r *running) {
	status, body := r.get("/api/audit?upgrade=next")
	require.Equal(t, http.StatusOK, status, body)
	var report web.AuditReport
	require.NoError(t, json.Unmarshal([]byte(body), &report))
	require.NotNil(t, report.At)
	require.NotEmpty(t, report.Readiness)
	found := map[string]bool{}
	for _, f := range report.Findings {
		found[f.Run] = true
		require.NotEqual(t, plant.PortUnknown, f.Rule, "%+v", f)
	}
	require.Greater(t, len(campus.RecordErrors()), 20)
	for _, wrong := range campus.RecordErrors() {
		require.True(t, found[wrong.Run], "%+v", wrong)
	}
}

// lookAlikes are the causes to be told for what is no fault of the cable.
var lookAlikes = map[string]fault.Cause{
	"sleeping-pc":   fault.FarEndAsleep,
	"legacy-device": fault.FarEndLimit,
}

// checkAgainstBook holds every fault against the simulator's answer book; fits
// tells whether a fault planted at a port may be told of a run.
func checkAgainstBook(t *testing.T, campus *sim.Campus, faults []fault.Fault, fits func(planted sim.PlantedFault, run string) bool) {
	left := map[int]bool{}
	for i := range faults {
		left[i] = true
	}
	for _, planted := range campus.Faults() {
		at := -1
		for i, f := range faults {
			if string(f.Kind) == planted.Expect && isAt(campus, f, planted) {
				at = i
			}
			if planted.Quiet && isAt(campus, f, planted) {
				require.True(t, f.Quiet, "%+v is no alarm: %+v", planted, f)
				require.Equal(t, lookAlikes[planted.What], f.Cause(), "%+v: %+v", planted, f)
				delete(left, i)
			}
			if !planted.Blame && f.Alarm && isAt(campus, f, planted) {
				require.NotEqual(t, fault.AboutRun, f.About, "%+v is not the cable's fault: %+v", planted, f)
			}
			bothEnds := f.Run == "" && (string(f.Kind) == planted.Expect || slices.Contains(planted.Also, string(f.Kind)))
			if (bothEnds || slices.Contains(planted.Maybe, string(f.Kind))) && isAt(campus, f, planted) {
				delete(left, i)
			}
		}
		if planted.Expect == "" || planted.Record && planted.Run == "" {
			continue
		}
		require.GreaterOrEqual(t, at, 0, "%+v was not found", planted)
		f := faults[at]
		require.True(t, fits(planted, f.Run), "%+v is told of run %q", planted, f.Run)
		require.True(t, f.Alarm || f.SharedCause != "" && isShared(campus, planted), "%+v: %+v", planted, f)
		if planted.Cause != "" && f.Run != "" {
			require.Equal(t, planted.Cause, string(f.Cause()), "%+v: %+v", planted, f)
		}
		delete(left, at)
		for _, kind := range planted.Also {
			i := slices.IndexFunc(faults, func(f fault.Fault) bool { return string(f.Kind) == kind && isAt(campus, f, planted) })
			require.GreaterOrEqual(t, i, 0, "%+v does not show as %s", planted, kind)
			delete(left, i)
		}
	}
	for i := range left {
		require.Fail(t, "a fault that nobody planted", "%+v", faults[i])
	}
}

// isAt tells whether a fault is at the planted one's port: the port itself, or
// the other end of its cable, since a run's fault is named by its near end.
func isAt(campus *sim.Campus, f fault.Fault, planted sim.PlantedFault) bool {
	if f.Switch == planted.Switch && f.Port == planted.Port {
		return true
	}
	cable := campus.Cable(campus.Switch(planted.Switch).Port(planted.Port))
	return cable != nil && cable.A != nil && cable.B != nil &&
		f.Switch == cable.A.Switch().Name && f.Port == cable.A.Name
}
