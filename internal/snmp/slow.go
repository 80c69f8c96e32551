package snmp

import (
	"encoding/hex"
	"errors"
	"maps"
	"slices"
	"time"

	"toneout/internal/port"

	"github.com/gosnmp/gosnmp"
)

// slow is what is asked for on the slow clock and kept from poll to poll, and
// how the ports stood when it was.
type slow struct {
	every    time.Duration
	due      time.Time
	again    time.Duration          // after silence: until it is asked for once more
	changed  port.Value[uint32]     // ifTableLastChange in the last poll
	restless int                    // polls in a row in which it moved and no port did
	names    map[index]string       // of the rows in the last poll
	physical map[int]string         // those that may be ports, by ifIndex
	links    map[index]link         // likewise
	exits    map[index]uint64       // of each MAU, likewise
	unsure   map[index]bool         // ports whose links changed in the last poll
	kept     map[*group][]held      // what these groups gave
	details  *port.Details          // as last asked
	units    []port.Unit            // likewise
	parts    parts                  // likewise, by ifIndex
	engine   string                 // in hexadecimal
	lists    map[string]*port.Table // of the slow tables
	silent   map[string]bool        // they gave no answer
	unprobed bool                   // RMON has nothing of the ports without FCS errors
}

const (
	usualSlowEvery = 5 * time.Minute
	mostRestless   = 3  // then ifTableLastChange tells nothing that names don't
	mostAside      = 40 // values that are asked for by name, in place of a walk
)

func newSlow(every time.Duration) slow {
	if every <= 0 {
		every = usualSlowEvery
	}
	return slow{every: every, kept: map[*group][]held{}, unsure: map[index]bool{}, lists: map[string]*port.Table{}, silent: map[string]bool{}}
}

// link is what moves with a port's link.
type link struct {
	oper, admin     port.Status
	high, low, last port.Value[uint32]
	duplex          uint8
}

func (r *row) link() link {
	return link{r.Oper, r.Admin, r.HighSpeed, r.LowSpeed, r.LastChange, uint8(r.DuplexStatus)}
}

// reset forgets all that may belong to another numbering.
func (s *slow) reset() {
	clear(s.kept)
	s.names, s.physical, s.links, s.exits = nil, nil, nil, nil
	s.due, s.again, s.restless, s.units, s.parts, s.details = time.Time{}, 0, 0, nil, parts{}, nil
}

// wait is how long what is slow isn't asked for again. Where something of it met
// with silence that is soon, then ever later: without a table that was lost once a
// part of a port would be taken for a port for minutes, and an agent that never
// gives it isn't asked more than needed.
func (s *slow) wait(silent bool) time.Duration {
	for _, table := range s.silent {
		silent = silent || table
	}
	if !silent {
		s.again = 0
		return s.every
	}
	s.again = min(max(2*s.again, s.every/32), s.every)
	return s.again
}

// compare tells, once the ports' names are there, what of the slow is due.
// Anything is where rows that may be ports came, went or changed their names.
func (r *round) compare() {
	s := &r.know.slow
	moved := s.changed != r.changed && s.names != nil
	early := s.every / 20 // polls aren't that punctual
	r.slowly = r.know.discovering() || !r.last.at.Add(early).Before(s.due) || moved && s.restless < mostRestless
	r.fresh = r.fresh[:0]
	for i, key := range r.ports.keys {
		one := &r.ports.all[i]
		if name, ok := s.names[key]; !ok || name != one.Name {
			r.fresh = append(r.fresh, key)
			delete(s.parts.units, one.Index)
			delete(s.parts.over, one.Index)
			continue
		}
		s.parts.apply(&one.Reading)
	}
	for i := range s.physical {
		r.slowly = r.slowly || r.ports.get(index{port: uint32(i) + 1}) == nil
	}
}

