package plant

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// find gives the port that a record means, or why there is none: missing where
// it is not there, nowhere where that cannot be told.
func (j *joiner) find(at PortRef) (port int, how How, why string) {
	rows := j.switches[at.Switch]
	switch {
	case rows == nil:
		return missing, "", fmt.Sprintf("switch %q is not in the configuration%s", at.Switch, j.hint(at.Switch))
	case len(rows.ports)+len(rows.others) == 0:
		return nowhere, "", fmt.Sprintf("switch %q has not answered yet", at.Switch)
	case at.Port == "":
		return nowhere, "", fmt.Sprintf("the record names no port of switch %q, and no port's description there names the run", at.Switch)
	}
	port, how = rows.find(j.seen, at.Port)
	switch {
	case port == several || j.twins[port]:
		return nowhere, "", fmt.Sprintf("switch %q shows several ports named %q", at.Switch, at.Port)
	case port == nowhere && rows.hasOther(j.seen, at.Port):
		return missing, "", fmt.Sprintf("%s is not a physical port", at)
	case port == nowhere:
		return missing, "", fmt.Sprintf("switch %q shows no port %q", at.Switch, at.Port)
	case how == ByIndex:
		if other, there := rows.numbered(j.seen, port, at.Port); there {
			return nowhere, "", fmt.Sprintf("port %q of switch %q may be %s by its ifIndex or %s by its number: write its name",
				at.Port, at.Switch, j.seen[port].Ref().Port, other)
		}
	}
	return port, how, ""
}

// hint is DidYouMean over the configured switches, once for each name.
func (j *joiner) hint(name string) string {
	if _, known := j.hints[name]; !known {
		j.hints[name] = DidYouMean(name, j.names)
	}
	return j.hints[name]
}

// switchRows finds the ports of one switch by what a record may call them.
type switchRows struct {
	ports, others []int // into seen: physical and not
	exact, folded [2]map[string]int
	index         map[string]int
}

// find looks in ifName, ifDescr and ifIndex exactly, then in the first two
// without regard to case.
func (r *switchRows) find(seen []SeenPort, name string) (int, How) {
	name = strings.TrimSpace(name)
	if r.index == nil {
		r.fill(seen, strings.TrimSpace, &r.exact)
		r.index = make(map[string]int, len(r.ports))
		for _, i := range r.ports {
			enter(r.index, strconv.Itoa(seen[i].Index), i)
		}
	}
	for column, how := range []How{ByName, ByDescr} {
		if i, ok := r.exact[column][name]; ok {
			return i, how
		}
	}
	if i, ok := r.index[name]; ok {
		return i, ByIndex
	}
	if r.folded[0] == nil {
		r.fill(seen, fold, &r.folded)
	}
	for column, how := range []How{ByName, ByDescr} {
		if i, ok := r.folded[column][fold(name)]; ok {
			return i, how
		}
	}
	return nowhere, ""
}

// numbered gives the port on which a number stands that is the ifIndex of port
// found, where another number stands on that one.
func (r *switchRows) numbered(seen []SeenPort, found int, number string) (name string, there bool) {
	number = strings.TrimSpace(number)
	on := func(i int) bool {
		name := seen[i].Ref().Port
		return name[len(strings.TrimRight(name, "0123456789")):] == number
	}
	if on(found) {
		return "", false
	}
	i := slices.IndexFunc(r.ports, on)
	if i < 0 {
		return "", false
	}
	return seen[r.ports[i]].Ref().Port, true
}

// hasOther tells whether a row that is not physical goes by the name.
func (r *switchRows) hasOther(seen []SeenPort, name string) bool {
	return slices.ContainsFunc(r.others, func(i int) bool {
		s := &seen[i]
		return fold(s.Name) == fold(name) || fold(s.Description) == fold(name) || strconv.Itoa(s.Index) == name
	})
}

func (r *switchRows) fill(seen []SeenPort, as func(string) string, columns *[2]map[string]int) {
	columns[0] = make(map[string]int, len(r.ports))
	columns[1] = make(map[string]int, len(r.ports))
	for _, i := range r.ports {
		enter(columns[0], as(seen[i].Name), i)
		enter(columns[1], as(seen[i].Description), i)
	}
}

func enter(m map[string]int, name string, i int) {
	if name == "" {
		return
	}
	if _, twice := m[name]; twice {
		i = several
	}
	m[name] = i
}

func fold(s string) string { return strings.ToLower(strings.TrimSpace(s)) }
