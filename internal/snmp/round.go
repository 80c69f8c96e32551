package snmp

import (
	"errors"
	"maps"
	"slices"
	"time"

	"toneout/internal/port"

	"github.com/gosnmp/gosnmp"
)

// round is one pass over the tables.
type round struct {
	*conversation
	know    *knowledge
	final   bool   // it won't be done once more where the ports move
	asked   string // what is being asked, for an error
	ports   map[index]*row
	maus    map[index]*row
	held    []held           // values of the group being walked
	counts  map[*column]int  // rows given
	blamed  map[*column]bool // an error status was theirs
	lost    []*group         // failed, and spared
	silent  bool             // one of them for want of an answer
	last    moment           // the last answer
	changed port.Value[uint32]
}

func newRound(c *conversation, k *knowledge, last moment) *round {
	return &round{
		conversation: c, know: k, last: last, ports: map[index]*row{}, maus: map[index]*row{},
		counts: map[*column]int{}, blamed: map[*column]bool{},
	}
}

// held is a value that waits until its group has come whole.
type held struct {
	*column
	index
	value
}

// walk asks for one group of columns until their end.
func (r *round) walk(g *group) error {
	r.asked, r.held = g.name, r.held[:0]
	columns := r.know.wanted(g)
	width := min(len(columns), r.know.widths[g])
	if width == 0 {
		width = max(1, len(columns))
	}
	for _, c := range columns {
		r.counts[c] = 0
	}
	for part := range slices.Chunk(columns, width) {
		err := r.walkPart(g, part)
		switch {
		case errors.Is(err, errTooWide) && r.know.narrower(g, width):
			return err
		case errors.Is(err, errTooWide):
			return failure{AgentError, errTooBig}
		case err != nil:
			return err
		}
	}
	r.join(g)
	return nil
}

// spare tells whether the poll goes on without a group that failed. Its
// values are absent then, so that one bad table doesn't hide all others; a
// second one in silence means that the switch is gone.
func (r *round) spare(g *group, err error) bool {
	class := classed(err)
	if g.moment || class != AgentError && class != Malformed && class != NoAnswer || class == NoAnswer && r.silent {
		return false
	}
	r.silent = r.silent || class == NoAnswer
	r.lost = append(r.lost, g)
	for _, c := range g.columns {
		if _, asked := r.counts[c]; asked {
			r.counts[c] = 0
		}
	}
	return true
}

// walkPart asks for columns side by side. Columns may run ahead of each other
// where one lacks a row, so a row is taken only when no column that is still
// open ends before it; thus all that these columns have of a row came in one PDU.
func (r *round) walkPart(g *group, columns []*column) error {
	size := r.know.sizeOf(g)
	var done index
	rows, least := 0, 1
	for len(columns) > 0 {
		a, err := r.bulk(g, columns, done, max(least, size.repetitions(len(columns), rows)))
		var status statusError
		switch {
		case errors.Is(err, errTooBig) && size.shrink(a.repetitions):
			continue
		case errors.Is(err, errTooBig):
			return errTooWide
		case errors.As(err, &status) && status.position > 1:
			if columns, err = r.without(g, columns, done, status); err != nil {
				return err
			}
			continue
		case err != nil:
			return err
		}
		strips, err := split(g, columns, done, a.repeated)
		if errors.Is(err, errTooWide) && a.asked < 2 { // some agents cut every answer
			least = 2
			continue
		}
		if err != nil {
			return err
		}
		size.learn(a)
		until := whole(strips)
		rows += r.take(g, strips, until)
		if rows > mostRows {
			return fail(Malformed, "more than %d rows: the table of this switch seems to have no end", mostRows)
		}
		columns, done = remaining(strips, until), until
	}
	size.finished(rows)
	return nil
}

// without gives the columns to ask for after an error status on one of the
// varbinds: once all of them again, then all but that one, which is absent in
// this poll. Where the moment needs it, the status fails the poll.
func (r *round) without(g *group, columns []*column, done index, status statusError) ([]*column, error) {
	position := status.position - 2 // after sysUpTime
	if r.know.change {
		if position == 0 {
			r.know.change = false
			return columns, nil
		}
		position--
	}
	bad := columns[position%len(columns)]
	switch unread := r.know.discovering() && done == (index{}) && bad != ifName; {
	case !r.blamed[bad]:
		r.blamed[bad] = true
		return columns, nil
	case g.moment && !unread:
		return nil, status
	}
	return slices.DeleteFunc(slices.Clone(columns), func(c *column) bool { return c == bad }), nil
}

// table is an answer to a GETBULK, less the scalars.
type table struct {
	answer
	repeated []gosnmp.SnmpPDU
}