// changedEngine tells whether another SNMPv3 engine answers than before. Then
// nothing that was known counts.
func (r *round) changedEngine() bool {
	if r.session.usm == nil {
		return false
	}
	now := hex.EncodeToString([]byte(r.session.usm.AuthoritativeEngineID))
	before := r.know.slow.engine
	r.know.slow.engine = now
	return before != "" && before != now
}

// gather gives a group its values: by a walk, by asking for some rows of it, or
// from what was kept.
func (r *round) gather(g *group) error {
	if g.pace == always {
		return r.walk(g)
	}
	s := &r.know.slow
	kept, known := s.kept[g]
	affected := r.affected(g)
	if len(affected) > 0 {
		kept = slices.DeleteFunc(slices.Clone(kept), func(h held) bool { return slices.Contains(affected, h.index) })
		s.kept[g] = kept
	}
	columns := r.know.wanted(g)
	switch {
	case len(columns) == 0 || r.silenced(g):
	case r.slowly || !known || len(affected)*len(columns) > mostAside:
		return r.walkAndKeep(g)
	case len(affected) > 0:
		more, err := r.some(g, columns, affected)
		if err != nil && (r.fatal(err) || classed(err) == NoAnswer) {
			return err
		}
		if err != nil {
			return r.walkAndKeep(g)
		}
		s.kept[g] = append(kept, more...)
	}
	r.restore(g)
	return nil
}

func (r *round) walkAndKeep(g *group) error {
	err := r.walk(g)
	if err != nil {
		return err
	}
	s := &r.know.slow
	kept := slices.Clone(r.held)
	for _, h := range s.kept[g] {
		if r.blamed[h.column] && r.counts[h.column] == 0 { // it failed; what is known of it still counts
			kept = append(kept, h)
		}
	}
	s.kept[g] = kept
	r.restore(g)
	return nil
}

// silenced tells whether a group of the same table met with silence just now,
// so that this one would too.
func (r *round) silenced(g *group) bool {
	return slices.ContainsFunc(r.lost, func(l lost) bool {
		return classed(l.why) == NoAnswer && l.columns[0].table == g.columns[0].table
	})
}

func (r *round) restore(g *group) {
	r.held = append(r.held[:0], r.know.slow.kept[g]...)
	r.join(g)
}

// affected gives the rows of a group for which what was kept doesn't count.
func (r *round) affected(g *group) []index {
	if g.indexes == 1 {
		return r.fresh
	}
	keys := slices.Clone(r.maus.keys)
	for _, h := range r.know.slow.kept[g] {
		if n := len(keys); n == 0 || keys[n-1] != h.index {
			keys = append(keys, h.index)
		}
	}
	slices.SortFunc(keys, index.compare)
	return slices.DeleteFunc(slices.Compact(keys), func(key index) bool {
		of := index{port: key.port}
		return !slices.Contains(r.fresh, of) && !(g.pace == onChange && r.relinked(of, key))
	})
}

// relinked tells whether a port's link changed since the last poll, as far as
// anything shows it, or since the one before: agents keep some tables for a
// while, so what was read at once may be from before the change.
func (r *round) relinked(of, mau index) bool {
	one := r.ports.get(of)
	if one == nil {
		return false
	}
	if s := &r.know.slow; s.unsure[of] || s.links[of] != one.link() {
		return true
	}
	now := r.maus.get(mau)
	if now == nil {
		return false
	}
	exits, counted := now.Counters.Get(port.MediaExits)
	before, known := r.know.slow.exits[mau]
	return !known || counted && before != exits
}

