package web

import (
	"fmt"
	"net/http"
	"strings"
)

// healthz tells whether the daemon's own loop turns, whatever the switches do.
func (s Source) healthz(w http.ResponseWriter, r *http.Request) {
	if err := s.Alive(); err != nil {
		plainRefusal(w, r, refused(http.StatusServiceUnavailable, "not healthy: %v", err))
		return
	}
	fmt.Fprintln(w, "healthy")
}

// readyz tells whether every switch was tried once, so that what the pages
// say is of the whole plant.
func (s Source) readyz(w http.ResponseWriter, r *http.Request) {
	snapshot, err := s.latest()
	if err != nil {
		plainRefusal(w, r, err)
		return
	}
	if untried := untried(snapshot); len(untried) > 0 {
		plainRefusal(w, r, refused(http.StatusServiceUnavailable, "not ready: %d of %d switches not tried yet: %s",
			len(untried), len(snapshot.Switches), strings.Join(untried, ", ")))
		return
	}
	fmt.Fprintln(w, "ready")
}
