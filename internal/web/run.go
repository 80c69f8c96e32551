package web

import (
	"fmt"
	"slices"
	"strings"

	"toneout/internal/fault"
	"toneout/internal/plant"
)

// RunVerdict is one run as /api/runs/{id} gives it: its record under the keys
// of the inventory, and what is known of it now.
type RunVerdict struct {
	Record
	State     fault.State    `json:"state"`
	Verdict   string         `json:"verdict"` // a sentence or two
	Near      string         `json:"near"`    // both ends in words, as joined
	Far       string         `json:"far"`
	Ports     Ends           `json:"ports"`
	Faults    []*fault.Fault `json:"faults"`    // worst first
	Conflicts []string       `json:"conflicts"` // what contradicts the record, in sentences
	Unjoined  []string       `json:"unjoined"`  // why an end has no switch port, likewise
}

// RunDetail is one run with what takes longer to tell than a list of all has
// time for.
type RunDetail struct {
	RunVerdict
	Expected   *Expectation         `json:"expected"`
	Findings   []plant.Finding      `json:"findings"` // of the audit
	Acceptance *Acceptance          `json:"acceptance,omitempty"`
	Shared     []*fault.SharedCause `json:"shared_causes"`       // that it is at fault under
	Readiness  *Readiness           `json:"readiness,omitempty"` // for the next speed; left out where there is none
	WasTold
}

// Ends are the ports at both ends of a run; nil where that end is not joined.
type Ends struct {
	Near *PortNow `json:"near,omitempty"`
	Far  *PortNow `json:"far,omitempty"`
}

// List gives the ports that there are.
func (e Ends) List() []*PortNow {
	return slices.DeleteFunc([]*PortNow{e.Near, e.Far}, func(p *PortNow) bool { return p == nil })
}

// joinNotes is what the join says beside its joins, by run.
type joinNotes struct{ conflicts, unjoined map[string][]string }

func notesOf(j *plant.Joined) joinNotes {
	n := joinNotes{map[string][]string{}, map[string][]string{}}
	for _, c := range j.Conflicts {
		for _, id := range c.Runs {
			n.conflicts[id] = append(n.conflicts[id], c.Text)
		}
	}
	for _, u := range j.UnjoinedRuns {
		n.unjoined[u.Run.ID] = append(n.unjoined[u.Run.ID], fmt.Sprintf("%s end: %s", u.End, u.Why))
	}
	return n
}

func verdictOf(s *fault.Snapshot, r *fault.Run, notes joinNotes) RunVerdict {
	v := RunVerdict{
		Record: recordOf(r.Run),
		State:  r.State, Near: r.NearInWords, Far: r.FarInWords,
		Ports:     Ends{Near: portNow(s, r.Near), Far: portNow(s, r.Far)},
		Faults:    listed(r.Faults),
		Conflicts: append([]string{}, notes.conflicts[r.ID]...),
		Unjoined:  append([]string{}, notes.unjoined[r.ID]...),
	}
	v.Verdict = v.sentence()
	return v
}

// sentence says how the run is: its worst fault, else what each port says.
func (v *RunVerdict) sentence() string {
	worst := ""
	if len(v.Faults) > 0 {
		worst = v.Faults[0].Summary
	}
	if worst != "" && v.State != fault.Unknown {
		return worst
	}
	opening := map[fault.State]string{
		fault.Healthy: "No fault is open: ", fault.Idle: "No verdict without traffic: ", fault.Unknown: "Not known: ",
	}
	said := slices.Clone(v.Unjoined)
	for _, p := range v.Ports.List() {
		said = append(said, p.sentence())
	}
	if len(said) == 0 {
		said = []string{fmt.Sprintf("no port is joined to it, and by the record it is %s", v.Status)}
	}
	out := opening[v.State] + strings.Join(said, "; ") + "."
	if worst != "" {
		out += " Last known: " + worst
	}
	return out
}

// listed gives faults whose empty lists are [] in JSON, not null.
func listed(faults []*fault.Fault) []*fault.Fault {
	out := make([]*fault.Fault, len(faults))
	for i, shared := range faults {
		f := *shared
		f.Evidence = append([]string{}, f.Evidence...)
		f.Causes = append([]fault.CauseProbability{}, f.Causes...)
		f.Checks = append([]string{}, f.Checks...)
		f.Cautions = append([]string{}, f.Cautions...)
		f.NextChecks = append([]fault.NextCheck{}, f.NextChecks...)
		f.Guards = append([]fault.Guard{}, f.Guards...)
		out[i] = &f
	}
	return out
}
