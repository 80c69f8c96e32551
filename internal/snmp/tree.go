package snmp

import (
	"cmp"
	"slices"
	"strings"

	"toneout/internal/port"
)

// tree is what a switch is built of (entPhysicalTable), and which of it are
// its ports: by entAliasMappingTable, else by their names where these are unique.
type tree struct {
	all      map[uint32]entity
	readings map[int]*port.Reading // of the ports, by ifIndex
	holds    map[uint32][]uint32   // what a part contains
	ports    map[uint32]int        // ifIndex of the parts that are ports
	mixed    map[uint32]bool       // parts that several ports are told of
	names    map[string]int        // ifIndex by ifName and ifDescr
	places   map[uint32]place      // found so far
}

// place is where a part is. The zero value is nowhere.
type place struct {
	port   int    // ifIndex of the port that it belongs to; 0 for none
	module uint32 // that it is a part of, below or around the port; 0 for none
	around word   // what the names on the way to it say
	lane   int    // likewise, by the nearest; 0 with told false for none
	told   bool
	lost   bool // what it is a part of isn't there, or is of several ports
}

func newTree(all map[uint32]entity, mapping []*record, readings []port.Reading) *tree {
	t := &tree{
		all: all, holds: map[uint32][]uint32{}, ports: map[uint32]int{}, mixed: map[uint32]bool{},
		readings: map[int]*port.Reading{}, names: uniqueNames(readings), places: map[uint32]place{},
	}
	for key, e := range all {
		t.holds[e.in] = append(t.holds[e.in], key)
	}
	for i := range readings {
		if r := &readings[i]; r.Physical() {
			t.readings[r.Index] = r
		}
	}
	t.byAlias(mapping)
	t.byName()
	return t
}

// byAlias takes the ports that parts are said to be. One that several are said to
// be is one of them only where the others are no ports.
func (t *tree) byAlias(mapping []*record) {
	for _, e := range mapping {
		i, ok := ifIndexOf(e.values[0].text)
		if at := e.at[0]; ok && t.readings[i] != nil {
			if before, known := t.ports[at]; known && before != i {
				t.mixed[at] = true
			}
			t.ports[at] = i
		}
	}
	for at := range t.mixed {
		delete(t.ports, at)
	}
}

// byName takes those that have the name of a port, where no other part has it:
// parts of the class port, else modules and containers.
func (t *tree) byName() {
	taken := map[int]bool{}
	for _, classes := range [][]uint64{{portClass}, {moduleClass, containerClass}} {
		claims := map[int][]uint32{}
		for at, e := range t.all {
			i := cmp.Or(t.names[e.name], t.names[e.text])
			if slices.Contains(classes, e.class) && i != 0 && !taken[i] {
				claims[i] = append(claims[i], at)
			}
		}
		for i, by := range claims {
			taken[i] = true
			if at := by[0]; len(by) == 1 && t.ports[at] == 0 && !t.mixed[at] {
				t.ports[at] = i
			}
		}
	}
}

// uniqueNames gives the ports by ifName and ifDescr; 0 where several have one.
func uniqueNames(ports []port.Reading) map[string]int {
	names := map[string]int{}
	for i := range ports {
		r := &ports[i]
		for _, name := range []string{r.Name, r.Description} {
			if before, known := names[name]; known && before != r.Index {
				names[name] = 0
			} else if r.Physical() {
				names[name] = r.Index
			}
		}
	}
	delete(names, "")
	return names
}

// highestPart is how far up the port of a part is looked for; it is 1 to 3 levels
// in practice.
const highestPart = 12

// above gives where what a sensor is a part of is.
func (t *tree) above(sensor uint32) place {
	if i := t.ports[sensor]; i != 0 {
		return place{port: i, module: t.climb(t.all[sensor].in, highestPart).module}
	}
	return t.climb(t.all[sensor].in, highestPart)
}

// climb goes up from a part to the port that it is, or that it is in, or that is
// alone in what it is in.
func (t *tree) climb(at uint32, levels int) place {
	if known, ok := t.places[at]; ok {
		return known
	}
	e, ok := t.all[at]
	var found place
	switch {
	case !ok || levels == 0:
		return place{lost: at != 0}
	case t.mixed[at]:
		found = place{lost: true}
	case e.class == chassisClass, e.class == stackClass:
	case t.ports[at] != 0:
		found = place{port: t.ports[at], module: t.moduleAround(at)}
	default:
		switch inside := t.portsIn(at); len(inside) { // of a board with more only names tell
		case 0:
			found = t.climb(e.in, levels-1)
		case 1:
			found = place{port: inside[0]}
		}
	}
	found.note(at, e)
	t.places[at] = found
	return found
}

// note takes what one more part on the way down from the port tells: of modules
// the nearest with a serial number counts, else the outermost.
func (p *place) note(at uint32, e entity) {
	p.around |= meaningOf(e.name) | meaningOf(e.text)
	if n, told := laneIn(e.name); told {
		p.lane, p.told = n, true
	}
	if e.class == moduleClass && (p.module == 0 || e.serial != "") {
		p.module = at
	}
}

// portsIn gives the ports that are directly in a part.
func (t *tree) portsIn(at uint32) (ports []int) {
	for _, held := range t.holds[at] {
		if i := t.ports[held]; i != 0 && t.all[held].class == portClass && !slices.Contains(ports, i) {
			ports = append(ports, i)
		}
	}
	return ports
}

// moduleAround gives the module that a port is alone in, or that is alone in it.
func (t *tree) moduleAround(at uint32) uint32 {
	if in := t.all[at].in; t.all[in].class == moduleClass && len(t.portsIn(in)) == 1 {
		return in
	}
	found := uint32(0)
	for _, held := range t.holds[at] {
		if t.all[held].class == moduleClass {
			if found != 0 {
				return 0
			}
			found = held
		}
	}
	return found
}

// named gives the port whose name a text starts with, as words of their own; 0
// for none. It is for sensors that hang on a board or the chassis.
func (t *tree) named(texts ...string) (found int) {
	for _, text := range texts {
		for at, c := range text {
			if c != ' ' {
				continue
			}
			name := strings.TrimRight(text[:at], ":,")
			if i := t.names[name]; i != 0 && strings.ContainsFunc(name, isNoDigit) {
				found = i // the longest
			}
		}
		if found != 0 {
			return found
		}
	}
	return 0
}

// isNoDigit keeps a sensor's own number from being taken for a port's name.
func isNoDigit(c rune) bool { return c < '0' || c > '9' }
