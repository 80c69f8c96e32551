package history

import (
	"context"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestPollsOnEachEngine(t *testing.T) { onEachEngine(t, pollsTold) }

// What the night's copper run received, poll by poll: 600 good frames a minute, 3 more
// that are damaged for half an hour.
func pollsTold(t *testing.T, q Querier) {
	ports, err := PollsOf(context.Background(), q, Place{Run: "N2-P1-17"}, at(13, 0), at(24, 0))
	require.NoError(t, err)
	require.Len(t, ports, 1)
	require.Equal(t, "acc-n2-1 1/17", ports[0].Switch+" "+ports[0].Port)
	var polls, damaged, gaps int
	for _, p := range ports[0].Polls {
		polls++
		damaged += int(p.Damaged)
		if p.To.Sub(p.From) == pollEvery {
			require.Equal(t, 600+p.Damaged, p.Frames)
			require.Equal(t, within(p.To, at(16, 0), at(16, 30)), p.Damaged > 0, p.To)
			load, told := p.Load()
			require.True(t, told)
			require.Equal(t, 8.0*1250, load)
			continue
		}
		gaps++ // the daemon began to count anew at 19:30; the switch was silent from 21:00
		require.Contains(t, []time.Time{at(18, 0), at(21, 0)}, p.From.UTC().Truncate(time.Hour).Add(time.Hour))
	}
	require.Equal(t, 30*3, damaged)
	require.Equal(t, 2, gaps)
	require.Equal(t, (24-13)*60-90-60, polls, "of each minute but those of which nothing is known, whose last tells of all")

	week, err := WeekOf(context.Background(), q, Place{Run: "N2-P1-17"}, at(13, 0), at(24, 0), time.UTC)
	require.NoError(t, err)
	require.Len(t, week.Ports, 1)
	w := week.Ports[0]
	for hour, cell := range w.Hours {
		switch { // the 2nd of March 2026 is a Monday
		case hour < 12 || hour > 23 || hour == 18 || hour == 21:
			require.Nil(t, cell, hour)
		case hour == 12:
			require.Equal(t, &Sum{1, 0, 600, 0, 60}, cell, "the poll of 13:00:07 lies mostly before 13:00")
		case hour == 16:
			require.Equal(t, &Sum{60, 29, 60*600 + 87, 87, 3600}, cell)
		}
	}
	require.Equal(t, 2, w.Unplaced.Polls, "more than an hour lies between")
}

// The hours of the week in a zone whose clock is changed: 2026-03-29 at 1:00 UTC
// forward and 2026-10-25 at 1:00 UTC back, by the European Union's Directive 2000/84/EC,
// articles 2 and 3.
func TestHoursOverAChangeOfTheClock(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	day := func(month time.Month, day int) (p PortPolls) {
		for at := time.Date(2026, month, day, 0, 0, 0, 0, zone); at.Day() == day; at = at.Add(10 * time.Minute) {
			p.Polls = append(p.Polls, Poll{From: at, To: at.Add(10 * time.Minute), Frames: 1})
		}
		return p
	}
	const sunday = 6 * 24
	for _, row := range []struct {
		of                 PortPolls
		at1, at2, at3, all int
	}{
		{day(time.March, 22), 6, 6, 6, 24 * 6},
		{day(time.March, 29), 6, 0, 6, 23 * 6},
		{day(time.October, 25), 6, 12, 6, 25 * 6},
	} {
		w := weekOf(&row.of, zone)
		polls := func(hour int) int {
			if w.Hours[hour] == nil {
				return 0
			}
			return w.Hours[hour].Polls
		}
		all := 0
		for hour := range hoursOfWeek {
			all += polls(hour)
		}
		require.Equal(t, []int{row.at1, row.at2, row.at3, row.all}, []int{polls(sunday + 1), polls(sunday + 2), polls(sunday + 3), all})
	}
}

func TestBandsOfLoad(t *testing.T) {
	for _, row := range [][3]float64{{0, 0, 1e3}, {999, 0, 1e3}, {1e3, 1e3, 2e3}, {2e3, 2e3, 5e3}, {5e3, 5e3, 1e4}, {1.5e6, 1e6, 2e6}, {9e8, 5e8, 1e9}, {1e9, 1e9, 2e9}} {
		from, to := bandAt(row[0])
		require.Equal(t, row[1:], []float64{from, to})
	}
}

// Errors that are laid out to follow one thing are told to follow it.
func TestWhatErrorsFollow(t *testing.T) {
	for name, row := range map[string]struct {
		damaged func(frames float64) float64 // of a poll
		want    Follows
	}{
		"a share of all frames":     {func(frames float64) float64 { return frames / 1000 }, ShareLevel},
		"a share that follows load": {func(frames float64) float64 { return frames / 1000 * frames / 20000 }, ShareRises},
		"as many in each minute":    {func(float64) float64 { return 20 }, ShareFalls},
		"none":                      {func(float64) float64 { return 0 }, FollowsNothing},
		"hardly a good frame":       {func(frames float64) float64 { return frames / 1000 }, FollowsNothing},
		"too few polls to tell":     {func(frames float64) float64 { return max(0, frames-59_900) }, FollowsNothing},
	} {
		var p PortPolls
		var damaged uint64
		for i := range 600 {
			at := noon.Add(time.Duration(i) * time.Minute)
			frames := 5000 + 100*float64(i*7919%600) // spread over 5,000 to 64,900
			bad := uint64(math.Round(row.damaged(frames)))
			if name == "too few polls to tell" && i%60 > 0 {
				bad = 0
			}
			damaged += bad
			bits := 8000 * frames
			if name == "hardly a good frame" && frames < 50_000 {
				bits = 0
			}
			p.Polls = append(p.Polls, Poll{From: at, To: at.Add(time.Minute), Frames: uint64(frames), Damaged: bad, Bits: bits, Counted: true})
		}
		l := loadOf(&p)
		require.Equal(t, row.want, l.Follows, "%s: %s", name, l.Says)
		var sum uint64
		for i, b := range l.Bands {
			sum += b.Damaged
			require.True(t, b.Low <= b.Estimate && b.Estimate <= b.High && b.From <= b.Mean && b.Mean < b.To, b)
			require.True(t, i == 0 || b.From >= l.Bands[i-1].To)
		}
		require.Equal(t, damaged, sum)
	}
	one := loadOf(&PortPolls{Polls: []Poll{{From: noon, To: noon.Add(time.Minute), Frames: 1000, Damaged: 10, Bits: 1e6, Counted: true}}})
	// Garwood's exact 95 % interval of 10 events: 4.795 to 18.39 (Ulm, Am. J. Epidemiol. 131, 1990, table 1).
	require.InDelta(t, 4.795e-3, one.Bands[0].Low, 1e-6)
	require.InDelta(t, 18.39e-3, one.Bands[0].High, 1e-5)
	require.Equal(t, FollowsNothing, one.Follows)
}
