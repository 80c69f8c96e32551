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
// Beside them stand labelled plants (label.go): some hundred runs with faults and
// look-alikes of a seed, each labelled with the causes truly at work, under records
// of which a third is missing. What happens to a run is a recipe (labelcopper.go,
// labelfibre.go, lookalike.go); it knows nothing of how the core weighs causes, and
// whoever writes it reads field practice, not the core. Judge and Score (score.go)
// hold what was told against the labels; which faults could be seen at all is decided
// by what the switches answered and what is recorded (seen.go). Tables of causes are tuned by one list of
// seeds and reported by another (labelled_test.go).
//
// Only tests import this package: it alone joins sim to the core.
package corpus
