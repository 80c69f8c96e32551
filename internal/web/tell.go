package web

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"slices"
	"strings"
	"time"
	"unicode"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// Limits of what is told, in bytes.
const (
	mostBody   = 64 << 10
	mostTold   = 4000
	mostSigned = 200
)

// longestWork is how long planned work may hush faults: a mistyped year is not to
// hush them until somebody wonders.
const longestWork = 31 * 24 * time.Hour

func (s Source) journalRoutes() map[string]http.Handler {
	j := s.Journal
	if j == nil {
		none := s.api(func(*http.Request, *fault.Snapshot) (any, error) {
			return nil, refused(http.StatusNotFound, "%s", noJournal)
		})
		return map[string]http.Handler{"/api/repairs": none, "/api/planned-work": none, "/api/notes": none, "/api/taken": none}
	}
	return map[string]http.Handler{
		"/api/repairs":      journalled(s, ofRun(j.Repairs), j.Repair, checkRepair),
		"/api/planned-work": journalled(s, ofAll(j.Works), s.plan, checkWork),
		"/api/notes":        journalled(s, ofRun(j.Notes), j.Note, checkNote),
		"/api/taken":        journalled(s, ofRun(j.Taken), j.Take, checkTaken),
	}
}

// ofRun reads with the one query parameter run.
func ofRun[T any](read func(context.Context, string) ([]T, error)) apiFunc {
	return func(r *http.Request, _ *fault.Snapshot) (any, error) {
		for name := range r.URL.Query() {
			if name != "run" {
				return nil, refused(http.StatusBadRequest, "unknown query parameter %q: %s takes run", name, r.URL.Path)
			}
		}
		return fromJournal(read(r.Context(), r.URL.Query().Get("run")))
	}
}

func ofAll[T any](read func(context.Context) ([]T, error)) apiFunc {
	return noQuery(func(r *http.Request, _ *fault.Snapshot) (any, error) { return fromJournal(read(r.Context())) })
}

// orNone is a list that is never null in JSON.
func orNone[T any](all []T) []T {
	if all == nil {
		return []T{}
	}
	return all
}

func fromJournal[T any](all []T, err error) (any, error) {
	if err != nil {
		return nil, refused(http.StatusServiceUnavailable, "%v", err)
	}
	return orNone(all), nil
}

// journalled reads what was told with GET and takes more with POST.
func journalled[T any](s Source, read apiFunc, write func(context.Context, *T) error, check func(*T, *fault.Snapshot, string) error) http.Handler {
	reads := s.api(read)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method != http.MethodPost {
			if r.Method != http.MethodGet && r.Method != http.MethodHead {
				w.Header().Set("Allow", "GET, HEAD, POST")
				jsonRefusal(w, r, refused(http.StatusMethodNotAllowed, "%s is not allowed here; this address gives (GET) and takes (POST)", r.Method))
				return
			}
			reads.ServeHTTP(w, r)
			return
		}
		var tell T
		err := s.mayTell(r)
		if err == nil {
			err = takeBody(w, r, &tell)
		}
		var snapshot *fault.Snapshot
		if err == nil {
			snapshot, err = s.latest()
		}
		if err == nil {
			user, _, _ := r.BasicAuth() // where users are configured, it was verified before
			err = check(&tell, snapshot, user)
		}
		if err == nil {
			var already *refusedError
			if err = write(r.Context(), &tell); err != nil && !errors.As(err, &already) {
				err = refused(http.StatusServiceUnavailable, "not recorded: %v", err)
			}
		}
		if err != nil {
			jsonRefusal(w, r, err)
			return
		}
		writeJSON(w, http.StatusCreated, tell)
	})
}

// takeBody reads a JSON body of known keys.
func takeBody(w http.ResponseWriter, r *http.Request, into any) error {
	decoder := json.NewDecoder(http.MaxBytesReader(w, r.Body, mostBody))
	decoder.DisallowUnknownFields()
	err := decoder.Decode(into)
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &tooLarge):
		return refused(http.StatusRequestEntityTooLarge, "the body is longer than %d bytes", mostBody)
	case errors.Is(err, io.EOF):
		return refused(http.StatusBadRequest, "the body is empty; %s wants a JSON object", r.URL.Path)
	case err != nil:
		return refused(http.StatusBadRequest, "the body is not what %s takes: %s", r.URL.Path, strings.TrimPrefix(err.Error(), "json: "))
	}
	if _, err := decoder.Token(); !errors.Is(err, io.EOF) {
		return refused(http.StatusBadRequest, "something follows the JSON object in the body")
	}
	return nil
}

// signed checks what every telling has; the user is its author where there is one.
func signed(by *string, user, text string) error {
	*by = cmp.Or(user, strings.TrimSpace(*by))
	switch {
	case *by == "":
		return refused(http.StatusBadRequest, "by is missing: it says who tells this")
	case len(*by) > mostSigned:
		return refused(http.StatusBadRequest, "by is longer than %d bytes", mostSigned)
	case len(text) > mostTold:
		return refused(http.StatusBadRequest, "the text is longer than %d bytes", mostTold)
	case controls(*by):
		return refused(http.StatusBadRequest, "by holds a control character")
	case controls(text):
		return refused(http.StatusBadRequest, "the text holds a control character, such as a line break; write it in one line")
	}
	return nil
}

// controls tells whether a text does more on a terminal than to be read.
func controls(text string) bool { return strings.ContainsFunc(text, unicode.IsControl) }

