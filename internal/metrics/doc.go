// Package metrics tells Prometheus what a fault.Snapshot says.
//
// An Exposition keeps its families and changes them in place: a port, a run
// and a fault each own their series (switches.go, ports.go, runs.go, faults.go), so that
// Update costs what one switch costs, however many there are, and allocates
// next to nothing while nothing comes or goes. family.go holds what a family
// and a series are, handler.go and text.go how a scrape copies and writes them.
// What counts the program itself (process, Go, build, notifications) goes
// through a registry as usual.
//
// Three rules hold throughout. A value that a switch does not give is absent,
// never 0. Whatever goes away takes its series with it. A label that changes
// replaces the series.
package metrics
