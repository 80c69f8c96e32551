package fault

import "time"

// company is how the errored polls of a port that has alarmed came beside those of the
// other runs of its pathways. What disturbs a tray strikes several of its runs in the
// same seconds; what ails one run strikes that alone. Of a run whose pathways nobody
// knows it is the other copper ports of its switch.
type company struct {
	OfSwitch bool

	Errored, Together uint32 // its errored polls, and those in which another run was errored too
	Clean, Beside     uint32 // its clean polls with traffic, and those in which another run was errored
	Others            int    // runs of its pathways, at the last of them
}

// Common practice, no source.
const (
	leastTogether = 3   // polls that they share
	leastAlone    = 6   // errored polls that they could have shared
	leastOthers   = 3   // runs that could have been struck
	farOftener    = 3.0 // times as often as in its clean polls
	hardlyOftener = 0.1 // of its polls
)

// keepCompany takes a poll of a switch for those of its ports that have alarmed.
func (t *Tracker) keepCompany(s *switchState, polls []compared, at time.Time) {
	if t.untried > 0 {
		return
	}
	for i, p := range s.order {
		if p.errors.Story == nil || !polls[i].hit || p.made() != ofCopper {
			continue
		}
		t.relate()
		struck, others := t.beside(p, at)
		ofSwitch := others == 0
		if ofSwitch {
			struck, others = t.besideOn(s, p, at)
		}
		p.errors.Story.Company.take(!p.hits.Last.IsZero(), struck, others, ofSwitch)
	}
}

func (c *company) take(errored, struck bool, others int, ofSwitch bool) {
	if c.OfSwitch != ofSwitch {
		*c = company{}
	}
	c.Others, c.OfSwitch = others, ofSwitch
	switch {
	case errored && struck:
		c.Errored, c.Together = c.Errored+1, c.Together+1
	case errored:
		c.Errored++
	case struck:
		c.Clean, c.Beside = c.Clean+1, c.Beside+1
	default:
		c.Clean++
	}
}

// beside tells whether another run of a port's pathways was errored in the polling
// interval that ends then, and how many such runs carried traffic.
func (t *Tracker) beside(p *portState, at time.Time) (struck bool, others int) {
	m, since := &t.shared.media[copper], at.Add(-t.settings.PollEvery)
	if p.join.Run == nil {
		return false, 0
	}
	place, known := m.place[p.join.Run]
	if !known || m.of[place] < 0 {
		return false, 0
	}
	own, seen := m.of[place], map[int32]bool{}
	for _, name := range m.runs[own].groups {
		if m.groups[name].Attribute != ByPathway {
			continue
		}
		for _, i := range m.members[name] {
			if i == own || seen[i] {
				continue
			}
			for _, o := range m.runs[i].ports {
				if o.hits.Polls > 0 && o.owner.view.Answering() {
					seen[i] = true
					struck = struck || o.hits.Last.After(since)
				}
			}
		}
	}
	return struck, len(seen)
}

// besideOn is beside for the other copper ports of the switch.
func (t *Tracker) besideOn(s *switchState, p *portState, at time.Time) (struck bool, others int) {
	since := at.Add(-t.settings.PollEvery)
	for _, o := range s.order {
		if o != p && o.hits.Polls > 0 && o.made() == ofCopper {
			others++
			struck = struck || o.hits.Last.After(since)
		}
	}
	return struck, others
}

// of names the others.
func (c *company) of() string {
	if c.OfSwitch {
		return "ports of the switch"
	}
	return "runs of its pathways"
}

// items are what its company says.
func (c *company) items() (seen items) {
	if c.Errored == 0 || c.Clean == 0 {
		return nil
	}
	with, without := float64(c.Together)/float64(c.Errored), float64(c.Beside)/float64(c.Clean)
	together := c.Together >= leastTogether && with > farOftener*max(without, 1/float64(c.Clean))
	alone := c.Errored >= leastAlone && c.Clean >= leastAlone && c.Others >= leastOthers && with < without+hardlyOftener
	seen.see(struckTogether, together && !c.OfSwitch)
	seen.see(struckWithPorts, together && c.OfSwitch)
	seen.see(struckAlone, alone && !c.OfSwitch)
	seen.see(struckWithNone, alone && c.OfSwitch)
	return seen
}
