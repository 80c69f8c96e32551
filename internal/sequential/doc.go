// Package sequential is the statistics of a verdict: pure functions of
// numbers, which know nothing of switches or cables.
//
// Detector tells poll by poll whether a port's error rate is above what its
// physical layer may have, or above the port's own habit, and later whether it
// has let go. Interval gives the exact bounds of a rate. Threshold turns the false alarms a plant's
// owner will bear into the level at which a Detector alarms.
//
// SharedCauses finds what stands behind several faults. Nature and Hours tell
// what the errors of a fault follow, and the hours they keep to. Better tells
// whether a repair has helped, CleanNeeded what that takes, ProofSpan how long.
//
// # How a climb is found
//
// Errors on cables come in bursts, so a test that takes them for Poisson cries
// wolf. Detector needs only a bound mu on the mean of what comes next, given
// what came before. For each channel c (size of the loss, errored poll, record
// loss) and ratio r (wealth.go)
//
//	M[c,r] = (M[c,r] + 1) (1 + s x) / (1 + s mu), s = max(0, r m/mu - 1)
//
// and their weighted mean M alarms at twice the threshold A. While mu is a
// bound, M less the number of polls is a supermartingale: the mean run to a
// false alarm is 2A polls at least, and A at least for the two detectors, one
// against the objective and one against the habit. Near the alarm no more is
// staked than one damaged frame needs to raise it, which keeps the promise and
// spares a fifth of the delay.
//
// m is what the objective allows, or an upper bound from the baseline
// (habit.go); mu is larger where bursts that last are the port's habit
// (guard.go). These bounds are learned, so the promise is shown by simulation
// too: the command in bench plays it, and whoever changes a constant here runs
// that.
//
// # How it lets go
//
// A CUSUM (clearing.go) weighs the rate that the alarm was raised at against the
// rate that the port may have, its habit, or its objective where that was
// exceeded and is lower. It counts errored polls; where these were hardly more
// often than by habit, it was their loss that climbed, and they count by that.
// What looked well for a while before errors came back must be outlasted twice,
// so that a disturbance which comes and goes is one alarm.
package sequential
