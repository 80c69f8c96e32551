package daemon

import (
	"fmt"
	"net/url"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"toneout/internal/report"
)

// planted is a fault by the simulator's record and the rules that are published: the
// first poll that shows it, and the end.
type planted struct {
	run, kind        string
	since, over, end time.Time // it counts until over, and is open until its end
	opened           time.Time // when the daemon first listed it
	failed           int
}

// plantedFaults are those that are known exactly. A run that fell to 100 Mbit/s is
// nobody's fault any longer with its third poll at full speed and lets go with the
// tenth; errors end with the repair that was proven.
func (q *quarter) plantedFaults() (all []planted) {
	for _, p := range openPairs {
		f := planted{run: p.run, kind: "below-design-speed"}
		well := 0
		for _, s := range q.truth[p.run] {
			if s.at.Before(p.from) || !f.end.IsZero() {
				continue
			}
			switch {
			case s.mbps == 100 && f.since.IsZero():
				f.since = s.at
			case s.mbps == 1000 && !f.since.IsZero():
				if well++; well == 3 {
					f.over = s.at
				} else if well == 10 {
					f.end = s.at
				}
			}
		}
		all = append(all, f)
	}
	for _, b := range badTerminations {
		f := planted{run: "A2", kind: "frame-errors", over: b.repaired, end: b.repaired}
		if !b.failed.IsZero() {
			f.failed = 1
		}
		var last seen
		for _, s := range q.truth["A2"] {
			if s.at.After(b.from) && f.since.IsZero() && s.damaged > last.damaged {
				f.since = s.at
			}
			last = s
		}
		all = append(all, f)
	}
	slices.SortFunc(all, func(a, b planted) int { return a.since.Compare(b.since) })
	for i := range all {
		for _, at := range q.shown[all[i].run+" "+all[i].kind] {
			if !at.Before(all[i].since) && all[i].opened.IsZero() {
				all[i].opened = at
			}
		}
	}
	return all
}

func quarterSpan() string {
	return "from=2026-02-01T00:00:00Z&to=" + url.QueryEscape(quarterBegins.AddDate(0, 0, quarterDays).Format(time.RFC3339))
}

// livesAgree: the faults that the timelines of acc-1's runs tell of are those planted, no
// more and no fewer, each since the first poll that shows it and told within the
// rule of its kind.
func livesAgree(t *testing.T, q *quarter) {
	var got []report.Life
	for _, id := range []string{"A1", "A2", "A3", "A4", "A5", "A6"} {
		var told struct{ Faults []report.Life }
		q.get("/api/runs/"+id+"/timeline?step=3h&"+quarterSpan(), &told)
		got = append(got, told.Faults...)
	}
	slices.SortFunc(got, func(a, b report.Life) int { return a.Since.Compare(b.Since) })
	want := q.plantedFaults()
	require.Len(t, got, len(want), "%+v", got)
	for i, f := range want {
		l := got[i]
		require.Equal(t, f.run+" "+f.kind, l.Run+" "+l.Kind)
		require.True(t, f.since.Equal(l.Since), "%s: since %v, and the simulator's first is of %v", f.run, l.Since, f.since)
		end, over := l.End()
		require.True(t, over, f)
		if f.kind == "frame-errors" { // the post is timed by the clock, to the microsecond
			require.WithinDuration(t, f.end, end, 0, f.run)
			require.LessOrEqual(t, l.Opened.Sub(l.Since), 6*quarterEvery)
		} else {
			require.True(t, f.end.Equal(end), "%s: %v, not %v", f.run, end, f.end)
			require.Equal(t, 2*quarterEvery, l.Opened.Sub(l.Since), "three polls below it with traffic")
		}
		require.True(t, f.opened.Equal(l.Opened), "%s: %v, not %v", f.run, l.Opened, f.opened)
		require.Equal(t, f.failed, l.Failed, f)
	}
}

// months of the zone that the quarter touches, by the calendar.
var quarterMonths = []struct {
	name     string
	from, to time.Time
}{ // Berlin is an hour before UTC, and two from 29 March (Directive 2000/84/EC)
	{"2026-02", on(2, 1, 0), on(2, 28, 23)},
	{"2026-03", on(2, 28, 23), on(3, 31, 22)},
	{"2026-04", on(3, 31, 22), on(4, 30, 22)},
	{"2026-05", on(4, 30, 22), on(5, 3, 0)},
}

