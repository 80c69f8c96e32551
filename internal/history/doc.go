// Package history is the memory for numbers: what the metrics said at each
// poll, and questions about it in PromQL.
//
// A Store keeps them in a folder of its own, with Prometheus's own storage and
// query engine: a Batch holds what one poll told (batch.go), Offer takes it
// without ever waiting, and Run, which the caller starts, writes what was
// offered (store.go, run.go). A full disk, a folder that cannot be written or
// a damaged file stops the recording, never the caller; Status says why, and
// recording goes on when it can.
//
// A Remote asks a server that speaks the Prometheus query API, which then has
// the numbers from elsewhere (remote.go). Both are a Querier: the same
// questions, answers and words of errors (query.go). timeline.go asks what
// became of one run, over either.
//
// API serves a Store to others, e.g. Grafana, as a Prometheus would (api.go).
package history
