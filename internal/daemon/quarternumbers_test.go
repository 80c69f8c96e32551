package daemon

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/history"
	"toneout/internal/report"
)

// simStep is what came between two polls by the simulator's record. What came before
// the history's first count is in nobody's.
type simStep struct {
	from, to        time.Time
	frames, damaged uint64
	bits            float64
}

func (q *quarter) steps(run string, from, to time.Time) (all []simStep) {
	var last seen
	for _, s := range q.truth[run] {
		if !s.told {
			continue
		}
		if !s.first && last.at.After(q.truth[run][0].at) && s.frames > last.frames && s.at.After(from) && !s.at.After(to) {
			all = append(all, simStep{last.at, s.at, s.frames - last.frames, s.damaged - last.damaged, 8 * float64(s.octets-last.octets)})
		}
		last = s
	}
	return all
}

// hoursAgree: each of the 168 hours of the week, over a change of the clock.
func hoursAgree(t *testing.T, q *quarter) {
	for _, run := range []string{"A2", "A6", "B1"} {
		var got history.Week
		q.get("/api/runs/"+run+"/hours?zone=Europe/Berlin&"+quarterSpan(), &got)
		require.Len(t, got.Ports, 1)
		want, unplaced := map[string]*history.Sum{}, 0
		for _, s := range q.steps(run, quarterBegins, quarterBegins.AddDate(0, 0, quarterDays)) {
			if s.to.Sub(s.from) > time.Hour {
				unplaced++
				continue
			}
			key := s.from.Add(s.to.Sub(s.from) / 2).In(q.zone).Format("Mon 15")
			if want[key] == nil {
				want[key] = &history.Sum{}
			}
			c := want[key]
			c.Polls++
			c.Frames += s.frames
			c.Damaged += s.damaged
			c.Seconds += s.to.Sub(s.from).Seconds()
			if s.damaged > 0 {
				c.Errored++
			}
		}
		for i, cell := range got.Ports[0].Hours {
			key := time.Date(2026, 3, 2, i, 0, 0, 0, time.UTC).Format("Mon 15") // a Monday
			require.Equal(t, want[key], cell, "%s %s", run, key)
			if run == "B1" {
				strikes := machine(time.Date(2026, 3, 2, i, 0, 0, 0, time.UTC))
				require.Equal(t, strikes, cell.Errored > 0, key)
			}
		}
		if run == "B1" {
			require.Equal(t, 1, unplaced, "the switch was silent for two hours")
			require.Equal(t, 1, got.Ports[0].Unplaced.Polls)
		}
	}
}

// loadAgrees: what the errors of a bad termination, of a machine and of a duplex
// mismatch follow, and each band's sum.
func loadAgrees(t *testing.T, q *quarter) {
	for _, row := range []struct {
		run      string
		from, to time.Time
		follows  history.Follows
	}{
		{"A2", on(2, 26, 11), on(3, 4, 9), history.ShareLevel},
		{"B2", on(2, 9, 1), on(2, 23, 0), history.ShareRises},
		{"A4", on(2, 1, 0), on(3, 1, 0), history.FollowsNothing},
	} {
		var got history.Load
		q.get(fmt.Sprintf("/api/runs/%s/load?from=%s&to=%s", row.run, row.from.Format(time.RFC3339), row.to.Format(time.RFC3339)), &got)
		require.Len(t, got.Ports, 1)
		p := got.Ports[0]
		require.Equal(t, row.follows, p.Follows, "%s: %s", row.run, p.Says)
		steps := q.steps(row.run, row.from, row.to)
		polls := 0
		for _, b := range p.Bands {
			var want history.LoadBand
			for _, s := range steps {
				if load := s.bits / s.to.Sub(s.from).Seconds(); load >= b.From && load < b.To {
					want.Polls++
					want.Frames += s.frames
					want.Damaged += s.damaged
				}
			}
			polls += b.Polls
			require.Equal(t, []uint64{uint64(want.Polls), want.Frames, want.Damaged}, []uint64{uint64(b.Polls), b.Frames, b.Damaged}, "%s from %g", row.run, b.From)
			require.Equal(t, float64(want.Damaged)/float64(want.Frames), b.Estimate)
			require.Contains(t, []float64{1, 2, 5}, math.Round(b.From/math.Pow(10, math.Floor(math.Log10(b.From)+1e-9))))
		}
		require.Equal(t, len(steps), polls, row.run)
	}
}

