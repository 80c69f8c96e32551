package fault

import (
	"slices"

	"toneout/internal/plant"
	"toneout/internal/port"
	"toneout/internal/sequential"
	"toneout/internal/standards"
)

// sharing is the joined runs of one medium and what they have in common.
type sharing struct {
	*lexicon
	runs    []sharer
	members [][]int32 // the runs of each group, ascending
	all     []int32   // what members are parts of
	of      []int32   // place among runs, by a run's place in the lexicon; -1 for none
}

// entered is what the groups of a port's run were worked out from.
type entered struct {
	port   *portState
	owner  *switchState
	run    *plant.Run
	medium int
	space  string // of its switch
	place  int32  // of its run in the lexicon
}

func (e *entered) same(f *entered) bool {
	return e.port == f.port && e.run == f.run && e.medium == f.medium && e.space == f.space
}

// sorts is how many groups there are of an attribute.
func (m *sharing) sorts(a Attribute) (n int) {
	for g, of := range m.members {
		if len(of) > 0 && m.groups[g].Attribute == a {
			n++
		}
	}
	return n
}

// sharer is one run with its ports, and the groups that hold it.
type sharer struct {
	run      *plant.Run
	ports    []sharedPort
	groups   []int32
	inferred []int32 // those of them that the record does not say
}

type sharedPort struct {
	*portState
	owner *switchState
}

// heldMembers are the runs of a held cause, by their places. A part that is no
// longer told apart is all of them.
func (m *sharing) heldMembers(h *hold) []int32 {
	for _, g := range []sharedGroup{{h.Name, h.Part}, {h.Name, ""}} {
		if at, ok := m.at[g]; ok && len(m.members[at]) > 0 {
			return m.members[at]
		}
	}
	return nil
}

// relate works out what the joined runs have in common, where ports were joined
// anew since. The owner waits for it: most joins change no run's groups, and
// what the record says is looked up once.
func (t *Tracker) relate() {
	sh := &t.shared
	if sh.built == t.joined {
		return
	}
	sh.built = t.joined
	anew := sh.lexicon == nil || sh.lexicon.plant != t.plant
	if anew {
		sh.lexicon, sh.entered = newLexicon(t.plant), nil
	}
	if !t.enteredAnew() && !anew {
		return
	}
	for medium := range sh.media {
		sh.media[medium].clear(sh.lexicon)
	}
	t.enterAll()
	for medium := range sh.media {
		m := &sh.media[medium]
		m.collect()
		m.infer()
	}
}

// enteredAnew lists the ports that have runs, and tells whether any differs from
// before.
func (t *Tracker) enteredAnew() (changed bool) {
	sh, was := &t.shared, t.shared.entered
	now := sh.before[:0]
	for _, s := range t.order {
		for _, p := range s.order {
			if p.join.Run == nil || p.awaited() {
				continue
			}
			e := entered{port: p, owner: s, run: p.join.Run, medium: sharedMedium(p.medium), space: s.view.Space}
			if len(was) > 0 && e.same(&was[0]) {
				now, was = append(now, was[0]), was[1:]
				continue
			}
			place, known := sh.lexicon.place[e.run]
			if !known {
				continue // of an inventory that is not in force
			}
			if len(was) > 0 && was[0].port == p {
				was = was[1:]
			}
			e.place, changed = place, true
			now = append(now, e)
		}
	}
	changed = changed || len(was) > 0
	sh.before, sh.entered = sh.entered, now
	return changed
}

// enterAll enters the runs of all ports.
func (t *Tracker) enterAll() {
	l := t.shared.lexicon
	var owner *switchState
	var slot string
	var name, card int32
	var space []int32
	for i := range t.shared.entered {
		e := &t.shared.entered[i]
		if e.owner != owner {
			owner, slot, card, space = e.owner, "", -1, space[:0]
			name = l.number(SharedName{BySwitch, owner.name}, "")
			if e.space != "" {
				space = append(space, l.number(SharedName{BySpace, e.space}, ""), l.number(SharedName{BySpace, e.space}, onSwitches))
			}
		}
		if now := slotOf(e.port.ref.Port); now != slot {
			slot, card = now, -1
			if slot != "" {
				card = l.number(SharedName{ByLineCard, owner.name + "/" + slot}, "")
			}
		}
		r := t.shared.media[e.medium].enter(e.place, e.run)
		r.ports = append(r.ports, sharedPort{e.port, owner})
		r.add(name)
		r.add(card)
		for _, g := range space {
			r.add(g)
		}
	}
}

