package snmp

import (
	"bytes"
	"errors"
	"slices"

	"toneout/internal/port"

	"github.com/gosnmp/gosnmp"
)

// list is a small table whose rows are read as they are, whatever its indexes.
type list struct {
	table   string
	arcs    int // of an instance
	columns []*column
}

// mostArcs is the length of the longest instance of any list.
const mostArcs = 3

// record is a row of a list.
type record struct {
	at     [mostArcs]uint32
	values []value // of the columns, in their order
	given  uint16  // which of them came
}

// has tells whether a column came.
func (e *record) has(column int) bool { return e.given&(1<<column) != 0 }

// listing is the walk of a list. Each column goes on after its own last row.
// Rows are told apart by their instances, so a row that comes in two answers
// is one all the same.
type listing struct {
	*round
	*list
	most    int
	size    *sizing
	open    []cursor
	rows    map[[mostArcs]uint32]*record
	order   []*record
	columns []int // rows given of each column
	octets  int
	blamed  bool
}

// cursor is how far a column has come.
type cursor struct {
	column int
	last   []byte // name
}

// mostOctets is what the texts of a list may hold.
const mostOctets = 4 << 20

// read walks a list. It gives what came also with an error.
func (r *round) read(l *list, most int) (*listing, error) {
	r.asked = l.table
	w := &listing{
		round: r, list: l, most: most, size: &sizing{perValue: 26, limit: firstLimit, framing: r.know.framing + 2*scalarBytes},
		rows: map[[mostArcs]uint32]*record{}, columns: make([]int, len(l.columns)),
	}
	width := len(l.columns)
	for from := 0; from < len(l.columns); from += width {
		w.open = w.open[:0]
		for i := from; i < min(from+width, len(l.columns)); i++ {
			w.open = append(w.open, cursor{i, l.columns[i].object})
		}
		err := w.walk()
		switch {
		case errors.Is(err, errTooWide) && width > 1:
			width, from = (width+1)/2, from-(width+1)/2
		case errors.Is(err, errTooWide):
			return w, failure{AgentError, errTooBig}
		case err != nil:
			return w, err
		}
	}
	return w, nil
}

func (w *listing) walk() error {
	for len(w.open) > 0 {
		names := make([][]byte, len(w.open))
		for i, c := range w.open {
			names[i] = c.last
		}
		a, err := w.aside(request{kind: gosnmp.GetBulkRequest, names: names, repetitions: w.size.fit(len(names), 0)})
		var status statusError
		switch {
		case err == nil && len(a.repeated) == 0, errors.Is(err, errTooBig):
			if !w.size.shrink(a.repetitions) {
				return errTooWide
			}
			continue
		case errors.As(err, &status) && !status.denies() && w.without(status):
			continue
		case err != nil:
			return err
		}
		w.size.learn(a, w.lossy > 0)
		if err := w.take(a.repeated); err != nil {
			return err
		}
	}
	return nil
}

// without goes on after an error status on one of the varbinds: once with all
// of them again, then with all but that one.
func (w *listing) without(status statusError) bool {
	position := status.position - 2 // after sysUpTime
	if w.know.change {
		position--
	}
	if position < 0 || position >= len(w.open) {
		return false
	}
	if w.blamed {
		w.open = slices.Delete(w.open, position, position+1)
	}
	w.blamed = !w.blamed
	return len(w.open) > 0
}

// take sorts an answer's varbinds into the columns, which it holds in turns.
func (w *listing) take(variables []varbind) error {
	ended := make([]bool, len(w.open))
	for n := range variables {
		v, i := &variables[n], n%len(w.open)
		if ended[i] {
			continue
		}
		c := &w.open[i]
		rises := follows(v.name, c.last)
		arcs, ours := bytes.CutPrefix(v.name, w.list.columns[c.column].object)
		switch {
		case ends(v, rises, w.list.columns):
			ended[i] = true
		case !rises:
			return fail(Malformed, "%s came after %s, which is no rising order", dotted(v.name), dotted(c.last))
		case !ours:
			ended[i] = true
		default:
			if err := w.add(c.column, arcs, v); err != nil {
				return err
			}
			c.last = slices.Clone(v.name)
		}
	}
	open := w.open[:0]
	for i, c := range w.open {
		if !ended[i] {
			open = append(open, c)
		}
	}
	w.open = open
	return nil
}

// add takes a column's next value into its row.
func (w *listing) add(column int, arcs []byte, v *varbind) error {
	var at [mostArcs]uint32
	for i := range w.arcs {
		var ok bool
		if at[i], arcs, ok = cutArc(arcs); !ok {
			return fail(Malformed, "%s is no instance of a column with %d indexes", dotted(v.name), w.arcs)
		}
	}
	if len(arcs) > 0 {
		return fail(Malformed, "%s is no instance of a column with %d indexes", dotted(v.name), w.arcs)
	}
	w.columns[column]++
	one := w.rows[at]
	if one == nil {
		if len(w.order) >= w.most {
			return fail(Malformed, "more than %d rows: the table of this switch seems to have no end", w.most)
		}
		one = &record{at: at, values: make([]value, len(w.columns))}
		w.rows[at] = one
		w.order = append(w.order, one)
	}
	v.text = v.text[:min(len(v.text), longestValue)]
	if w.octets += len(v.text); w.octets > mostOctets {
		return fail(Malformed, "more than %d MiB: the table of this switch seems to have no end", mostOctets>>20)
	}
	if value, ok := decode(*v, w.list.columns[column].kind); ok {
		one.values[column], one.given = value, one.given|1<<column
	}
	return nil
}

// longestValue leaves room for an SnmpAdminString with padding.
const longestValue = 1024

// table tells what came of a list.
func (w *listing) table(err error) *port.Table {
	t := &port.Table{Name: w.list.table, Rows: len(w.order), Grant: grant(w.list.table)}
	switch {
	case err != nil:
		t.State, t.Why = port.TableBroken, err.Error()
	case t.Rows > 0:
		t.State = port.TableGiven
	}
	for i, n := range w.columns {
		if t.State == port.TableGiven && n == 0 {
			t.Missing = append(t.Missing, w.list.columns[i].name)
		}
	}
	return t
}
