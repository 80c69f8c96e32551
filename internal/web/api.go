package web

import (
	"context"
	"net/http"
	"slices"
	"time"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// noQuery refuses query parameters, of which the address knows none: one
// that is passed over in silence looks like a filter that found everything.
func noQuery(f apiFunc) apiFunc {
	return func(r *http.Request, s *fault.Snapshot) (any, error) {
		for name := range r.URL.Query() {
			return nil, refused(http.StatusBadRequest, "unknown query parameter %q: %s takes none", name, r.URL.Path)
		}
		return f(r, s)
	}
}

func noSuchAPI(r *http.Request, _ *fault.Snapshot) (any, error) {
	return nil, refused(http.StatusNotFound,
		"nothing is at %s; there are /api/faults, /api/runs, /api/runs/{id} with /timeline, /hours and /load, /api/ports/{switch}/{port}, /api/shared-causes, /api/switches, /api/coverage, /api/audit, /api/figures, /api/changes, /api/repairs, /api/planned-work, /api/notes and /api/taken", r.URL.Path)
}

func runs(_ *http.Request, s *fault.Snapshot) (any, error) {
	notes := notesOf(s.Joined)
	out := []RunVerdict{}
	for _, r := range s.Runs() {
		out = append(out, verdictOf(s, &r, notes))
	}
	return out, nil
}

func (a *auditor) run(s Source) apiFunc {
	return func(r *http.Request, snapshot *fault.Snapshot) (any, error) {
		return a.findRun(r.Context(), s.teller(r, snapshot), r.PathValue("id"))
	}
}

// findRun gives all that is known of a run, or says which may have been meant.
func (a *auditor) findRun(ctx context.Context, t teller, id string) (RunDetail, error) {
	s := t.snapshot
	found, ok := s.Run(id)
	if !ok {
		return RunDetail{}, refused(http.StatusNotFound, "run %q is not in the inventory%s%s", id, plant.DidYouMean(id, runIDs(s)), portHints(s, id))
	}
	seen := seenOf(s, found.Run)
	return RunDetail{
		WasTold:    t.toldOf(ctx, found.Run, found.Faults),
		RunVerdict: verdictOf(s, &found, notesOf(s.Joined)),
		Shared:     sharedOf(s, id),
		Expected:   expectationOf(s.Plant.Expected(found.Run, seen)),
		Findings:   a.of(s).findingsOf(id),
		Acceptance: acceptanceOf(s.Plant.Acceptance(id)),
		Readiness:  readyFor(s.Plant, found.Run, 0, seen),
	}, nil
}

func runIDs(s *fault.Snapshot) []string {
	ids := make([]string, len(s.Plant.Runs))
	for i, r := range s.Plant.Runs {
		ids[i] = r.ID
	}
	return ids
}

// SwitchNow is one switch as /api/switches gives it.
type SwitchNow struct {
	Name          string     `json:"name"`
	Address       string     `json:"address"`
	Space         string     `json:"space"` // "" where the configuration names none
	Tried         bool       `json:"tried"`
	Answering     bool       `json:"answering"` // it answered one of its last 3 polls
	SilentPolls   int        `json:"silent_polls"`
	LastAnswer    *time.Time `json:"last_answer,omitempty"`
	LastTry       *time.Time `json:"last_try,omitempty"`
	Problem       string     `json:"problem,omitempty"` // why the last poll failed
	Class         string     `json:"class,omitempty"`
	SystemName    string     `json:"system_name,omitempty"`
	UptimeSeconds *float64   `json:"uptime_seconds,omitempty"` // of its agent
	Tables        []Table    `json:"tables"`
	Ports         int        `json:"ports"` // physical
	PortsWithRun  int        `json:"ports_with_run"`

	RefusesCredentials bool       `json:"refuses_credentials"` // it is there, and takes none of them
	Behind             string     `json:"behind,omitempty"`    // the silent switch that hides this silent one
	Planned            bool       `json:"planned"`             // work on it is planned and in force
	Suspended          string     `json:"suspended,omitempty"` // why its joins wait to be confirmed
	Engine             string     `json:"engine,omitempty"`    // SNMP engine id
	Twins              []string   `json:"twins"`               // other switches of the same engine id, 20 at most
	Chassis            string     `json:"chassis,omitempty"`   // what it calls itself to its neighbours
	Units              []Unit     `json:"units"`               // chassis or members of the stack
	Neighbours         []HeardAt  `json:"neighbours"`
	Detailed           *time.Time `json:"detailed,omitempty"` // when it last told units and neighbours
}

// Table is whether a switch gives one table.
type Table struct {
	Name    string   `json:"name"`
	Given   bool     `json:"given"`
	Rows    int      `json:"rows"`
	State   string   `json:"state"` // given, empty, hidden, broken
	Missing []string `json:"missing,omitempty"`
	Grant   string   `json:"grant,omitempty"` // the subtree that a view must hold
	Why     string   `json:"why,omitempty"`
}

func switches(_ *http.Request, s *fault.Snapshot) (any, error) {
	out := []SwitchNow{}
	twins := s.Twins()
	for _, sw := range s.Switches {
		now := switchNow(sw)
		for _, name := range twins[sw.Engine] {
			if name != sw.Name && len(now.Twins) < mostTwins {
				now.Twins = append(now.Twins, name)
			}
		}
		out = append(out, now)
	}
	return out, nil
}

// mostTwins is how many switches of the same engine id each one names; some
// models have one for all.
const mostTwins = 20

func switchNow(sw *fault.Switch) SwitchNow {
	out := SwitchNow{
		Name: sw.Name, Address: sw.Address, Space: sw.Space,
		Tried: sw.Tried, Answering: sw.Answering(), SilentPolls: sw.Silent,
		LastAnswer: timePointer(sw.LastAnswer), LastTry: timePointer(sw.LastTry),
		Problem: sw.Problem, Class: sw.Class, SystemName: sw.SystemName,
		Tables: []Table{}, Ports: len(sw.Ports),
		RefusesCredentials: sw.RefusesCredentials(), Planned: sw.Planned, Behind: sw.Behind, Suspended: sw.Suspended,
		Engine: sw.Engine, Twins: []string{}, Units: []Unit{}, Neighbours: []HeardAt{},
	}
	out.detail(sw)
	if ticks, ok := sw.Uptime.Get(); ok && sw.Answering() {
		seconds := float64(ticks) / 100
		out.UptimeSeconds = &seconds
	}
	for _, t := range sw.Tables {
		out.Tables = append(out.Tables, Table{t.Name, t.Given(), t.Rows, string(t.State), t.Missing, t.Grant, t.Why})
	}
	for i := range sw.Ports {
		if sw.Ports[i].Run != "" {
			out.PortsWithRun++
		}
	}
	return out
}

func faults(r *http.Request, s *fault.Snapshot) (any, error) {
	wanted, err := filtersOf(faultFilters, r.URL.Query(), s)
	if err != nil {
		return nil, err
	}
	return listed(slices.DeleteFunc(slices.Clone(s.Faults), func(f *fault.Fault) bool { return !wanted.match(f) })), nil
}