// clear forgets the runs; what they were kept in is used again.
func (m *sharing) clear(l *lexicon) {
	m.lexicon, m.runs = l, m.runs[:0]
	m.of = slices.Grow(m.of[:0], len(l.recorded))[:len(l.recorded)]
	for i := range m.of {
		m.of[i] = -1
	}
}

// enter gives a run its place.
func (m *sharing) enter(place int32, run *plant.Run) *sharer {
	n := len(m.runs)
	if at := m.of[place]; at >= 0 {
		return &m.runs[at]
	}
	m.of[place] = int32(n)
	if n == cap(m.runs) {
		m.runs = slices.Grow(m.runs, 1)
	}
	m.runs = m.runs[:n+1]
	r := &m.runs[n]
	r.run, r.ports, r.groups, r.inferred = run, r.ports[:0], append(r.groups[:0], m.recorded[place]...), r.inferred[:0]
	return r
}

func (r *sharer) add(group int32) {
	if group >= 0 && !slices.Contains(r.groups, group) {
		r.groups = append(r.groups, group)
	}
}

// collect turns the groups of each run into the runs of each group. A part of a
// space that is all of it is not told apart.
func (m *sharing) collect() {
	sizes := make([]int32, len(m.groups))
	sum := 0
	for i := range m.runs {
		for _, g := range m.runs[i].groups {
			sizes[g]++
		}
		sum += len(m.runs[i].groups)
	}
	for g, of := range m.groups {
		if of.Part != "" && sizes[g] == sizes[m.at[sharedGroup{of.SharedName, ""}]] {
			sizes[g] = 0
		}
	}
	m.all = slices.Grow(m.all[:0], sum)[:sum]
	all := m.all
	m.members = make([][]int32, len(m.groups))
	for g, n := range sizes {
		m.members[g], all = all[:0:n], all[n:]
	}
	for i := range m.runs {
		for _, g := range m.runs[i].groups {
			if sizes[g] > 0 {
				m.members[g] = append(m.members[g], int32(i))
			}
		}
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
	atWork          []bool           // likewise: it has faults of which nobody is told while work is planned there
	members, faulty int
	causes          []sequential.SharedCause // groups by their places in the lexicon
}

// fit finds what stands behind the runs of a medium that are at fault; held is
// what was found before.
func (t *Tracker) fit(m *sharing, held []*hold) *sharedFit {
	f := &sharedFit{standing: make([]sharedStanding, len(m.runs)), atWork: make([]bool, len(m.runs))}
	for i := range m.runs {
		f.standing[i] = t.counts(&m.runs[i])
		if s := t.board.sites[place{run: m.runs[i].run.ID}]; s != nil {
			f.atWork[i] = slices.ContainsFunc(s.faults, (*Fault).wouldBlameRun)
		}
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
	if t.underWork(func(w *PlannedWork) bool { return w.onRun(r.run, t.plant) }) != nil {
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
	failing := make([]int, len(m.groups))
	for i := range m.runs {
		switch f.standing[i] {
		case suspected, atFault:
			f.faulty++
			for _, g := range m.runs[i].groups {
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
	var groups []sequential.Group
	var of []int // the group of each of them
	for g, name := range m.groups {
		if g >= len(m.members) || len(m.members[g]) == 0 {
			continue
		}
		group := sequential.Group{
			Attribute: slices.Index(Attributes, name.Attribute),
			Held:      slices.ContainsFunc(held, func(h *hold) bool { return h.Name == name.SharedName }),
		}
		if failing[g] >= leastSharing {
			for _, i := range m.members[g] {
				if f.standing[i] != noMember {
					group.Members = append(group.Members, places[i])
				}
			}
		}
		groups, of = append(groups, group), append(of, g)
	}
	f.causes = sequential.SharedCauses(faulty, groups)
	for i := range f.causes {
		c := &f.causes[i]
		c.Groups = numbered(c.Groups, of)
		for j := range c.Rivals {
			c.Rivals[j].Groups = numbered(c.Rivals[j].Groups, of)
		}
	}
}

func numbered(groups, of []int) (all []int) {
	for _, g := range groups {
		all = append(all, of[g])
	}
	return all
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