// bulk sends one GETBULK for the rows after done, with sysUpTime and, where
// the switch has it, ifTableLastChange beside them.
func (r *round) bulk(g *group, columns []*column, done index, repetitions int) (table, error) {
	names := make([]string, 0, len(columns)+2)
	names = append(names, sysUpTime)
	if r.know.change {
		names = append(names, ifTableLastChange)
	}
	scalars := len(names)
	for _, c := range columns {
		names = append(names, c.instanceName(done, g.indexes))
	}
	a, err := r.ask(request{kind: gosnmp.GetBulkRequest, names: names, nonRepeaters: scalars, repetitions: repetitions})
	if err != nil {
		return table{answer: a}, err
	}
	if most := scalars + len(columns)*a.asked; len(a.Variables) > most {
		return table{}, fail(Malformed, "%d values came where at most %d were asked for", len(a.Variables), most)
	}
	if len(a.Variables) < scalars {
		return table{answer: a}, errTooBig
	}
	uptime := a.Variables[0]
	if _, known := r.last.uptime.Get(); known && uptime.Name != sysUpTime0 {
		return table{}, fail(Malformed, "sysUpTime was asked for and %s came", uptime.Name)
	}
	if err := r.heardAt(a.at, uptime); err != nil {
		return table{}, err
	}
	return table{a, a.Variables[scalars:]}, r.stand(a.Variables[1:scalars])
}

// heardAt notes the moment of an answer; the agent must not have restarted
// since the last one.
func (r *round) heardAt(at time.Time, v gosnmp.SnmpPDU) error {
	now := moment{at: at}
	if ticks, ok := decode(v, gosnmp.TimeTicks); ok && v.Name == sysUpTime0 {
		now.uptime = port.Some(uint32(ticks.number))
	}
	if !now.follows(r.last) {
		return fail(Restarted, "the agent restarted during the poll (its sysUpTime doesn't go on): nothing of it is used")
	}
	r.last = now
	return nil
}

// errMoved means that rows which were read may belong to other ports by now.
var errMoved = fail(AgentError, "the switch made or took away interfaces while they were read (its ifTableLastChange moved)")

// stand checks that the ports stand where they stood at the round's first
// answer, by ifTableLastChange; where the switch has none, it is not asked for again.
func (r *round) stand(scalars []gosnmp.SnmpPDU) error {
	if len(scalars) == 0 {
		return nil
	}
	ticks, ok := decode(scalars[0], gosnmp.TimeTicks)
	if !ok || scalars[0].Name != ifTableLastChange0 {
		r.know.change = false
		return nil
	}
	now := port.Some(uint32(ticks.number))
	if _, known := r.changed.Get(); known && now != r.changed {
		return errMoved
	}
	r.changed = now
	return nil
}

// take moves the rows that are whole from an answer to the round; it gives how
// many. Rows of the moment are made here; what else there is of them waits.
func (r *round) take(g *group, strips []strip, until index) int {
	seen := map[index]bool{}
	for _, s := range strips {
		for _, c := range s.cells {
			if c.after(until) {
				break
			}
			r.counts[s.column]++
			seen[c.index] = true
			if g.moment && r.ports[c.index] == nil {
				r.ports[c.index] = newRow(c.index, r.last)
			}
			v, ok := decode(c.value, s.kind)
			switch {
			case !ok:
			case g.moment:
				s.set(r.ports[c.index], v)
			default:
				r.held = append(r.held, held{s.column, c.index, v})
			}
		}
	}
	return len(seen)
}

func newRow(at index, m moment) *row {
	return &row{Reading: port.Reading{Index: int(at.port - 1), At: m.at, Uptime: m.uptime}}
}

// join puts the values of a group that has come whole into their rows. A row
// that the group with the moment lacks isn't one.
func (r *round) join(g *group) {
	for _, h := range r.held {
		one := r.ports[h.index]
		if g.indexes == 2 {
			if one = r.maus[h.index]; one == nil {
				one = &row{}
				r.maus[h.index] = one
			}
		}
		if one != nil {
			h.set(one, h.value)
		}
	}
}

// readings joins the MAUs to their ports and gives these in the order of
// ifIndex.
func (r *round) readings() []port.Reading {
	best := map[uint32]*row{}
	for _, i := range slices.SortedFunc(maps.Keys(r.maus), index.compare) {
		const operational = 3 // ifMauStatus (RFC 4836)
		m := r.maus[i]
		if now := best[i.port]; now == nil || now.mauStatus != operational && m.mauStatus == operational {
			best[i.port] = m
		}
	}
	var readings []port.Reading
	for _, i := range slices.SortedFunc(maps.Keys(r.ports), index.compare) {
		one := r.ports[i]
		if m := best[i.port]; m != nil {
			one.MAU, one.AutoNeg = m.MAU, m.AutoNeg
			if exits, ok := m.Counters.Get(port.MediaExits); ok {
				one.Counters.Set32(port.MediaExits, uint32(exits))
			}
		}
		readings = append(readings, one.Reading)
	}
	return readings
}
