package web

import (
	"maps"
	"net/http"
	"time"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// Source is what the daemon gives to be shown. Its functions are called from
// many goroutines; only Inventory, Numbers, Recording, Timelines, Questions,
// Journal, External and Now may be left out.
type Source struct {
	Snapshot  func() *fault.Snapshot // the latest; nil while there is none yet
	Inventory func() InventoryState  // how the inventory's files were read; nil where there are none
	Metrics   http.Handler           // the Prometheus exposition
	Numbers   http.Handler           // Prometheus's query API under /api/v1/; nil where no history is kept here
	Recording func() Recording       // of a history; nil where none is kept here
	Timelines Timelines              // of runs, from the history; nil where there is none
	Questions Questions              // over what is kept
	Journal   *Journal               // nil where none is kept
	External  func() string          // the address that people reach the pages at; "" or nil where none is configured
	Guarded   func() bool            // by passwords, so that no other name can lead here; nil for never
	Alive     func() error           // why the daemon's own loop stands still; nil while it turns
	Now       func() time.Time       // its location is the zone in which pages name times; time.Now where nil
}

// InventoryState is how the inventory's files were last read.
type InventoryState struct {
	Problems []plant.Problem // what is wrong in the files that are in use
	Loaded   time.Time       // when they were read
	Refused  string          // why what the files hold now is not used; "" where it is
}

// Handler serves everything that toneout shows over HTTP.
func Handler(s Source) http.Handler {
	if s.Now == nil {
		s.Now = time.Now
	}
	if s.Inventory == nil {
		s.Inventory = func() InventoryState { return InventoryState{} }
	}
	mux := http.NewServeMux()
	for path, handler := range routes(s) {
		mux.Handle(path, handler)
	}
	return withHeaders(mux)
}

// routes maps patterns to handlers. Ids may hold any character: a link has
// them escaped, and a port's name, of which "1/17" is usual, may also stand
// in a path as it is.
func routes(s Source) map[string]http.Handler {
	a := &auditor{inventory: s.Inventory}
	all := map[string]http.Handler{
		"/{$}":                          s.page("wall", wall),
		"/runs/{id}":                    s.page("run", a.runPage),
		"/ports/{switch}/{port...}":     s.page("port", portPage),
		"/shared":                       s.page("shared", sharedPage),
		workURL:                         s.page("work", s.workPage),
		"POST " + workURL:               http.HandlerFunc(s.tellWork),
		"/coverage":                     s.page("coverage", coveragePage),
		"/audit":                        s.page("audit", a.page),
		"/api/faults":                   s.api(faults),
		"/api/runs":                     s.api(noQuery(runs)),
		"/api/runs/{id}/timeline":       s.api(s.timeline),
		"/api/runs/{id}/hours":          s.api(s.asks(ofWeeks, s.Questions.Hours)),
		"/api/runs/{id}/load":           s.api(s.asks(ofLoad, s.Questions.Load)),
		"/api/figures":                  s.api(s.asks(ofMonths, s.Questions.Figures)),
		"/api/changes":                  s.api(s.asks(ofLately, s.Questions.Changes)),
		"/api/runs/{id}":                s.api(noQuery(a.run(s))),
		"/api/ports/{switch}/{port...}": s.api(noQuery(portAPI(s))),
		"/api/switches":                 s.api(noQuery(switches)),
		"/api/shared-causes":            s.api(sharedCauses),
		"/api/coverage":                 s.api(noQuery(s.coverage)),
		"/api/audit":                    s.api(a.answer),
		"/api/v1/":                      s.numbers(),
		"/metrics":                      readOnly(plainRefusal, s.Metrics),
		"/healthz":                      readOnly(plainRefusal, http.HandlerFunc(s.healthz)),
		"/readyz":                       readOnly(plainRefusal, http.HandlerFunc(s.readyz)),
		"/static/":                      readOnly(plainRefusal, static()),
		"/api/":                         s.api(noSuchAPI),
		"/":                             s.page("refusal", noSuchPage),
	}
	for _, id := range runForms {
		all["/runs/{id}/"+id] = a.tellRun(s, id)
	}
	maps.Copy(all, s.journalRoutes())
	return all
}
