package sequential

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

// Where errored polls are an everyday matter, more of them are no evidence, and
// none is piled up unseen: it would be infinite, not be read back, and alarm on
// the day that they are seldom again.
func TestAChannelThatDoesNotCountGathersNothing(t *testing.T) {
	random := rand.New(rand.NewPCG(13, 14))
	w := newWatched()
	w.days(20, func(int) uint64 { return chance(random, 0.15) * (500 + random.Uint64N(1000)) })
	require.True(t, w.habit.baseline.oftenErrored())
	w.polls(200, func(int) uint64 { return 1 }) // small losses all the time
	require.False(t, w.Open())
	require.Less(t, w.relative[errored].mean(), math.MaxFloat32)
	state, err := w.AppendBinary(nil)
	require.NoError(t, err)
	var back Detector
	require.NoError(t, back.UnmarshalBinary(state))
	require.Equal(t, w.Detector, back)
}

// Without a baseline an alarm lets go after as much clean traffic, whatever
// objective the link has by then: another speed's, or none.
func TestLettingGoUnderAnotherObjective(t *testing.T) {
	play := func(then float64) (polls int) {
		var d Detector
		for i := 0; !d.Open(); i++ {
			require.Less(t, i, 1000)
			d.Update(minute(uint64(i%10/9), 1e7), objective, 1e6)
		}
		for ; d.Open(); polls++ {
			require.Less(t, polls, 5000)
			d.Update(minute(0, 1e7), then, 1e6)
		}
		return polls
	}
	as := play(objective)
	for _, then := range []float64{0, objective / 100, objective * 100} {
		require.Equal(t, as, play(then))
	}
}

// Polls of a second are learned from all day long, the evening included.
func TestPollsOfASecondAreLearnedAllDay(t *testing.T) {
	random := rand.New(rand.NewPCG(15, 16))
	var d Detector
	for at := monday; at.Before(monday.AddDate(0, 0, 14)); at = at.Add(time.Second) {
		errored := uint64(0)
		if at.Hour() == 20 {
			errored = 3 * chance(random, 0.02)
		}
		d.Update(Sample{At: at, Errored: errored, Bits: 1e8, Seconds: 1}, 0, 4.838e8*60)
		require.False(t, d.Open(), "%v", at)
	}
	b, known := d.Baseline()
	require.True(t, known)
	require.InEpsilon(t, 86_400.0/72, b.Polls/b.Errored, 0.2)
}

// A port that works at midnight by UTC, a backup say, learns as any other: what
// its evidence rests at is no matter of the one poll that ends the day.
func TestBusyMidnightsAreLearnedFrom(t *testing.T) {
	var d Detector
	for at := monday; at.Before(monday.AddDate(0, 0, 40)); at = at.Add(time.Minute) {
		s := Sample{At: at, Bits: 1e6, Seconds: 60}
		if at.Hour() == 0 {
			s.Bits = 1e11
		}
		d.Update(s, 0, 4.838e8)
	}
	b, _ := d.Baseline()
	require.Greater(t, b.Polls, 20*1440.0, "32 days, fading")
}

// An episode lasts through polls of next to no traffic: they tell nothing of
// it. Without them it has one errored poll in fifty.
func TestAnEpisodeOutlastsIdlePolls(t *testing.T) {
	var d Detector
	poll := 0
	for ; !d.Open(); poll++ {
		require.Less(t, poll, 20_000)
		s := Sample{At: monday.Add(time.Duration(poll) * time.Minute), Bits: 1e3, Seconds: 60}
		if poll%2 == 0 {
			s.Bits = 1e7
			s.Errored = uint64(poll % 100 / 98)
		}
		d.Update(s, objective, 1e6)
	}
	require.Less(t, float64(d.clearing.bad), 1.0/50/1e7, "a third of what it had")
}

// poissonly loses so many frames a poll in the mean.
func poissonly(random *rand.Rand, mean float64) func(int) uint64 {
	errors := distuv.Poisson{Lambda: mean, Src: random}
	return func(int) uint64 { return uint64(errors.Rand()) }
}

// hourlyOf loses so many frames in one poll of every hour.
func hourlyOf(frames uint64) func(int) uint64 {
	return func(poll int) uint64 { return hourly(poll) / 2 * frames }
}

// A port that climbed for good is one alarm, and one that is as before lets go:
// also where errors are an everyday matter, and where they are no more often
// than before but larger.
func TestLettingGoFollowsWhatClimbed(t *testing.T) {
	random := rand.New(rand.NewPCG(17, 18))
	rows := []struct {
		name          string
		before, after func(int) uint64
	}{
		{"3 a poll to 30", poissonly(random, 3), poissonly(random, 30)},
		{"1 a poll to 5", poissonly(random, 1), poissonly(random, 5)},
		{"0.3 a poll to 3", poissonly(random, 0.3), poissonly(random, 3)},
		{"0.03 a poll to 0.3", poissonly(random, 0.03), poissonly(random, 0.3)},
		{"2 an hour to 200", hourlyOf(2), hourlyOf(200)},
	}
	for _, row := range rows {
		w := newWatched()
		w.days(30, row.before)
		require.False(t, w.Open(), row.name)
		w.days(2, row.after)
		require.True(t, w.Open(), row.name)
		for i := range 26 * 1440 {
			w.polls(1, func(int) uint64 { return row.after(i) })
			require.True(t, w.Open(), "%s: nothing changed", row.name)
		}
		polls := 0
		for ; w.Open(); polls++ {
			require.Less(t, polls, 1440, row.name)
			w.polls(1, func(int) uint64 { return row.before(polls) })
		}
	}
}

// A port whose habit was learned before its objective was known, and lies above
// it, is over the objective for as long as that lasts.
func TestAHabitOverTheObjectiveIsOneAlarm(t *testing.T) {
	for _, mean := range []float64{0.1, 0.3, 3} {
		errors, at, alarms := poissonly(rand.New(rand.NewPCG(19, 20)), mean), monday, 0
		var d Detector
		for day := range 48 {
			allowed := 0.0
			if day >= 20 {
				allowed = mean / 100
			}
			for poll := range 1440 {
				at = at.Add(time.Minute)
				was := d.Open()
				d.Update(Sample{At: at, Errored: errors(poll), Bits: 3e9, Seconds: 60}, allowed/3e9, 4.838e8)
				if d.Open() && !was {
					alarms++
				}
			}
		}
		require.LessOrEqual(t, alarms, 2, "%v a poll", mean)
		require.Equal(t, OverObjective, d.Alarm())
	}
}

// A disturbance of half an hour that comes back every day or every few days,
// at no certain hour, is one fault: it stays open once it has come again.
func TestWhatComesBackWithinDaysIsOneFault(t *testing.T) {
	for _, hours := range []float64{20, 26, 30, 48, 72, 120} {
		random := rand.New(rand.NewPCG(21, 22))
		w := newWatched()
		w.days(30, never)
		alarms, next := 0, 0.0
		for minute := range 70 * 1440 {
			if float64(minute) >= next+30 {
				next += 60 * hours * (0.9 + 0.2*random.Float64())
			}
			was := w.Open()
			w.polls(1, func(int) uint64 {
				if float64(minute) < next {
					return 0
				}
				return 3 * chance(random, 0.6)
			})
			if w.Open() && !was {
				alarms++
			}
		}
		require.LessOrEqual(t, alarms, 3, "every %v hours", hours)
		require.True(t, w.Open())
	}
}