// some asks for columns of a few rows by their names.
func (r *round) some(g *group, columns []*column, keys []index) ([]held, error) {
	r.asked = g.name
	var cells []held
	var names [][]byte
	for _, key := range keys {
		for _, c := range columns {
			cells = append(cells, held{column: c, index: key})
			names = append(names, c.appendInstance(nil, key, g.indexes))
		}
	}
	a, err := r.aside(request{kind: gosnmp.GetRequest, names: names})
	if err != nil {
		return nil, err
	}
	if len(a.repeated) != len(names) {
		return nil, fail(Malformed, "%d values came where %d were asked for", len(a.repeated), len(names))
	}
	given := cells[:0]
	for i, h := range cells {
		v := a.repeated[i]
		if !v.is(names[i]) {
			return nil, fail(Malformed, "%s was asked for and %s came", dotted(names[i]), dotted(v.name))
		}
		var ok bool
		if h.value, ok = decode(v, h.kind); ok {
			given = append(given, h)
		}
	}
	return given, nil
}

// learnTypes asks for the types of new rows, where there are few, before all
// that is slow: rows that are no ports are no reason for it.
func (r *round) learnTypes() error {
	whole := r.slowly
	if err := r.gather(typesAndTexts); err != nil {
		return err
	}
	for _, key := range r.fresh {
		one := r.ports.get(key)
		r.slowly = r.slowly || one.Physical() || one.Type == 0
	}
	if r.slowly && !whole {
		return r.walkAndKeep(typesAndTexts)
	}
	return nil
}

// note keeps how the ports stood. It tells whether names of ports that cables
// may be plugged into came or went.
func (s *slow) note(r *round, readings []port.Reading) (named bool) {
	moved := s.changed != r.changed
	same, known := s.stands(r, readings), s.names != nil
	if !same {
		before := s.physical
		s.names, s.physical = make(map[index]string, len(readings)), make(map[int]string, len(readings))
		s.links, s.exits = make(map[index]link, len(readings)), make(map[index]uint64, len(r.maus.keys))
		for i, key := range r.ports.keys {
			one := &readings[i]
			s.names[key] = one.Name
			if one.Physical() || one.Type == 0 {
				s.physical[one.Index] = one.Name
			}
		}
		same = sameNames(before, s.physical)
	}
	s.noteLinks(r)
	if s.restless++; !moved || !same {
		s.restless = 0
	}
	s.changed = r.changed
	if r.slowly {
		s.due = r.last.at.Add(s.wait(r.silent))
	}
	return known && !same
}

// noteLinks does so for the ports' links, as little as changed of them. Those of
// new rows have been asked for in any case.
func (s *slow) noteLinks(r *round) {
	clear(s.unsure)
	for i, key := range r.ports.keys {
		if before, known := s.links[key]; !known || before != r.ports.all[i].link() {
			s.links[key] = r.ports.all[i].link()
			s.unsure[key] = known
		}
	}
	for i, key := range r.maus.keys {
		exits, counted := r.maus.all[i].Counters.Get(port.MediaExits)
		if before, known := s.exits[key]; !known || counted && before != exits {
			s.exits[key] = exits
			s.unsure[index{port: key.port}] = known
		}
	}
}

// stands tells whether the same rows are there with the same names as before.
func (s *slow) stands(r *round, readings []port.Reading) bool {
	physical := 0
	for i, key := range r.ports.keys {
		one := &readings[i]
		if name, ok := s.names[key]; !ok || name != one.Name {
			return false
		}
		if one.Physical() || one.Type == 0 {
			if name, ok := s.physical[one.Index]; !ok || name != one.Name {
				return false
			}
			physical++
		}
	}
	return s.names != nil && len(s.names) == len(r.ports.keys) && len(s.physical) == physical
}

// sameNames tells whether the same names are there, under whichever ifIndexes.
func sameNames(before, now map[int]string) bool {
	set := func(of map[int]string) map[string]bool {
		names := make(map[string]bool, len(of))
		for _, name := range of {
			names[name] = true
		}
		return names
	}
	return maps.Equal(set(before), set(now))
}

// fatal tells whether an error of something slow ends the poll all the same.
func (r *round) fatal(err error) bool {
	switch classed(err) {
	case Canceled, Restarted:
		return true
	}
	return errors.Is(err, errMoved) && !r.final
}
