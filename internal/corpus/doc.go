// Package corpus is scenarios for tests: small sites of simulated switches,
// what happens on them, and what is to be told of it. They stand in
// testdata/scenarios.
//
// The same files are played twice. Here sim's own values become readings of the
// tracker without a network between (direct.go); in daemon's tests the whole
// daemon asks the same site over SNMP, and its API, its metrics and what it tells an
// Alertmanager are held against the same expectations. A scenario whose two
// plays differ has found a seam.
//
// Only tests import this package: it alone joins sim to the core.
package corpus
