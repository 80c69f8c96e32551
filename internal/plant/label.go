package plant

import (
	"fmt"
	"regexp"
	"strings"
)

// readLabels finds the run that each port's description names. An id that is
// in no row of the inventory is only text.
func (j *joiner) readLabels(labels *regexp.Regexp) {
	if labels == nil || labels.SubexpIndex("run") < 0 {
		return
	}
	group := labels.SubexpIndex("run")
	folded := map[string]*Run{}
	for _, run := range j.plant.Runs {
		id := fold(run.ID)
		if _, twice := folded[id]; twice {
			folded[id] = nil
			continue
		}
		folded[id] = run
	}
	named := func(text string) *Run {
		at := labels.FindStringSubmatchIndex(text)
		if at == nil || at[2*group] < 0 {
			return nil
		}
		id := strings.TrimSpace(text[at[2*group]:at[2*group+1]])
		if run := j.plant.Run(id); run != nil {
			return run
		}
		return folded[fold(id)]
	}
	for i := range j.seen {
		s := &j.seen[i]
		if !s.Physical || j.twins[i] {
			continue
		}
		if j.labels[i] = named(s.Alias); j.labels[i] == nil {
			j.labels[i] = named(s.Description)
		}
	}
}

// weighClaims joins each port to the one record that claims it, unless the
// port's description names another run.
func (j *joiner) weighClaims() {
	for i, claims := range j.claims {
		label := j.labels[i]
		switch {
		case len(claims) == 0:
		case len(claims) > 1:
			j.settle(i, claims)
		case label == nil || label == claims[0].run:
			j.own(i, claims[0])
		case j.swapped(i, claims[0].run, label):
		default:
			text := fmt.Sprintf("%s: the record says run %s (%s), the port's description says run %s%s; not joined until one is put right",
				j.seen[i].Ref(), claims[0].run.ID, claims[0].run.place(), label.ID, recorded(label))
			j.conflict(text, []int{i}, claims[0].run, label)
			j.hold(claims[0], text)
			j.doubt(label, i, text)
		}
	}
}

// settle decides among several records that claim one port: the port's
// description picks one of them, or none is joined.
func (j *joiner) settle(i int, claims []*side) {
	var sure []*side
	var names []string
	var runs []*Run
	for _, s := range claims {
		names = append(names, fmt.Sprintf("%s (%s, %s end)", s.run.ID, s.run.place(), s.end))
		runs = append(runs, s.run)
		if s.sure {
			sure = append(sure, s)
		}
	}
	var picked *side
	label, outcome := j.labels[i], "none is joined until one is put right"
	switch {
	case len(sure) == 1:
		picked = sure[0]
		outcome = fmt.Sprintf("the port's description names %s, which is joined", picked.run.ID)
	case label != nil:
		outcome = fmt.Sprintf("the port's description names run %s; %s", label.ID, outcome)
		runs = append(runs, label)
	}
	text := fmt.Sprintf("%s: claimed by runs %s; %s", j.seen[i].Ref(), strings.Join(names, " and "), outcome)
	j.conflict(text, []int{i}, runs...)
	for _, s := range claims {
		if s != picked {
			j.hold(s, text)
		}
	}
	if picked != nil {
		j.own(i, picked)
	} else if label != nil {
		j.doubt(label, i, text)
	}
}

// swapped tells whether two records and the descriptions of their two ports
// say the opposite of each other, and lists that once.
func (j *joiner) swapped(i int, record, label *Run) bool {
	for e := range 2 {
		other := &j.sides[j.order[label]][e]
		if other.port < 0 || j.labels[other.port] != record || len(j.claims[other.port]) != 1 {
			continue
		}
		if other.port < i && j.why[i] != "" {
			return true // listed from the other port
		}
		text := fmt.Sprintf("%s and %s: the records (%s, %s) say runs %s and %s, the ports' descriptions say the opposite; not joined until one is put right",
			j.seen[i].Ref(), j.seen[other.port].Ref(), record.place(), label.place(), record.ID, label.ID)
		j.conflict(text, []int{i, other.port}, record, label)
		j.hold(j.claims[i][0], text)
		j.hold(other, text)
		return true
	}
	return false
}

// weighLabels joins by description what no record's port gave, and doubts the
// records of runs that are named at a port elsewhere.
func (j *joiner) weighLabels() {
	free := map[*Run][]int{}
	for i, run := range j.labels {
		if run != nil && len(j.claims[i]) == 0 {
			free[run] = append(free[run], i)
		}
	}
	for i := range j.sides {
		run := j.sides[i][NearEnd].run
		if ports := free[run]; len(ports) > 0 {
			j.place(&j.sides[i], ports)
		}
	}
}

