package sequential

import (
	"bytes"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// J. Zar, "Biostatistical Analysis", table of critical values of Rayleigh's z
// = q^2/n (memory), and for two vectors the exact chance: the angle between
// them is even, so P(Q > q) = 1 - (2/pi) asin(q/2), which the approximation is
// not made for.
func TestRayleighAgainstPrintedValues(t *testing.T) {
	rows := []struct{ n, z, chance float64 }{
		{8, 2.899, 0.05}, {10, 2.919, 0.05}, {20, 2.958, 0.05}, {100, 2.988, 0.05}, {1e6, 2.9957, 0.05},
	}
	for _, row := range rows {
		require.InEpsilon(t, row.chance, rayleigh(row.n, math.Sqrt(row.z*row.n)), 0.01, "n = %v", row.n)
	}
}

func TestCircularTestsBySimulation(t *testing.T) {
	const plays = 8000
	for _, n := range []int{5, 8, 12, 20, 40, 100} {
		random := rand.New(rand.NewPCG(1, uint64(n)))
		gains, chances := make([]float64, plays), make([]float64, plays)
		for i := range plays {
			gains[i], chances[i] = evenEvents(random, n)
		}
		slices.Sort(gains)
		slices.Sort(chances)
		critical := gains[plays*995/1000]
		t.Logf("n = %d: scan critical %.2f, Rayleigh's 0.005 quantile %.4f", n, critical, chances[plays*5/1000])
		require.InDelta(t, critical, scanCritical(float64(n)), 0.4, "n = %d", n)
		require.InDelta(t, 0.005, chances[plays*5/1000], 0.0035, "n = %d", n)
	}
}

// evenEvents throws n events on the circle: the gain of the densest of all
// windows that begin and end at an event, and Rayleigh's chance.
func evenEvents(random *rand.Rand, n int) (gain, chance float64) {
	u := make([]float64, n)
	x, y := 0.0, 0.0
	for i := range u {
		u[i] = random.Float64()
		x += math.Cos(2 * math.Pi * u[i])
		y += math.Sin(2 * math.Pi * u[i])
	}
	slices.Sort(u)
	for i := range u {
		for o := 1; o < n; o++ {
			w := math.Mod(u[(i+o-1)%n]-u[i]+1, 1)
			if w > 1.0/3 {
				break
			}
			gain = max(gain, scanGain(float64(o), float64(n), max(w, 1.0/48)))
		}
		if w := math.Mod(u[(i+n-1)%n]-u[i]+1, 1); w <= 1.0/3 {
			gain = max(gain, scanGain(float64(n), float64(n), max(w, 1.0/48)))
		}
	}
	return gain, rayleigh(float64(n), math.Hypot(x, y))
}

// By hand: 10 events, all in a window of a tenth: 10 ln 10; 5 of them: 5 ln 5 + 5 ln(5/9).
func TestScanGainByHand(t *testing.T) {
	require.InDelta(t, 23.0259, scanGain(10, 10, 0.1), 1e-4)
	require.InDelta(t, 5.1083, scanGain(5, 10, 0.1), 1e-4)
	require.Zero(t, scanGain(1, 10, 0.1))
}

// schedule is a port of errored polls by the hour of the week and load.
type schedule struct {
	name string
	load func(hour int) float64               // bits a poll, 0 for no traffic
	rate func(hour int, load float64) float64 // chance of an errored poll
	run  int                                  // polls an episode lasts
}

func businessLoad(hour int) float64 {
	if h := hour % 24; h >= 8 && h < 18 && hour/24 < 5 {
		return 1.6e9
	}
	return 3.2e7
}

func evenLoad(int) float64 { return 1e9 }

// played is the hours of so many weeks of a schedule, polled each minute.
func (h schedule) played(random *rand.Rand, weeks int) *Hours {
	var log Hours
	left, begun := 0, false
	monday := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	for poll := range weeks * 7 * 1440 {
		hour := poll / 60 % hoursOfWeek
		load := h.load(hour)
		if load == 0 {
			continue
		}
		s := Sample{Bits: load, Seconds: 60}
		s.At = monday.Add(time.Duration(poll) * time.Minute)
		if left--; random.Float64() < h.rate(hour, load) {
			left = max(left, h.run)
		}
		if left > 0 {
			s.Errored, begun = 1, true
		}
		if begun {
			log.Update(s)
		}
	}
	return &log
}

func errorsByLoad(rate float64) func(int, float64) float64 {
	return func(_ int, load float64) float64 { return rate * load / 1.6e9 }
}

func errorsByTime(rate float64) func(int, float64) float64 {
	return func(int, float64) float64 { return rate }
}

func TestSteadyErrorsKeepToNoHours(t *testing.T) {
	sleeper := func(hour int) float64 {
		if h := hour % 24; h < 7 || h >= 20 {
			return 0
		}
		return businessLoad(hour)
	}
	rows := []schedule{
		{"a few by load", businessLoad, errorsByLoad(1e-3), 1},
		{"many by load", businessLoad, errorsByLoad(0.02), 1},
		{"always by load", businessLoad, errorsByLoad(0.5), 1},
		{"a few by time", businessLoad, errorsByTime(1e-3), 1},
		{"many by time", businessLoad, errorsByTime(0.02), 1},
		{"even load", evenLoad, errorsByLoad(2e-3), 1},
		{"a sleeper, by load", sleeper, errorsByLoad(5e-3), 1},
		{"a sleeper, by time", sleeper, errorsByTime(2e-3), 1},
		{"long episodes by time", businessLoad, errorsByTime(5e-4), 180},
		{"long episodes by load", businessLoad, errorsByLoad(1e-3), 180},
	}
	const plays = 400
	called := 0
	for i, row := range rows {
		random := rand.New(rand.NewPCG(6, uint64(i)))
		mine, events := 0, 0
		for range plays {
			log := row.played(random, 1+random.IntN(4))
			for _, n := range log.log.Errored {
				events += int(n)
			}
			if log.Recurrence() > 0 {
				mine++
			}
		}
		t.Logf("%s: %.1f errored hours, concentrated %.4f", row.name, float64(events)/plays, float64(mine)/plays)
		called += mine
		require.LessOrEqual(t, mine, plays*25/1000, row.name)
	}
	require.LessOrEqual(t, called, plays*len(rows)/100)
}

func TestMachinesOfCertainHoursAreFound(t *testing.T) {
	at := func(days, from, to int, rate float64) func(int, float64) float64 {
		return func(hour int, _ float64) float64 {
			if h := hour % 24; h >= from && h < to && days>>(hour/24)&1 == 1 {
				return rate
			}
			return 0
		}
	}
	rows := []struct {
		schedule
		weeks int
		every time.Duration
	}{
		{schedule{"8 h a day", evenLoad, at(0b1111111, 9, 17, 0.2), 1}, 2, day},
		{schedule{"2 h a day, now and then", evenLoad, at(0b1111111, 5, 7, 0.01), 1}, 2, day},
		{schedule{"3 h on Thursdays", evenLoad, at(0b0001000, 13, 16, 0.2), 1}, 6, week},
		{schedule{"8 h on working days", evenLoad, at(0b0011111, 9, 17, 0.2), 1}, 12, week},
		{schedule{"the lift's hour, under load", businessLoad, at(0b0011111, 12, 13, 0.2), 1}, 2, day},
	}
	for i, row := range rows {
		random := rand.New(rand.NewPCG(7, uint64(i)))
		found := 0
		const plays = 50
		for range plays {
			if row.played(random, row.weeks).Recurrence() == row.every {
				found++
			}
		}
		t.Logf("%s: %d of %d", row.name, found, plays)
		require.GreaterOrEqual(t, found, plays*9/10, row.name)
	}
	machine := schedule{"", evenLoad, at(0b1111111, 9, 17, 0.2), 1}
	c, ok := machine.played(rand.New(rand.NewPCG(1, 1)), 2).Concentration()
	require.True(t, ok)
	require.InDelta(t, 9, c.From.Hours(), 1)
	require.InDelta(t, 8, c.Length.Hours(), 1)
	require.Greater(t, c.Inside, 0.8)
}

func TestHoursAreWrittenDownAndReadBack(t *testing.T) {
	log := schedule{"", businessLoad, errorsByTime(0.01), 1}.played(rand.New(rand.NewPCG(1, 2)), 2)
	written, err := log.AppendBinary([]byte("before"))
	require.NoError(t, err)
	require.Len(t, written, len("before")+1+1036)
	var read Hours
	require.NoError(t, read.UnmarshalBinary(written[len("before"):]))
	require.Equal(t, *log, read)
	require.ErrorContains(t, read.UnmarshalBinary([]byte{9, 1}), "version 9")
	require.Error(t, read.UnmarshalBinary(nil))
	require.Error(t, read.UnmarshalBinary(written[len("before"):len(written)-1]))
	require.Equal(t, *log, read, "a failed reading changes nothing")
}

func FuzzHoursReadBack(f *testing.F) {
	written, _ := (&Hours{}).AppendBinary(nil)
	f.Add(written)
	f.Fuzz(func(t *testing.T, data []byte) {
		var h Hours
		if h.UnmarshalBinary(data) != nil {
			return
		}
		c, _ := h.Concentration()
		require.False(t, math.IsNaN(c.Inside))
		again, err := h.AppendBinary(nil)
		require.NoError(t, err)
		require.True(t, bytes.Equal(data, again))
	})
}
