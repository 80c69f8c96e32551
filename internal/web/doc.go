// Package web tells a person, or a program, in a browser what the daemon
// knows: pages, the JSON below /api, /metrics, /healthz and /readyz.
//
// Handler serves them from a Source, a struct of functions that the daemon
// fills. Every answer is made from one Snapshot (Source.Snapshot) and nothing
// else, so that a page never contradicts itself; the package starts nothing
// and remembers nothing but the latest audit (audit.go).
//
// web.go lists the routes. An API route is a function from a request and a
// Snapshot to a value that becomes JSON (api.go); a page is one to a view that
// a template in templates/ draws (wall.go, runpage.go). run.go, record.go and
// portnow.go hold the shapes that both share and that the Client reads back.
// What cannot be seen is gathered once, as Coverage (coverage.go,
// coverswitches.go, coverports.go), which /api/coverage gives whole and the
// page in sections with the longest lists cut (coverpage.go, coversections.go,
// coverlists.go); tablecosts.go says what a switch's lack costs.
//
// An audit judges every run, with what switches show of it (seen.go); auditor
// makes one at most every 30 s. auditquery.go gives it as JSON, auditpage.go
// draws it, and toneout audit prints the same AuditReport. expected.go and
// acceptance.go are what /api/runs/{id} adds of one run, judgedpage.go its part
// of the run's page.
//
// What people tell is taken by tell.go and kept by the Journal that the daemon
// fills (journal.go).
//
// Strings of switches and of the inventory are foreign: html/template escapes
// them, no page has inline script or style, and no outside resource is loaded
// (header.go). What is absent is left out of JSON and "not recorded" or "not
// told" on a page, never 0; unknown is never drawn as healthy.
//
// Client is the other side: what the commands ask a running daemon with.
package web
