package plant

import "slices"

// SpaceSummary counts what an audit found in one space.
type SpaceSummary struct {
	Space    string            `json:"space"` // "" for runs whose space is not recorded
	Name     string            `json:"name"`
	Building string            `json:"building"`
	Runs     int               `json:"runs"`
	Clean    int               `json:"clean"`
	Findings map[Endangers]int `json:"findings"`
}

// Within narrows an audit to some spaces: its findings, its summary, and how
// many runs there are.
func (a *Audit) Within(in func(space string) bool) *Audit {
	out := &Audit{Findings: []Finding{}, Spaces: []SpaceSummary{}}
	for _, f := range a.Findings {
		if in(f.Space) {
			out.Findings = append(out.Findings, f)
		}
	}
	for _, s := range a.Spaces {
		if in(s.Space) {
			out.Spaces = append(out.Spaces, s)
			out.Runs, out.Clean = out.Runs+s.Runs, out.Clean+s.Clean
		}
	}
	return out
}

// tally counts findings by the space of their run's near panel.
type tally struct {
	plant  *Plant
	spaces map[string]*SpaceSummary
}

func newTally(p *Plant) *tally { return &tally{p, map[string]*SpaceSummary{}} }

// add counts a run with its findings.
func (t *tally) add(space string, findings []Finding) {
	s := t.space(space)
	s.Runs++
	if len(findings) == 0 {
		s.Clean++
	}
	s.count(findings)
}

// elsewhere counts findings about rows that are no run.
func (t *tally) elsewhere(findings []Finding) {
	if len(findings) > 0 {
		t.space("").count(findings)
	}
}

func (s *SpaceSummary) count(findings []Finding) {
	for _, f := range findings {
		s.Findings[f.Endangers]++
	}
}

func (t *tally) space(space string) *SpaceSummary {
	s := t.spaces[space]
	if s == nil {
		s = &SpaceSummary{Space: space, Findings: map[Endangers]int{}}
		if known := t.plant.Space(space); known != nil {
			s.Name, s.Building = known.Name, known.Building
		}
		t.spaces[space] = s
	}
	return s
}

// summaries gives the spaces that hold runs, in the order of their ids, the
// one that is not recorded last.
func (t *tally) summaries() []SpaceSummary {
	all := make([]SpaceSummary, 0, len(t.spaces))
	for _, s := range t.spaces {
		all = append(all, *s)
	}
	slices.SortFunc(all, func(a, b SpaceSummary) int {
		if a.Space == "" || b.Space == "" {
			return len(b.Space) - len(a.Space)
		}
		return natural(a.Space, b.Space)
	})
	return all
}
