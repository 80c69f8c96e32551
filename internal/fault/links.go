package fault

import (
	"cmp"
	"slices"
	"time"

	"toneout/internal/plant"
)

// pair is two watched switches, in the order of their names.
type pair [2]string

func pairOf(a, b string) pair {
	if b < a {
		a, b = b, a
	}
	return pair{a, b}
}

// network is how the watched switches hang together. What was heard stays
// while one of its switches is silent, since a silent switch's neighbours
// forget it soon.
type network struct {
	cables map[[2]plant.PortRef]time.Time // when last heard
	pairs  map[pair]time.Time
	links  []Link
	beside map[string][]string // switches by switch, in the order of their names
}

func newNetwork() network {
	return network{cables: map[[2]plant.PortRef]time.Time{}, pairs: map[pair]time.Time{}}
}

// weave works out the links anew, after ports were joined.
func (t *Tracker) weave(at time.Time) {
	t.listen(at)
	t.forget(at)
	t.net.links = t.links()
	beside := map[pair]bool{}
	for p := range t.net.pairs {
		beside[p] = true
	}
	for _, l := range t.net.links {
		if l.A.Switch != l.B.Switch {
			beside[pairOf(l.A.Switch, l.B.Switch)] = true
		}
	}
	t.net.beside = make(map[string][]string)
	for p := range beside {
		t.net.beside[p[0]] = append(t.net.beside[p[0]], p[1])
		t.net.beside[p[1]] = append(t.net.beside[p[1]], p[0])
	}
	for _, names := range t.net.beside {
		slices.Sort(names)
	}
}

// listen enters what ports of answering switches hear.
func (t *Tracker) listen(at time.Time) {
	for _, s := range t.order {
		if s.view.Silent > 0 {
			continue
		}
		for _, p := range s.order {
			for _, n := range p.neighbours {
				if other := t.switchOf(n); other != "" && other != s.name {
					t.net.pairs[pairOf(s.name, other)] = at
				}
			}
			if cable, ok := cableAt(p); ok {
				t.net.cables[cable] = at
			}
		}
	}
}

// cableAt is the cable between a port and its peer.
func cableAt(p *portState) (cable [2]plant.PortRef, ok bool) {
	if p.peer == (plant.PortRef{}) {
		return cable, false
	}
	cable = [2]plant.PortRef{p.ref, p.peer}
	slices.SortFunc(cable[:], comparePorts)
	return cable, true
}

// forget drops what is not heard any longer though both switches answer, and
// what was of a switch that is not watched any longer.
func (t *Tracker) forget(at time.Time) {
	gone := func(a, b string, heard time.Time) bool {
		one, other := t.switches[a], t.switches[b]
		if one == nil || other == nil {
			return true
		}
		return heard.Before(at) && one.view.Silent == 0 && other.view.Silent == 0 && one.view.Tried && other.view.Tried
	}
	for cable, heard := range t.net.cables {
		if gone(cable[0].Switch, cable[1].Switch, heard) {
			delete(t.net.cables, cable)
		}
	}
	for p, heard := range t.net.pairs {
		if gone(p[0], p[1], heard) {
			delete(t.net.pairs, p)
		}
	}
}

// links are the cables between watched switches, each once: those heard, and
// those that the record names and nothing heard contradicts.
func (t *Tracker) links() []Link {
	var links []Link
	taken := map[plant.PortRef]bool{}
	for _, cable := range t.undisputed() {
		links = append(links, Link{A: cable[0], B: cable[1], Run: t.runOf(cable[0], cable[1]), Seen: true})
		taken[cable[0]], taken[cable[1]] = true, true
	}
	for _, run := range t.trunks {
		near, far := t.joined.PortsOf(run.ID)
		near, far = cmp.Or(near, run.Near()), cmp.Or(far, run.Far())
		if !taken[near] && !taken[far] {
			ends := []plant.PortRef{near, far}
			slices.SortFunc(ends, comparePorts)
			links = append(links, Link{A: ends[0], B: ends[1], Run: run.ID})
		}
	}
	slices.SortFunc(links, func(a, b Link) int { return cmp.Or(comparePorts(a.A, b.A), comparePorts(a.B, b.B)) })
	return links
}

// undisputed are the cables whose ports are at no other one: of two that were
// heard at one port the later counts, neither where both are heard now, as
// through a hub.
func (t *Tracker) undisputed() (cables [][2]plant.PortRef) {
	at := map[plant.PortRef]time.Time{}
	heard := map[plant.PortRef]int{}
	for cable, when := range t.net.cables {
		for _, ref := range cable {
			switch {
			case when.After(at[ref]):
				at[ref], heard[ref] = when, 1
			case when.Equal(at[ref]):
				heard[ref]++
			}
		}
	}
	for cable, when := range t.net.cables {
		if !when.Before(at[cable[0]]) && !when.Before(at[cable[1]]) && heard[cable[0]] == 1 && heard[cable[1]] == 1 {
			cables = append(cables, cable)
		}
	}
	return cables
}

// runOf is the run that both ports of a cable are joined to, or the only one
// that either is.
func (t *Tracker) runOf(a, b plant.PortRef) string {
	here, isHere := t.joined.At(a)
	there, isThere := t.joined.At(b)
	switch {
	case isHere && isThere && here.Run != there.Run:
		return ""
	case isHere:
		return here.Run.ID
	case isThere:
		return there.Run.ID
	}
	return ""
}

// readRecord notes what of the inventory is asked often: runs between watched
// switches, devices that runs name, and ports.
func (t *Tracker) readRecord() {
	t.trunks, t.devices, t.recorded = nil, map[string]bool{}, map[plant.PortRef]bool{}
	for _, run := range t.plant.Runs {
		if run.Device != "" {
			t.devices[fold(run.Device)] = true
		}
		for _, ref := range []plant.PortRef{run.Near(), run.Far()} {
			if ref.Port != "" {
				t.recorded[ref] = true
			}
		}
		inUse := run.Status != plant.Spare && run.Status != plant.Abandoned
		if t.switches[run.Switch] != nil && t.switches[run.FarSwitch] != nil && run.Switch != run.FarSwitch && inUse {
			t.trunks = append(t.trunks, run)
		}
	}
}
