package report

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func at(month time.Month, day, hour int) time.Time {
	return time.Date(2026, month, day, hour, 0, 0, 0, time.UTC)
}

func told(what What, at time.Time, run, kind string, since time.Time, change ...func(*Record)) Told {
	r := Record{Run: run, Switch: "sw-1", Port: "1/1", Kind: kind, Since: since, Cause: "loose-plug", Space: "TR"}
	for _, c := range change {
		c(&r)
	}
	return Told{At: at, What: what, Fault: run + kind + since.String(), Record: r}
}

func quiet(r *Record) { r.Quiet, r.Cause = true, "far-end-asleep" }
func work(r *Record)  { r.Planned = true }

func TestLives(t *testing.T) {
	since := at(3, 1, 0)
	lives := Lives([]Told{
		told(Opened, at(3, 1, 1), "R", "no-link", since),
		told(Changed, at(3, 1, 2), "R", "no-link", since, work),
		told(Changed, at(3, 1, 3), "R", "no-link", since, work), // of something else
		told(Changed, at(3, 1, 4), "R", "no-link", since, quiet),
		told(Closed, at(3, 1, 5), "R", "no-link", since, quiet),
		told(Closed, at(3, 1, 6), "other", "no-link", since), // its opening is not known
		told(Opened, at(3, 1, 7), "R", "no-link", since),     // the same again, as after a restart
	}, nil)
	require.Len(t, lives, 2)
	require.Equal(t, []State{{since, false, false}, {at(3, 1, 2), true, false}, {at(3, 1, 4), false, true}}, lives[0].States)
	require.Equal(t, at(3, 1, 5), *lives[0].Closed)
	require.Equal(t, "loose-plug", lives[0].Cause, "what was said last is of its way out")
	_, over := lives[1].End()
	require.False(t, over)
}

func TestRepairsOfALife(t *testing.T) {
	opened := []Told{told(Opened, at(3, 1, 1), "R", "frame-errors", at(3, 1, 0)), told(Closed, at(3, 5, 0), "R", "frame-errors", at(3, 1, 0))}
	repair := func(run string, made, proven, failed time.Time, kinds ...string) Repair {
		return Repair{Run: run, At: made, Proven: proven, Failed: failed, Kinds: kinds}
	}
	never := time.Time{}
	for name, row := range map[string]struct {
		repairs []Repair
		end     time.Time
		failed  int
	}{
		"none":                {nil, at(3, 5, 0), 0},
		"proven":              {[]Repair{repair("R", at(3, 3, 0), at(3, 5, 0), never, "frame-errors")}, at(3, 3, 0), 0},
		"waits for its proof": {[]Repair{repair("R", at(3, 3, 0), never, never)}, at(3, 5, 0), 0},
		"failed, then proven": {[]Repair{
			repair("R", at(3, 2, 0), never, at(3, 2, 5), "frame-errors"), repair("R", at(3, 4, 0), at(3, 5, 0), never, "frame-errors"),
		}, at(3, 4, 0), 1},
		"of another run":  {[]Repair{repair("S", at(3, 3, 0), at(3, 5, 0), never, "frame-errors")}, at(3, 5, 0), 0},
		"of another kind": {[]Repair{repair("R", at(3, 3, 0), at(3, 5, 0), never, "no-link")}, at(3, 5, 0), 0},
		"before it":       {[]Repair{repair("R", at(2, 3, 0), at(2, 5, 0), never, "frame-errors")}, at(3, 5, 0), 0},
	} {
		l := Lives(opened, row.repairs)[0]
		end, over := l.End()
		require.True(t, over, name)
		require.Equal(t, row.end, end, name)
		require.Equal(t, row.failed, l.Failed, name)
	}
}

