// Package report tells how a plant did over months, from what journal and history
// have kept. Its functions are pure: events go in as plain values, which daemon
// fills.
//
// life.go makes lives of faults out of what was told of them, figures.go counts
// them by month. What each figure is, is said beside it there; whether it is one of
// the trade's is said too.
package report
