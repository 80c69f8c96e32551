package plant

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"
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
	named := func(text string) (*Run, string) {
		at := labels.FindStringSubmatchIndex(text)
		if at == nil || at[2*group] < 0 {
			return nil, ""
		}
		id := strings.TrimSpace(text[at[2*group]:at[2*group+1]])
		if run := j.plant.Run(id); run != nil {
			return run, id
		}
		return folded[fold(id)], id
	}
	for i := range j.seen {
		s := &j.seen[i]
		if !s.Physical || j.twins[i] {
			continue
		}
		if j.labels[i], j.unknown[i] = named(s.Alias); j.labels[i] == nil {
			j.labels[i], _ = named(s.Description)
		}
	}
}

// misnamed is what a port's description gives where a run's id may stand: another id of the
// same form, which no row has. Whatever else stands there is only text.
func (j *joiner) misnamed(i int, run *Run) string {
	form := formOf(run.ID)
	if id := j.unknown[i]; j.labels[i] == nil && strings.Contains(form, "9") && formOf(id) == form {
		return id
	}
	return ""
}

// formOf is an id with a 9 for each number and an A for each word.
func formOf(id string) string {
	var form []rune
	for _, c := range id {
		switch {
		case unicode.IsDigit(c):
			c = '9'
		case unicode.IsLetter(c):
			c = 'A'
		}
		if len(form) == 0 || form[len(form)-1] != c || c != '9' && c != 'A' {
			form = append(form, c)
		}
	}
	return string(form)
}

// weighClaims joins each port to the one record that claims it, unless
// something seen at the port names another run.
func (j *joiner) weighClaims() {
	for i, claims := range j.claims {
		switch {
		case len(claims) == 0:
		case j.told[i]:
			for _, s := range j.contrary(i, nil) {
				j.doubt(s.run, i, j.why[i])
			}
		case len(claims) > 1:
			j.settle(i, claims)
		default:
			j.weighClaim(i, claims[0])
		}
	}
}

