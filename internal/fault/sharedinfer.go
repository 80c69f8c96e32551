package fault

import "slices"

// A record that does not say which panel, pathway, installer, batch or cable a
// run has would leave its fault unexplained, and something smaller be blamed
// for it. Where nearly all of its mates whose record says so agree, it is taken
// to be like them (common practice, no source): those of its bundle, else of its
// panel.
const (
	leastMates  = 3
	matesAgree  = 0.9
	largestMate = 100 // runs in a group of mates
)

var (
	matesBy  = []Attribute{ByBundle, ByPanel}
	inferred = []Attribute{ByPanel, ByPathway, ByInstaller, ByBatch, ByCable}
)

// infer enters what the record does not say of runs and their mates tell.
func (m *sharing) infer() {
	type asked struct {
		mates     int32
		attribute Attribute
	}
	answers := map[asked][]int32{}
	grown := map[int32]bool{}
	for i := range m.runs {
		r := &m.runs[i]
		for _, attribute := range inferred {
			if m.has(r, attribute) {
				continue
			}
			for _, by := range matesBy {
				mates := slices.IndexFunc(r.groups, func(n int32) bool { return m.groups[n].Attribute == by })
				if by == attribute || mates < 0 {
					continue
				}
				q := asked{r.groups[mates], attribute}
				told, known := answers[q]
				if !known {
					told = m.agreed(q.mates, attribute)
					answers[q] = told
				}
				if len(told) > 0 {
					r.inferred = append(r.inferred, told...)
					break
				}
			}
		}
	}
	for i := range m.runs {
		r := &m.runs[i]
		r.groups = append(r.groups, r.inferred...)
		for _, n := range r.inferred {
			m.members[n] = append(m.members[n], int32(i))
			grown[n] = true
		}
	}
	for n := range grown {
		slices.Sort(m.members[n])
	}
}

// has tells whether a run's record says which of an attribute it has.
func (m *sharing) has(r *sharer, attribute Attribute) bool {
	return slices.ContainsFunc(r.groups, func(n int32) bool { return m.groups[n].Attribute == attribute })
}

// agreed are the names of an attribute that nearly all runs of a group have
// whose record says any.
func (m *sharing) agreed(group int32, attribute Attribute) (told []int32) {
	if len(m.members[group]) > largestMate {
		return nil
	}
	say, count := 0, map[int32]int{}
	for _, i := range m.members[group] {
		says := false
		for _, n := range m.runs[i].groups {
			if m.groups[n].Attribute == attribute {
				count[n]++
				says = true
			}
		}
		if says {
			say++
		}
	}
	for n, c := range count {
		if say >= leastMates && float64(c) >= matesAgree*float64(say) {
			told = append(told, n)
		}
	}
	slices.Sort(told)
	return told
}