// figuresAgree counts acc-1's faults a second time, slot by slot of ten minutes.
func figuresAgree(t *testing.T, q *quarter) {
	faults := q.plantedFaults()
	planned := func(run string, at time.Time) bool {
		for _, w := range plannedWorks {
			if w.run == run && !at.Before(w.from) && at.Before(w.to) {
				return true
			}
		}
		return false
	}
	groupsOf := map[string]func(f planted) []string{
		"space": func(planted) []string { return []string{"acc-1-TR"} },
		"cable": func(planted) []string { return []string{"6A"} },
		"installer": func(f planted) []string {
			switch {
			case f.run != "A3":
				return []string{"Quayside"}
			case f.since.Before(otherInventory):
				return []string{"Harrow"}
			}
			return []string{"Brill"}
		},
		"pathway": func(f planted) []string {
			if f.run == "A3" {
				return []string{"tray-1", "riser"}
			}
			return []string{fmt.Sprint("tray-", 1+(f.run[1]-'0')%2)}
		},
	}
	for by, groups := range groupsOf {
		var got report.Figures
		q.get("/api/figures?zone=Europe/Berlin&by="+by+"&"+quarterSpan(), &got)
		require.Len(t, got.Months, len(quarterMonths))
		if by == "space" {
			require.Equal(t, 7, *groupNamed(got.Months[0], "acc-1-TR").Runs, "with the fibre")
			require.Equal(t, 3, *groupNamed(got.Months[0], "acc-2-TR").Runs)
		}
		values := map[string]bool{}
		for _, f := range faults {
			for _, v := range groups(f) {
				values[v] = true
			}
		}
		for m, month := range quarterMonths {
			told := got.Months[m]
			require.Equal(t, month.name, told.Month)
			require.True(t, month.from.Equal(told.From) && (month.to.Equal(told.To) || m == 3), "%v", told)
			for value := range values {
				checkGroup(t, fmt.Sprint(by, " ", value, " ", month.name), groupNamed(told, value), month.from, month.to, faults, planned,
					func(f planted) bool { return slices.Contains(groups(f), value) })
			}
		}
	}
}

func groupNamed(m report.Month, value string) (none report.Group) {
	for _, g := range m.Groups {
		if g.Value == value {
			return g
		}
	}
	return none
}

func checkGroup(t *testing.T, name string, got report.Group, from, to time.Time, faults []planted, planned func(string, time.Time) bool, mine func(planted) bool) {
	in := func(at time.Time) bool { return !at.Before(from) && at.Before(to) }
	slots, plannedSlots, runs := 0, 0, map[string]bool{}
	for at := from; at.Before(to); at = at.Add(quarterEvery) {
		for _, run := range []string{"A1", "A2", "A3", "A4", "A5", "A6"} {
			stands := slices.ContainsFunc(faults, func(f planted) bool { return mine(f) && f.run == run && !at.Before(f.since) && at.Before(f.over) })
			switch {
			case stands && planned(run, at):
				plannedSlots++
			case stands:
				slots++
				runs[run] = true
			}
		}
	}
	opened, ended, repeats, failed, open := 0, 0, 0, 0, 0
	var detect, repair float64 // seconds, of those that opened, and ended
	for i, f := range faults {
		if !mine(f) {
			continue
		}
		openedAt := f.opened
		if in(openedAt) {
			opened++
			detect += openedAt.Sub(f.since).Seconds()
			for _, before := range faults[:i] {
				if before.run == f.run && before.kind == f.kind && openedAt.Sub(before.end) < 30*24*time.Hour {
					repeats++
					break
				}
			}
		}
		if openedAt.Before(to) && !f.end.Before(to) {
			open++
		}
		if in(f.end) {
			ended++
			failed += f.failed
			for at := openedAt; at.Before(f.end); at = at.Add(quarterEvery) {
				if !planned(f.run, at) {
					repair += quarterEvery.Seconds()
				}
			}
		}
	}
	const slotsOfDay = 24 * 6
	require.InDelta(t, float64(slots)/slotsOfDay, got.FaultyRunDays, 1e-9, name)
	require.InDelta(t, float64(plannedSlots)/slotsOfDay, got.PlannedRunDays, journalEvery.Seconds()/86400, name) // what alarms nobody is found by the writer's look
	require.Equal(t, []int{len(runs), opened, ended, repeats, failed, open}, []int{got.FaultyRuns, got.Opened, got.Ended, got.Repeats, got.FailedRepairs, got.Open}, "%s: %+v", name, got)
	if opened > 0 {
		require.Equal(t, opened, got.Detect.Count, name)
		require.InDelta(t, detect/float64(opened), got.Detect.Mean, 1e-6, name)
	}
	if ended > 0 {
		require.InDelta(t, repair/float64(ended), got.Repair.Mean, journalEvery.Seconds(), name) // likewise
	} else {
		require.Nil(t, got.Repair, name)
	}
}
