package sequential

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Worked by hand from the text of the method, apart from this code.
//
// The baseline: T 1000 polls, B 1e12 bits, D 60,000 s, Y 200 errored polls,
// K 370 frames, n11 98, R 4. Y/T is above 0.1, so E is off: L 0.6, X 0.4.
// Each poll has 1e9 bits and 60 s: n/B = d/D = 0.001.
//
//	U(200)  = 224.88 (Garwood; chi-square of 402 degrees at 0.95, halved)
//	v       = 224.88 × 0.001 = 0.22488
//	kbar    = (370 + 30) / 201 = 1.99005
//	m_L     = 1.99005 × 0.22488 = 0.44752
//	m_X     = 2.996 × 0.001 = 0.002996
//	p       = (98 + 0.2) / 202 = 0.48614
//	rho     = p + 1.645 sqrt(p (1 - p) / 202) = 0.48614 + 0.05785 = 0.54399
//
// Poll 1, k = 3, nothing errored before: mu = m, s = r - 1.
//
//	r        3        10       30       100      300      1e3      1e4      1e5
//	L  (1 + 3 s) / (1 + 0.44752 s)
//	   3.69386  5.56918  6.29559  6.57774  6.66133  6.69091  6.70236  6.70351    mean 6.11181
//	X  1 / (1 + 0.002996 s)
//	   0.99404  0.97374  0.92006  0.77125  0.52748  0.25044  0.03230  0.00333    mean 0.55908
//	M = 0.6 × 6.11181 + 0.4 × 0.55908 = 3.89072
//
// Poll 2, k = 5 > R, after an errored poll that did not exceed R:
// mu_L = rho kbar = 1.08256, s = r × 0.44752 / 1.08256 - 1;
// mu_X = 3 rho / 201 = 0.0081192, s = r × 0.002996 / 0.0081192 - 1.
//
//	s  0.24017  3.1339   11.402   40.339   123.02   412.39   4132.9   41338
//	L  (L + 1) (1 + 5 s) / (1 + 1.08256 s)
//	   8.19874  24.9292  31.7174  34.3852  35.1785  35.4596  35.5685  35.5794    mean 30.12706
//	s  0.10700  2.6900   10.070   35.900   109.70   368.00   3689     36899
//	X  (X + 1) (1 + s) / (1 + 0.0081192 s)
//	   2.20550  7.12747  19.6487  50.6079  89.4348  115.704  123.069  123.167    mean 66.37046
//	M = 0.6 × 30.12706 + 0.4 × 66.37046 = 44.6244
//
// Poll 3, k = 0, after one that exceeded R: mu_L as before, mu_X = 0.1 with E
// off, s = max(0, r × 0.002996 / 0.1 - 1).
//
//	L  (L + 1) / (1 + 1.08256 s)
//	   7.30063  5.90289  2.45203  0.79216  0.26964  0.08149  0.00817  0.00082    mean 2.10098
//	s  0        0        0        1.9960   7.9880   28.960   298.60   2995
//	X  (X + 1) / (1 + 0.1 s)
//	   3.20550  8.12747  20.6487  43.0210  50.2751  29.9548  4.02038  0.41320    mean 19.95826
//	M = 0.6 × 2.10098 + 0.4 × 19.95826 = 9.24389
func TestGuardStepByStep(t *testing.T) {
	var d Detector
	d.habit.baseline = sums{polls: 1000, bits: 1e12, seconds: 60_000, errored: 200, frames: 370, repeats: 98, largest: 4}
	d.habit.bound = float32(upperBound(200, 0.05))
	require.InDelta(t, 224.88, d.habit.bound, 0.01)
	want := []float64{3.89072, 44.6244, 9.24389}
	for i, k := range []uint64{3, 5, 0} {
		d.Update(Sample{At: monday, Errored: k, Bits: 1e9, Seconds: 60}, 0, 1e12)
		require.InEpsilon(t, want[i], d.Level(), 1e-4, "after poll %d", i+1)
	}
}

// In an episode of a port that knows such, errored polls are no news: the
// bound is what they were in the episodes on record.
func TestGuardInEpisodes(t *testing.T) {
	var h habit
	h.baseline = sums{
		polls: 10_000, bits: 1e13, seconds: 600_000, errored: 150, frames: 470, repeats: 60, largest: 9,
		longPolls: 100, longErrored: 40, longFrames: 93, widePolls: 400, wideErrored: 80,
	}
	h.bound = float32(upperBound(150, 0.05))
	s := Sample{Errored: 1, Bits: 1e9, Seconds: 60}
	rows := []struct {
		name string
		past history
		mu   float64 // of an errored poll
	}{
		{"at rest", history{}, 0.0171},                                     // 171.4 / 10,000
		{"one of 64", history{slots: 1 << 40}, 0.0171},                     // no episode yet
		{"two of 64", history{slots: 0x4040_0000_0000}, 0.232},             // 80.2/402 = 0.1995, + 1.645 sqrt(0.1995 × 0.8005 / 402) = 0.0328
		{"five of 16", history{slots: 0b1010_1010_1000}, 0.474},            // 40.2/102 = 0.3941, + 1.645 sqrt(0.3941 × 0.6059 / 102) = 0.0796
		{"after an errored poll", history{slots: 1, errored: true}, 0.461}, // 60.2/152 = 0.3961, + 1.645 sqrt(0.3961 × 0.6039 / 152) = 0.0653
		{"five of 16 and the last", history{slots: 0xf8<<4 | 1, errored: true}, 0.474},
	}
	for _, row := range rows {
		w := h.wagers(&s, row.past)
		require.InDelta(t, row.mu, w[errored].mu, 0.001, row.name)
		require.InDelta(t, 0.0171, w[errored].m, 0.001, row.name)
	}
	// (93 + 30) / 41 = 3 frames in each errored poll of an episode, 0.474 of them.
	w := h.wagers(&s, history{slots: 0b1010_1010_1000})
	require.InDelta(t, 3*0.474, w[size].mu, 0.005)
	h.baseline.longPolls = longKnown - 1
	w = h.wagers(&s, history{slots: 0b1010_1010_1000})
	require.InDelta(t, 0.232, w[errored].mu, 0.001, "too few polls in dense episodes: by the wide ones")
}
