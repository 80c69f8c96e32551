package standards

import "math"

// A field tester's accuracy near the limit by frequency, in dB either way, for
// testers of the level that IEC 61935-1 and ANSI/TIA-1152-A want of a category
// (IIe, III, IIIe, 2G). These are approximations from memory, on the modest
// side, for tests that state no accuracy of their own; they are no figures of
// the standards' tables, which also tell the adapters apart.
var (
	accuracyMHz = [...]float64{1, 100, 250, 500}

	lossAccuracy   = [...]float64{0.6, 1.0, 1.3, 1.8}
	nearAccuracy   = [...]float64{1.2, 1.8, 2.4, 3.2}
	farAccuracy    = [...]float64{1.4, 2.2, 2.9, 3.8}
	returnAccuracy = [...]float64{1.2, 1.9, 2.5, 3.2}
)

// Of times: memory of the same documents.
const (
	delayAccuracyNS    = 5
	delayAccuracyShare = 0.04 // of the delay
	skewAccuracyNS     = 10
)

// Accuracy gives what a tester of the line's level is good to, in dB either way
// (ns of delay and delay skew). Use it only where a test states none of its
// own. It is 0, from no document, where Limit has no limit.
func (l Line) Accuracy(p Parameter, mhz float64) (db float64, src Source) {
	limit, ok := l.Limit(p, mhz)
	if !ok {
		return 0, Source{}
	}
	src = Source{"IEC 61935-1, ANSI/TIA-1152-A, roughly", true}
	switch p {
	case InsertionLoss:
		return between(lossAccuracy[:], mhz), src
	case NEXT, PSNEXT:
		return between(nearAccuracy[:], mhz), src
	case ACRN, PSACRN: // a difference of two measurements
		return math.Hypot(between(nearAccuracy[:], mhz), between(lossAccuracy[:], mhz)), src
	case ACRF, PSACRF:
		return between(farAccuracy[:], mhz), src
	case ReturnLoss:
		return between(returnAccuracy[:], mhz), src
	case Delay:
		return delayAccuracyNS + delayAccuracyShare*limit, src
	}
	return skewAccuracyNS, src
}

// between draws straight lines through the accuracies, flat past the ends.
func between(values []float64, mhz float64) float64 {
	for i := 1; i < len(accuracyMHz); i++ {
		if mhz <= accuracyMHz[i] {
			share := (mhz - accuracyMHz[i-1]) / (accuracyMHz[i] - accuracyMHz[i-1])
			return values[i-1] + max(0, share)*(values[i]-values[i-1])
		}
	}
	return values[len(values)-1]
}
