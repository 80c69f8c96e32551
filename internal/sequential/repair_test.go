package sequential

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// 20^(1/Y) - 1 times the exposure before, by hand.
func TestCleanNeeded(t *testing.T) {
	for errored, want := range map[int]float64{1: 19, 2: 3.4721, 3: 1.7144, 10: 0.34928, 100: 0.030411} {
		require.InEpsilon(t, want*1e12, CleanNeeded(Window{errored, 1e12}), 1e-4, "%d errored polls", errored)
	}
	require.True(t, math.IsInf(CleanNeeded(Window{0, 1e12}), 1))
	// 3.0e10 bits for 10^-10, the objective of 1000BASE-T (IEEE 802.3 40.6.1.3.1), the rule of three.
	require.InEpsilon(t, 2.9957e10, CleanForObjective(1e-10), 1e-4)
}

// The same question put to the exact interval of a Poisson rate: with the rate
// at n errors in N, no error in CleanNeeded comes with chance 1/20.
func TestCleanNeededIsTheExactConditionalTest(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 1))
	const before, plays = 4, 200_000
	share := 1 / (1 + CleanNeeded(Window{before, 1}))
	allBefore := 0
	for range plays {
		inside := 0
		for range before {
			if random.Float64() < share {
				inside++
			}
		}
		if inside == before {
			allBefore++
		}
	}
	require.InDelta(t, 0.05, float64(allBefore)/plays, 0.002)
}

// By hand: N_b = N_a = 1, Y_b = 4, Y_a = 1. theta 0.01: 0.01 (2/1.01)^5 = 0.30448, 0.03: 0.03 (2/1.03)^5 = 0.82810,
// 0.1: 1.98695, 0.3: 2.58556, 0.5: 2.10700; a tenth of their sum.
func TestImprovementByHand(t *testing.T) {
	require.InDelta(t, 0.781209, Improvement(Window{4, 1}, Window{1, 1}), 1e-5)
	// Without an error: half of 2^4 and a tenth of (2/(1+theta))^4 for each.
	want := 8.0
	for _, theta := range []float64{0.01, 0.03, 0.1, 0.3, 0.5} {
		want += 0.1 * math.Pow(2/(1+theta), 4)
	}
	require.InDelta(t, want, Improvement(Window{4, 1}, Window{0, 1}), 1e-9)
}

// A repair that changed nothing, looked at after every poll for as long again
// as 200 times the errors before: it is called better in 1 of 20 at most.
func TestRepairThatChangedNothing(t *testing.T) {
	const plays = 4000
	for _, errors := range []int{1, 3, 10, 40} {
		random := rand.New(rand.NewPCG(11, uint64(errors)))
		called := 0
		for range plays {
			before := Window{Errored: errors, Exposure: exposureOf(random, errors)}
			if calledBetter(random, before, 30*float64(errors)+100) {
				called++
			}
		}
		t.Logf("%d errored polls before: called better in %.4f", errors, float64(called)/plays)
		require.LessOrEqual(t, float64(called)/plays, 0.05+2*math.Sqrt(0.05*0.95/plays), "%d errored polls", errors)
	}
}

// exposureOf is how long so many errors took at one a unit.
func exposureOf(random *rand.Rand, errors int) (sum float64) {
	for range errors {
		sum += random.ExpFloat64()
	}
	return sum
}

// calledBetter plays errors at one a unit. The evidence only falls with an
// error, so just before each it is greatest.
func calledBetter(random *rand.Rand, before Window, most float64) bool {
	after := Window{}
	for after.Exposure < most {
		after.Exposure += random.ExpFloat64()
		if Better(before, after) {
			return true
		}
		after.Errored++
	}
	return false
}

// A repair that took nine of ten errors away is soon proven, errors allowed.
func TestRepairThatMendedMost(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 2))
	const plays = 500
	proven := 0
	for range plays {
		before, after := Window{Errored: 20, Exposure: 20}, Window{}
		for after.Exposure < 20 && !Better(before, after) {
			after.Exposure += 0.1
			if random.Float64() < 0.01 {
				after.Errored++
			}
		}
		if Better(before, after) {
			proven++
		}
	}
	require.Greater(t, float64(proven)/plays, 0.9)
	require.False(t, Better(Window{0, 1e12}, Window{0, 1e15}), "what had no error cannot have fewer")
}

func TestProofSpan(t *testing.T) {
	require.Equal(t, 24*time.Hour, ProofSpan(24*time.Hour, 3*time.Hour, 0))
	require.Equal(t, 60*time.Hour, ProofSpan(24*time.Hour, 30*time.Hour, 24*time.Hour))
	require.Equal(t, 14*24*time.Hour, ProofSpan(24*time.Hour, 30*time.Hour, 7*24*time.Hour))
}

// What is still needed is just enough. With no error since it is what CleanNeeded
// says; and the bits for an objective follow the exact 90 % limits of Garwood's
// tables, whose upper one is the one-sided 95 % bound: 25 errors → 34.92.
func TestStillNeeded(t *testing.T) {
	before := Window{4, 1e12}
	require.InEpsilon(t, CleanNeeded(before)-3e11, StillNeeded(before, Window{0, 3e11}), 1e-9)
	require.Zero(t, StillNeeded(before, Window{0, 1e14}))
	require.True(t, math.IsInf(StillNeeded(Window{0, 1e12}, Window{0, 1e12}), 1))
	for _, after := range []Window{{1, 1e11}, {1, 1e13}, {3, 2e12}, {30, 1e12}} {
		more := StillNeeded(before, after)
		require.True(t, Better(before, Window{after.Errored, after.Exposure + more*1.000001}), "%v", after)
		require.False(t, more > 0 && Better(before, Window{after.Errored, after.Exposure + more*0.999}), "%v", after)
	}
	require.InEpsilon(t, 34.92e10, BitsForObjective(25, 1e-10), 2e-4)
	require.InEpsilon(t, CleanForObjective(1e-10), BitsForObjective(0, 1e-10), 1e-9)
}