// place gives the ports that name a run to its ends: one port for one end, or
// it is unclear.
func (j *joiner) place(sides *[2]side, ports []int) {
	var fitting [2][]int
	var ends [][]*side
	for n, i := range ports {
		ends = append(ends, nil)
		for e := range sides {
			if s := &sides[e]; j.fits(s, i) {
				fitting[e] = append(fitting[e], i)
				ends[n] = append(ends[n], s)
			}
		}
	}
	var strays, unclear []int
	for n, i := range ports {
		switch {
		case len(ends[n]) == 0:
			strays = append(strays, i)
		case len(ends[n]) == 1 && len(fitting[ends[n][0].end]) == 1:
			s := ends[n][0]
			s.how, s.sure = ByDescription, true
			j.own(i, s)
		default:
			unclear = append(unclear, i)
		}
	}
	for _, i := range strays {
		j.stray(sides, i)
	}
	if len(unclear) > 0 {
		j.unclear(sides, unclear)
	}
}

// fits tells whether a port's label may stand for an end: the end's port is
// not found, and it is on the switch that the record names. An end of which
// the record names no switch is a near end anywhere but at the far end's.
func (j *joiner) fits(s *side, i int) bool {
	at := s.at()
	switch {
	case s.port >= 0:
		return false
	case at.Switch != "":
		return at.Switch == j.seen[i].Switch
	}
	return s.end == NearEnd && j.seen[i].Switch != s.run.FarSwitch
}

// stray lists a port whose description names a run that is recorded elsewhere.
func (j *joiner) stray(sides *[2]side, i int) {
	run := sides[NearEnd].run
	hint := ""
	if run.FarSwitch == "" && run.Switch != j.seen[i].Switch {
		hint = ", or the record names it as the far end"
	}
	text := fmt.Sprintf("%s: the port's description says run %s%s (%s); not joined there until one is put right%s",
		j.seen[i].Ref(), run.ID, recorded(run), run.place(), hint)
	j.conflict(text, []int{i}, run)
	j.doubt(run, i, text)
}

// unclear lists ports whose descriptions name one run, not telling which is
// which end.
func (j *joiner) unclear(sides *[2]side, ports []int) {
	run := sides[NearEnd].run
	names := make([]string, len(ports))
	for n, i := range ports {
		names[n] = j.seen[i].Ref().String()
	}
	what := "the descriptions of " + strings.Join(names, " and ") + " name"
	if len(ports) == 1 {
		what = "the description of " + names[0] + " names"
	}
	text := fmt.Sprintf("%s run %s (%s), and the record does not tell which end that is; not joined", what, run.ID, run.place())
	j.conflict(text, ports, run)
	for e := range sides {
		for _, i := range ports {
			if j.fits(&sides[e], i) {
				j.hold(&sides[e], text)
				break
			}
		}
	}
}

// doubt suspends the records of a run that port i's description names: that
// of the end on this switch, or both where none is. A record stands where its
// own port's description confirms it.
func (j *joiner) doubt(run *Run, i int, text string) {
	sides := &j.sides[j.order[run]]
	here := func(s *side) bool { return s.at().Switch == j.seen[i].Switch }
	anyHere := here(&sides[NearEnd]) || here(&sides[FarEnd])
	for e := range sides {
		s := &sides[e]
		exists := s.end == NearEnd || s.at().Switch != ""
		if exists && !s.sure && (here(s) || !anyHere) {
			j.hold(s, text)
		}
	}
}

// own joins a port to an end that no conflict holds.
func (j *joiner) own(i int, s *side) {
	if s.held {
		j.why[i] = s.why
		return
	}
	j.owner[i] = s
}

// hold keeps an end from being joined.
func (j *joiner) hold(s *side, text string) {
	s.held, s.why = true, text
	if s.port >= 0 && j.owner[s.port] == s {
		j.owner[s.port], j.why[s.port] = nil, text
	}
}

// recorded tells, as a part of a sentence, where a run's record says it is.
func recorded(run *Run) string {
	near, far := run.Near(), run.Far()
	switch {
	case near.Switch != "" && far.Switch != "":
		return fmt.Sprintf(", whose record says %s and %s", near, far)
	case near.Switch != "":
		return fmt.Sprintf(", whose record says %s", near)
	case far.Switch != "":
		return fmt.Sprintf(", whose record says %s", far)
	}
	return ""
}
