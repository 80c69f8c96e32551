package snmp

import (
	"errors"
	"maps"
	"math"
	"slices"
	"time"

	"toneout/internal/port"

	"github.com/gosnmp/gosnmp"
)

// errTooWide means that not even one row of the columns fits into an answer.
var errTooWide = errors.New("not even one row of the columns fits into an answer")

// round is one pass over the tables.
type round struct {
	*conversation
	know   *knowledge
	asked  string // what is being asked, for an error
	ports  map[index]*row
	maus   map[index]*row
	counts map[*column]int // rows given
	last   moment          // the last answer
}

// moment is when an answer came, and the switch's uptime in it.
type moment struct {
	at     time.Time
	uptime port.Value[uint32]
}

// walk asks for one group of columns until their end.
func (r *round) walk(g *group) error {
	r.asked = g.name
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
		case errors.Is(err, errTooWide) && width > 1:
			r.know.widths[g] = (width + 1) / 2
			return err
		case errors.Is(err, errTooWide):
			return failure{AgentError, errTooBig}
		case err != nil:
			return err
		}
	}
	return nil
}

// walkPart asks for columns side by side. Columns may run ahead of each other
// where one lacks a row, so a row is taken only when no column that is still
// open ends before it; thus all that a row has came in one PDU.
func (r *round) walkPart(g *group, columns []*column) error {
	size := r.know.sizeOf(g)
	var done index
	rows := 0
	for len(columns) > 0 {
		a, err := r.bulk(g, columns, done, size.repetitions(len(columns), rows))
		var status statusError
		switch {
		case errors.Is(err, errTooBig) && size.shrink(a.repetitions):
			continue
		case errors.Is(err, errTooBig):
			return errTooWide
		case errors.As(err, &status) && status.position > 1: // that column is absent in this poll
			failed := (status.position - 2) % len(columns)
			columns = slices.Delete(slices.Clone(columns), failed, failed+1)
			continue
		case err != nil:
			return err
		}
		parts, err := split(g, columns, done, a.Variables[1:])
		if err != nil {
			return err
		}
		size.learn(a, len(columns))
		taken, until := r.take(g, parts)
		rows += taken
		if rows > mostRows {
			return fail(Malformed, "more than %d rows: the table of this switch seems to have no end", mostRows)
		}
		columns, done = remaining(parts, until), until
	}
	size.finished(rows)
	return nil
}

// bulk sends one GETBULK for the rows after done, with sysUpTime beside them.
func (r *round) bulk(g *group, columns []*column, done index, repetitions int) (answer, error) {
	names := make([]string, 0, len(columns)+1)
	names = append(names, sysUpTime)
	for _, c := range columns {
		names = append(names, c.instanceName(done, g.indexes))
	}
	a, err := r.ask(request{kind: gosnmp.GetBulkRequest, names: names, nonRepeaters: 1, repetitions: repetitions})
	if err != nil {
		return a, err
	}
	if len(a.Variables) == 0 {
		return a, errTooBig
	}
	if len(a.Variables) > 1+len(columns)*a.asked {
		return a, fail(Malformed, "%d values came where at most %d were asked for", len(a.Variables), 1+len(columns)*a.asked)
	}
	uptime := a.Variables[0]
	if _, known := r.last.uptime.Get(); known && uptime.Name != sysUpTime0 {
		return a, fail(Malformed, "sysUpTime was asked for and %s came", uptime.Name)
	}
	return a, r.heardAt(a.at, uptime)
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

const (
	uptimeSlack = 15 * time.Second // an answer may be late by the retries
	centisecond = 10 * time.Millisecond
)

// follows tells whether sysUpTime went on from an earlier moment as the time
// did, over its wrap after 497 days too; true where one of them is absent. A
// fall is a growth by nearly those 497 days, so it never fits.
func (m moment) follows(earlier moment) bool {
	before, ok := earlier.uptime.Get()
	after, ok2 := m.uptime.Get()
	if !ok || !ok2 {
		return true
	}
	elapsed := m.at.Sub(earlier.at)
	grown := time.Duration(after-before) * centisecond
	return (grown - elapsed).Abs() <= uptimeSlack+elapsed/10
}

// cell is one instance of a column.
type cell struct {
	index
	value gosnmp.SnmpPDU
}

// strip is what one answer holds of one column.
type strip struct {
	*column
	cells []cell
	open  bool // more may follow
}

// split sorts the repeated varbinds of an answer into the columns, which it
// holds in turns; the last turn may be cut (RFC 3416 4.2.3).
func split(g *group, columns []*column, done index, variables []gosnmp.SnmpPDU) ([]strip, error) {
	if len(variables) < len(columns) {
		return nil, errTooWide
	}
	strips := make([]strip, len(columns))
	for i, c := range columns {
		strips[i] = strip{column: c, open: true}
		last := c.instanceName(done, g.indexes)
		for n := i; n < len(variables) && strips[i].open; n += len(columns) {
			v := variables[n]
			if v.Type == gosnmp.EndOfMibView {
				strips[i].open = false
				break
			}
			if !follows(v.Name, last) {
				return nil, fail(Malformed, "%s came after %s, which is no rising order", v.Name, last)
			}
			if len(v.Name) < len(c.prefix) || v.Name[:len(c.prefix)] != c.prefix {
				strips[i].open = false
				break
			}
			at, ok := instance(v.Name[len(c.prefix):], g.indexes)
			if !ok {
				return nil, fail(Malformed, "%s isn't an instance of a column with %d indexes", v.Name, g.indexes)
			}
			strips[i].cells = append(strips[i].cells, cell{at, v})
			last = v.Name
		}
	}
	return strips, nil
}

// take moves the rows that are whole from an answer to the round; it gives how
// many, and the last one.
func (r *round) take(g *group, strips []strip) (taken int, until index) {
	until = index{math.MaxUint32, math.MaxUint32}
	for _, s := range strips {
		if s.open { // then it has a cell
			until = earlier(until, s.cells[len(s.cells)-1].index)
		}
	}
	seen := map[index]bool{}
	for _, s := range strips {
		for _, c := range s.cells {
			if c.after(until) {
				break
			}
			r.put(g, s.column, c)
			seen[c.index] = true
		}
	}
	return len(seen), until
}

// put stores one cell in its row.
func (r *round) put(g *group, c *column, at cell) {
	rows := r.ports
	if g.indexes == 2 {
		rows = r.maus
	}
	one := rows[at.index]
	if one == nil {
		one = &row{}
		one.Index = int(at.port - 1)
		rows[at.index] = one
	}
	if g.moment && one.At.IsZero() {
		one.At, one.Uptime = r.last.at, r.last.uptime
	}
	r.counts[c]++
	if v, ok := decode(at.value, c.kind); ok {
		c.set(one, v)
	}
}

// remaining gives the columns that are to be asked on.
func remaining(strips []strip, until index) []*column {
	var columns []*column
	for _, s := range strips {
		ahead := len(s.cells) > 0 && s.cells[len(s.cells)-1].after(until)
		if s.open || ahead {
			columns = append(columns, s.column)
		}
	}
	return columns
}

// readings joins the MAUs to their ports and gives these in the order of
// ifIndex. A row that the group with the moment lacks isn't one.
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
		if one.At.IsZero() {
			continue
		}
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
