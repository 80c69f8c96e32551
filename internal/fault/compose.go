package fault

import (
	"cmp"
	"fmt"
	"slices"

	"toneout/internal/plant"
	"toneout/internal/standards"
)

// place is where a fault is put: a run, or a port that has none.
type place struct {
	run  string
	port plant.PortRef // where run is ""
	kind Kind
}

// faults puts the open conditions of all ports together: one fault for each
// run and kind, whichever of its ends shows it.
func (t *Tracker) faults() []Fault {
	found := make(map[place][]finding)
	for p := range t.open {
		run := t.runOf(p)
		for _, f := range p.findings(run, t.mediumOf(run)) {
			at := place{port: p.ref, kind: f.kind}
			if run != nil {
				at = place{run: run.ID, kind: f.kind}
			}
			found[at] = append(found[at], f)
		}
	}
	faults := make([]Fault, 0, len(found))
	for at, findings := range found {
		faults = append(faults, t.fault(at, findings))
	}
	slices.SortFunc(faults, worstFirst)
	return faults
}

// findings are the port's open conditions.
func (p *portState) findings(run *plant.Run, medium standards.Medium) []finding {
	var found []finding
	if p.slow.open {
		found = append(found, p.slowFinding(run, medium))
	}
	if p.errors.detector.Open() {
		found = append(found, p.errorFinding(run, medium))
	}
	return found
}

// fault makes one fault of the findings at a place. What is loud and severe
// leads; a second receiver's finding adds its evidence.
func (t *Tracker) fault(at place, findings []finding) Fault {
	slices.SortFunc(findings, func(a, b finding) int {
		return cmp.Or(compareBool(a.quiet, b.quiet), compareBool(b.severe, a.severe), comparePorts(a.port.ref, b.port.ref))
	})
	lead := findings[0]
	run := t.plant.Run(at.run)
	f := Fault{
		Run: at.run, Kind: at.kind,
		About: words[lead.causes[0].Cause].about, Severity: severity(lead.severe, run),
		Since: lead.since, Summary: lead.summary, Causes: lead.causes,
		Quiet: lead.quiet || words[lead.causes[0].Cause].quiet,
	}
	f.Alarm = !f.Quiet && !f.Planned && f.SharedCause == ""
	for _, g := range findings {
		if g.since.Before(f.Since) {
			f.Since = g.since
		}
		f.Evidence = append(f.Evidence, g.evidence...)
	}
	f.Checks, f.Cautions = advice(f.Causes)
	t.locate(&f, lead.port, run)
	return f
}

// locate names the fault's port, both ends and space.
func (t *Tracker) locate(f *Fault, p *portState, run *plant.Run) {
	f.Switch, f.Port = p.ref.Switch, p.ref.Port
	if run == nil {
		f.Near = p.ref.String()
		if text := written(p.last); text != "" {
			f.Near += fmt.Sprintf(" (%q)", text)
		}
	} else {
		near, far := t.joined.PortsOf(run.ID)
		if near != (plant.PortRef{}) {
			f.Switch, f.Port = near.Switch, near.Port
		}
		f.Near, f.Far = endsAsJoined(run, near, far)
		f.Owner = run.Owner
	}
	f.Space = t.switches[f.Switch].view.Space
}

// endsAsJoined tells both ends, with the ports that were found rather than
// those recorded where these differ.
func endsAsJoined(run *plant.Run, near, far plant.PortRef) (string, string) {
	joined := *run
	if near != (plant.PortRef{}) {
		joined.Switch, joined.Port = near.Switch, near.Port
	}
	if far != (plant.PortRef{}) {
		joined.FarSwitch, joined.FarPort = far.Switch, far.Port
	}
	return joined.Ends()
}

// severity is a warning, critical by measure, and one step up or down by the
// importance of the run.
func severity(severe bool, run *plant.Run) Severity {
	steps := []Severity{Info, Warning, Critical}
	at := 1
	if severe {
		at++
	}
	if run != nil && run.Importance == plant.High {
		at++
	}
	if run != nil && run.Importance == plant.Low {
		at--
	}
	return steps[min(at, len(steps)-1)]
}

// adviceFrom is how many of the likeliest causes checks are given for.
const adviceFrom = 4

// advice gives the checks of the likeliest causes, and the cautions: the
// specific ones first, the standing ones always.
func advice(causes []CauseProbability) (checks, cautions []string) {
	for _, c := range causes[:min(adviceFrom, len(causes))] {
		w := words[c.Cause]
		if !slices.Contains(checks, w.check) {
			checks = append(checks, w.check)
		}
		if w.caution != "" && !slices.Contains(cautions, w.caution) {
			cautions = append(cautions, w.caution)
		}
		if w.quiet {
			break
		}
	}
	return checks, append(cautions, standingCautions...)
}

func comparePorts(a, b plant.PortRef) int {
	return cmp.Or(cmp.Compare(a.Switch, b.Switch), cmp.Compare(a.Port, b.Port))
}
