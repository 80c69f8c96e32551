// Package daemon joins the parts and is the only place that starts goroutines
// and waits for them.
//
// Run starts one loop per switch (poll.go), which asks its switch and sends
// what came to the owner; the owner (owner.go), which alone holds the tracker
// and after each answer updates the metrics, tells the notifier and swaps in a
// new snapshot; one loop per Alertmanager (package notify); and the HTTP server
// (serve.go), which reads snapshots only. They end together: when the context
// is done, or when one of them fails.
//
// Where numbers are kept in a folder, the owner offers what each poll told to
// package history's recorder (history.go), and waits for nothing.
//
// The checkpointer (checkpoint.go) borrows the tracker from the owner every
// minute and soon after events, and writes down what it knows, and once more when
// the owner has ended.
//
// The journal's writer (journal.go) takes what the owner hands it over a bounded
// room in memory (waitingroom.go), where events wait for the checkpoint that holds
// them: killed at any moment, no daemon leaves a fault in the journal that the next
// one does not know. The checkpoint keeps what waits (kept.go), for the next daemon
// to write. What people tell over HTTP (journaltold.go) it answers once
// it is on the disk. ledger.go makes one event of each thing that happened.
//
// What a configuration and an inventory say is a Setup (setup.go), and a
// running daemon can be given another: the reloader (reload.go) reads the files
// anew when they changed (watch.go) or a hangup asks for it. It first does all
// that can fail; then, in this order, the loops of switches that are gone or
// asked otherwise end, the owner takes the setup, and new loops begin
// (crew.go). So the owner hears only of switches that it knows, and a switch
// that stays keeps its loop, its session and its state.
//
// Ask (ask.go) asks every switch once, without a daemon.
package daemon
