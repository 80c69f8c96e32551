package fault

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"

	"toneout/internal/port"
	"toneout/internal/standards"
)

var noopRepairs = flag.Int("repairs", 25, "repairs that repaired nothing, of each sort of noise; 2000 for the table")

// noise is a fault's way: the damaged frames of a poll.
type noise struct {
	name string
	plug func(*rand.Rand) func(time.Time) uint64
}

// noises are steady, or strike by themselves, for several polls, or at hours of the
// day.
var noises = []noise{
	{"steady, 200 frames a poll", steadily(200)},
	{"steady, 0.3 frames a poll", steadily(0.3)},
	{"steady, 0.02 frames a poll", steadily(0.02)},
	{"single bursts, one an hour", inBurstsOf(time.Hour, 1)},
	{"single bursts, one in 6 hours", inBurstsOf(6*time.Hour, 1)},
	{"single bursts, one a day", inBurstsOf(24*time.Hour, 1)},
	{"bursts of 4 polls, one an hour", inBurstsOf(time.Hour, 4)},
	{"bursts of 4 polls, one in 6 hours", inBurstsOf(6*time.Hour, 4)},
	{"bursts of 4 polls, one a day", inBurstsOf(24*time.Hour, 4)},
	{"bursts of 4 polls, one in 2 days", inBurstsOf(48*time.Hour, 4)},
	{"bursts of 20 polls, one a day", inBurstsOf(24*time.Hour, 20)},
	{"8 hours a day, 0.3 frames a poll", byTheHour(9, 17, 7, 0.3)},
	{"8 hours a day, 0.02 frames a poll", byTheHour(9, 17, 7, 0.02)},
	{"2 hours a day, 0.3 frames a poll", byTheHour(11, 13, 7, 0.3)},
	{"2 hours a day, 0.02 frames a poll", byTheHour(11, 13, 7, 0.02)},
	{"8 hours of a working day, 0.3 frames a poll", byTheHour(9, 17, 5, 0.3)},
	{"2 hours of a working day, 0.3 frames a poll", byTheHour(11, 13, 5, 0.3)},
}

func steadily(mean float64) func(*rand.Rand) func(time.Time) uint64 {
	return byTheHour(0, 24, 7, mean)
}

// byTheHour is noise from one hour to another, on the first days of the week.
func byTheHour(from, to, days int, mean float64) func(*rand.Rand) func(time.Time) uint64 {
	return func(random *rand.Rand) func(time.Time) uint64 {
		return func(at time.Time) uint64 {
			if weekday := (int(at.Weekday()) + 6) % 7; weekday >= days || at.Hour() < from || at.Hour() >= to {
				return 0
			}
			return drawn(random, mean)
		}
	}
}

// inBurstsOf strikes at random moments, for so many polls in the mean; each loses 20
// frames in the mean.
func inBurstsOf(between time.Duration, polls float64) func(*rand.Rand) func(time.Time) uint64 {
	return func(random *rand.Rand) func(time.Time) uint64 {
		burst := false
		return func(time.Time) uint64 {
			burst = burst && random.Float64() >= 1/polls || random.Float64() < every.Seconds()/between.Seconds()
			if !burst {
				return 0
			}
			return 1 + drawn(random, 19)
		}
	}
}

func drawn(random *rand.Rand, mean float64) uint64 {
	if mean < 1 && random.Float64() > mean { // of few hardly two come at once
		return 0
	}
	return max(1, uint64(distuv.Poisson{Lambda: mean, Src: random}.Rand()))
}

// mender is one port without a tracker: a clock, its tests and its proof.
type mender struct {
	port    *portState
	at      time.Time
	damages func(time.Time) uint64
}

const (
	noopThreshold = 1e7 // that of 1,000 ports polled each minute
	noopProof     = 24 * time.Hour
	noopOctets    = 3e9 / 8 // received a poll: 50 Mbit/s
)

func newMender(habit errorTest, at time.Time, damages func(time.Time) uint64) *mender {
	r := &port.Reading{Oper: port.Up, HighSpeed: port.Some[uint32](1000), MAU: 30} // of 1000BASE-T
	return &mender{port: &portState{reading: r, errors: habit}, at: at, damages: damages}
}

// cleanHabit is what a clean port has learned of itself in ten days.
func cleanHabit() errorTest {
	m := newMender(errorTest{Source: port.EtherLike}, start, func(time.Time) uint64 { return 0 })
	m.until(start.Add(10*24*time.Hour), func() bool { return false })
	return m.port.errors
}

// poll plays one as a tracker does.
func (m *mender) poll() {
	m.at = m.at.Add(every)
	r := m.port.reading
	r.At = m.at
	inc := port.Increments{Seconds: every.Seconds()}
	inc.Counters.Set64(port.InOctets, noopOctets)
	inc.Counters.Set64(port.InUnicast, noopOctets/500)
	inc.Counters.Set64(port.FCS, m.damages(m.at))
	inc.Counters.Set64(port.Alignment, 0)
	taken := m.port.errors.observe(r, &inc, standards.Copper, noopThreshold, m.port.proof.waits())
	m.port.proof.watch(m.port, &inc, taken)
}

// until plays on to a moment, or until something is so.
func (m *mender) until(end time.Time, so func() bool) bool {
	for m.at.Before(end) {
		if m.poll(); so() {
			return true
		}
	}
	return false
}

func (m *mender) alarmed() bool { return m.port.errors.detector.Open() }

// proven asks each half hour alone where errors came since: that takes long, and says
// the same soon after.
func (m *mender) proven() bool {
	if m.port.proof.After.Errored > 0 && m.at.Minute()%30 != 0 {
		return false
	}
	return m.port.proof.needs(m.port.errors.Objective, noopProof).met()
}