func bad(err error) error {
	if err == nil {
		return nil
	}
	return refused(http.StatusBadRequest, "%v", err)
}

func checkRepair(r *Repair, s *fault.Snapshot, user string) error {
	if err := signed(&r.By, user, r.Note); err != nil {
		return err
	}
	r.Faults, r.Outcome, r.OutcomeAt = []string{}, "", nil
	if err := fault.CheckRepair(s.Plant, r.Run, fault.Cause(r.Cause)); err != nil {
		return bad(err)
	}
	for _, f := range s.FaultsOf(r.Run) {
		r.Faults = append(r.Faults, string(f.Kind))
	}
	return nil
}

// Fault is the work as the core knows it.
func (w *PlannedWork) Fault() fault.PlannedWork {
	out := fault.PlannedWork{ID: w.ID, From: w.From, To: w.To, By: w.By, Why: w.Why}
	for attribute, value := range w.On {
		out.On = fault.SharedName{Attribute: fault.Attribute(attribute), Value: value}
	}
	return out
}

func checkWork(w *PlannedWork, s *fault.Snapshot, user string) error {
	w.Ended = nil
	if err := signed(&w.By, user, w.Why); err != nil {
		return err
	}
	switch {
	case strings.TrimSpace(w.Why) == "":
		return refused(http.StatusBadRequest, "why is missing: it is what is done, and what the faults will show")
	case len(w.ID) > mostSigned:
		return refused(http.StatusBadRequest, "id is longer than %d bytes", mostSigned)
	case controls(w.ID):
		return refused(http.StatusBadRequest, "id holds a control character")
	}
	if len(w.On) != 1 {
		return refused(http.StatusBadRequest, "on wants one attribute with its value, such as {\"pathway\": \"tray-n2-east\"}")
	}
	switches := make([]string, len(s.Switches))
	for i, sw := range s.Switches {
		switches[i] = sw.Name
	}
	work := w.Fault()
	if err := work.Check(s.Plant, switches); err != nil {
		return bad(err)
	}
	if w.To.Sub(w.From) > longestWork {
		return refused(http.StatusBadRequest, "to is more than 31 days after from; announce work that lasts longer in parts")
	}
	return nil
}

// plan writes planned work down. With an id it is work that was announced before, and
// may end at once; an id that names none would leave the work that was meant in force.
func (s Source) plan(ctx context.Context, w *PlannedWork) error {
	if w.ID == "" {
		if !w.To.After(s.Now()) {
			return refused(http.StatusBadRequest, "to is over already: %s", w.To.Format(time.RFC3339))
		}
		return s.Journal.Plan(ctx, w)
	}
	known, err := s.Journal.Works(ctx)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(known, func(k PlannedWork) bool { return k.ID == w.ID }) {
		return refused(http.StatusBadRequest, "no planned work has the id %q; leave id out to announce other work, or take one that GET /api/planned-work gives", w.ID)
	}
	return s.Journal.Plan(ctx, w)
}

func checkNote(n *Note, s *fault.Snapshot, user string) error {
	if err := signed(&n.By, user, n.Note); err != nil {
		return err
	}
	if strings.TrimSpace(n.Note) == "" {
		return refused(http.StatusBadRequest, "note is missing: it is what is to be known")
	}
	return checkPlace(s, n.Run, n.Switch, n.Port)
}

// checkPlace finds the run, switch or port that is named, if any.
func checkPlace(s *fault.Snapshot, run, switchName, portName string) error {
	if run != "" && s.Plant.Run(run) == nil {
		return refused(http.StatusBadRequest, "run %q is not in the inventory%s", run, plant.DidYouMean(run, runIDs(s)))
	}
	if switchName == "" {
		if portName != "" {
			return refused(http.StatusBadRequest, "port %q wants its switch too", portName)
		}
		return nil
	}
	sw, ok := s.Switch(switchName)
	if !ok {
		return refused(http.StatusBadRequest, "switch %q is not watched%s", switchName, plant.DidYouMean(switchName, switchNames(s)))
	}
	if _, ok := sw.Port(portName); portName != "" && !ok {
		return refused(http.StatusBadRequest, "switch %s has no port %q", switchName, portName)
	}
	return nil
}

func checkTaken(t *Taken, s *fault.Snapshot, user string) error {
	if err := signed(&t.By, user, t.Note); err != nil {
		return err
	}
	if err := checkPlace(s, t.Run, t.Switch, t.Port); err != nil {
		return err
	}
	f := OpenFault(s, t)
	if f == nil {
		return refused(http.StatusBadRequest, "no fault of kind %q is open there; kinds are %s", t.Kind, kindNames())
	}
	t.Run, t.Switch, t.Port = f.Run, f.Switch, f.Port
	return nil
}

// OpenFault is the open fault that somebody took, nil for none.
func OpenFault(s *fault.Snapshot, t *Taken) *fault.Fault {
	open := s.FaultsOf(t.Run)
	if t.Run == "" {
		open = s.FaultsAt(t.Switch, t.Port)
	}
	at := slices.IndexFunc(open, func(f *fault.Fault) bool { return string(f.Kind) == t.Kind })
	if at < 0 {
		return nil
	}
	return open[at]
}

func kindNames() string {
	names := make([]string, len(fault.Kinds))
	for i, k := range fault.Kinds {
		names[i] = string(k)
	}
	return strings.Join(names, ", ")
}
