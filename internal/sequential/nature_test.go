package sequential

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

// By hand: 10 polls of a minute, one of 1e9 bits and nine of 1e8, N = 1.9e9, D
// = 600; an errored busy poll weighs ln[(1/1.9)/(1/10)] = 1.66073, a quiet one
// ln[(0.1/1.9)/0.1] = -0.641854.
func TestTrafficOddsByHand(t *testing.T) {
	var n Nature
	for i := range 10 {
		bits := 1e8
		if i == 0 {
			bits = 1e9
		}
		n.Update(Sample{Errored: uint64(i/9) + uint64(1-min(i, 1)), Bits: bits, Seconds: 60})
	}
	require.Equal(t, 2, n.Errored)
	require.InDelta(t, 1.660731-0.641854, n.TrafficOdds(), 1e-6)
	require.Equal(t, Undecided, n.Follows())
}

// By hand: 4 errored frames in one of 100 like polls are 6 pairs of which
// 4*3/2/100 = 0.06 are due; P(X >= 6) = 0.06^6/720 e^-0.06 (1 + 0.06/7 + ...) = 6.155e-11.
func TestBurstChanceByHand(t *testing.T) {
	var n Nature
	for i := range 100 {
		n.Update(Sample{Errored: 4 * uint64(i/99), Bits: 1e8, Seconds: 60})
	}
	require.InEpsilon(t, 6.155e-11, n.BurstChance(), 1e-3)
	require.True(t, n.Bursts())
	require.Equal(t, 1.0, (&Nature{}).BurstChance())
	require.Equal(t, Undecided, (&Nature{}).Follows())
}

// Under a load of 50:1 between day and night.
func TestNatureIsTold(t *testing.T) {
	const plays, polls = 300, 7 * 1440
	rows := []struct {
		name            string
		mean            func(bits float64) float64
		burst           float64 // frames an event
		follows         Follows
		wrong, atLeast  float64
		bursts, orNever float64 // share called bursts: at least, at most
	}{
		{"follow traffic", func(bits float64) float64 { return bits * 40 / 1e13 }, 1, FollowTraffic, 0.01, 0.95, 0, 0.02},
		{"follow traffic, plenty", func(bits float64) float64 { return bits * 1e5 / 1e13 }, 1, FollowTraffic, 0.01, 0.95, 0, 0.02},
		{"follow time", func(float64) float64 { return 20.0 / polls }, 1, FollowTime, 0.01, 0.95, 0, 0.05},
		{"follow time, plenty", func(float64) float64 { return 1e5 / polls }, 1, FollowTime, 0.01, 0.95, 0, 0.02},
		{"bursts of 20", func(bits float64) float64 { return bits * 10 / 1e13 }, 20, FollowTraffic, 0.02, 0.5, 0.99, 1},
	}
	for _, row := range rows {
		random := rand.New(rand.NewPCG(4, 4))
		told, wrong, bursts := 0, 0, 0
		for range plays {
			var n Nature
			for poll := range polls {
				bits := loadOf(poll)
				events := distuv.Poisson{Lambda: row.mean(bits), Src: random}.Rand()
				n.Update(Sample{Errored: uint64(events * row.burst), Bits: bits, Seconds: 60})
			}
			switch n.Follows() {
			case row.follows:
				told++
			case Undecided:
			default:
				wrong++
			}
			if n.Bursts() {
				bursts++
			}
		}
		require.LessOrEqual(t, float64(wrong)/plays, row.wrong, row.name)
		require.GreaterOrEqual(t, float64(told)/plays, row.atLeast, row.name)
		require.GreaterOrEqual(t, float64(bursts)/plays, row.bursts, row.name)
		require.LessOrEqual(t, float64(bursts)/plays, row.orNever, row.name)
	}
}

// loadOf is the bits of a minute's poll under a load of 50:1, between 8 and 18
// o'clock and the rest of the day.
func loadOf(poll int) float64 {
	if hour := poll / 60 % 24; hour >= 8 && hour < 18 {
		return 1.6e9 * (1 + 0.3*math.Sin(float64(poll)))
	}
	return 3.2e7
}
