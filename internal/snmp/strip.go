package snmp

import (
	"bytes"
	"errors"
	"math"
	"slices"

	"github.com/gosnmp/gosnmp"
)

// errTooWide means that not even one row of the columns fits into an answer.
var errTooWide = errors.New("not even one row of the columns fits into an answer")

// cell is one instance of a column.
type cell struct {
	index
	value *varbind
}

// strip is what one answer holds of one column.
type strip struct {
	*column
	cells []cell
	open  bool // more may follow
}

// split sorts the repeated varbinds of an answer into the columns, which it
// holds in turns; the last turn may be cut (RFC 3416 4.2.3). It makes the strips
// in place of earlier ones.
func split(strips []strip, g *group, columns []*column, done index, variables []varbind) ([]strip, error) {
	if len(variables) < len(columns) {
		return nil, errTooWide
	}
	strips = slices.Grow(strips[:0], len(columns))[:len(columns)]
	for i, c := range columns {
		s := &strips[i]
		*s = strip{column: c, open: true, cells: s.cells[:0]}
		last := done
		for n := i; n < len(variables) && s.open; n += len(columns) {
			v := &variables[n]
			arcs, ours := bytes.CutPrefix(v.name, c.object)
			at, err := instance(arcs, g.indexes)
			if ours && err == nil && at.after(last) && v.kind != gosnmp.EndOfMibView {
				s.cells = append(s.cells, cell{at, v})
				last = at
				continue
			}
			if err := s.odd(g, v, last, ours, err, columns); err != nil {
				return nil, err
			}
		}
	}
	return strips, nil
}

// odd takes what is no further instance of the column: mostly it ends there.
func (s *strip) odd(g *group, v *varbind, last index, ours bool, wrong error, columns []*column) error {
	before := s.appendInstance(nil, last, g.indexes)
	switch rises := follows(v.name, before); {
	case ends(v, rises, columns):
		s.open = false
	case !rises:
		return fail(Malformed, "%s came after %s, which is no rising order", dotted(v.name), dotted(before))
	case !ours, errors.Is(wrong, errRange): // then all that follow are too
		s.open = false
	default:
		return fail(Malformed, "%s is no instance of a column with %d indexes: %w", dotted(v.name), g.indexes, wrong)
	}
	return nil
}

// ends tells whether a varbind says that there is no more: by endOfMibView
// (RFC 3416 4.2.3), or as some agents do it, by repeating the name with another
// exception or by starting over at the start of their MIB.
func ends(v *varbind, rises bool, columns []*column) bool {
	switch v.kind {
	case gosnmp.EndOfMibView:
		return true
	case gosnmp.NoSuchObject, gosnmp.NoSuchInstance:
		return !rises
	}
	return !rises && !slices.ContainsFunc(columns, func(c *column) bool { return bytes.HasPrefix(v.name, c.object) })
}

// whole gives the last row that all strips hold; beyond it, columns that are
// still open may lack a cell.
func whole(strips []strip) index {
	until := index{math.MaxUint32, math.MaxUint32}
	for _, s := range strips {
		if s.open { // then it has a cell
			until = earlier(until, s.cells[len(s.cells)-1].index)
		}
	}
	return until
}

// remaining gives the columns that are to be asked on, in the place of all.
func remaining(strips []strip, until index, columns []*column) []*column {
	columns = columns[:0]
	for _, s := range strips {
		ahead := len(s.cells) > 0 && s.cells[len(s.cells)-1].after(until)
		if s.open || ahead {
			columns = append(columns, s.column)
		}
	}
	return columns
}
