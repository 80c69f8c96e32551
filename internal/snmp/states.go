package snmp

import (
	"slices"
	"time"

	"toneout/internal/port"

	"github.com/gosnmp/gosnmp"
)

// tables tells of every table that was asked for what the switch gives of it.
func (k *knowledge) tables(r *round) []port.Table {
	tables := make([]port.Table, 0, len(tableNames)+len(lists))
	for _, name := range tableNames {
		tables = append(tables, k.table(r, name))
	}
	for _, l := range lists {
		if t := k.slow.lists[l.table]; t != nil {
			tables = append(tables, *t)
		}
	}
	return tables
}

// table does so for a table of the groups; where nothing of it was asked this
// time, by what it gave before.
func (k *knowledge) table(r *round, name string) port.Table {
	asked, now, before := false, 0, 0
	var missing []string
	for _, g := range groups {
		for _, c := range g.columns {
			if c.table != name {
				continue
			}
			n, ok := r.counts[c]
			asked, now = asked || ok, max(now, n)
			if k.given[c] {
				before = max(before, k.rows[c])
			} else if !k.hasWide(g, c) {
				missing = append(missing, c.name)
			}
		}
	}
	if !asked {
		now = before
	}
	t := port.Table{Name: name, State: port.TableGiven, Rows: now, Missing: missing, Grant: grant(name)}
	if why := k.broken[name]; why != "" {
		t.State, t.Why, t.Missing = port.TableBroken, why, nil
	} else if now == 0 {
		t.State, t.Missing = k.states[name], nil
	}
	return t
}

// tell finds out about the tables without rows whether the switch has them.
func (r *round) tell() error {
	quiet := 0
	for _, name := range tableNames {
		switch t := r.know.table(r, name); {
		case t.Rows > 0:
			delete(r.know.states, name)
		case t.State != "":
		case quiet > 1:
			r.know.broken[name] = notAsked
		default:
			state, why, err := r.probe(name, columnOf(name))
			if err != nil {
				return err
			}
			if r.know.states[name] = state; state == port.TableBroken {
				quiet++
				r.know.broken[name] = why
				r.know.lacked(r.last)
			}
		}
	}
	return nil
}

const notAsked = "not asked for, since two other tables gave no answer"

func columnOf(table string) *column {
	for _, g := range groups {
		for _, c := range g.columns {
			if c.table == table {
				return c
			}
		}
	}
	return nil
}

// inMoment tells whether a table has a column in the group with the moment.
func inMoment(table string) bool {
	return slices.ContainsFunc(groups[0].columns, func(c *column) bool { return c.table == table })
}

// probe asks for an instance that no table has: where the switch has the
// object and these credentials may see it, noSuchInstance comes, else
// noSuchObject (RFC 3416 4.2.1) or an error status. Silence tells neither. Only
// what ends the poll is an error.
func (r *round) probe(table string, c *column) (state port.TableState, why string, err error) {
	r.asked = table
	a, err := r.aside(request{kind: gosnmp.GetRequest, names: [][]byte{nameOf(c.prefix + "0")}})
	switch {
	case err != nil && r.fatal(err):
		return "", "", err
	case unheard(err):
		return port.TableBroken, err.Error(), nil
	case err == nil && len(a.repeated) == 1 && a.repeated[0].kind != gosnmp.NoSuchObject && a.repeated[0].is(nameOf(c.prefix+"0")):
		return port.TableEmpty, "", nil
	}
	return port.TableHidden, "", nil
}

// granted asks whether a table that was hidden is there by now, since a person
// may have widened the view; the next poll looks for everything then. What is
// refused by an error status rather than by noSuchObject waits for its day.
func (r *round) granted() error {
	var names [][]byte
	for _, name := range tableNames {
		if r.know.states[name] == port.TableHidden {
			names = append(names, nameOf(columnOf(name).prefix+"0"))
		}
	}
	for _, l := range lists {
		if t := r.know.slow.lists[l.table]; t != nil && t.State == port.TableHidden {
			names = append(names, nameOf(l.columns[0].prefix+"0"))
		}
	}
	if len(names) == 0 {
		return nil
	}
	r.asked = "hidden tables"
	a, err := r.aside(request{kind: gosnmp.GetRequest, names: names})
	if err != nil && r.fatal(err) {
		return err
	}
	for i, v := range a.repeated {
		if i < len(names) && v.is(names[i]) && v.kind != gosnmp.NoSuchObject {
			r.know.due = time.Time{}
		}
	}
	return nil
}

// allowed gives the columns of the tables that may be read, after the switch
// refused an answer by its access rules. The others are hidden.
func (r *round) allowed(columns []*column, status error) ([]*column, error) {
	refused := map[string]bool{}
	var left []*column
	for _, c := range columns {
		if _, known := refused[c.table]; !known {
			_, err := r.aside(request{kind: gosnmp.GetRequest, names: [][]byte{nameOf(c.prefix + "0")}})
			if err != nil && !denied(err) {
				return nil, err
			}
			refused[c.table] = err != nil
		}
		if !refused[c.table] {
			left = append(left, c)
			continue
		}
		r.know.given[c], r.counts[c] = false, 0
		r.know.states[c.table] = port.TableHidden
	}
	if len(left) == 0 || len(left) == len(columns) {
		return nil, status
	}
	return left, nil
}
