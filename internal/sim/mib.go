package sim

import (
	"slices"
	"time"
)

// MIB is what an agent serves. At gives a consistent view of one moment; every
// PDU is answered from a view of its own.
type MIB interface {
	At(now time.Time) *View
}

// Engine is an SNMP engine's identity (RFC 3411 section 5). A MIB that also
// has an Engine method lends it to its agent, so that a restart shows in both.
type Engine struct {
	ID    []byte        // 5 to 32 octets
	Boots uint32        // restarts so far
	Up    time.Duration // since the last of them
}

// Column is one columnar object, or a scalar with the single row 0.
type Column struct {
	Object OID   // without the instance
	Rows   []OID // instance suffixes, ascending
	// Value gives the value of Rows[row] at the moment of the view.
	Value func(moment any, row int) Value
}

// View is an ordered set of instances at one moment. Columns ascend.
type View struct {
	Columns []Column
	Moment  any
}

// Get gives the value of an instance, noSuchInstance below a known object, or
// noSuchObject (RFC 3416 section 4.2.1).
func (v *View) Get(name OID) Value {
	i := v.column(name)
	if i < 0 || !hasPrefix(name, v.Columns[i].Object) {
		return Value{Tag: TagNoSuchObject}
	}
	c := v.Columns[i]
	row, ok := slices.BinarySearchFunc(c.Rows, name[len(c.Object):], slices.Compare[OID])
	if !ok {
		return Value{Tag: TagNoSuchInstance}
	}
	return c.Value(v.Moment, row)
}

// Next gives the first instance after name, or name with endOfMibView
// (RFC 3416 section 4.2.2).
func (v *View) Next(name OID) Varbind {
	i, row := max(v.column(name), 0), 0
	if i < len(v.Columns) && hasPrefix(name, v.Columns[i].Object) {
		var found bool
		row, found = slices.BinarySearchFunc(v.Columns[i].Rows, name[len(v.Columns[i].Object):], slices.Compare[OID])
		if found {
			row++
		}
	} else if i < len(v.Columns) && slices.Compare(v.Columns[i].Object, name) < 0 {
		i++ // name lies beyond the whole of this column
	}
	for ; i < len(v.Columns); i, row = i+1, 0 {
		if c := v.Columns[i]; row < len(c.Rows) {
			return Varbind{slices.Concat(c.Object, c.Rows[row]), c.Value(v.Moment, row)}
		}
	}
	return Varbind{name, Value{Tag: TagEndOfMibView}}
}

// column gives the last column whose object is not after name, -1 if none.
func (v *View) column(name OID) int {
	i, found := slices.BinarySearchFunc(v.Columns, name, func(c Column, name OID) int {
		return slices.Compare(c.Object, name)
	})
	if !found {
		i--
	}
	return i
}

func hasPrefix(name, prefix OID) bool {
	return len(name) >= len(prefix) && slices.Equal(name[:len(prefix)], prefix)
}

// Static is a MIB of fixed values: the dotted object, then the dotted instance.
type Static map[string]map[string]Value

// At gives the same view at any time.
func (s Static) At(time.Time) *View {
	view := &View{}
	for object, rows := range s {
		column := Column{Object: ParseOID(object)}
		values := map[string]Value{}
		for row, value := range rows {
			column.Rows = append(column.Rows, ParseOID(row))
			values[ParseOID(row).String()] = value
		}
		slices.SortFunc(column.Rows, slices.Compare[OID])
		column.Value = func(_ any, row int) Value { return values[column.Rows[row].String()] }
		view.Columns = append(view.Columns, column)
	}
	slices.SortFunc(view.Columns, func(a, b Column) int { return slices.Compare(a.Object, b.Object) })
	return view
}