// changesAgree: two days in which something of everything happened.
func changesAgree(t *testing.T, q *quarter) {
	var got changes
	q.get("/api/changes?from=2026-03-12T00:00:00Z&to=2026-03-13T00:00:00Z", &got)
	require.Len(t, got.Silent, 1)
	require.Equal(t, "acc-2", got.Silent[0].Switch)
	require.True(t, silentFrom.Add(2*quarterEvery+time.Second).Equal(*got.Silent[0].From), "asked three times in vain: %v", got.Silent[0].From)
	require.True(t, silentTo.Add(time.Second).Equal(*got.Silent[0].To), "%v", got.Silent[0].To)

	q.get("/api/changes?from=2026-04-14T00:00:00Z&to=2026-04-15T00:00:00Z", &got)
	require.Empty(t, got.Silent)
	require.Len(t, got.Work, 1)
	require.True(t, got.Work[0].From.Equal(on(4, 14, 13)))
	ofA4 := func(l report.Life) bool { return l.Run != "A4" }
	require.Len(t, slices.DeleteFunc(got.Opened, ofA4), 1)
	require.Len(t, slices.DeleteFunc(got.Closed, ofA4), 1)

	q.get("/api/changes?from=2026-04-01T00:00:00Z&to=2026-04-02T00:00:00Z", &got)
	require.Len(t, got.Inventory, 1)
	require.Equal(t, []string{"A3"}, got.Inventory[0].Changed)

	q.get("/api/changes?from=2026-04-10T00:00:00Z&to=2026-04-14T00:00:00Z", &got)
	require.Len(t, got.Repairs, 2)
	require.Equal(t, []string{"failed", "proven"}, []string{got.Repairs[0].Outcome, got.Repairs[1].Outcome})
}

// timelineAgrees: what happened stands beside the numbers.
func timelineAgrees(t *testing.T, q *quarter) {
	var got struct {
		Ports   []struct{ Polls [][]any }
		Faults  []report.Life
		Repairs []struct{ Cause, Outcome string }
		Work    []struct{ Why string }
		Notes   []any
	}
	q.get("/api/runs/A4/timeline?step=1h&from=2026-04-14T00:00:00Z&to=2026-04-15T00:00:00Z", &got)
	require.Len(t, got.Work, 1)
	require.Equal(t, "new tiles", got.Work[0].Why)
	require.Len(t, got.Faults, 1)
	states := got.Faults[0].States
	require.Equal(t, []bool{false, true, false}, []bool{states[0].Planned, states[1].Planned, states[2].Planned})
	require.True(t, states[1].From.Equal(on(4, 14, 13)) && states[2].From.Equal(on(4, 14, 17)), "%+v", states)
	require.NotNil(t, got.Notes)
	require.NotEmpty(t, got.Ports)
	for _, step := range []time.Duration{quarterEvery, time.Hour, 3 * time.Hour} { // over a silence and a restart
		q.get(fmt.Sprintf("/api/runs/B1/timeline?step=%v&from=2026-03-12T00:00:00Z&to=2026-03-17T00:00:00Z", step), &got)
		require.Len(t, got.Ports, 1)
		answered := map[int64]int{} // by the step's end
		for _, s := range q.truth["B1"] {
			if end := s.at.Truncate(step).Add(step); s.told && s.at.After(on(3, 12, 0)) && s.at.Before(on(3, 17, 0)) {
				answered[end.Unix()]++
			}
		}
		polls := map[int64]int{}
		for _, p := range got.Ports[0].Polls {
			if n, err := strconv.Atoi(p[1].(string)); n > 0 || err != nil {
				require.NoError(t, err)
				polls[int64(p[0].(float64))] = n
			}
		}
		require.Equal(t, answered, polls, step)
	}
	q.get("/api/runs/A2/timeline?step=1h&from=2026-03-03T00:00:00Z&to=2026-03-07T00:00:00Z", &got)
	require.Len(t, got.Repairs, 1)
	require.Equal(t, "proven", got.Repairs[0].Outcome)
	require.Empty(t, got.Work)
}
