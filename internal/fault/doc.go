// Package fault decides which run is at fault, since when, why, and what to
// check first.
//
// A Tracker owns the state of every port. It is told what each switch
// answered, or that it did not, and after each it gives a Snapshot: switches
// with their ports, and the open faults, worst first. A Snapshot is never
// changed afterwards, so pages, metrics and alerts may read it while the next
// one is made.
//
// Conditions (slow.go, errors.go) watch one port each (portstate.go) and let go
// later than they take hold; findings.go puts an open one into words. The board
// (board.go, compose.go) puts the findings of a run's ports together into one
// Fault per run and kind; causes.go ranks why; words.go is the one table that
// every surface speaks from.
//
// Everything here is pure: time and readings are arguments.
package fault
