package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"

	"toneout/internal/fault"
)

// refusedError is an answer other than 200.
type refusedError struct {
	status int
	text   string
}

func (e *refusedError) Error() string { return e.text }

func refused(status int, format string, args ...any) error {
	return &refusedError{status, fmt.Sprintf(format, args...)}
}

// statusOf is the HTTP status of an error; one without is our own mistake.
func statusOf(err error) int {
	var r *refusedError
	if errors.As(err, &r) {
		return r.status
	}
	return http.StatusInternalServerError
}

// refusal writes an error in the form of the address that was asked.
type refusal func(w http.ResponseWriter, r *http.Request, err error)

func plainRefusal(w http.ResponseWriter, _ *http.Request, err error) {
	http.Error(w, err.Error(), statusOf(err))
}

func jsonRefusal(w http.ResponseWriter, _ *http.Request, err error) {
	writeJSON(w, statusOf(err), struct {
		Error string `json:"error"`
	}{err.Error()})
}

// apiFunc gives the value that an API address answers with.
type apiFunc func(*http.Request, *fault.Snapshot) (any, error)

func (s Source) api(f apiFunc) http.Handler {
	return readOnly(jsonRefusal, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		snapshot, err := s.latest()
		if err != nil {
			jsonRefusal(w, r, err)
			return
		}
		value, err := f(r, snapshot)
		if err != nil {
			jsonRefusal(w, r, err)
			return
		}
		writeJSON(w, http.StatusOK, value)
	}))
}

// latest is the snapshot to answer from.
func (s Source) latest() (*fault.Snapshot, error) {
	if snapshot := s.Snapshot(); snapshot != nil {
		return snapshot, nil
	}
	return nil, refused(http.StatusServiceUnavailable, "the daemon is starting and knows nothing yet; try again in a few seconds")
}

func writeJSON(w http.ResponseWriter, status int, value any) {
	var body bytes.Buffer
	if err := json.NewEncoder(&body).Encode(value); err != nil {
		status = http.StatusInternalServerError
		body.Reset()
		fmt.Fprintf(&body, "{\"error\": %q}\n", "writing JSON: "+err.Error())
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	w.Write(body.Bytes())
}
