package snmp

import (
	"errors"
	"math"
	"slices"
	"strings"

	"github.com/gosnmp/gosnmp"
)

// errTooWide means that not even one row of the columns fits into an answer.
var errTooWide = errors.New("not even one row of the columns fits into an answer")

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
		s := strip{column: c, open: true}
		last := c.instanceName(done, g.indexes)
		for n := i; n < len(variables) && s.open; n += len(columns) {
			v := variables[n]
			switch rises := follows(v.Name, last); {
			case ends(v, rises, columns):
				s.open = false
			case !rises:
				return nil, fail(Malformed, "%s came after %s, which is no rising order", v.Name, last)
			default:
				if err := s.add(g, v); err != nil {
					return nil, err
				}
			}
			last = v.Name
		}
		strips[i] = s
	}
	return strips, nil
}

// ends tells whether a varbind says that there is no more: by endOfMibView
// (RFC 3416 4.2.3), or as some agents do it, by repeating the name with another
// exception or by starting over at the start of their MIB.
func ends(v gosnmp.SnmpPDU, rises bool, columns []*column) bool {
	switch v.Type {
	case gosnmp.EndOfMibView:
		return true
	case gosnmp.NoSuchObject, gosnmp.NoSuchInstance:
		return !rises
	}
	return !rises && !slices.ContainsFunc(columns, func(c *column) bool { return strings.HasPrefix(v.Name, c.prefix) })
}

// add takes the column's next instance. It ends the column with the first one
// of another column, or out of range, since all that follow are too.
func (s *strip) add(g *group, v gosnmp.SnmpPDU) error {
	arcs, ours := strings.CutPrefix(v.Name, s.prefix)
	if !ours {
		s.open = false
		return nil
	}
	at, err := instance(arcs, g.indexes)
	switch {
	case errors.Is(err, errRange):
		s.open = false
	case err != nil:
		return fail(Malformed, "%s is no instance of a column with %d indexes: %w", v.Name, g.indexes, err)
	default:
		s.cells = append(s.cells, cell{at, v})
	}
	return nil
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
