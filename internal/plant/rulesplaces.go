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

// shared gives the places at which several runs are recorded. Abandoned runs
// hold none.
func (p *Plant) shared() map[place][]*Run {
	first := make(map[place]*Run, 2*len(p.Runs))
	several := map[place][]*Run{}
	for _, r := range p.Runs {
		if r.Status == Abandoned {
			continue
		}
		for _, at := range placesOf(p, r) {
			switch holder, taken := first[at]; {
			case !taken:
				first[at] = r
			case len(several[at]) == 0:
				several[at] = []*Run{holder, r}
			default:
				several[at] = append(several[at], r)
			}
		}
	}
	return several
}

// othersAt gives the ids of the other runs at a place.
func (p *Plant) othersAt(at place, r *Run) (ids []string) {
	for _, other := range p.sharedPlaces[at] {
		if other != r {
			ids = append(ids, other.ID)
		}
	}
	return ids
}

// placesOf gives the places that a run is recorded at. An outlet's name is
// taken to be unique within what one telecom room serves, so it counts where
// the near panel's space is recorded.
func placesOf(p *Plant, r *Run) []place {
	out := make([]place, 0, 3)
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