func (j *joiner) weighClaim(i int, claim *side) {
	contrary := j.contrary(i, claim.run)
	if len(contrary) == 0 {
		j.own(i, claim)
		return
	}
	for _, s := range contrary {
		if j.swapped(i, claim.run, s) {
			return
		}
	}
	text := fmt.Sprintf("%s: the record says run %s (%s)", j.seen[i].Ref(), claim.run.ID, claim.run.place())
	runs := []*Run{claim.run}
	for _, s := range contrary {
		text += ", " + j.saying(i, s) + recorded(s.run)
		runs = append(runs, s.run)
	}
	text += "; not joined until one is put right"
	j.conflict(text, []int{i}, runs...)
	j.hold(claim, text)
	for _, s := range contrary {
		j.doubt(s.run, i, text)
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
	picked, outcome := j.pick(i, sure)
	others := j.contrary(i, nil)
	if picked != nil {
		others = nil
	}
	for _, other := range slices.Backward(others) {
		runs = append(runs, other.run)
		outcome = fmt.Sprintf("%s; %s", j.saying(i, other), outcome)
	}
	text := fmt.Sprintf("%s: claimed by runs %s; %s", j.seen[i].Ref(), strings.Join(names, " and "), outcome)
	j.conflict(text, []int{i}, runs...)
	for _, s := range claims {
		if s == picked {
			continue
		}
		j.hold(s, text)
		if other := j.other(s); picked != nil && other.port >= 0 && j.meets(i, picked) {
			j.hold(other, text) // its cable leads elsewhere
		}
	}
	if picked != nil {
		j.own(i, picked)
		return
	}
	for _, other := range others {
		j.doubt(other.run, i, text)
	}
}

// pick gives the one claim that something seen confirms and nothing seen
// contradicts, and the outcome in words.
func (j *joiner) pick(i int, sure []*side) (picked *side, outcome string) {
	if len(sure) != 1 || sure[0].held || len(j.contrary(i, sure[0].run)) > 0 {
		return nil, "none is joined until one is put right"
	}
	picked = sure[0]
	switch {
	case j.labels[i] == picked.run:
		outcome = "the port's description names %s, which is joined"
	case j.devices[i] == picked.run:
		outcome = "the port hears the device of %s, which is joined"
	default:
		outcome = "the ports of both ends of %s hear each other, which is joined"
	}
	return picked, fmt.Sprintf(outcome, picked.run.ID)
}

// swapped tells whether two records and what is seen at their two ports say
// the opposite of each other, and lists that once.
func (j *joiner) swapped(i int, record *Run, seen sign) bool {
	for e := range 2 {
		other := &j.sides[j.order[seen.run]][e]
		if other.port < 0 || len(j.claims[other.port]) != 1 || j.named(other.port) != record {
			continue
		}
		if other.port < i && j.why[i] != "" {
			return true // listed from the other port
		}
		what := "ports' descriptions"
		if j.labels[i] != seen.run || j.labels[other.port] != record {
			what = "devices heard there"
		}
		text := fmt.Sprintf("%s and %s: the records (%s, %s) say runs %s and %s, the %s say the opposite; not joined until one is put right",
			j.seen[i].Ref(), j.seen[other.port].Ref(), record.place(), seen.run.place(), record.ID, seen.run.ID, what)
		j.conflict(text, []int{i, other.port}, record, seen.run)
		j.hold(j.claims[i][0], text)
		j.hold(other, text)
		return true
	}
	return false
}

// weighSigns joins by description or device what no record's port gave, and
// doubts the records of runs that are named at a port elsewhere.
func (j *joiner) weighSigns() {
	free := map[*Run][]int{}
	for i := range j.seen {
		if len(j.claims[i]) > 0 {
			continue
		}
		if run := j.named(i); run != nil {
			free[run] = append(free[run], i)
		} else if signs := j.signs(i); len(signs) > 1 {
			j.split(i, signs)
		}
	}
	for i := range j.sides {
		run := j.sides[i][NearEnd].run
		if ports := free[run]; len(ports) > 0 {
			j.place(&j.sides[i], ports)
		}
	}
}

// split lists a port whose description and device name two runs.
func (j *joiner) split(i int, signs []sign) {
	text := fmt.Sprintf("%s: %s%s, %s%s; not joined until one is put right", j.seen[i].Ref(),
		j.saying(i, signs[0]), recorded(signs[0].run), j.saying(i, signs[1]), recorded(signs[1].run))
	j.conflict(text, []int{i}, signs[0].run, signs[1].run)
	for _, s := range signs {
		j.doubt(s.run, i, text)
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
			j.ownBySign(i, ends[n][0])
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

func (j *joiner) ownBySign(i int, s *side) {
	s.port, s.how, s.sure = i, ByDescription, true
	if j.labels[i] == nil {
		s.how = ByNeighbour
	}
	j.own(i, s)
}

// fits tells whether a sign at a port may stand for an end: the end's port is
// not found, and it is on the switch that the record names. An end of which
// the record names no switch is a near end anywhere but at the far end's. A
// device is at the far end, so the port that hears it is the near one.
func (j *joiner) fits(s *side, i int) bool {
	at := s.at()
	switch {
	case s.port >= 0 || s.end == FarEnd && j.labels[i] == nil:
		return false
	case at.Switch != "":
		return at.Switch == j.seen[i].Switch
	}
	return s.end == NearEnd && j.seen[i].Switch != s.run.FarSwitch
}

// stray lists a port at which a run is named that is recorded elsewhere.
func (j *joiner) stray(sides *[2]side, i int) {
	run := sides[NearEnd].run
	hint := ""
	if run.FarSwitch == "" && run.Switch != j.seen[i].Switch && j.labels[i] != nil {
		hint = ", or the record names it as the far end"
	}
	place := fmt.Sprintf(" (%s)", run.place())
	if j.labels[i] == nil {
		place = "" // told by saying
	}
	text := fmt.Sprintf("%s: %s%s%s; not joined there until one is put right%s",
		j.seen[i].Ref(), j.saying(i, j.signs(i)[0]), recorded(run), place, hint)
	j.conflict(text, []int{i}, run)
	j.doubt(run, i, text)
}

// unclear lists ports at which one run is named, not telling which is which
// end.
func (j *joiner) unclear(sides *[2]side, ports []int) {
	run := sides[NearEnd].run
	names := make([]string, len(ports))
	described := true
	for n, i := range ports {
		names[n] = j.seen[i].Ref().String()
		described = described && j.labels[i] != nil
	}
	what := "the descriptions of " + strings.Join(names, " and ") + " name"
	switch {
	case !described:
		what = "what is seen at " + strings.Join(names, " and ") + " points to"
	case len(ports) == 1:
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

// doubt suspends the records of a run that something seen at port i names: that
// of the end on this switch, or both where none is. A record stands where
// something seen at its own port confirms it.
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
