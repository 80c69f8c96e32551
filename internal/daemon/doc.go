// Package daemon joins the parts and is the only place that starts goroutines
// and waits for them.
//
// Run starts one loop per switch (poll.go), which asks its switch and sends
// what came to the owner; the owner (owner.go), which alone holds the tracker
// and after each answer updates the metrics and swaps in a new snapshot; and
// the HTTP server (serve.go), which reads snapshots only. They end together:
// when the context is done, or when one of them fails.
package daemon
