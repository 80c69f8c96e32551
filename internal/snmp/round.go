package snmp

import (
	"bytes"
	"errors"
	"slices"
	"time"

	"toneout/internal/port"

	"github.com/gosnmp/gosnmp"
)

// round is one pass over the tables.
type round struct {
	*conversation
	*workspace
	know       *knowledge
	final      bool             // it won't be done once more where the ports move
	asked      string           // what is being asked, for an error
	counts     map[*column]int  // rows given
	blamed     map[*column]bool // an error status was theirs
	lost       []lost           // failed, and spared
	silent     bool             // one of them for want of an answer
	last       moment           // the last answer
	changed    port.Value[uint32]
	greets     bool    // the next request is the poll's first, which asks for the name too
	name       string  // of the switch, asked so
	slowly     bool    // what is slow is due
	fresh      []index // rows that weren't there in the last poll, or had another name
	discovered bool    // the columns were looked for
	replaced   bool    // another engine answers than before
}

func newRound(c *conversation, k *knowledge, last moment, w *workspace) *round {
	w.ports.clear()
	w.maus.clear()
	return &round{
		conversation: c, workspace: w, know: k, last: last, counts: make(map[*column]int, 64), blamed: map[*column]bool{},
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
	if r.asked, r.held = g.name, r.held[:0]; r.greets {
		r.asked = greeting
	}
	columns := r.know.wanted(g)
	width := min(len(columns), r.know.widths[g])
	if width == 0 {
		width = max(1, len(columns))
	}
	for _, c := range columns {
		r.counts[c] = 0
	}
	for part := range slices.Chunk(columns, width) {
		r.few = append(r.few[:0], part...)
		err := r.walkPart(g, r.few)
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
	if denied(err) {
		class = AgentError
	}
	if g.moment || class != AgentError && class != Malformed && class != NoAnswer || class == NoAnswer && r.silent {
		return false
	}
	r.silent = r.silent || class == NoAnswer
	r.lost = append(r.lost, lost{g, err})
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
	done := progress{least: 1}
	for len(columns) > 0 && !done.end {
		b := r.plan(g, size, columns, done)
		a, err := r.bulk(b)
		if err != nil {
			if columns, err = r.otherwise(b, a, size, err); err != nil {
				return err
			}
			continue
		}
		r.strips, err = split(r.strips, g, columns, done.at, a.repeated)
		switch {
		case errors.Is(err, errTooWide) && b.extra() > 0:
			r.know.lean = true
			continue
		case errors.Is(err, errTooWide) && a.asked < 2: // some agents cut every answer
			done.least = 2
			continue
		case err != nil:
			return err
		}
		size.learn(a, r.lossy > 0)
		done.at = whole(r.strips)
		if r.take(g, &done); done.rows > mostRows {
			return fail(Malformed, "more than %d rows: the table of this switch seems to have no end", mostRows)
		}
		done.end = r.ended(g, size, done.at, a)
		columns = remaining(r.strips, done.at, columns)
	}
	size.finished(done)
	return nil
}

// otherwise gives the columns to ask for after a request that failed, where it
// may do if another one is made.
func (r *round) otherwise(b bulk, a table, size *sizing, err error) ([]*column, error) {
	var status statusError
	switch {
	case b.greets && r.apart(err):
		return nil, errApart
	case errors.Is(err, errTooBig) && b.extra() > 0:
		r.know.lean = true
		return b.columns, nil
	case errors.Is(err, errTooBig) && size.shrink(a.repetitions):
		return b.columns, nil
	case errors.Is(err, errTooBig):
		return nil, errTooWide
	case errors.As(err, &status) && status.denies():
		return r.allowed(b.columns, err)
	case errors.As(err, &status) && status.position > 1:
		return r.without(b, status)
	}
	return nil, err
}

// progress is how far the walk of a group has come.
type progress struct {
	at    index // so far all rows came whole
	last  index // of them
	rows  int
	least int // repetitions to ask for
	end   bool
}

// ended tells whether a group has no more rows that matter: where it is joined
// to the ports, none after the last of these.
func (r *round) ended(g *group, size *sizing, done index, a table) bool {
	if g.joined() {
		return r.ports.after(done) == 0
	}
	if len(a.beyond) == 0 || done.compare(size.last) < 0 {
		return false
	}
	for i := range a.beyond {
		v, c := &a.beyond[i], a.columnsBeyond[i]
		if v.kind != gosnmp.EndOfMibView && (bytes.HasPrefix(v.name, c.object) || !follows(v.name, c.object)) {
			return false
		}
	}
	return true
}

// joined tells whether a group only adds to rows that were found before.
func (g *group) joined() bool { return !g.moment && g.indexes == 1 }

// without gives the columns to ask for after an error status on one of the
// varbinds: once all of them again, then all but that one, which is absent in
// this poll. Where the moment needs it, the status fails the poll.
func (r *round) without(b bulk, status statusError) ([]*column, error) {
	position := status.position - 2 // after sysUpTime
	if b.change {
		if position == 0 {
			r.know.change = false
			return b.columns, nil
		}
		position--
	}
	if position -= b.extra(); position < 0 {
		r.know.lean = true
		return b.columns, nil
	}
	bad := b.columns[position%len(b.columns)]
	switch unread := r.know.discovering() && b.done == (index{}) && bad != ifName; {
	case !r.blamed[bad]:
		r.blamed[bad] = true
		return b.columns, nil
	case b.group.moment && !unread:
		return nil, status
	}
	return slices.DeleteFunc(b.columns, func(c *column) bool { return c == bad }), nil
}

// heardAt notes the moment of an answer; the agent must not have restarted
// since the last one.
func (r *round) heardAt(at time.Time, v varbind) error {
	now := moment{at: at}
	if ticks, ok := decode(v, gosnmp.TimeTicks); ok && v.is(sysUpTimeName) {
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
func (r *round) stand(scalars []varbind, asked bool) error {
	if !asked {
		return nil
	}
	ticks, ok := decode(scalars[0], gosnmp.TimeTicks)
	if !ok || !scalars[0].is(ifTableLastChangeName) {
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

// take moves the rows that are whole from an answer to the round. Rows of the
// moment are made here; what else there is of them waits.
func (r *round) take(g *group, done *progress) {
	most := 0
	for _, s := range r.strips {
		n := 0
		for _, c := range s.cells {
			if c.after(done.at) {
				break
			}
			if n++; c.after(done.last) {
				done.last = c.index
			}
			v, ok := decode(*c.value, s.kind)
			if g.moment {
				if one := r.ports.make(c.index, r.last); ok {
					s.set(one, v)
				}
			} else if ok {
				r.held = append(r.held, held{s.column, c.index, v})
			}
		}
		r.counts[s.column] += n
		most = max(most, n)
	}
	done.rows += most
}

// join puts the values of a group that has come whole into their rows. A row
// that the group with the moment lacks isn't one.
func (r *round) join(g *group) {
	for _, h := range r.held {
		one := r.ports.get(h.index)
		if g.indexes == 2 {
			one = r.maus.make(h.index, moment{})
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
	for i, key := range r.maus.keys {
		const operational = 3 // ifMauStatus (RFC 4836)
		m := &r.maus.all[i]
		if now := best[key.port]; now == nil || now.mauStatus != operational && m.mauStatus == operational {
			best[key.port] = m
		}
	}
	readings := make([]port.Reading, len(r.ports.all))
	for i := range readings {
		one := &r.ports.all[i]
		if m := best[r.ports.keys[i].port]; m != nil {
			one.MAU, one.AutoNeg = m.MAU, m.AutoNeg
			if exits, ok := m.Counters.Get(port.MediaExits); ok {
				one.Counters.Set32(port.MediaExits, uint32(exits))
			}
		}
		readings[i] = one.Reading
	}
	return readings
}
