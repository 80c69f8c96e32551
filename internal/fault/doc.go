// Package fault decides which run is at fault, since when, why, and what to
// check first.
//
// A Tracker owns the state of every port. It is told what each switch
// answered, or that it did not, and after each it gives a Snapshot: switches
// with their ports, and the open faults, worst first. A Snapshot is never
// changed afterwards, so pages, metrics and alerts may read it while the next
// one is made (show.go). Replace gives it another inventory while it runs (replace.go).
//
// Who is who comes first. A switch is known by the serials of its units, else
// by its engine id (identity.go); where these change, the joins that this
// touches wait until something confirms them (confirm.go). Ports hear their
// neighbours (neighbours.go): from these follow the other ends of cables, how
// switches hang together (links.go), which silent switch hides which
// (parents.go), what a far end is able to (farend.go), and what moved
// (moves.go).
//
// Conditions (slow.go, errors.go; conditions.go names the rest) watch one port
// each (portstate.go) and let go later than they take hold; counters that a switch serves from a cache are
// compared over longer (spread.go). findings.go puts an open condition into
// words. The board (board.go, compose.go) puts the findings of a run's ports
// together into one Fault per run and kind; causes.go ranks why; words.go is
// the one table that every surface speaks from, cautions.go what it warns of.
//
// What was done on a run before its trouble began (lastwork.go), and how well the record
// and the switch agree on which run it is (agreement.go), are seen there too.
//
// Guards (guard.go) are why something that looks like a fault is shown and not
// told: the port is shut, the device sleeps or is able to no more, the switch at
// the other end is gone or restarted, many ports changed together (group.go), the
// damaged frames were passed on by a switch (upstream.go). They ask what one
// port's condition cannot see, when its finding is put on the board.
//
// Light, told on a slower clock (equip.go), is held against the receiver's window
// and what it usually is (light.go, level.go), and what one end sends against
// what the other receives (loss.go); direction.go and lightcauses.go read both
// directions together. Too little light, too much of it and too much loss on
// one run are one trouble, as are the damaged frames and the missing link that
// come of it: each stays a fault of its kind, and one of them alarms, the harm
// before the light, with the others as its evidence (foldlight.go). So are what a
// loose plug, a short or a duplex setting does to a link (fold.go).
//
// What several faulty runs have in common, a pathway or an installer or a line
// card, is looked for whenever which runs are at fault changed (shared.go). While
// such a shared cause stands, the faults of the runs that have it are folded
// under it: they stay listed, and it alarms once in their stead. It lets go later
// than it took hold, and what is open then alarms by itself.
//
// Where work is planned and in force, faults are shown and told to nobody
// (planned.go). A repair has the tests of its run begin afresh, and its faults stay
// listed, told to nobody, until its proof stands or they return (proof.go,
// repairs.go).
//
// What outlasts a restart is a Checkpoint (checkpoint.go): a Recorder writes it
// (checkpointfile.go), and Restore gives it to a new Tracker.
//
// Everything here is pure: time and readings are arguments.
package fault
