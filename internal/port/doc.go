// Package port holds what a switch said about one port, and the difference
// between two such readings.
//
// A Reading is one port at one moment; its counters are kept in Counters,
// which tells an absent value from 0. Between pairs two readings of the same
// port: it gives the increments, or the Reason why the two don't compare. A
// Poll is all that one switch answered in one round; its Details are what
// changes seldom: what the switch is built of, whom its ports hear. Refresh
// learns whether a switch serves counters from a cache, so that readings are
// compared over long enough.
//
// Everything here is pure: times are arguments, and nothing is remembered.
package port
