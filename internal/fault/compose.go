package fault

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"toneout/internal/plant"
	"toneout/internal/standards"
)

// compose puts the open conditions of a place's ports together: one fault of
// each kind, whichever of the run's ends shows it.
func (t *Tracker) compose(s *site) []*Fault {
	found := make(map[Kind][]finding)
	for _, p := range s.ports {
		for _, f := range p.findings() {
			switch f.kind {
			case FrameErrors:
				if !t.countsSymbols(f.port.ref.Switch) {
					f.seen = slices.DeleteFunc(f.seen, func(i item) bool { return i == symbolsWhole })
				}
				f.seen = append(f.seen, t.nearby(f.port, f.since)...)
			case BelowDesignSpeed:
				f.seen = append(f.seen, t.nearby(f.port, f.since)...)
				f.seen.see(otherRow, t.anothersRow(f.port, f.since))
				f.seen.see(noneSoFast, t.noneSoFast(f.port))
			}
			t.seeWork(&f)
			t.seeAgreement(&f)
			f.judge(t.repaired)
			t.guard(&f)
			found[f.kind] = append(found[f.kind], f)
		}
		for _, f := range p.waiting(t.settings.leastProof()) {
			found[f.kind] = append(found[f.kind], f)
		}
	}
	var faults []*Fault
	for _, kind := range Kinds {
		if findings := found[kind]; len(findings) > 0 {
			faults = append(faults, t.fault(kind, findings))
		}
	}
	before := s.faults
	if len(before) == 0 {
		before = s.recall()
	}
	for _, f := range faults {
		was := kindAmong(before, f.Kind)
		f.holdAbout(was, t.at)
		f.holdTelling(was, t.at)
	}
	faults = foldLight(foldParts(faults, before, t.at), before, t.at, t.at.Add(foldedFor*t.settings.slowEvery()))
	s.remember(faults)
	return t.fold(s, t.hushPlanned(faults))
}

// fault makes one fault of the findings of one place and kind. What is loud
// and severe leads; a second receiver's finding adds its evidence.
func (t *Tracker) fault(kind Kind, findings []finding) *Fault {
	slices.SortFunc(findings, func(a, b finding) int {
		return cmp.Or(compareBool(a.awaits != nil, b.awaits != nil), compareBool(a.quiet, b.quiet), compareBool(a.weak, b.weak), compareBool(b.severe, a.severe), comparePorts(a.port.ref, b.port.ref))
	})
	lead := findings[0]
	run := lead.port.join.Run
	weighed := lead.weighed
	f := &Fault{
		Kind: kind, About: aboutAt(lead), Severity: severity(lead, run),
		Since: lead.since, Summary: lead.summary, Causes: lead.causes, weighed: &weighed, Medium: string(weighed.Of),
		unseen: !slices.ContainsFunc(findings, func(g finding) bool { return !g.unseen }),
		Quiet:  lead.quiet || lead.causes[0].quiet() && weighed.show(lead.causes[0].Cause),
		Guards: []Guard{}, unmade: lead.port.unmade(),
	}
	f.Proof = lead.awaits
	f.Alarm = !f.Quiet && !f.Planned && f.SharedCause == "" && f.Proof == nil
	for _, g := range findings {
		if g.since.Before(f.Since) {
			f.Since = g.since
		}
		f.resumed = f.resumed || g.since.Before(g.port.resumes)
		f.Evidence = appendNew(f.Evidence, g.evidence) // both ends tell of both directions
		f.Guards = append(f.Guards, g.guards...)
	}
	if f.restated = lead.restated; lead.awaits == nil { // of a repaired one its evidence holds them
		bothEnds := slices.ContainsFunc(findings, func(g finding) bool { return g.port != lead.port && g.awaits == nil && !g.unseen })
		f.pleas = lead.pleas(bothEnds, t.beyond(lead.port))
		f.Evidence = append(f.Evidence, f.pleas...)
	}
	f.advise(&lead.port.site.judged)
	if slices.Contains(lightKinds, kind) || lead.port.mediumNow() == standards.Fibre {
		f.tellLight()
	}
	t.locate(f, lead.port, run)
	return f
}

// hushes is how sure it must be that nobody is at fault, for nobody to be told (common
// practice, no source).
const hushes = 0.6

// quiet tells whether a leading cause is one of which nobody is to be told.
func (c CauseProbability) quiet() bool { return c.Cause.Quiet() && c.Probability >= hushes }

// aboutAt is where the leading cause lies. Seen from the run's far port, the
// far end is the near one, which is a port of ours.
func aboutAt(lead finding) About {
	about := cmp.Or(lead.about, words[lead.causes[0].Cause].about)
	if about == AboutFarEnd && lead.port.join.Run != nil && lead.port.join.End == plant.FarEnd {
		return AboutPort
	}
	return about
}

// aboutHeld is for how long the leading cause must lie elsewhere until a fault
// that turned once between the port and the rest of its run turns again: each time
// it is another alert. It outlasts the hour for which a lost link is remembered.
const aboutHeld = 2 * time.Hour

// holdAbout keeps what an alarm is about, where that wavers.
func (f *Fault) holdAbout(was *Fault, at time.Time) {
	if was == nil || !was.Alarm {
		return
	}
	f.turned = was.turned
	if (f.About == AboutPort) == (was.About == AboutPort) {
		return
	}
	if f.leans = was.leans; f.leans.IsZero() {
		f.leans = at
	}
	if f.turned && at.Sub(f.leans) < aboutHeld {
		f.About = was.About
	}
	f.turned = true
}

// locate names the fault's port, both ends and space.
func (t *Tracker) locate(f *Fault, p *portState, run *plant.Run) {
	f.Switch, f.Port = p.ref.Switch, p.ref.Port
	if run == nil {
		f.Near = p.ref.String()
		if text := written(p.reading); text != "" {
			f.Near += fmt.Sprintf(" (%q)", text)
		}
	} else {
		f.Run = run.ID
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

// severity is a warning, critical by measure, one step down where the evidence
// is weak, and one step up or down by the importance of the run.
func severity(lead finding, run *plant.Run) Severity {
	steps := []Severity{Info, Warning, Critical}
	at := 1
	if lead.severe {
		at++
	}
	if lead.weak {
		at--
	}
	if run != nil && run.Importance == plant.High {
		at++
	}
	if run != nil && run.Importance == plant.Low {
		at--
	}
	return steps[min(max(at, 0), len(steps)-1)]
}

// advise gives a fault its next checks, and the cautions that fit them.
func (f *Fault) advise(known *judged) {
	f.Experience = f.weighed.experience(f.Causes)
	f.NextChecks, f.Checks = known.checksOf(f), nil
	specific := slices.Clone(kindCautions[f.Kind])
	for _, c := range f.NextChecks {
		f.Checks = append(f.Checks, c.Check)
		specific = append(specific, checkWords[c.Code].cautions...)
	}
	f.Cautions = f.material().cautions(specific)
}

// material is what its run is made of, as cautions go by it.
func (f *Fault) material() material {
	if f.unmade {
		return anyMaterial
	}
	return material(f.Medium)
}

func comparePorts(a, b plant.PortRef) int {
	return cmp.Or(cmp.Compare(a.Switch, b.Switch), cmp.Compare(a.Port, b.Port))
}