// outcome is what became of a repair that repaired nothing.
type outcome struct{ Repairs, Better, Failed, NotOpen int }

func (o outcome) String() string {
	_, most := bounds(o.Better, o.Repairs)
	return fmt.Sprintf("%d repairs: %.4f called better (%.4f at most), %.4f failed; %d of others found no fault open",
		o.Repairs, float64(o.Better)/float64(o.Repairs), most, float64(o.Failed)/float64(o.Repairs), o.NotOpen)
}

// repairsNothing plays a port that was clean, whose noise begins at some moment of
// the week, and a repair at a random moment of the ten days from its alarm on.
func (n *noise) repairsNothing(random *rand.Rand, habit errorTest, out, again *outcome) {
	begins := start.Add(10*24*time.Hour + time.Duration(random.Int64N(7*24*60))*time.Minute)
	m := newMender(habit, begins, n.plug(random))
	if !m.until(m.at.Add(60*24*time.Hour), m.alarmed) {
		out.NotOpen++
		return
	}
	if m.repaired(random, 10*24*time.Hour, out) {
		m.repaired(random, 2*24*time.Hour, again) // since it is there still
	}
}

// repaired plays a repair at a random moment within some time that changes nothing, and
// tells whether its proof failed.
func (m *mender) repaired(random *rand.Rand, within time.Duration, out *outcome) bool {
	m.until(m.at.Add(time.Duration(random.Int64N(int64(within/time.Minute)))*time.Minute), func() bool { return false })
	if !m.alarmed() {
		out.NotOpen++ // there is nothing to repair
		return false
	}
	out.Repairs++
	m.port.repair(Repair{ID: "r1", At: m.at, Cause: BadCord}, []*Fault{{Kind: FrameErrors}})
	m.until(m.at.Add(40*24*time.Hour), func() bool { return m.alarmed() || m.proven() })
	switch {
	case m.alarmed():
		out.Failed++
		m.port.proof.Failed = m.at
		return true
	case m.proven():
		out.Better++
	}
	return false
}

// bounds hold a chance that came true in some of many plays, at 95 %: Clopper and
// Pearson, "The use of confidence or fiducial limits illustrated in the case of the
// binomial", Biometrika 26, 1934.
func bounds(some, all int) (low, high float64) {
	low, high = 0, 1
	if some > 0 {
		low = mathext.InvRegIncBeta(float64(some), float64(all-some+1), 0.025)
	}
	if some < all {
		high = mathext.InvRegIncBeta(float64(some+1), float64(all-some), 0.975)
	}
	return low, high
}

// By hand: no success in n leaves 1 - 0.025^(1/n) at most; the table of Clopper and
// Pearson has 0.0252 to 0.5561 for 2 of 10 (memory).
func TestBounds(t *testing.T) {
	_, high := bounds(0, 40)
	require.InDelta(t, 1-math.Pow(0.025, 1.0/40), high, 1e-9)
	low, high := bounds(2, 10)
	require.InDelta(t, 0.0252, low, 1e-4)
	require.InDelta(t, 0.5561, high, 1e-4)
}

// enough repairs show the rate itself; of fewer no more is asked than that they speak
// not against it.
const enough = 400

func (o outcome) check(t *testing.T) {
	rate, _ := bounds(o.Better, o.Repairs)
	if o.Repairs >= enough {
		rate = float64(o.Better) / float64(o.Repairs)
	}
	require.LessOrEqual(t, rate, 0.05, o.String())
}

// A repair that repaired nothing is called better in 1 of 20 at most, whatever the
// noise.
func TestRepairsThatRepairedNothing(t *testing.T) {
	habit, all := cleanHabit(), outcome{}
	for i := range noises {
		t.Run(noises[i].name, func(t *testing.T) {
			var o, again outcome
			random := rand.New(rand.NewPCG(20, uint64(i)))
			for o.Repairs < *noopRepairs && o.NotOpen < 20**noopRepairs {
				noises[i].repairsNothing(random, habit, &o, &again)
			}
			require.NotZero(t, o.Repairs)
			t.Logf("at first %v", o)
			t.Logf("again %v", again)
			o.check(t)
			again.check(t)
			all.Repairs += o.Repairs + again.Repairs
			all.Better += o.Better + again.Better
		})
	}
	require.LessOrEqual(t, float64(all.Better)/float64(all.Repairs), 0.05, "of all")
}

// True repairs of steady noise are proven with the first poll after the least time of
// a proof has passed: 24 hours of polls each minute, in which far more was received
// than the 3e10 bits without an error that show an objective of 1e-10 (rule of three).
func TestTrueRepairsOfSteadyNoise(t *testing.T) {
	habit := cleanHabit()
	for _, mean := range []float64{200, 3, 0.3, 0.02} {
		for _, lasted := range []time.Duration{10 * time.Minute, 5 * time.Hour, 3 * 24 * time.Hour} {
			if mean*lasted.Minutes() < 3 {
				continue // hardly an error since the alarm: nothing tells that it is steady
			}
			random := rand.New(rand.NewPCG(21, uint64(lasted)))
			m := newMender(habit, start.Add(10*24*time.Hour), steadily(mean)(random))
			require.True(t, m.until(m.at.Add(24*time.Hour), m.alarmed))
			m.until(m.at.Add(lasted), func() bool { return false })
			require.True(t, m.alarmed())
			m.port.repair(Repair{ID: "r1", At: m.at, Cause: BadCord}, []*Fault{{Kind: FrameErrors}})
			m.damages = func(time.Time) uint64 { return 0 }
			repaired := m.at
			require.True(t, m.until(m.at.Add(40*24*time.Hour), m.proven))
			require.Equal(t, noopProof, m.at.Sub(repaired), "%v frames a poll for %v", mean, lasted)
		}
	}
}
