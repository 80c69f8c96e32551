// Package sequential is the statistics of a verdict: pure functions of
// numbers, which know nothing of switches or cables.
//
// Detector tells poll by poll whether a port's error rate is above what its
// physical layer may have, and later whether it has let go. Interval gives
// the exact bounds of a rate. Threshold turns the false alarms a plant's
// owner will bear into the level at which a Detector alarms.
//
// SharedCauses finds what stands behind several faults. Nature and Hours tell
// what the errors of a fault follow, and the hours they keep to. Better tells
// whether a repair has helped, CleanNeeded what that takes, ProofSpan how long.
package sequential
