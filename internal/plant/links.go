package plant

import "slices"

// link is a cable between two ports by what they hear.
type link struct {
	a, b int // b may be unseen
}

// readLinks finds each port's other end from what it hears and from who hears
// it. Where these differ nothing of it is used.
func (j *joiner) readLinks() {
	says := make([]int, len(j.seen))
	hearers := map[int][]int{}
	for i := range j.seen {
		says[i] = j.resolve(i)
		if says[i] >= 0 {
			hearers[says[i]] = append(hearers[says[i]], i)
		}
	}
	disputed := map[int]bool{}
	for i, by := range says {
		j.peers[i] = by
		others := slices.DeleteFunc(slices.Clone(hearers[i]), func(h int) bool { return h == by })
		switch {
		case len(others) == 1 && by == nowhere:
			j.peers[i] = others[0]
		case len(others) > 0:
			disputed[i] = true
			j.dispute(i, by, others)
		}
	}
	for i, peer := range j.peers {
		if disputed[i] || disputed[peer] {
			j.peers[i] = nowhere
		}
	}
}

// resolve gives the port that port i hears.
func (j *joiner) resolve(i int) int {
	s := &j.seen[i]
	if s.Peer == (PortRef{}) || !s.Physical || j.twins[i] {
		return nowhere
	}
	peer, known := j.refs[s.Peer]
	if !known {
		peer = unseen
		if rows := j.switches[s.Peer.Switch]; rows != nil {
			if found, _ := rows.find(j.seen, s.Peer.Port); found != nowhere {
				peer = found
			}
		}
	}
	if peer == i || peer == several || j.twins[peer] {
		return nowhere
	}
	return peer
}

// dispute lists what the ports at one cable say against each other.
func (j *joiner) dispute(i, by int, others []int) {
	c := Conflict{Ports: []PortRef{j.seen[i].Ref()}}
	var names []string
	for _, other := range others {
		c.Ports = append(c.Ports, j.seen[other].Ref())
		names = append(names, j.seen[other].Ref().String())
	}
	hear := " hears "
	if len(names) > 1 {
		hear = " hear "
	}
	c.Text = and(names) + hear + j.seen[i].Ref().String()
	if by != nowhere {
		c.Text += ", which hears " + j.seen[i].Peer.String()
	}
	c.Text += "; what these ports hear tells nothing of their runs until they agree: is another device between them?"
	j.conflicts = append(j.conflicts, c)
}

// links gives each cable once.
func (j *joiner) links() (all []link) {
	for i, peer := range j.peers {
		if peer == unseen || peer > i {
			all = append(all, link{i, peer})
		}
	}
	return all
}

// meets tells whether port i's cable leads to where the record has the other
// end of the run.
func (j *joiner) meets(i int, s *side) bool {
	return j.peers[i] >= 0 && j.other(s).port == j.peers[i]
}

// confirm marks the records that something seen at their ports confirms.
func (j *joiner) confirm() {
	for i, claims := range j.claims {
		for _, s := range claims {
			s.sure = j.labels[i] == s.run || j.devices[i] == s.run || j.meets(i, s)
		}
	}
}

// heard tells whether what port i hears confirms that the run joined to it is
// there.
func (j *joiner) heard(i int, s *side) bool {
	return j.devices[i] == s.run || j.meets(i, s) && j.owner[j.peers[i]] == j.other(s)
}

// linksWithoutRun gives the cables whose ports are not joined to one run.
func (j *joiner) linksWithoutRun() (out [][2]PortRef) {
	for _, l := range j.links() {
		if l.b == unseen {
			continue
		}
		if a, b := j.owner[l.a], j.owner[l.b]; a == nil || b == nil || a.run != b.run {
			out = append(out, [2]PortRef{j.seen[l.a].Ref(), j.seen[l.b].Ref()})
		}
	}
	return out
}

// complete joins by neighbour the ends that records leave open: where the
// run's other end is joined and hears a port that nobody claims, on the switch
// that the record names if it names one.
func (j *joiner) complete() {
	for _, l := range j.links() {
		if l.b == unseen {
			continue
		}
		for _, way := range []link{l, {l.b, l.a}} {
			s, b := j.owner[way.a], way.b
			if s == nil || j.owner[b] != nil || len(j.claims[b]) > 0 || j.why[b] != "" || len(j.contrary(b, s.run)) > 0 {
				continue
			}
			if other := j.other(s); !other.held && other.port < 0 && mayBeOn(other, j.seen[b].Switch) {
				other.port, other.how = b, ByNeighbour
				j.own(b, other)
			}
		}
	}
}

// mayBeOn tells whether the record lets an end be at a port of a switch. A
// recorded device is what is at the far end, so the switch must be that.
func mayBeOn(s *side, switchName string) bool {
	switch at := s.at(); {
	case at.Switch != "":
		return at.Switch == switchName
	case s.end == FarEnd && s.run.Device != "":
		return fold(s.run.Device) == fold(switchName)
	}
	return true
}

func (j *joiner) other(s *side) *side {
	return &j.sides[j.order[s.run]][NearEnd+FarEnd-s.end]
}
