package plant

import (
	"fmt"
	"slices"
	"strings"
)

// contradiction is a cable that does not go where records say, with the ends
// of runs that its two ports may be.
type contradiction struct {
	link
	here, there []*side // at a and b
}

// weighLinks suspends the runs whose ends are not those that a cable has by
// what its ports hear, and lists together what hangs together, as two records
// whose far ports are swapped.
func (j *joiner) weighLinks(weigh func(link) contradiction) {
	var all []contradiction
	for _, l := range j.links() {
		if c := weigh(l); len(c.here)+len(c.there) > 0 {
			all = append(all, c)
		}
	}
	for _, group := range together(all) {
		j.contradict(group)
	}
}

// againstRecords gives the ends at both ports of a cable that cannot all be true:
// ends of different runs, or of one that must go elsewhere. Where one run has
// both ports, the other claims are left to settle.
func (j *joiner) againstRecords(l link) contradiction {
	c := contradiction{l, j.parties(l.a), j.parties(l.b)}
	for _, s := range c.here {
		if slices.Contains(c.there, j.other(s)) {
			return contradiction{}
		}
	}
	if len(c.here) > 0 && len(c.there) > 0 {
		return c
	}
	far := j.seen[l.a].Peer.Switch
	if l.b >= 0 {
		far = j.seen[l.b].Switch
	}
	may := func(switchName string) func(*side) bool {
		return func(s *side) bool { return j.mayGo(s, switchName) }
	}
	c.here = slices.DeleteFunc(slices.Clone(c.here), may(far))
	c.there = slices.DeleteFunc(slices.Clone(c.there), may(j.seen[l.a].Switch))
	return c
}

// againstJoins gives the ends joined at both ports of a cable that cannot all
// be true, now that signs have been heeded too.
func (j *joiner) againstJoins(l link) contradiction {
	here, there := j.ownerOf(l.a), j.ownerOf(l.b)
	switch {
	case here != nil && there != nil && here.run != there.run:
		return contradiction{l, []*side{here}, []*side{there}}
	case here != nil && j.goesElsewhere(here, l.b):
		return contradiction{l, []*side{here}, nil}
	case there != nil && j.goesElsewhere(there, l.a):
		return contradiction{l, nil, []*side{there}}
	}
	return contradiction{}
}

func (j *joiner) ownerOf(i int) *side {
	if i < 0 {
		return nil
	}
	return j.owner[i]
}

// goesElsewhere tells whether the other end of a run is joined to a port that
// is not this one.
func (j *joiner) goesElsewhere(s *side, port int) bool {
	other := j.other(s)
	return other.port >= 0 && other.port != port && j.owner[other.port] == other
}

// mayGo tells whether the other end of a run may be at a port of that switch,
// which no record claims. A record in doubt does not object to its own switch.
func (j *joiner) mayGo(s *side, switchName string) bool {
	other := j.other(s)
	if other.port >= 0 {
		return other.held && other.at().Switch == switchName
	}
	return mayBeOn(other, switchName)
}

// parties are the ends of runs that a port may be: those whose records claim
// it and stand, else the one that something seen there names.
func (j *joiner) parties(i int) (sides []*side) {
	switch {
	case i < 0:
		return nil
	case len(j.claims[i]) > 0:
		return standing(j.claims[i])
	}
	run := j.named(i)
	if run == nil {
		return nil
	}
	for e := range 2 {
		if s := &j.sides[j.order[run]][e]; j.fits(s, i) {
			sides = append(sides, s)
		}
	}
	if len(sides) != 1 {
		return nil
	}
	return sides
}

func standing(claims []*side) []*side {
	isHeld := func(s *side) bool { return s.held }
	if !slices.ContainsFunc(claims, isHeld) {
		return claims
	}
	return slices.DeleteFunc(slices.Clone(claims), isHeld)
}

// together groups contradictions that share a run, keeping their order.
func together(all []contradiction) (groups [][]contradiction) {
	parent := make([]int, len(all))
	root := func(n int) int {
		for parent[n] != n {
			parent[n] = parent[parent[n]]
			n = parent[n]
		}
		return n
	}
	first := map[*Run]int{}
	for n, c := range all {
		parent[n] = n
		for _, s := range slices.Concat(c.here, c.there) {
			if _, known := first[s.run]; !known {
				first[s.run] = n
			}
			a, b := root(first[s.run]), root(n)
			parent[max(a, b)] = min(a, b)
		}
	}
	place := map[int]int{}
	for n, c := range all {
		r := root(n)
		if r == n {
			place[r] = len(groups)
			groups = append(groups, nil)
		}
		groups[place[r]] = append(groups[place[r]], c)
	}
	return groups
}