// A run of two kinds at once is faulty once; a fault over the border is in both months.
func TestFiguresOfTwoMonths(t *testing.T) {
	lives := Lives([]Told{
		told(Opened, at(3, 30, 1), "R", "frame-errors", at(3, 30, 0)),
		told(Opened, at(3, 30, 12), "R", "link-flapping", at(3, 30, 12)),
		told(Closed, at(3, 31, 0), "R", "link-flapping", at(3, 30, 12)),
		told(Closed, at(4, 2, 0), "R", "frame-errors", at(3, 30, 0)),
		told(Opened, at(4, 10, 0), "R", "frame-errors", at(4, 10, 0)), // a repeat
		told(Changed, at(4, 10, 6), "R", "frame-errors", at(4, 10, 0), work),
		told(Changed, at(4, 10, 18), "R", "frame-errors", at(4, 10, 0)),
		told(Closed, at(4, 11, 0), "R", "frame-errors", at(4, 10, 0)),
		told(Opened, at(4, 29, 0), "S", "no-link", at(4, 29, 0)),
		told(Opened, at(4, 1, 0), "Q", "below-design-speed", at(4, 1, 0), quiet), // nobody's
	}, nil)
	watched := func(from, _ time.Time) time.Duration {
		if from.Before(at(3, 1, 0)) {
			return 0
		}
		return 29 * Day
	}
	f := FiguresOf(lives, Question{By: BySpace, From: at(2, 1, 0), To: at(6, 1, 0), Now: at(4, 30, 0), Zone: time.UTC, Runs: map[string]int{"TR": 3, "empty": 1}, Watched: watched})
	require.Equal(t, at(4, 30, 0), f.Known)
	require.Len(t, f.Months, 3, "of what is to come nothing is told")
	require.Empty(t, f.Months[0].Groups, "of what nobody watched neither")
	runs, none := 3, 1
	require.Equal(t, []Group{
		{Value: "TR", Runs: &runs, FaultyRuns: 1, FaultyRunDays: 2, Opened: 2, Ended: 1, Open: 1, Detect: &Spread{2, 0, 1800, 1800, 3600}, Repair: &Spread{1, 43200, 43200, 43200, 43200}},
		{Value: "empty", Runs: &none},
	}, f.Months[1].Groups)
	april := f.Months[2].Groups[0]
	require.InDelta(t, 1+0.5+1, april.FaultyRunDays, 1e-12)
	require.InDelta(t, 0.5, april.PlannedRunDays, 1e-12)
	require.Equal(t, []int{2, 2, 2, 1, 1}, []int{april.FaultyRuns, april.Opened, april.Ended, april.Open, april.Repeats})
	require.Equal(t, &Spread{2, 12 * 3600, (12 + 71) * 1800, (12 + 71) * 1800, 71 * 3600}, april.Repair, "planned work is not in it")
}

// The journal keeps faults for longer than the history keeps polls.
func TestFiguresOlderThanTheHistory(t *testing.T) {
	lives := Lives([]Told{told(Opened, at(3, 30, 1), "R", "frame-errors", at(3, 30, 0)), told(Closed, at(4, 1, 12), "R", "frame-errors", at(3, 30, 0))}, nil)
	f := FiguresOf(lives, Question{From: at(2, 1, 0), To: at(6, 1, 0), Now: at(6, 1, 0), Zone: time.UTC, Watched: func(_, _ time.Time) time.Duration { return 0 }})
	var days []float64
	for _, m := range f.Months {
		require.Zero(t, *m.WatchedDays)
		for _, g := range m.Groups {
			days = append(days, g.FaultyRunDays)
		}
	}
	require.Equal(t, []float64{2, 0.5}, days, "of February and May nobody knows anything")
}

// A switch tells of a link that went long before anybody watched: none of that counts,
// and Since stays.
func TestFiguresBeginWithTheWatching(t *testing.T) {
	first := at(3, 20, 0)
	for name, row := range map[string]struct {
		seen    *time.Time
		days    float64
		detect  *Spread
		undated int
	}{
		"watched since the 20th": {&first, 5, &Spread{1, 3600, 3600, 3600, 3600}, 0},
		"nobody knows":           {nil, 5 - 1.0/24, nil, 1},
	} {
		lives := Lives([]Told{told(Opened, at(3, 20, 1), "R", "no-link", at(2, 10, 0)), told(Changed, at(3, 24, 0), "R", "no-link", at(2, 10, 0), work)}, nil)
		require.Nil(t, lives[0].Seen, "of this kind nobody told yet")
		lives[0].Seen = row.seen
		f := FiguresOf(lives, Question{From: at(2, 1, 0), To: at(3, 25, 0), Now: at(3, 25, 0), Zone: time.UTC})
		february, march := f.Months[0].Groups[0], f.Months[1].Groups[0]
		require.Zero(t, february.FaultyRuns+february.Opened, name)
		require.InDelta(t, row.days, march.FaultyRunDays+march.PlannedRunDays, 1e-9, name)
		require.Equal(t, 1.0, march.PlannedRunDays, name)
		require.Equal(t, row.detect, march.Detect, name)
		require.Equal(t, row.undated, march.Undated, name)
		require.Equal(t, at(2, 10, 0), lives[0].Since)
	}
}

// A month is one of the zone's calendar.
func TestMonthsOfAZone(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	f := FiguresOf(nil, Question{From: at(2, 10, 0), To: at(4, 10, 0), Now: at(4, 10, 0), Zone: zone})
	var borders []time.Time
	for _, m := range f.Months {
		borders = append(borders, m.From.UTC())
	}
	require.Equal(t, []time.Time{at(2, 10, 0), at(2, 28, 23), at(3, 31, 22)}, borders)
}

func BenchmarkFigures(b *testing.B) {
	var all []Told
	for i := range 5000 {
		since := at(1, 1, 0).Add(time.Duration(i) * 26 * time.Minute)
		run := string(rune('A' + i%500))
		all = append(all, told(Opened, since, run, "no-link", since), told(Closed, since.Add(2*time.Hour), run, "no-link", since))
	}
	for b.Loop() {
		lives := Lives(all, nil)
		FiguresOf(lives, Question{By: BySpace, From: at(1, 1, 0), To: at(4, 1, 0), Now: at(4, 1, 0), Zone: time.UTC})
	}
}
