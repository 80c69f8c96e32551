package fault

import (
	"slices"
	"strings"

	"toneout/internal/plant"
)

// sharedGroup is one group of runs. A space has up to three: all of its runs,
// those of its panels and those of its switches, since damp strikes the ones
// and a hot rack the others.
type sharedGroup struct {
	SharedName
	Part string
}

// The parts of a space's runs; "" for all.
const (
	onPanels   = "panels"
	onSwitches = "switches"
)

// lexicon numbers the groups, and knows what the record says of each run. It
// lasts as long as the inventory.
type lexicon struct {
	plant    *plant.Plant
	groups   []sharedGroup
	at       map[sharedGroup]int32
	place    map[*plant.Run]int32
	recorded [][]int32 // groups of each run, by its place
}

func newLexicon(p *plant.Plant) *lexicon {
	l := &lexicon{plant: p, at: map[sharedGroup]int32{}, place: make(map[*plant.Run]int32, len(p.Runs)), recorded: make([][]int32, len(p.Runs))}
	for i, run := range p.Runs {
		l.place[run] = int32(i)
		l.recorded[i] = l.record(run)
	}
	return l
}

// number is a group's place.
func (l *lexicon) number(name SharedName, part string) int32 {
	g := sharedGroup{name, part}
	at, known := l.at[g]
	if !known {
		at = int32(len(l.groups))
		l.at[g] = at
		l.groups = append(l.groups, g)
	}
	return at
}

// record is what the inventory says that a run has in common with others.
func (l *lexicon) record(run *plant.Run) (groups []int32) {
	enter := func(attribute Attribute, value, part string) {
		if value == "" {
			return
		}
		if g := l.number(SharedName{attribute, value}, part); !slices.Contains(groups, g) {
			groups = append(groups, g)
		}
	}
	enter(ByBundle, run.Bundle, "")
	enter(ByInstaller, run.Installer, "")
	enter(ByBatch, run.Batch, "")
	enter(ByCable, run.Cable, "")
	for _, way := range run.Pathways {
		enter(ByPathway, way, "")
	}
	for i := range run.Segments {
		enter(ByCable, run.Segments[i].Cable, "")
		for _, way := range run.Segments[i].Pathways {
			enter(ByPathway, way, "")
		}
	}
	for _, id := range []string{run.Panel, run.FarPanel} {
		enter(ByPanel, id, "")
		if panel := l.plant.Panel(id); panel != nil {
			enter(BySpace, panel.Space, "")
			enter(BySpace, panel.Space, onPanels)
		}
	}
	return groups
}

// slotOf is where a port sits by its name, which most switches write as slot
// and port, or member, slot and port, after a word for the sort of port (common
// practice, no source): "2" of "2/13", "1/0" of "ge1/0/13". It is "" where the
// name tells none.
func slotOf(name string) string {
	last := strings.LastIndexByte(name, '/')
	if last < 0 {
		return ""
	}
	return strings.TrimLeftFunc(name[:last], func(r rune) bool { return r < '0' || r > '9' })
}
