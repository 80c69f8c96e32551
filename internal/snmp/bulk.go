package snmp

import (
	"errors"
	"slices"

	"github.com/gosnmp/gosnmp"
)

// bulk is what one GETBULK asks for: sysUpTime and, where the switch has it,
// ifTableLastChange, then what else is asked for once, then rows of columns.
type bulk struct {
	*group
	columns     []*column // in the place of the group's
	done        index     // the rows after it
	repetitions int
	change      bool      // ifTableLastChange is asked for
	greets      bool      // sysName is
	beyond      []*column // of these what comes after last
	last        index
}

// extra counts what could be done without.
func (b *bulk) extra() int {
	if b.greets {
		return len(b.beyond) + 1
	}
	return len(b.beyond)
}

// table is an answer to a GETBULK, less the scalars.
type table struct {
	answer
	columnsBeyond []*column
	beyond        []varbind
	repeated      []varbind
	extra         int // octets of the varbinds that are neither repeated nor always there
}

// bulk sends one GETBULK.
func (r *round) bulk(b bulk) (table, error) {
	names, fixed := append(r.names[:0], sysUpTimeObject), 1
	if b.change {
		names, fixed = append(names, ifTableLastChangeObject), 2
	}
	if b.greets {
		names = append(names, sysNameObject)
	}
	octets := r.octets[:0]
	instance := func(c *column, at index) {
		start := len(octets)
		octets = c.appendInstance(octets, at, b.indexes)
		names = append(names, octets[start:])
	}
	for _, c := range b.beyond {
		instance(c, b.last)
	}
	scalars := len(names)
	for _, c := range b.columns {
		instance(c, b.done)
	}
	r.names, r.octets = names, octets
	a, err := r.ask(request{kind: gosnmp.GetBulkRequest, names: names, nonRepeaters: scalars, repetitions: b.repetitions})
	if err != nil {
		return table{answer: a}, err
	}
	if err := r.fits(a, scalars, len(b.columns)*a.asked); err != nil {
		return table{answer: a}, err
	}
	size := 0
	for i := fixed; i < scalars; i++ {
		size += a.variables[i].octets()
	}
	if b.greets {
		if err := r.greeted(a.variables[0], a.variables[fixed]); err != nil {
			return table{}, err
		}
		fixed++
	}
	return table{a, b.beyond, a.variables[fixed:scalars], a.variables[scalars:], size}, r.stand(a.variables[1:], b.change)
}

// aside asks for something with sysUpTime and, where the switch has it,
// ifTableLastChange beside it, so that it belongs to the same ports.
func (r *round) aside(q request) (table, error) {
	names, change, scalars := [][]byte{sysUpTimeName, ifTableLastChangeName}, r.know.change, 1
	if q.kind == gosnmp.GetBulkRequest {
		names = [][]byte{sysUpTimeObject, ifTableLastChangeObject}
	}
	if change {
		scalars++
	}
	if q.kind == gosnmp.GetBulkRequest {
		q.nonRepeaters = scalars
	}
	asked := len(q.names)
	q.names = append(names[:scalars:scalars], q.names...)
	a, err := r.ask(q)
	if err != nil {
		return table{answer: a}, err
	}
	if err := r.fits(a, scalars, asked*max(1, a.asked)); err != nil {
		return table{answer: a}, err
	}
	return table{answer: a, repeated: a.variables[scalars:]}, r.stand(a.variables[1:], change)
}

// fits checks that an answer begins with so many scalars, of which sysUpTime is
// the first, and holds not more beside them than was asked for.
func (r *round) fits(a answer, scalars, repeated int) error {
	switch most := scalars + repeated; {
	case len(a.variables) > most:
		return fail(Malformed, "%d values came where at most %d were asked for", len(a.variables), most)
	case len(a.variables) < scalars:
		return errTooBig
	}
	uptime := a.variables[0]
	if _, known := r.last.uptime.Get(); known && !uptime.is(sysUpTimeName) {
		return fail(Malformed, "sysUpTime was asked for and %s came", dotted(uptime.name))
	}
	return r.heardAt(a.at, uptime)
}

// plan makes the next request of a walk. Where the group's last row is known
// and in reach, so many rows are asked for, and beside them what comes after it,
// by one column of each table, in place of a whole row more.
func (r *round) plan(g *group, size *sizing, columns []*column, done progress) bulk {
	b := bulk{group: g, columns: columns, done: done.at, change: r.know.change, greets: r.greets, last: size.last}
	left, fit := size.left(done.rows), size.fit(len(columns), b.extra())
	switch {
	case g.joined():
		left = r.ports.after(done.at)
	case left > 0 && left <= fit && !r.know.lean && !r.final && done.at.compare(size.last) < 0:
		if b.beyond = firsts(columns); left > size.fit(len(columns), b.extra()) && left > 1 {
			b.beyond = nil
			left--
		}
	case left > 0:
		left++ // to see the end
	}
	b.repetitions = max(done.least, fit)
	if left > 0 {
		b.repetitions = max(done.least, min(fit, left))
	}
	return b
}

// firsts gives a column of each of the first two tables.
func firsts(columns []*column) []*column {
	i := slices.IndexFunc(columns, func(c *column) bool { return c.table != columns[0].table })
	if i < 0 {
		return columns[:1:1]
	}
	return []*column{columns[0], columns[i]}
}

// errApart means that the poll is to begin with a request of its own for uptime
// and name.
var errApart = errors.New("the first request is to ask for less")

// apart tells whether an error may be due to what the first request asks for
// beside its rows.
func (r *round) apart(err error) bool {
	switch classed(err) {
	case AgentError, Malformed, Restarted:
		return true
	}
	return errors.Is(err, errApart)
}

// greeted takes the switch's name from the poll's first answer. The agent must
// not have restarted since the last poll.
func (r *round) greeted(uptime, name varbind) error {
	_, known := r.know.last.uptime.Get()
	text, ok := decode(name, gosnmp.OctetString)
	if known && !uptime.is(sysUpTimeName) || !ok || !name.is(sysNameName) || !r.last.follows(r.know.last) {
		return errApart
	}
	r.greets, r.name = false, clean(text.text)
	return nil
}
