package plant

type placeKind uint8

const (
	outletPlace placeKind = iota + 1
	panelPlace
)

// place is where only one run can end: an outlet of a space, or a position of a panel.
type place struct {
	kind   placeKind
	on, at string // panel and position; space and outlet
}

// places finds the runs that are recorded at one place. Abandoned runs hold
// none.
type places struct {
	first map[place]*Run
	more  map[place][]*Run
}

// places gathers the places of all runs, or where one run is given, only what
// is recorded at its places.
func (p *Plant) places(of *Run) *places {
	all := &places{make(map[place]*Run), map[place][]*Run{}}
	wanted := func(place) bool { return true }
	if of != nil {
		own := placesOf(p, of)
		wanted = func(at place) bool {
			for _, o := range own {
				if o == at {
					return true
				}
			}
			return false
		}
	}
	for _, r := range p.Runs {
		if r.Status == Abandoned {
			continue
		}
		for _, at := range placesOf(p, r) {
			if wanted(at) {
				all.enter(at, r)
			}
		}
	}
	return all
}

func (a *places) enter(at place, r *Run) {
	if _, taken := a.first[at]; taken {
		a.more[at] = append(a.more[at], r)
	} else {
		a.first[at] = r
	}
}

// others gives the ids of the other runs at a place.
func (a *places) others(at place, r *Run) (ids []string) {
	more := a.more[at]
	if len(more) == 0 {
		return nil
	}
	for _, other := range append([]*Run{a.first[at]}, more...) {
		if other != r {
			ids = append(ids, other.ID)
		}
	}
	return ids
}

// placesOf gives the places that a run is recorded at. An outlet's name is
// taken to be unique within what one telecom room serves, so it counts where
// the near panel's space is recorded.
func placesOf(p *Plant, r *Run) (out []place) {
	if r.Panel != "" && r.Position != "" {
		out = append(out, place{panelPlace, r.Panel, plainPosition(r.Position)})
	}
	if r.FarPanel != "" && r.FarPosition != "" {
		out = append(out, place{panelPlace, r.FarPanel, plainPosition(r.FarPosition)})
	}
	if space := p.spaceOf(r); space != "" && r.Outlet != "" {
		out = append(out, place{outletPlace, space, fold(r.Outlet)})
	}
	return out
}

// plainPosition writes 017 and 17 alike.
func plainPosition(s string) string { return unpadded(fold(s)) }
