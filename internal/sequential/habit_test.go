package sequential

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// watched is a detector that is judged by its own habit alone.
type watched struct {
	Detector
	at time.Time
}

func (w *watched) polls(polls int, errored func(poll int) uint64) {
	for poll := range polls {
		w.at = w.at.Add(time.Minute)
		w.Update(Sample{At: w.at, Errored: errored(poll), Bits: 1e9, Seconds: 60}, 0, 4.838e8)
	}
}

func (w *watched) days(days int, errored func(poll int) uint64) { w.polls(days*1440, errored) }

func never(int) uint64 { return 0 }

// hourly loses two frames at once in every sixtieth poll.
func hourly(poll int) uint64 {
	if poll%60 == 30 {
		return 2
	}
	return 0
}

func newWatched() *watched { return &watched{at: monday.Add(-time.Minute)} }

func TestBaselineOfTheFirstWeekAndOfTheDaysAfter(t *testing.T) {
	w := newWatched()
	w.days(7, hourly)
	_, known := w.Baseline()
	require.False(t, known, "none in the first seven days")
	w.polls(1, never)
	b, known := w.Baseline()
	require.True(t, known)
	fade := math.Exp2(-1.0 / 30)
	days := (1 - math.Pow(fade, 7)) / (1 - fade) // the week's, each fainter than the next
	require.InEpsilon(t, 1440*days, b.Polls, 1e-5)
	require.InEpsilon(t, 24*days, b.Errored, 1e-5)
	require.InEpsilon(t, 48*days, b.Frames, 1e-5)
	require.InEpsilon(t, 1.44e12*days, b.Bits, 1e-5)
	require.InEpsilon(t, 86_400*days, b.Seconds, 1e-5)
	require.Equal(t, uint64(2), b.Largest)

	w.days(7, never) // wait
	again, _ := w.Baseline()
	require.Equal(t, b, again)
	w.days(1, never)
	after, _ := w.Baseline()
	require.InEpsilon(t, 1440*(1+days*fade), after.Polls, 1e-5)
	w.days(30, never)
	after, _ = w.Baseline()
	require.InEpsilon(t, 24*days*math.Pow(fade, 31), after.Errored, 0.01, "half-life of 30 days")
}

func TestAGapIsAGap(t *testing.T) {
	w := newWatched()
	w.days(10, hourly)
	before := w.habit.baseline
	w.at = w.at.AddDate(0, 2, 0)
	w.polls(1, never)
	require.Equal(t, before, w.habit.baseline, "two months without a reading teach nothing")
	require.Equal(t, uint8(3), w.habit.days, "but end the day")

	waiting, day := w.habit.days, w.habit.day
	w.at = w.at.Add(-3 * time.Hour)
	w.polls(1, never)
	require.Equal(t, waiting, w.habit.days, "a clock set back by hours ends no day")
	require.Equal(t, day, w.habit.day)

	w.at = w.at.AddDate(-20, 0, 0)
	w.days(12, hourly)
	b, known := w.Baseline()
	require.True(t, known)
	require.InEpsilon(t, 24.0/1440, b.Errored/b.Polls, 0.05, "the days go on under a clock set back by years")
}

func TestWhatIsNotLearned(t *testing.T) {
	w := newWatched()
	w.days(9, never)
	w.polls(1440-60, never)
	waiting := w.habit.days
	w.polls(60, func(poll int) uint64 { return uint64(poll % 20 / 19 * 3) }) // three times in the last hour
	require.Greater(t, w.Level(), 1e5)
	require.False(t, w.Open())
	w.polls(1, never)
	require.Equal(t, waiting, w.habit.days, "a day that ends in suspicion")

	w.polls(30, func(int) uint64 { return 5 })
	require.Equal(t, OverHabit, w.Alarm())
	was := w.habit
	w.days(3, func(poll int) uint64 { return uint64(poll % 3) })
	require.True(t, w.Open())
	require.Equal(t, was, w.habit, "an open alarm")
}

// A climb may be too slow for any day to stand out from the week before.
func TestARateThatDoublesWeeklyAlarms(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 12))
	const rate = 0.002 // errored polls
	for range 10 {
		w := newWatched()
		w.days(30, func(int) uint64 { return chance(random, rate) })
		require.False(t, w.Open())
		minutes, climbed := 0, 1.0
		for ; !w.Open() && climbed < 100; minutes++ {
			climbed = math.Exp2(float64(minutes) / (7 * 1440))
			w.polls(1, func(int) uint64 { return chance(random, rate*climbed) })
		}
		require.Less(t, climbed, 30.0)
	}
}

func chance(random *rand.Rand, p float64) uint64 {
	if random.Float64() < p {
		return 1
	}
	return 0
}

// After 30 clean days each row's loss in every poll alarms in so few.
func TestACleanPortAlarmsSoon(t *testing.T) {
	clean := newWatched()
	clean.days(30, never)
	for _, row := range []struct{ errored, polls uint64 }{{1, 9}, {3, 8}, {30, 8}, {300, 4}} {
		w, polls := *clean, uint64(0)
		for ; !w.Open(); polls++ {
			w.polls(1, func(int) uint64 { return row.errored })
		}
		require.LessOrEqual(t, polls, row.polls, "%d frames a poll", row.errored)
		require.Equal(t, OverHabit, w.Alarm())
	}
}

func TestSuspectsAreOnTheirWay(t *testing.T) {
	const threshold = 4.838e8
	w := newWatched()
	w.days(30, never)
	require.False(t, w.Suspect(threshold))
	for !w.Suspect(threshold) {
		w.polls(1, func(int) uint64 { return 3 })
		require.False(t, w.Open())
	}
	require.GreaterOrEqual(t, w.Level(), threshold/240)
	require.True(t, w.Suspicious())
	for !w.Open() {
		w.polls(1, func(int) uint64 { return 3 })
	}
	require.False(t, w.Suspect(threshold), "no suspect any more")
}

// A port with errors by habit lets go when it has come back to it, though it
// is never without.
func TestLettingGoToTheHabit(t *testing.T) {
	w := newWatched()
	w.days(20, hourly)
	w.polls(1000, func(poll int) uint64 { return uint64(poll%6) / 5 * 2 }) // ten times as often
	require.Equal(t, OverHabit, w.Alarm())
	polls := 0
	for ; w.Open(); polls++ {
		require.Less(t, polls, 3*1440)
		w.polls(1, func(int) uint64 { return hourly(polls) })
	}
	require.Greater(t, polls, 60)
}

// Errors that keep to certain hours are not over before they stayed away
// twice.
func TestLettingGoAwaitsRecurrences(t *testing.T) {
	play := func(await time.Duration) (polls int) {
		w := newWatched()
		w.days(10, never)
		w.Await(24 * time.Hour)
		require.Zero(t, w.clearing.await, "nothing to await without an alarm")
		w.polls(30, func(int) uint64 { return 10 })
		require.True(t, w.Open())
		w.Await(await)
		for ; w.Open(); polls++ {
			require.Less(t, polls, 10_000)
			w.polls(1, never)
		}
		return polls
	}
	require.Less(t, play(0), 200)
	require.Equal(t, 2*1440, play(24*time.Hour))
}