// contradict lists a group and suspends both ends of its runs.
func (j *joiner) contradict(group []contradiction) {
	var ports []int
	var runs []*Run
	at := map[*side]int{}
	for _, c := range group {
		ports = append(ports, c.a)
		if c.b >= 0 {
			ports = append(ports, c.b)
		}
		for _, s := range slices.Concat(c.here, c.there) {
			runs = append(runs, s.run)
			at[s] = c.a
			if slices.Contains(c.there, s) {
				at[s] = c.b
			}
		}
	}
	runs = unique(runs)
	for _, run := range runs {
		for e := range 2 {
			if s := &j.sides[j.order[run]][e]; s.port >= 0 {
				ports = append(ports, s.port)
			}
		}
	}
	ports = unique(ports)
	text := j.contradictionText(group, runs, at)
	j.conflict(text, ports, runs...)
	for _, run := range runs {
		for e := range 2 {
			s := &j.sides[j.order[run]][e]
			if _, here := at[s]; here || s.port >= 0 || s.at().Switch != "" {
				j.hold(s, text)
			}
		}
	}
	for _, i := range ports {
		j.told[i] = len(standing(j.claims[i])) == 0
	}
}

func (j *joiner) contradictionText(group []contradiction, runs []*Run, at map[*side]int) string {
	var hears, records []string
	for _, c := range group[:min(len(group), mostNamed)] {
		hears = append(hears, j.hearing(c.link))
	}
	for _, run := range runs[:min(len(runs), mostNamed)] {
		records = append(records, j.route(run, at))
	}
	for _, c := range group[:min(len(group), mostNamed)] {
		records = append(records, j.signsAgainst(c.a, c.here)...)
		records = append(records, j.signsAgainst(c.b, c.there)...)
	}
	return fmt.Sprintf("%s, but %s; not joined until one is put right",
		andMore(hears, len(group)-len(hears)), andMore(records, max(0, len(runs)-mostNamed)))
}

const mostNamed = 4 // of the cables and runs in one sentence

// signsAgainst tells what is seen at a port that names none of these ends' runs.
func (j *joiner) signsAgainst(i int, sides []*side) (out []string) {
	if i < 0 || len(sides) == 0 {
		return nil
	}
	for _, s := range j.contrary(i, sides[0].run) {
		out = append(out, fmt.Sprintf("at %s %s", j.seen[i].Ref(), j.saying(i, s)))
	}
	return out
}

// hearing tells who hears whom.
func (j *joiner) hearing(l link) string {
	a := &j.seen[l.a]
	switch {
	case l.b < 0:
		return fmt.Sprintf("%s hears %s", a.Ref(), a.Peer)
	case a.Peer == (PortRef{}):
		return fmt.Sprintf("%s hears %s", j.seen[l.b].Ref(), a.Ref())
	}
	return fmt.Sprintf("%s hears %s", a.Ref(), j.seen[l.b].Ref())
}

// route tells from where to where a run goes, as far as its record or a sign
// at a port says.
func (j *joiner) route(run *Run, at map[*side]int) string {
	var ends [2]string
	for e := range ends {
		s := &j.sides[j.order[run]][e]
		switch i, here := at[s]; {
		case here:
			ends[e] = j.seen[i].Ref().String()
		case s.port >= 0:
			ends[e] = j.seen[s.port].Ref().String()
		case s.at().Switch != "":
			ends[e] = s.at().String()
		case s.end == FarEnd && run.Device != "":
			ends[e] = fmt.Sprintf("%q", run.Device)
		}
	}
	name := fmt.Sprintf("run %s (%s)", run.ID, run.place())
	switch near, far := ends[NearEnd], ends[FarEnd]; {
	case near != "" && far != "":
		return fmt.Sprintf("%s goes from %s to %s", name, near, far)
	default:
		return fmt.Sprintf("%s is at %s", name, near+far)
	}
}

// and joins words for a sentence; andMore leaves some unnamed.
func and(words []string) string { return andMore(words, 0) }

func andMore(words []string, unnamed int) string {
	if unnamed > 0 {
		words = append(slices.Clone(words), fmt.Sprintf("%d more", unnamed))
	}
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " and " + words[last]
}

func unique[T comparable](items []T) (out []T) {
	seen := make(map[T]bool, len(items))
	for _, item := range items {
		if !seen[item] {
			seen[item] = true
			out = append(out, item)
		}
	}
	return out
}
