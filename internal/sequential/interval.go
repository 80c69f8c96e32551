package sequential

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Interval is the exact two-sided interval of a Poisson mean of which count
// events were seen, at the given confidence in (0, 1): each bound is missed
// with chance (1 - confidence)/2 at most. F. Garwood, "Fiducial limits for the
// Poisson distribution", Biometrika 28, 1936.
func Interval(count uint64, confidence float64) (low, high float64) {
	miss := (1 - confidence) / 2
	if count == 0 {
		return 0, -math.Log(miss)
	}
	return mathext.GammaIncRegInv(float64(count), miss), upperBound(float64(count), miss)
}

// upperBound is missed with chance miss. Counts that were decayed are no whole
// numbers any more; the gamma function does not mind.
func upperBound(count, miss float64) float64 { return mathext.GammaIncRegCompInv(count+1, miss) }
