package fault

import (
	"slices"
	"strings"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/sequential"
	"toneout/internal/standards"
)

// sharing is the joined runs of one medium and what they have in common.
type sharing struct {
	runs   []sharer
	names  []SharedName
	groups [][]int32 // the runs of each name, ascending
	at     map[SharedName]int32
	of     map[string]int32 // place of a run, by its id
	kinds  map[Attribute]int
}

// sorts is how many names there are of an attribute.
func (m *sharing) sorts(a Attribute) int { return m.kinds[a] }

// sharer is one run with its ports, and the names that it has.
type sharer struct {
	run      *plant.Run
	ports    []sharedPort
	names    []int32
	inferred []int32 // those of them that the record does not say
}

type sharedPort struct {
	*portState
	owner *switchState
}

// members are the runs that have a name, by their places.
func (m *sharing) members(name SharedName) []int32 {
	if at, ok := m.at[name]; ok {
		return m.groups[at]
	}
	return nil
}

// relate works out what the joined runs have in common, where ports were joined
// anew since.
func (t *Tracker) relate() {
	if t.shared.built == t.joined {
		return
	}
	t.shared.built = t.joined
	for medium := range t.shared.media {
		t.shared.media[medium] = sharing{at: map[SharedName]int32{}, of: map[string]int32{}, kinds: map[Attribute]int{}}
	}
	for _, s := range t.order {
		for _, p := range s.order {
			run := p.join.Run
			if run == nil || p.awaited() {
				continue
			}
			m := &t.shared.media[sharedMedium(p.medium)]
			at, known := m.of[run.ID]
			if !known {
				at = int32(len(m.runs))
				m.of[run.ID] = at
				m.runs = append(m.runs, sharer{run: run})
			}
			m.runs[at].ports = append(m.runs[at].ports, sharedPort{p, s})
		}
	}
	for medium := range t.shared.media {
		m := &t.shared.media[medium]
		for i := range m.runs {
			t.name(m, int32(i))
		}
		m.infer()
	}
}

// sharedMedium is which runs a medium is judged with. Copper that is not
// recorded as such is copper still; an active optical cable is light.
func sharedMedium(medium standards.Medium) int {
	if medium == standards.Fibre || medium == standards.ActiveOptical {
		return glass
	}
	return copper
}

// name enters what a run has in common with others.
func (t *Tracker) name(m *sharing, i int32) {
	r := &m.runs[i]
	enter := func(attribute Attribute, value string) {
		name := SharedName{attribute, value}
		if value == "" {
			return
		}
		at, known := m.at[name]
		if !known {
			at = int32(len(m.names))
			m.at[name] = at
			m.names = append(m.names, name)
			m.kinds[attribute]++
			m.groups = append(m.groups, nil)
		}
		if !slices.Contains(r.names, at) {
			r.names = append(r.names, at)
			m.groups[at] = append(m.groups[at], i)
		}
	}
	run := r.run
	enter(ByBundle, run.Bundle)
	enter(ByInstaller, run.Installer)
	enter(ByBatch, run.Batch)
	enter(ByCable, run.Cable)
	for _, way := range run.Pathways {
		enter(ByPathway, way)
	}
	for i := range run.Segments {
		enter(ByCable, run.Segments[i].Cable)
		for _, way := range run.Segments[i].Pathways {
			enter(ByPathway, way)
		}
	}
	for _, id := range []string{run.Panel, run.FarPanel} {
		enter(ByPanel, id)
		if panel := t.plant.Panel(id); panel != nil {
			enter(BySpace, panel.Space)
		}
	}
	for _, p := range r.ports {
		enter(BySwitch, p.ref.Switch)
		enter(BySpace, p.owner.view.Space)
		if slot := slotOf(p.ref.Port); slot != "" {
			enter(ByLineCard, p.ref.Switch+"/"+slot)
		}
	}
}

// slotOf is where a port sits by its name, which most switches write as slot
// and port, or member, slot and port, after a word for the sort of port (common
// practice, no source): "2" of "2/13", "1/0" of "ge1/0/13". It is "" where the
// name tells none.
func slotOf(name string) string {
	last := strings.LastIndexByte(name, '/')
	if last < 0 {
		return ""
	}
	return strings.TrimLeftFunc(name[:last], func(r rune) bool { return r < '0' || r > '9' })
}

// sharedStanding is how a run counts where shared causes are looked for.
type sharedStanding uint8

const (
	noMember sharedStanding = iota // nothing is known of it
	well
	suspected // it raises no fault yet
	atFault
)

// sharedFit is what a fit came to.
type sharedFit struct {
	standing        []sharedStanding // of each run
	members, faulty int
	causes          []sequential.SharedCause // groups are places of names
}

// fit finds what stands behind the runs of a medium that are at fault; held is
// what was found before.
func (t *Tracker) fit(m *sharing, held []*hold) *sharedFit {
	f := &sharedFit{standing: make([]sharedStanding, len(m.runs))}
	for i := range m.runs {
		f.standing[i] = t.counts(&m.runs[i])
	}
	m.solve(f, held)
	return f
}

// counts tells how a run counts. One that is at fault or suspected does so while
// its switch is silent too: nothing has shown that it is over.
func (t *Tracker) counts(r *sharer) sharedStanding {
	if s := t.board.sites[place{run: r.run.ID}]; s != nil && len(s.faults) > 0 {
		if blamed(s.faults) {
			return atFault
		}
		return noMember
	}
	if t.shared.struck[r.run.ID] || slices.ContainsFunc(r.ports, func(p sharedPort) bool { return p.suspect && t.upstream(p.portState) == nil }) {
		return suspected
	}
	for _, p := range r.ports {
		if !p.owner.view.Answering() || p.reading.Oper != port.Up || p.carried == 0 || p.unjudged() != "" {
			return noMember
		}
	}
	return well
}

// solve finds the causes by who is at fault. Groups with too few of these are
// passed without their members: they only count.
func (m *sharing) solve(f *sharedFit, held []*hold) {
	failing := make([]int, len(m.names))
	for i := range m.runs {
		switch f.standing[i] {
		case suspected, atFault:
			f.faulty++
			for _, g := range m.runs[i].names {
				failing[g]++
			}
			f.members++
		case well:
			f.members++
		case noMember:
		}
	}
	if f.faulty < leastSharing {
		return
	}
	faulty, places := make([]bool, 0, f.members), make([]int, len(m.runs))
	for i, is := range f.standing {
		places[i] = len(faulty)
		if is != noMember {
			faulty = append(faulty, is != well)
		}
	}
	groups := make([]sequential.Group, len(m.names))
	for g := range groups {
		groups[g].Attribute = slices.Index(Attributes, m.names[g].Attribute)
		groups[g].Held = slices.ContainsFunc(held, func(h *hold) bool { return h.Name == m.names[g] })
		if failing[g] < leastSharing {
			continue
		}
		for _, i := range m.groups[g] {
			if f.standing[i] != noMember {
				groups[g].Members = append(groups[g].Members, places[i])
			}
		}
	}
	f.causes = sequential.SharedCauses(faulty, groups)
}

// doubtful notes whether a port is on its way to a fault of damaged frames,
// which speaks for a shared cause before it does for a fault.
func (t *Tracker) doubtful(p *portState, event *groupEvent, threshold float64) {
	d := &p.errors.detector
	suspect := d.Suspicious() && d.Suspect(threshold) && !event.on(p.reading.At)
	if suspect != p.suspect {
		p.suspect, t.shared.stale = suspect, true
	}
}
