package snmp

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"toneout/internal/port"

	"github.com/gosnmp/gosnmp"
)

// powerPorts is indexed by group and port within it, and not by ifIndex: a group
// is a box in a stack or a module in a rack, and 1 elsewhere (RFC 3621).
var powerPorts = &list{table: pethPsePortTable, arcs: 2, columns: []*column{
	plain(pethPsePortTable, "3 pethPsePortAdminEnable", gosnmp.Integer, nil),
	plain(pethPsePortTable, "6 pethPsePortDetectionStatus", gosnmp.Integer, nil),
	plain(pethPsePortTable, "10 pethPsePortPowerClassifications", gosnmp.Integer, nil),
	plain(pethPsePortTable, "8 pethPsePortMPSAbsentCounter", gosnmp.Counter32, nil),
	plain(pethPsePortTable, "11 pethPsePortInvalidSignatureCounter", gosnmp.Counter32, nil),
	plain(pethPsePortTable, "12 pethPsePortPowerDeniedCounter", gosnmp.Counter32, nil),
	plain(pethPsePortTable, "13 pethPsePortOverLoadCounter", gosnmp.Counter32, nil),
	plain(pethPsePortTable, "14 pethPsePortShortCounter", gosnmp.Counter32, nil),
}}

// powerOf reads a row.
func powerOf(e *record) port.Power {
	var p port.Power
	if n := e.values[0].number; n <= uint64(port.No) {
		p.Enabled = port.Answer(n)
	}
	if n := e.values[1].number; n <= uint64(port.PowerOtherFault) {
		p.Status = port.PowerStatus(n)
	}
	if n := e.values[2].number; p.Status == port.PowerDelivering && n >= 1 && n <= 5 { // valid only then
		p.Class = port.Some(int(n) - 1)
	}
	for i, counter := range []*port.Value[uint32]{&p.Absent, &p.Invalid, &p.Denied, &p.Overloads, &p.Shorts} {
		if column := 3 + i; e.has(column) {
			*counter = port.Some(uint32(e.values[column].number))
		}
	}
	return p
}

// outlet is an index of pethPsePortTable.
type outlet struct{ group, port int }

// joined is which port each outlet is, by ifIndex.
type joined map[outlet]int

// feeds gives what the ports feed, by ifIndex, and why some of it could not be
// put to a port.
func feeds(rows []*record, t *tree) (map[int]port.Power, string) {
	told := map[outlet]port.Power{}
	for _, e := range rows {
		if p := powerOf(e); p != (port.Power{}) && e.at[0] < 1<<31 && e.at[1] < 1<<31 {
			told[outlet{int(e.at[0]), int(e.at[1])}] = p
		}
	}
	of, doubt := t.outlets(told)
	found := map[int]port.Power{}
	for o, p := range told {
		if i := of[o]; i != 0 {
			found[i] = p
		}
	}
	if missing := len(told) - len(found); missing > 0 {
		return found, fmt.Sprintf("%d of %d rows could not be matched to ports: %s", missing, len(told), doubt)
	}
	return found, ""
}

const (
	noWay     = "neither names nor the entities number the ports in this way"
	manyWays  = "names and entities allow several ways, and links do not tell which"
	unproven  = "they may run through the stack, which the links of ports under power do not bear out"
	darkPorts = "most ports that would get power have no link"
)

// outlets joins the rows of power to ports: by the numbers in the ports' names and
// by their places among the entities, which must not disagree. Where they leave
// several ways, or say one that can't be, the links of ports under power tell. Else
// no row has a port, and it says why.
func (t *tree) outlets(told map[outlet]port.Power) (joined, string) {
	groups := map[int][]int{}
	for o := range told {
		groups[o.group] = append(groups[o.group], o.port)
	}
	if len(groups) > mostUnits {
		return nil, noWay
	}
	names, places := t.rowsByName(), t.rowsByPlace()
	all, sure := either(ways(groups, names), ways(groups, places))
	if len(all) == 0 {
		all, sure = t.direct(told), likely
	}
	if len(all) > 0 {
		return t.lit(all, told, sure)
	}
	byName, guessed := through(groups, names)
	byPlace, guessedToo := through(groups, places)
	if all, sure = either(byName, byPlace); len(all) > 0 {
		return t.lit(all, told, sure)
	}
	all, _ = either(guessed, guessedToo)
	return t.lit(all, told, guess)
}

// trust is how sure a way is before links are looked at.
type trust uint8

const (
	guess  trust = iota // links must bear it out
	likely              // they must not speak against it
	agreed              // two sources say it
)

// either gives the ways that two sources leave: those that they have in common,
// else all.
func either(a, b []joined) (all []joined, sure trust) {
	for _, way := range a {
		if slices.ContainsFunc(b, func(other joined) bool { return maps.Equal(way, other) }) {
			all = append(all, way)
		}
	}
	if len(all) > 0 {
		return all, agreed
	}
	return append(a, b...), likely
}

// Ports under power have a link, mostly: some devices sleep. Below so many of
// them, links tell nothing.
const (
	fewPowered   = 4
	mostlyLinked = 0.9
	halfLinked   = 0.5
)

// lit gives the one way that the links of ports under power allow.
func (t *tree) lit(all []joined, told map[outlet]port.Power, sure trust) (joined, string) {
	type score struct {
		way   joined
		share float64
	}
	var scores []score
	enough := true
	for _, way := range all {
		linked, powered := t.linked(way, told)
		enough = enough && powered >= fewPowered
		scores = append(scores, score{way, float64(linked) / float64(max(1, powered))})
	}
	slices.SortStableFunc(scores, func(a, b score) int { return cmp.Compare(b.share, a.share) })
	switch {
	case len(scores) == 0:
		return nil, noWay
	case sure == agreed && len(scores) == 1: // all may be starting, as after a loss of power
		return scores[0].way, noWay
	case enough && scores[0].share < halfLinked:
		return nil, darkPorts
	case sure == guess && (!enough || scores[0].share < mostlyLinked):
		return nil, unproven
	case len(scores) == 1, enough && scores[0].share >= mostlyLinked && scores[1].share <= halfLinked:
		return scores[0].way, noWay
	}
	return nil, manyWays
}

// linked counts the ports under power, and those of them with a link.
func (t *tree) linked(way joined, told map[outlet]port.Power) (linked, powered int) {
	for o, i := range way {
		if told[o].Status != port.PowerDelivering {
			continue
		}
		powered++
		if t.readings[i].Oper == port.Up {
			linked++
		}
	}
	return linked, powered
}

// direct takes the numbers for ifIndexes, where all of them are and none can be
// a place among the ports.
func (t *tree) direct(told map[outlet]port.Power) []joined {
	way := joined{}
	for o := range told {
		if t.readings[o.port] == nil || o.port <= len(t.readings) {
			return nil
		}
		way[o] = o.port
	}
	if len(way) == 0 || len(byPort(way)) != len(way) {
		return nil
	}
	return []joined{way}
}

// byPort turns it round.
func byPort(way joined) map[int]outlet {
	turned := make(map[int]outlet, len(way))
	for o, i := range way {
		turned[i] = o
	}
	return turned
}
