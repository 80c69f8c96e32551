// Package notify tells Alertmanagers of faults and silent switches, by version
// 2 of their API.
//
// Tell takes each Snapshot, finds what opened, changed and closed, and never
// waits. Every Alertmanager has its own table of what it is to be told and its
// own loop, Run, so that a dead one holds up nobody; the caller starts the
// loops. alert.go says what an alert is, and is the twin of config/alerts.yml:
// the same labels and the same words, so that an Alertmanager that hears of a
// fault from here and from Prometheus holds one alert. Of the daemon itself the
// rules alone tell, by Prometheus's name for it. queue.go says what is due when,
// without a clock; run.go sends it.
//
// An alert is told when it opens, and again at every repeat; it carries an end
// some repeats ahead, so that alerts of a daemon that died end by themselves,
// and those of one that restarts don't. A closed alert carries the moment of
// closing, and is told until that is delivered.
package notify
